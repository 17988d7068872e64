"""Every name of a file or folder on the command line: empty, a folder, a line break, a file in the way."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import click
import pytest

from gradework.command.main import gradework
from gradework.command.options import InputName, OutputName
from gradework.earthwork.siting import search
from gradework.project import siting

Run = Callable[..., Any]

SITE = Path(__file__).parents[2] / "data" / "spring-pump-house"
CUTFILL = ("--units", "m", "--level", "49", "--corner", "5.2,4.4", "--size", "3,2.4")
GRID = ("--grid", "5ft", "--cols", "3", "--rows", "3")
LINE = ("--surveyed", "--from", "5,4", "--to", "8,6")
INPUTS = [
    ("plan", "?", "-n"),
    ("place", "?"),
    ("section", "?", *LINE),
    ("setout", "?"),
    ("sheet", "?"),
    ("asbuilt", "?", "shots.csv"),
    ("asbuilt", "job.toml", "?"),
    ("asbuilt", "job.toml", "tops.csv", "--stage", "later", "--first", "?"),
    ("reduce", "?"),
    ("reduce", "shots.csv", "--units", "m", "--places", "?"),
    ("cutfill", "?", *CUTFILL),
    ("cutfill", "shots.csv", *CUTFILL, "--places", "?"),
    ("cutfill", "shots.csv", *CUTFILL[:4], "--outline", "?"),
]
DROPS = ("12x8", "--drops", "0,1,2,3")
FOLDERS = [
    ("new", "?"),
    ("plan", "job.toml", "-o", "?"),
    ("place", "job.toml", "-o", "?"),
    ("section", "job.toml", *LINE, "-o", "?"),
    ("setout", "job.toml", "-o", "?"),
    ("corners", *DROPS, "-o", "?"),
]
FILES = [("sheet", *GRID, "-o", "?")]


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(SITE, tmp_path / "site")
    (tmp_path / "site" / "in the way").write_text("x\n")
    (tmp_path / "site" / "tops.csv").write_text("station,elevation\nbuilding 1,49.2\n")
    monkeypatch.chdir(tmp_path / "site")
    # where it stands best is not asked here
    monkeypatch.setattr(siting, "Search", partial(search.Search, coarse=300, most=600))
    return tmp_path / "site"


def given(arguments: tuple[str, ...], name: str) -> list[str]:
    return [name if argument == "?" else argument for argument in arguments]


def test_every_option_and_argument_with_a_path_is_tried_here() -> None:
    tried = {
        kind: {(case[0], case[case.index("?") - 1].lstrip("-")) for case in cases}
        for kind, cases in ((InputName, INPUTS), (OutputName, [*FOLDERS, *FILES]))
    }
    with click.Context(gradework) as context:
        for name in gradework.list_commands(context):
            if name == "batch":
                continue  # takes many, and goes on where one is not there: test_batch.py tries its own
            command = gradework.get_command(context, name)
            assert command is not None
            for param in command.params:
                if isinstance(param.type, click.Path):
                    before = {"job", "notes", "folder"}  # arguments that follow the command itself
                    key = name if param.name in before else "job.toml" if param.name == "readings" else None
                    key = key or {"output": "o"}.get(str(param.name), str(param.name))
                    assert (name, key) in tried[
                        next(kind for kind in tried if isinstance(param.type, kind))
                    ], (name, param.name)


@pytest.mark.parametrize("arguments", [*INPUTS, *FOLDERS, *FILES])
@pytest.mark.parametrize("name", ["", " "])
def test_an_empty_name_is_wrong_use(run: Run, site: Path, arguments: tuple[str, ...], name: str) -> None:
    before = sorted(site.iterdir())
    done = run(*given(arguments, name))
    assert (done.status, done.out) == (2, "")
    assert "an empty name" in done.err
    assert f"See 'gradework {arguments[0]} --help'" in done.err
    assert sorted(site.iterdir()) == before


@pytest.mark.parametrize("arguments", INPUTS)
@pytest.mark.parametrize("name", ["sub", "/", "a\nb"])
def test_an_input_that_is_a_folder_or_not_there_is_told_on_one_line(
    run: Run, site: Path, arguments: tuple[str, ...], name: str
) -> None:
    (site / "sub").mkdir()
    done = run(*given(arguments, name))
    assert (done.status, done.out) == (2, "")
    a_job = arguments[0] in ("plan", "place", "section", "setout", "sheet", "asbuilt") and arguments[1] == "?"
    assert ("[file-missing]" if "\n" in name or a_job else "[file-is-folder]") in done.err
    assert done.err.count("\n") == 1


@pytest.mark.parametrize("arguments", [(), (".",), ("job.toml",)])
@pytest.mark.parametrize("command", ["plan", "setout", "asbuilt", "sheet"])
def test_a_folder_or_nothing_is_its_job(
    run: Run, site: Path, command: str, arguments: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gradework.library.figures.drawing_files", lambda *_, **__: {})
    done = run(command, *arguments, *(("tops.csv",) if command == "asbuilt" else ()))
    assert done.status in (0, 1), done.err
    assert "error" not in done.err


@pytest.mark.parametrize("arguments", [*FOLDERS, *FILES])
@pytest.mark.parametrize("name", ["a\nb", "a\x1b[2Jb", "results\t"])
def test_an_output_with_a_character_that_does_not_print_is_wrong_use(
    run: Run, site: Path, arguments: tuple[str, ...], name: str
) -> None:
    before = sorted(site.iterdir())
    done = run(*given(arguments, name))
    assert (done.status, done.out) == (2, "")
    assert "cannot be printed" in done.err
    assert "\x1b" not in done.err
    assert sorted(site.iterdir()) == before


@pytest.mark.parametrize("arguments", FOLDERS)
@pytest.mark.parametrize("name", ["in the way", "in the way/results"])
def test_a_file_in_the_place_of_a_folder_is_kept(
    run: Run, site: Path, arguments: tuple[str, ...], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gradework.library.figures._figures", lambda _: ({}, ()))
    before = sorted(site.iterdir())
    done = run(*given(arguments, name))
    assert (done.status, done.out) == (74, "")
    assert "in the way is a file" in done.err
    assert sorted(site.iterdir()) == before
    assert (site / "in the way").read_text() == "x\n"


@pytest.mark.parametrize("name", [".", "..", "/", "sub/", "sub"])
def test_a_sheet_is_a_file_not_a_folder(run: Run, site: Path, name: str) -> None:
    (site / "sub").mkdir()
    before = sorted(site.iterdir())
    done = run(*given(FILES[0], name))
    assert (done.status, done.out) == (2, "")
    assert f"{Path(name)} is a folder; give the name of a file in it" in done.err
    assert sorted(site.iterdir()) == before


def test_the_folder_one_stands_in_is_said_with_a_point(run: Run, site: Path) -> None:
    (site / "job.toml").rename(site / "old.toml")
    assert run("new", ".").status == 0
    assert (site / "job.toml").exists()
