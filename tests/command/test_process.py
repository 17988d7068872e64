"""How the process of a command starts, measures its terminal, and ends."""

from __future__ import annotations

import shutil
import subprocess
import sys

import click
import pytest

from gradework.command import gradework
from gradework.command.process import prepare


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
