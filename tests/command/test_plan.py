"""``gradework plan``: a folder written whole or not at all, a summary, a record, statuses."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from html import unescape
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from gradework.files.ownership import is_result

Run = Callable[..., Any]

ROOT = Path(__file__).parents[2]
NAMES = {
    *("report.html", "sheets.pdf", "order.csv", "stations.csv", "result.json", "manifest.json"),
}

DRAWN = ("shopping", "days", "plan", "section", "swale", "curve")


@pytest.fixture
def site(tmp_path: Path) -> Path:
    folder = tmp_path / "site"
    shutil.copytree(ROOT / "data" / "spring-pump-house", folder)
    return folder


@pytest.fixture
def undrawn(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawings out where a test is about something else; they take most of the time."""
    monkeypatch.setattr("gradework.library.figures._figures", lambda _: ({}, ()))


def replace_in(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_everything_is_written_and_told(run: Run, site: Path) -> None:
    done = run("plan", site / "job.toml", "-o", site / "out", "--full")
    assert done.status == 0, done.err
    assert {p.name for p in (site / "out").iterdir()} == NAMES
    assert done.out in unescape((site / "out" / "report.html").read_text("utf-8")).replace("</pre>", "\n")
    assert "The pad" in done.out
    assert all(name in done.err for name in NAMES - {"manifest.json"})
    starts = {"report.html": b"<!doctype html>", "sheets.pdf": b"%PDF", "order.csv": b"\xef\xbb\xbf"}
    for name, start in starts.items():
        assert (site / "out" / name).read_bytes().startswith(start)
    first = {p.name: p.read_bytes() for p in (site / "out").iterdir()}
    assert run("plan", site / "job.toml", "-o", site / "out").status == 0  # ours, so it may be replaced
    assert {p.name: p.read_bytes() for p in (site / "out").iterdir()} == first  # and the same again
    pictures = {f"{name}.{kind}" for name in DRAWN for kind in ("png", "svg")}
    assert run("plan", site / "job.toml", "-o", site / "out", "--pictures").status == 0
    more = {p.name: p.read_bytes() for p in (site / "out").iterdir()}
    assert set(more) == NAMES | pictures
    assert more["plan.png"].startswith(b"\x89PNG")
    assert more["plan.svg"].startswith(b"<?xml")
    assert run("plan", site / "job.toml", "-o", site / "out").status == 0
    assert {p.name for p in (site / "out").iterdir()} == NAMES  # what it no longer makes goes


@pytest.mark.parametrize("build", ["pad", "piers", "slab"])
def test_every_result_has_a_name_that_the_manifest_is_believed_for(
    run: Run, site: Path, build: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A result by any other name would be refused as somebody else's by the next run."""
    monkeypatch.setattr("gradework.library.figures.figure_bytes", lambda *_: b"")
    monkeypatch.setattr("gradework.library.figures.pdf_of", lambda *_: b"")
    with (site / "job.toml").open("a") as job:
        job.write('\n[piers]\nspacing = "0.6 m"\nrows = 3\n[slab]\n')  # so many that they fill several pages
    text = (site / "job.toml").read_text()
    (site / "job.toml").write_text(f'build = "{build}"\n{text}')
    done = run("plan", site / "job.toml", "--full", "--pictures")
    assert done.status in (0, 1), done.err
    names = re.findall(r"(?m)^  (\S+\.\w+) +[0-9]+ (?:bytes|kB)$", done.err)
    others = {"pad", "piers", "slab"} - {build}
    assert {"sheets.pdf", "pier-details-2.png", "stations.csv"} < set(names)
    assert {f"order-{kind}.csv" for kind in others} < set(names)
    assert [name for name in names if not is_result(name)] == []
    listed = run("plan", site / "job.toml", "--dry-run", "--pictures")
    promised = re.findall(r"(?m)^  (\S+\.\w+)(?: \(one a page\))?$", listed.err)
    assert promised == list(dict.fromkeys(re.sub(r"-\d+(?=\.)", "", name) for name in names))


@pytest.mark.usefixtures("undrawn")
def test_what_cannot_be_built_is_ordered_only_anyway_and_still_ends_in_a_no(run: Run, site: Path) -> None:
    text = (site / "job.toml").read_text()
    (site / "job.toml").write_text(f'build = "slab"\n{text}\n[slab]\nthickness = "60 mm"\n[piers]\n')
    refused, anyway = run("plan", site / "job.toml"), run("plan", site / "job.toml", "--anyway")
    assert (refused.status, anyway.status) == (1, 1)
    assert "Nothing, since it cannot be built as drawn." in refused.out
    assert "Anyway   What follows is ordered all the same" in anyway.out
    order = (site / "results" / "order.csv").read_text("utf-8-sig")
    assert "not buildable as drawn: slab thickness," in order
    assert "ready-mix concrete" in order
    piers = run("plan", site / "job.toml", "--anyway", "--json", "--dry-run")
    assert piers.document["ordered"] == "anyway"
    assert "slab thickness" in piers.document["blocked_by"]


@pytest.mark.usefixtures("undrawn")
def test_json_is_the_record_that_is_written(run: Run, site: Path) -> None:
    done = run("plan", site / "job.toml", "--json", "-q")
    assert (done.status, done.err) == (0, "")
    assert json.loads((site / "results" / "result.json").read_text("utf-8")) == done.document
    jsonschema.validate(done.document, json.loads((ROOT / "docs" / "result.schema.json").read_text("utf-8")))


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize(
    ("level", "rule", "metres", "status"),
    [("49.05", "given", 49.05, 0), ("160 ft", "given", 48.768, 1), ("Balanced", "balanced", None, 0)],
)
def test_another_level_than_the_jobs(
    run: Run, site: Path, level: str, rule: str, metres: float | None, status: int
) -> None:
    """Half a metre deep in the ground nothing can be built, and that is the answer."""
    done = run("plan", site / "job.toml", "--level", level, "--dry-run", "--json")
    assert done.status == status, done.err
    pad = done.document["pad"]
    assert pad["rule"] == rule
    assert metres is None or pad["level_m"] == pytest.approx(metres)
    answered = {choice["rule"] for choice in pad["choices"] if "because" not in choice}
    assert answered == {"least fill", "balanced", rule}


@pytest.mark.parametrize("level", ["", "low", "nan", "49,05,1", "12 furlongs"])
def test_a_level_that_is_none(run: Run, site: Path, level: str) -> None:
    done = run("plan", site / "job.toml", "--level", level, "--dry-run")
    assert (done.status, done.out) == (2, "")
    assert "--level" in done.err
    assert "least fill, balanced, least cost" in done.err


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize(
    ("level", "code"), [("-5", "level-far-from-ground"), ("least cost", "pad-prices-missing")]
)
def test_what_is_wrong_with_the_options_level_is_told_of_the_option(
    run: Run, site: Path, level: str, code: str
) -> None:
    (site / "job.toml").write_text((site / "job.toml").read_text().partition("[prices]")[0])
    done = run("plan", site / "job.toml", f"--level={level}", "--dry-run", "--json")
    (fault,) = done.document["faults"]
    assert (done.status, fault["code"], fault["file"], fault["line"]) == (2, code, "--level", 0)


def test_a_level_for_a_job_without_a_pad(run: Run, site: Path) -> None:
    text = (site / "job.toml").read_text()
    (site / "job.toml").write_text(text[: text.index("[pad]")] + "[piers]\n")
    done = run("plan", site / "job.toml", "--level", "49", "--dry-run")
    assert (done.status, done.out) == (2, "")
    assert "[pad]" in done.err


def test_a_dry_run_draws_and_writes_nothing(run: Run, site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gradework.drawings.save.figure_bytes", lambda *_: pytest.fail("drawn"))
    monkeypatch.setattr("gradework.library.figures._figures", lambda *_: pytest.fail("drawn"))
    before = sorted(site.rglob("*"))
    done = run("plan", site / "job.toml", "--dry-run")
    assert "\nNext     the same command without --dry-run\n" in done.out
    assert done.status == 0
    assert "would write" in done.err
    assert "result.json" in done.err
    assert sorted(site.rglob("*")) == before


@pytest.mark.usefixtures("undrawn")
def test_a_file_that_is_not_ours_is_kept(run: Run, site: Path) -> None:
    (site / "results").mkdir()
    (site / "results" / "order.csv").write_text("mine")
    done = run("plan", site / "job.toml")
    assert (done.status, done.out) == (74, "")
    assert "order.csv was not made by this program" in done.err
    assert [p.name for p in (site / "results").iterdir()] == ["order.csv"]
    assert run("plan", site / "job.toml", "--force").status == 0


@pytest.mark.usefixtures("undrawn")
def test_a_stop_finding_makes_the_answer_no(run: Run, site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from gradework.errors import Finding

    stop = Finding("gap-under-outline", "stop", "here", None, None, "Do not build.")
    monkeypatch.setattr("gradework.project.plan._findings", lambda *_: (stop,))
    done = run("plan", site / "job.toml")
    assert done.status == 1
    assert done.out.splitlines()[:2] == [
        "Spring pump house: not buildable as drawn, one thing stops it:",
        "stop: here: Do not build. [gap-under-outline]",
    ]
    assert (site / "results" / "result.json").exists()
    quiet = run("plan", site / "job.toml", "-q")
    assert (quiet.status, quiet.out.splitlines(), quiet.err) == (1, done.out.splitlines()[:2], "")


@pytest.mark.usefixtures("undrawn")
@pytest.mark.parametrize("terminal", [40, 60, 80, 100, 200])
def test_the_answer_is_one_screen_as_wide_as_the_terminal(
    run: Run, site: Path, terminal: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(terminal))
    done = run("plan", site / "job.toml")
    lines = done.out.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= min(max(terminal, 60), 100)
    assert done.err == ""
    assert "Files " in done.out
    quiet = " ".join(run("plan", site / "job.toml", "-q").out.split())
    ifs = "if the ground is firm and was never filled, and if skids and joists are treated for ground contact"
    ifs += ", and if no more water comes from above your survey than what is dug carries off"
    able = f"gravel pad with a swale can be built, {ifs}; read the 2 warnings."
    assert quiet in (f"Spring pump house: {able}", f"{able[:1].upper()}{able[1:]}")
    page = (site / "results" / "report.html").read_text("utf-8")
    wide = unescape(page.partition('<pre class="words">')[2].partition("</pre>")[0]).splitlines()
    assert 70 < max(map(len, wide)) <= 80


@pytest.mark.usefixtures("undrawn")
def test_an_untouched_new_job_says_what_is_missing(run: Run, tmp_path: Path) -> None:
    run("new", tmp_path / "yard")
    done = run("plan", tmp_path / "yard" / "job.toml")
    assert (done.status, done.out) == (2, "")
    assert "yard.csv" in done.err
    assert "[notes-no-shots]" in done.err
    assert not (tmp_path / "yard" / "results").exists()


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("job.toml", 'notes = "shots.csv"', 'notes = "shot.csv"', "did you mean shots.csv?"),
        ("job.toml", 'notes = "shots.csv"', 'notes = "."', "this is a folder"),
        ("job.toml", "corner = [5.2, 4.4]", "corner = [55.2, 4.4]", "job.toml:8:1: error: "),
        ("job.toml", "turn   = 15", "tern   = 15", "did you mean turn?"),
        ("job.toml", "[pad]", "[pad", "[job-syntax]"),
        ("shots.csv", "48.708", "nan", "shots.csv:2:"),
    ],
)
def test_bad_input_ends_with_two_and_writes_nothing(
    run: Run, site: Path, file: str, old: str, new: str, words: str
) -> None:
    replace_in(site / file, old, new)
    for arguments in ((), ("--json",)):
        done = run("plan", site / "job.toml", *arguments)
        assert done.status == 2
        assert "Traceback" not in done.out + done.err
    done = run("plan", site / "job.toml")
    assert words in done.err
    assert done.out == ""
    assert not (site / "results").exists()


@pytest.mark.parametrize(
    ("name", "code"),
    [("none.toml", "file-missing"), ("job.toml/x", "file-unreadable")],
)
def test_a_job_that_cannot_be_read(run: Run, site: Path, name: str, code: str) -> None:
    done = run("plan", site / name, "--json")
    assert done.status == 2
    assert done.document["faults"][0]["code"] == code


def test_names_that_are_mathematics_or_markup_are_drawn_as_they_are(run: Run, site: Path) -> None:
    shots = site / "shots.csv"
    for number, name in enumerate(
        ("$\\frac$", "$$", "<script>alert(1)</script>", "=1+1", "${{{{", "井戸🙂"), start=1
    ):
        replace_in(shots, f"P{number},", f"{name},")
    replace_in(site / "job.toml", '"Spring pump house"', '"$\\\\frac{$ <b>"')
    done = run("plan", site / "job.toml", "--pictures")
    assert done.status == 0, done.err
    assert b"<script>" not in (site / "results" / "plan.svg").read_bytes()
    assert b"<script>alert" not in (site / "results" / "report.html").read_bytes()
    assert b"'=1+1" in (site / "results" / "stations.csv").read_bytes()


def test_no_home_no_network_no_noise(site: Path, tmp_path: Path) -> None:
    """Run it as a process of its own, with nowhere to keep a cache: nothing stands on standard error."""
    environment = {"PATH": os.environ["PATH"], "HOME": "/nonexistent", "LC_ALL": "C"}
    command = [
        sys.executable,
        "-m",
        "gradework",
        "plan",
        str(site / "job.toml"),
        "-o",
        str(tmp_path / "ö ut"),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment, timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""


def test_formats_for_other_programs_are_written_when_asked_for(run: Run, site: Path) -> None:
    done = run("plan", site / "job.toml", "-o", site / "out", "--formats", "--json")
    assert done.status == 0, done.err
    names = {path.name for path in (site / "out").iterdir()}
    assert "ground.xml" in names
    assert "yard.geojson" not in names
    assert "formats-no-system" in [one["code"] for one in done.document["findings"]]
    assert run("plan", site / "job.toml", "-o", site / "out").status == 0
    assert "ground.xml" not in {
        path.name for path in (site / "out").iterdir()
    }  # what it no longer makes goes
