"""How the process of a command starts, measures its terminal, and ends."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from gradework.command.main import gradework, prepare


def test_linear_algebra_keeps_to_one_thread_unless_told_otherwise() -> None:
    fresh: dict[str, str] = {}
    prepare(fresh)
    told = {"OPENBLAS_NUM_THREADS": "3"}
    prepare(told)
    assert (fresh, told) == ({"OPENBLAS_NUM_THREADS": "1"}, {"OPENBLAS_NUM_THREADS": "3"})


@pytest.mark.parametrize("columns", ["", "0", "30", "64", "79", "200", "wide"])
def test_help_is_as_wide_as_click_would_make_it(columns: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    context = gradework.make_context("gradework", ["explain", "some-code"], resilient_parsing=True)
    ours = context.make_formatter()
    usual = click.HelpFormatter(max_width=context.max_content_width)
    assert ours.width == usual.width == max(min(shutil.get_terminal_size().columns, 80) - 2, 50)


@pytest.mark.parametrize(("words", "status"), [(["--version"], 0), ([], 2), (["no-such"], 2)])
def test_the_process_leaves_with_the_status_of_the_run(words: list[str], status: int) -> None:
    command = [sys.executable, "-m", "gradework", *words]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == status, done.stderr
    assert "Traceback" not in done.stderr


def closed(tmp_path: Path, streams: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the program with streams closed, as a shell's ``>&-`` does, and the others in files."""
    lines = f'exec {sys.executable} -m gradework "$@" {streams}'
    return subprocess.run(
        ["sh", "-c", lines, "sh", *words],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )


@pytest.mark.skipif(os.name != "posix", reason="only a POSIX shell closes streams")
@pytest.mark.parametrize("streams", [">&-", "2>&-", "<&-", ">&- 2>&-", "<&- >&- 2>&-"])
@pytest.mark.parametrize(
    ("words", "status"),
    [
        (("--version",), 0),
        (("--help",), 0),
        (("explain", "--list"), 0),
        (("explain", "file-missing", "--json"), 0),
        (("no-such",), 2),
        (("plan", "nowhere.toml"), 2),
        (("plan", "nowhere.toml", "--json"), 2),
    ],
)
def test_a_closed_stream_is_nowhere(
    tmp_path: Path, streams: str, words: tuple[str, ...], status: int
) -> None:
    done = closed(tmp_path, streams, *words)
    assert done.returncode == status, done
    usual = closed(tmp_path, "", *words)
    assert done.stdout == ("" if ">&-" in streams.replace("2>&-", "") else usual.stdout)
    assert done.stderr == ("" if "2>&-" in streams else usual.stderr)


@pytest.mark.skipif(os.name != "posix", reason="only a POSIX shell closes streams")
@pytest.mark.parametrize("streams", [">&-", "2>&-", "<&- >&- 2>&-"])
def test_no_result_ever_stands_in_for_a_closed_stream(tmp_path: Path, streams: str) -> None:
    """A file that is opened gets the lowest free number, which is that of a closed stream."""
    assert closed(tmp_path, streams, "new", "here").returncode == 0
    assert closed(tmp_path, "", "new", "there").returncode == 0
    for name in ("job.toml", "yard.csv"):
        assert (tmp_path / "here" / name).read_bytes() == (tmp_path / "there" / name).read_bytes()


@pytest.mark.skipif(os.name != "posix", reason="only a POSIX shell closes streams")
def test_closed_standard_input_holds_no_notes(tmp_path: Path) -> None:
    done = closed(tmp_path, "<&-", "reduce", "-", "--units", "ft")
    assert done.returncode == 2
    assert "standard input" in done.stderr
