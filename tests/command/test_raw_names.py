"""Names of files and words of the command line never reach a terminal raw, whatever message they stand in."""

from __future__ import annotations

import json
import os
import shutil
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gradework.command.screen import Screen
from gradework.errors import Fault

Run = Callable[..., Any]

pytestmark = pytest.mark.skipif(os.name != "posix", reason="other systems have no such names")

SITE = Path(__file__).parents[2] / "data" / "spring-pump-house"
# clear the screen, a forged line, an 8-bit control, turned writing, a line separator
NASTY = "a\x1b[2J\nerror: forged\r\x9b31m\u202eb\u2028c"
CUTFILL = ("--units", "m", "--level", "49", "--corner", "5.2,4.4", "--size", "3,2.4")


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a nasty name and nasty files in it."""
    folder = tmp_path / NASTY
    shutil.copytree(SITE, folder, ignore=shutil.ignore_patterns("results", "setout"))
    shutil.copy(folder / "shots.csv", folder / f"{NASTY}.csv")
    (folder / "bad.toml").write_text("name = 3\n")
    (folder / "bad.csv").write_text("station,x,y\nA,1\n")
    monkeypatch.setattr("gradework.library.figures._figures", lambda _: ({}, ()))
    return folder


def assert_clean(done: Any) -> None:
    """No control character but the line feed, and no line that a name began."""
    for text in (done.out, done.err):
        assert [c for c in text if c != "\n" and unicodedata.category(c) in ("Cc", "Cf", "Zl", "Zp")] == []
        assert not any(line.startswith("error: forged") for line in text.splitlines())
    assert "Traceback" not in done.err


CASES: list[tuple[str, ...]] = [
    ("plan", "?/job.toml"),
    ("plan", "?/bad.toml"),
    ("plan", "?/nowhere.toml"),
    ("plan", "?"),
    ("plan", "?/job.toml", "-n"),
    ("plan", "?/job.toml", "-o", "?/out"),
    ("plan", "job.toml", "-o", "?/shots.csv"),
    ("setout", "?/job.toml", "--string", "10 cm"),
    ("sheet", "?/job.toml"),
    ("sheet", "--grid", "5ft", "--cols", "3", "--rows", "3", "-o", "?"),
    ("new", "?/new"),
    ("cutfill", "?/shots.csv", *CUTFILL),
    ("cutfill", "?/bad.csv", *CUTFILL),
    ("cutfill", "?/!.csv", *CUTFILL),
    ("cutfill", "?/shots.csv", *CUTFILL[:4], "--outline", "?/bad.csv"),
    ("reduce", "?/!.csv", "--units", "m"),
    ("asbuilt", "?/job.toml", "?/bad.csv"),
    ("asbuilt", "?/job.toml", "?/!.csv"),
    # words of the command line that the library for options repeats
    ("!",),
    ("plan", "a", "!"),
    ("plan", "a", "!", "-q"),
    ("plan", "a", "--!"),
    ("new", "a", "--units", "!"),
    ("setout", "a", "--row", "!"),
    ("sheet", "--cols", "!"),
    ("explain", "!"),
    ("cutfill", "?/shots.csv", "--units", "m", "--level", "!", "--corner", "0,0", "--size", "1,1"),
    ("cutfill", "?/shots.csv", *CUTFILL, "--known", "!=!"),
    ("plan", "?/job.toml", "--level", "!"),
    ("setout", "?/job.toml", "--stake", "!", "--hi", "50"),
    ("setout", "?/job.toml", "--backsight", "! 1.2"),
]


@pytest.mark.parametrize("arguments", CASES, ids=[f"{n}-{case[0]}" for n, case in enumerate(CASES)])
@pytest.mark.parametrize("option", [(), ("--json",)])
def test_no_name_reaches_the_terminal_raw(
    run: Run, site: Path, arguments: tuple[str, ...], option: tuple[str, ...]
) -> None:
    given = [word.replace("?", str(site)).replace("!", NASTY) for word in arguments]
    done = run(*given, *(option if arguments[0] in {"plan", "new", "cutfill", "explain"} else ()))
    assert_clean(done)
    assert (done.out + done.err).strip()
    if "error" in done.err and not option:
        lines = [line for line in done.err.splitlines() if not line.startswith("See 'gradework")]
        assert all("error:" in line or line.startswith(("note", "warning", " ")) for line in lines), lines


def test_a_log_of_our_own_fault_is_named_safely(
    run: Run, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> None:
        raise ZeroDivisionError(NASTY)

    monkeypatch.setattr("tempfile.tempdir", str(site))
    monkeypatch.setattr("gradework.command.explain.read_messages", fail)
    assert_clean(run("explain", "file-missing"))
    done = run("explain", "file-missing", "--debug")
    assert "\x1b" not in done.err


def test_what_is_shown_has_no_controls_whoever_lets_them_through(capsys: pytest.CaptureFixture[str]) -> None:
    """The last door: a text keeps its lines, spaces and letters of every script, nothing else."""
    good = "4.32 m³\n  小屋 Ж é 4\N{NO-BREAK SPACE}ft"
    Screen().answer(good)
    Screen().complain(f"{good} {NASTY}")
    out, err = capsys.readouterr()
    assert out == f"{good}\n"
    assert err == f"{good} a\\x1b[2J\nerror: forged\\r\\x9b31m\\u202eb\\u2028c\n"
    Screen(as_json=True).document({"name": NASTY, "good": good})
    text = capsys.readouterr().out
    assert json.loads(text) == {"name": NASTY, "good": good}
    assert "小屋 Ж é" in text
    assert [c for c in text if c != "\n" and unicodedata.category(c)[0] == "C"] == []


def test_a_fault_shows_its_file_on_one_line() -> None:
    shown = str(Fault("a-b", "x", "y", "z", NASTY, 3, 4))
    assert shown == "a\\x1b[2J\\nerror: forged\\r\\x9b31m\\u202eb\\u2028c:3:4: error: x; expected y - z [a-b]"
