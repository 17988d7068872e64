"""The page on field notes: its examples run, its tables are the files, and the barn yard's blunder is
named."""

from __future__ import annotations

import csv
import doctest
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from gradework.command.main import gradework

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "field-notes.md"
FILES = sorted(p.name for p in (ROOT / "data" / "notes").glob("*.csv"))


def tables() -> list[list[list[str]]]:
    """Every table of the page, as rows of cells."""
    found: list[list[list[str]]] = [[]]
    for line in PAGE.read_text(encoding="utf-8").splitlines():
        if line.startswith("|"):
            cells = [c.strip() for c in line.strip("|").split("|")]
            if not all(set(c) <= {"-"} and c for c in cells):
                found[-1].append(cells)
        elif found[-1]:
            found.append([])
    return [t for t in found if t]


def commands() -> list[tuple[str, str]]:
    """Every command of the page with what it prints; lines between are left out as ``...``."""
    blocks = re.findall(r"```console\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)
    return [(line, rest) for line, _, rest in (block.partition("\n") for block in blocks)]


@pytest.mark.parametrize(("line", "shown"), commands())
def test_the_commands_print_what_the_page_shows(line: str, shown: str, monkeypatch):
    monkeypatch.chdir(ROOT)
    start, *words = shlex.split(line)
    assert (start, words[0]) == ("$", "gradework")
    done = CliRunner().invoke(gradework, words[1:])
    assert done.exit_code == 0, done.stderr
    same = doctest.OutputChecker().check_output
    assert same(shown, done.stdout + done.stderr, doctest.ELLIPSIS), done.stdout + done.stderr


def test_every_method_has_a_drawing_and_a_file():
    for section in re.split(r"^### ", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)[1:]:
        title, _, text = section.partition("\n")
        if title != "Marks of given elevation":  # what all methods share
            assert "```text\n" in text, title
            assert re.search(r"^\$ gradework reduce data/notes/", text, flags=re.MULTILINE), title


def test_the_examples_run(monkeypatch):
    monkeypatch.chdir(ROOT)
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert result.attempted >= 10
    assert result.failed == 0


@pytest.mark.parametrize("name", FILES)
def test_every_example_file_is_a_table_of_the_page(name):
    with (ROOT / "data" / "notes" / name).open(encoding="utf-8", newline="") as opened:
        rows = [[cell.strip() for cell in row] for row in csv.reader(opened)]
    assert rows in tables()


def test_every_table_of_the_page_is_a_file():
    assert len(tables()) == len(FILES)


def test_every_file_of_notes_is_used_by_a_command():
    used = {word for line, _ in commands() for word in shlex.split(line)}
    assert {f"data/notes/{name}" for name in FILES} <= used
