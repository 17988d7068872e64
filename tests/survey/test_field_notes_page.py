"""The page on field notes: its examples run, its tables are the files, and the barn yard's blunder is
named."""

from __future__ import annotations

import csv
import doctest
import re
from pathlib import Path

import pytest

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


def test_the_examples_run(monkeypatch):
    monkeypatch.chdir(ROOT)
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert result.attempted > 40
    assert result.failed == 0


@pytest.mark.parametrize("name", [n for n in FILES if n != "marks.csv"])
def test_every_example_file_is_a_table_of_the_page(name):
    with (ROOT / "data" / "notes" / name).open(encoding="utf-8", newline="") as opened:
        rows = [[cell.strip() for cell in row] for row in csv.reader(opened)]
    assert rows in tables()


def test_every_table_of_the_page_is_a_file():
    assert len(tables()) == len(FILES) - 1  # the marks stand in no table


def test_every_file_named_on_the_page_exists():
    named = re.findall(r'(?:notes|yard)\("([^"]+)"\)', PAGE.read_text(encoding="utf-8"))
    assert set(FILES) <= set(named)
    for name in named:
        assert (ROOT / "data" / "notes" / name).exists() or (ROOT / "data" / "barn-yard" / name).exists()
