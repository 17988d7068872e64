"""What is being done is told on a terminal's standard error, and only where it takes long."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time

import pytest

from gradework.command import progress
from gradework.command.progress import working
from gradework.command.screen import Screen


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Terminal:
    stream = Terminal()
    monkeypatch.setattr("sys.stderr", stream)
    monkeypatch.setattr(progress, "PATIENCE", 0.01)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return stream


LONG = """
import sys, time
from gradework.command.progress import working
from gradework.command.screen import Screen
begun = time.monotonic()
with working(Screen(), "drawing"):
    while "rich.status" not in sys.modules and time.monotonic() - begun < 40:
        time.sleep(0.05)
    time.sleep(1.0)
"""


@pytest.mark.skipif(os.name != "posix", reason="a terminal is made as POSIX has them")
def test_long_work_is_told_on_a_terminal_and_taken_back() -> None:
    import pty  # exists on POSIX only

    ours, theirs = pty.openpty()
    done = subprocess.run(
        [sys.executable, "-c", LONG],
        stderr=theirs,
        stdout=subprocess.PIPE,
        check=False,
        env={**os.environ, "TERM": "xterm"},
        timeout=100,
    )
    os.close(theirs)
    told = os.read(ours, 100_000).decode("utf-8", "replace")
    os.close(ours)
    assert (done.returncode, done.stdout) == (0, b"")
    assert "drawing" in told
    assert told.rstrip().endswith("\x1b[2K")  # the line is cleared at the end


def test_short_work_is_not_told(terminal: Terminal, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(progress, "PATIENCE", 30.0)
    with working(Screen(), "drawing"):
        pass
    assert terminal.getvalue() == ""


@pytest.mark.parametrize("case", ["quiet", "dumb", "pipe"])
def test_nowhere_else(terminal: Terminal, monkeypatch: pytest.MonkeyPatch, case: str) -> None:
    if case == "dumb":
        monkeypatch.setenv("TERM", "dumb")
    if case == "pipe":
        monkeypatch.setattr(terminal, "isatty", lambda: False)
    with working(Screen(quiet=case == "quiet"), "drawing"):
        time.sleep(0.2)
    assert terminal.getvalue() == ""
