"""The rules every command keeps: help, exit statuses, streams, colour, broken pipes, Ctrl-C."""

from __future__ import annotations

import errno
import io
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest

from gradework.command import ending
from gradework.command.ending import _interrupted, _stream_failed
from gradework.command.screen import Screen, wants_colour
from gradework.errors import CheckError, Fault, InputError, OutputError

Run = Callable[..., Any]
COMMANDS = ("new", "sheet", "reduce", "cutfill", "plan", "corners", "setout", "asbuilt", "explain", "help")


def process(*arguments: str, **options: Any) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "gradework", *arguments], text=True, check=False, timeout=60, **options
    )


# ---- help


def test_no_arguments_tells_how_to_begin(run: Run) -> None:
    done = run()
    assert done.status == 2
    assert done.out == ""
    assert len(done.err.splitlines()) <= 10
    assert max(map(len, done.err.splitlines())) <= 80
    for words in ("gradework plan", "--piers", "gradework corners"):
        assert words in done.err
    assert "--help" in done.err


@pytest.mark.parametrize("option", ["-h", "--help"])
@pytest.mark.parametrize("command", [(), *((c,) for c in COMMANDS)], ids=lambda c: c[0] if c else "top")
def test_help_at_every_level_goes_to_standard_output(run: Run, option: str, command: tuple[str, ...]) -> None:
    done = run(*command, option)
    assert (done.status, done.err) == (0, "")
    assert done.out.startswith("Usage: gradework")
    assert done.out.index("Examples") < done.out.index("Options")
    assert max(map(len, done.out.splitlines())) <= 80


def test_help_of_all_commands_names_statuses_and_where_faults_go(run: Run) -> None:
    text = run("--help").out
    assert all(command in text for command in COMMANDS)
    for status in ("0 done", "1 the answer is no", "2 usage error", "70", "74", "130", "141"):
        assert status in " ".join(text.split())
    assert "send the log file" in " ".join(text.split())


@pytest.mark.parametrize(
    "arguments",
    [
        ("cutfill", "--bogus", "-h"),
        ("cutfill", "a", "b", "c", "--help"),
        ("--bogus", "--help"),
        ("plan", "-h", "x", "y"),
    ],
)
def test_help_answers_even_when_other_arguments_are_wrong(run: Run, arguments: tuple[str, ...]) -> None:
    done = run(*arguments)
    assert done.status == 0
    assert done.out.startswith("Usage:")


def test_after_two_dashes_help_is_a_name(run: Run) -> None:
    assert run("explain", "--", "--help").status == 2


def test_version(run: Run) -> None:
    done = run("--version")
    assert done.status == 0
    assert done.out.splitlines()[0].startswith("gradework 0.")


# ---- wrong use


@pytest.mark.parametrize(("typed", "meant"), [("pln", "plan"), ("cutfil", "cutfill"), ("Explain", "explain")])
def test_an_unknown_command_is_answered_with_the_nearest_and_not_run(
    run: Run, typed: str, meant: str
) -> None:
    done = run(typed, "x")
    assert (done.status, done.out) == (2, "")
    assert f"Did you mean '{meant}'?" in done.err


@pytest.mark.parametrize("typed", ["pla", "ex", "cut"])
def test_commands_cannot_be_shortened(run: Run, typed: str) -> None:
    assert run(typed, "file-missing").status == 2


@pytest.mark.parametrize("typed", ["--outp", "--jso", "--forc"])
def test_options_cannot_be_shortened(run: Run, typed: str) -> None:
    done = run("plan", "job.toml", typed)
    assert done.status == 2
    assert "No such option" in done.err


def test_each_option_has_a_long_name_and_few_have_a_letter() -> None:
    from gradework.command.main import gradework as group

    letters = set()
    meanings: dict[str, set[str]] = {}
    with click.Context(group) as context:
        for name in COMMANDS:
            command = group.get_command(context, name)
            assert command is not None
            for option in (p for p in command.params if isinstance(p, click.Option)):
                assert any(o.startswith("--") for o in option.opts), option.opts
                letters |= {o for o in option.opts if len(o) == 2}
                assert option.help, (name, option.opts)
                for o in option.opts:
                    meanings.setdefault(o, set()).add(f"{option.name} {option.type.to_info_dict()}")
    assert letters <= {"-h", "-q", "-v", "-o", "-n", "-f"}
    assert {o: m for o, m in meanings.items() if len(m) > 1} == {}


def test_json_errors_are_one_document(run: Run) -> None:
    done = run("cutfill", "--json")
    assert done.status == 2
    assert done.document["status"] == 2
    assert "Missing" in done.document["error"]
    done = run("cutfill", "/no/such.csv", "--level", "1", "--corner", "0,0", "--size", "1,1", "--json")
    assert (done.status, done.err) == (2, "")
    assert done.document["record"] == 1
    assert [f["code"] for f in done.document["faults"]] == ["file-missing"]
    assert set(done.document["faults"][0]) == {"code", "file", "line", "column", "found", "expected", "mend"}


# ---- ends


def ends_with(monkeypatch: pytest.MonkeyPatch, problem: BaseException) -> None:
    def fail(*_: object) -> None:
        raise problem

    monkeypatch.setattr("gradework.command.explain.read_messages", fail)


@pytest.mark.parametrize(
    ("problem", "status", "words"),
    [
        (
            InputError([Fault("a-b", "x", "y", "z", "f.csv", 3, 4)]),
            2,
            "f.csv:3:4: error: x; expected y - z [a-b]",
        ),
        (OutputError("the disk is full"), 74, "error: the disk is full"),
        (MemoryError(), 2, "memory"),
        (CheckError("sums"), 70, "internal error: two ways to compute the same thing disagree"),
        (ZeroDivisionError("secret"), 70, "internal error"),
    ],
    ids=["input", "output", "memory", "check", "own fault"],
)
def test_each_end_has_its_status_and_no_traceback(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, problem: Exception, status: int, words: str
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    ends_with(monkeypatch, problem)
    done = run("explain", "file-missing")
    assert done.status == status
    assert words in done.err
    assert "Traceback" not in done.err + done.out
    assert len(done.err.splitlines()) == 1
    logs = list(tmp_path.glob("gradework-*.log"))
    assert len(logs) == (1 if status == 70 else 0)
    if logs:
        assert str(logs[0]) in done.err
        assert "Traceback" in logs[0].read_text()
        assert "Python" in logs[0].read_text()
        assert "secret" not in done.err
    done = run("explain", "file-missing", "--json")
    assert done.status == status
    assert done.document["status"] == status


def test_debug_shows_the_traceback(run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    ends_with(monkeypatch, ZeroDivisionError())
    done = run("explain", "file-missing", "--debug")
    assert done.status == 70
    assert "Traceback" in done.err


def test_a_log_that_cannot_be_kept_is_not_another_fault(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tempfile.tempdir", "/no/such/folder")
    ends_with(monkeypatch, ZeroDivisionError())
    done = run("explain", "file-missing")
    assert (done.status, done.err) == (70, "error: internal error\n")


def test_at_most_twenty_faults_are_shown_and_the_rest_counted(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    ends_with(monkeypatch, InputError([Fault("a-b", f"x{n}", "y", "z", "f", n) for n in range(1, 51)]))
    lines = run("explain", "file-missing").err.splitlines()
    assert len(lines) == 21
    assert lines[-1] == "and 30 more errors like these"
    assert len(run("explain", "file-missing", "--json").document["faults"]) == 50


def test_a_full_standard_output_is_told(run: Run) -> None:
    if not os.path.exists("/dev/full"):
        pytest.skip("this system has no /dev/full")
    with open("/dev/full", "w") as full:
        done = process("explain", "--list", stdout=full, stderr=subprocess.PIPE)
    assert done.returncode == 74
    assert done.stderr == "error: the output could not be written (No space left on device)\n"


def test_a_reader_that_goes_away_ends_it_quietly() -> None:
    child = subprocess.Popen(
        [sys.executable, "-m", "gradework", "explain", "--page"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert child.stdout is not None
    assert child.stderr is not None
    child.stdout.close()  # before anything is written
    err = child.stderr.read()
    child.stderr.close()
    assert child.wait() == 141
    assert err == b""


def _open_when_read(fifo: Path) -> int:
    """Open the end to write to as soon as somebody reads, so that the program is known to wait for notes."""
    for _ in range(600):
        try:
            return os.open(fifo, os.O_WRONLY | os.O_NONBLOCK)
        except OSError:
            time.sleep(0.05)
    pytest.fail("the program never opened its notes")


@pytest.mark.skipif(os.name != "posix", reason="signals")
def test_ctrl_c_stops_at_once_and_dies_by_the_signal(tmp_path: Path) -> None:
    fifo = tmp_path / "notes"
    os.mkfifo(fifo)  # reading it waits for ever
    child = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "gradework",
            "cutfill",
            str(fifo),
            "--level",
            "1",
            "--corner",
            "0,0",
            "--size",
            "1,1",
        ],
        stderr=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        # a shell that puts the suite in the background has its children ignore the signal
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # noqa: PLW1509
    )
    writer = _open_when_read(fifo)
    try:
        child.send_signal(signal.SIGINT)
        out, err = child.communicate(timeout=60)  # without the signal it would wait for ever
    finally:
        os.close(writer)
        child.kill()
    assert child.returncode == -signal.SIGINT  # a shell shows this as 130
    assert (out, err) == ("", "stopped\n")


def test_where_there_are_no_such_signals_the_status_is_130(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "name", "nt")
    assert _interrupted(Screen()) == 130


def test_stream_errors_have_their_statuses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ending, "_drop", lambda _: None)
    assert _stream_failed(OSError(errno.EPIPE, "x"), Screen()) == 141
    assert _stream_failed(OSError(errno.ENOSPC, "x"), Screen()) == 74


# ---- colour and quiet


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("terminal", "environment", "wanted"),
    [
        (True, {"TERM": "xterm"}, True),
        (True, {}, True),
        (True, {"TERM": "dumb"}, False),
        (True, {"NO_COLOR": "1"}, False),
        (True, {"NO_COLOR": ""}, True),
        (False, {"TERM": "xterm"}, False),
        (False, {"FORCE_COLOR": "1"}, True),
        (False, {"FORCE_COLOR": "1", "NO_COLOR": "1"}, False),
    ],
)
def test_colour_is_for_terminals_that_want_it(
    terminal: bool, environment: dict[str, str], wanted: bool
) -> None:
    stream = Terminal() if terminal else io.StringIO()
    assert wants_colour(stream, environment) is wanted


@pytest.mark.parametrize("option", [True, False])
def test_streams_are_judged_apart(monkeypatch: pytest.MonkeyPatch, option: bool) -> None:
    out, err = io.StringIO(), Terminal()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setattr(sys, "stderr", err)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    screen = Screen(colour=option)
    screen.answer("warning: x")
    screen.complain("error: y")
    assert "\x1b" not in out.getvalue()
    assert ("\x1b[" in err.getvalue()) is option


def test_no_escape_codes_in_a_pipe() -> None:
    done = process("nonsense", capture_output=True)
    assert done.returncode == 2
    assert "\x1b" not in done.stderr


def test_quiet_leaves_out_notes_but_not_errors(run: Run, tmp_path: Path) -> None:
    assert run("new", tmp_path / "a", "-q").err == ""
    assert run("new", tmp_path / "b").err != ""
    assert run("new", tmp_path / "a", "-q").err.startswith("error:")


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
@pytest.mark.parametrize("option", [(), ("--json",)])
def test_any_stream_takes_the_answer(tmp_path: Path, encoding: str, option: tuple[str, ...]) -> None:
    """A pipe on Windows, or a bare terminal, has no letters for yd³ and Greek names."""
    notes = tmp_path / "小屋.csv"
    notes.write_text("station,x,y,elevation\nΑ1,0,0,5\nB,9,0,5\nC,0,9,5.5\nC,0,9,5.5\n", encoding="utf-8")
    command = [sys.executable, "-m", "gradework", "cutfill", str(notes), "--units", "ft", "--level", "5"]
    done = subprocess.run(
        [*command, "--corner", "1,1", "--size", "2,2", *option],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding},
        check=False,
    )
    out, err = done.stdout.decode(encoding), done.stderr.decode(encoding)
    assert done.returncode == 0, err
    if option:
        assert json.loads(out)["cut_m3"] > 0
    else:
        assert ("yd3 in place" if encoding == "ascii" else "yd³ in place") in out
        assert "[double-shot]" in out


@pytest.mark.skipif(os.name != "posix", reason="names of bytes are a matter of POSIX")
def test_a_name_that_is_no_text_is_told(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "gradework", "plan", os.fsdecode(os.fsencode(tmp_path) + b"/\xff.toml")]
    done = subprocess.run(command, capture_output=True, check=False)
    assert done.returncode == 2
    assert b"no such file" in done.stderr
