"""``new`` makes a job that reads; ``explain`` knows every code."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gradework.command.explain import read_messages
from gradework.project.job.read import read_job

Run = Callable[..., Any]


@pytest.mark.parametrize("unit", ["ft", "in", "m", "ftUS"])
def test_a_new_job_reads_and_its_remarks_are_true(run: Run, tmp_path: Path, unit: str) -> None:
    done = run("new", tmp_path / "yard", "--units", unit)
    assert done.status == 0
    text = (tmp_path / "yard" / "job.toml").read_bytes()
    assert read_job(text).unit == unit
    # every line that is offered as a remark works when the mark is taken away
    lines = text.decode().splitlines()
    offered = [line for line in lines if line.startswith("# ") and (" = " in line or line.startswith("# ["))]
    assert len(offered) >= 6
    outline = next(line for line in offered if "outline" in line)
    assert tomllib.loads(outline.removeprefix("# "))["outline"][2] == [16, 12]
    tried = [line.removeprefix("# ") if line in offered and line != outline else line for line in lines]
    job = read_job("\n".join(tried).encode())
    assert job.prices.haul is not None
    assert job.asked == ("pad", "piers", "slab")
    assert job.survey.grid is not None
    assert [one.kind for one in job.site.near] == ["fence"]


def test_a_new_job_has_an_empty_table_that_spreadsheets_open(run: Run, tmp_path: Path) -> None:
    run("new", tmp_path / "yard")
    assert (tmp_path / "yard" / "yard.csv").read_bytes() == b"\xef\xbb\xbfstation,x,y,elevation,note\r\n"


def test_a_job_that_stands_there_is_not_replaced_without_force(run: Run, tmp_path: Path) -> None:
    run("new", tmp_path)
    (tmp_path / "job.toml").write_text("mine")
    done = run("new", tmp_path)
    assert done.status == 74
    assert "job.toml is there already; nothing was written. Give another folder, or --force" in done.err
    assert (tmp_path / "job.toml").read_text() == "mine"
    assert run("new", tmp_path, "--force").status == 0


def test_new_under_a_file(run: Run, tmp_path: Path) -> None:
    (tmp_path / "f").write_text("")
    assert run("new", tmp_path / "f" / "g").status == 74


def test_new_as_json(run: Run, tmp_path: Path) -> None:
    done = run("new", tmp_path / "yard", "--json")
    assert done.document["written"] == [str(tmp_path / "yard" / name) for name in ("job.toml", "yard.csv")]


@pytest.mark.parametrize("code", read_messages())
def test_every_code_is_explained(run: Run, code: str) -> None:
    done = run("explain", f"[{code}]")
    assert done.status == 0
    assert done.out.startswith(code)
    assert max(map(len, done.out.splitlines())) <= 100


@pytest.mark.parametrize(
    ("typed", "code"),
    [("file-mising", "file-missing"), ("[Pad Cut_Deep]", "pad-cut-deep"), ("PAD-CUT-DEEP", "pad-cut-deep")],
)
def test_case_is_forgiven_and_the_nearest_code_is_taken(run: Run, typed: str, code: str) -> None:
    done = run("explain", typed)
    assert done.status == 0
    assert done.out.startswith(code)
    assert (f"the nearest is {code}" in done.err) == ("mising" in typed)


@pytest.mark.parametrize("typed", ["zzzz", "", "12345"])
def test_a_code_that_nothing_is_near_to_is_a_usage_error(run: Run, typed: str) -> None:
    done = run("explain", typed)
    assert (done.status, done.out) == (2, "")
    assert "No such code" in done.err
    assert run("explain").status == 2


def test_a_shell_completes_commands_options_and_codes() -> None:
    def offered(words: str, place: int) -> list[str]:
        asked = {"_GRADEWORK_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": str(place)}
        command = [sys.executable, "-c", "from gradework.command.main import main; main()"]
        done = subprocess.run(
            command, env={**os.environ, **asked}, capture_output=True, text=True, check=False, timeout=60
        )
        return [line.partition(",")[2] for line in done.stdout.splitlines()]

    assert offered("gradework pl", 1) == ["plan", "place"]
    assert "--dry-run" in offered("gradework plan --d", 2)
    assert "pad-cut-deep" in offered("gradework explain Pad-c", 2)


def test_the_list_and_json(run: Run) -> None:
    listed = run("explain", "--list").out
    assert all(code in listed for code in read_messages())
    assert run("explain", "--list", "--json").document["codes"]["file-missing"]
    assert run("explain", "file-missing", "--json").document["fix"]
