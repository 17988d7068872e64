"""Every kind of notes comes from a workbook as from text: by each command, in a job, and in Python."""

from __future__ import annotations

import csv
import json
import re
import shlex
import shutil
from pathlib import Path
from typing import Any

import pytest

import gradework as gw

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "field-notes.md").read_text("utf-8")
COMMANDS = sorted(set(re.findall(r"^\$ gradework (reduce data/notes/.*)$", PAGE, re.MULTILINE)))


def cells_of(file: Path) -> list[list[Any]]:
    """The rows of a CSV file as a spreadsheet would hold them: numbers as numbers."""

    def cell(text: str) -> Any:
        return float(text) if re.fullmatch(r"-?\d+(\.\d+)?", text) else text or None

    with file.open(encoding="utf-8-sig", newline="") as stream:
        return [[cell(text.strip()) for text in row] for row in csv.reader(stream)]


def figures(told: str, names: dict[str, str]) -> Any:
    """The document without names of files, which differ, and with lines called rows."""
    for name, other in names.items():
        told = told.replace(other, name)
    told = re.sub(r"([Ll])ine(s?)(?= [0-9])", lambda m: ("Row" if m[1] == "L" else "row") + m[2], told)
    return json.loads(told.replace(", row ", " row "))


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
@pytest.mark.parametrize("line", COMMANDS, ids=lambda line: Path(line.split()[1]).stem)
def test_every_kind_of_notes_reduces_to_the_same(kind, line, run, workbook, tmp_path, monkeypatch) -> None:
    monkeypatch.chdir(ROOT)
    words, names = shlex.split(line), {}
    for word in [word for word in words if word.endswith(".csv")]:
        book = tmp_path / f"{Path(word).stem}.{kind}"
        book.write_bytes(workbook(kind, {"Yard notes": cells_of(Path(word))}))
        names[word] = f"{book}, sheet Yard notes"
    paths = {word: other.partition(",")[0] for word, other in names.items()}
    plain = run(*words, "--json")
    booked = run(*[paths.get(word, word) for word in words], "--json")
    assert plain.status == booked.status == 0, booked.err
    assert figures(booked.out, names) == figures(plain.out, {})


def test_a_job_with_notes_and_ties_on_two_sheets(run, workbook, tmp_path) -> None:
    yard = ROOT / "data" / "barn-yard"
    shutil.copytree(yard, tmp_path / "yard")
    sheets = {"Levels": cells_of(yard / "levels.csv"), "Ties": cells_of(yard / "ties.csv")}
    (tmp_path / "yard" / "book.xlsx").write_bytes(workbook("xlsx", sheets))
    text = (yard / "job.toml").read_text("utf-8")
    text = text.replace('"levels.csv"', '"book.xlsx"').replace('"ties.csv"', '"book.xlsx"')
    job = tmp_path / "yard" / "job.toml"
    job.write_text(text)
    refused = run("plan", job, "--dry-run")
    assert refused.status == 2
    assert "more than one sheet with notes: Levels, Ties" in refused.err
    assert 'sheet = "Levels" under [survey]' in refused.err
    job.write_text(text.replace("[survey]", '[survey]\nsheet = "levels"'))
    assert 'places_sheet = "Levels" under [survey]' in run("plan", job, "--dry-run").err
    job.write_text(text.replace("[survey]", '[survey]\nsheet = "levels"\nplaces_sheet = "ties"'))
    booked, plain = (run("plan", one, "--dry-run", "--json") for one in (job, yard / "job.toml"))
    assert booked.status == plain.status
    assert booked.document["pad"] == plain.document["pad"]
    assert booked.document["survey"] == plain.document["survey"]


def test_cut_and_fill_with_notes_and_outline_from_workbooks(run, workbook, tmp_path) -> None:
    shots = ROOT / "data" / "spring-pump-house" / "shots.csv"
    outline = tmp_path / "pad.csv"
    outline.write_text("x,y\n5,4\n8,4\n8,7\n5,7\n")
    asked = ("--units", "m", "--level", "48.9", "--json", "--outline")
    plain = run("cutfill", shots, *asked, outline)
    (tmp_path / "b.ods").write_bytes(workbook("ods", {"1": [["gravel", 3]], "2": cells_of(shots)}))
    (tmp_path / "o.xls").write_bytes(workbook("xls", {"pad": cells_of(outline)}))
    booked = run("cutfill", tmp_path / "b.ods", "--sheet", "2", *asked, tmp_path / "o.xls")
    assert plain.status == booked.status == 0, booked.err
    assert booked.document["cut_m3"] == plain.document["cut_m3"]
    bad = [["x", "y"], [5, 4], [8, "oak"], [8, 7]]
    (tmp_path / "o.xls").write_bytes(workbook("xls", {"pad": bad}))
    assert (
        "o.xls, sheet pad, row 3: error: "
        in run("cutfill", shots, *asked[:-2], "--outline", tmp_path / "o.xls").err
    )


def test_tops_as_built_from_a_workbook(run, workbook, tmp_path) -> None:
    studio = ROOT / "data" / "orchard-studio"
    book = tmp_path / "tops.ods"
    book.write_bytes(workbook("ods", {"Notes": [["read in May"]], "Tops": cells_of(studio / "tops.csv")}))
    plain = run("asbuilt", studio / "job.toml", studio / "tops.csv", "--json")
    booked = run("asbuilt", studio / "job.toml", book, "--sheet", "tops", "--json")
    assert booked.status == plain.status == 1
    assert booked.document["tops"] == plain.document["tops"]
    done = gw.plan(studio / "job.toml")
    assert repr(gw.as_built(done, (book, "Tops"))) == repr(gw.as_built(done, studio / "tops.csv"))


def test_the_library_takes_a_workbook_and_the_name_of_a_sheet(workbook, tmp_path) -> None:
    rows = [["station", "x", "y", "z"], ["A", 0, 0, 1.5], ["B", 5, 0, 1.25], ["C", 0, 5, 1]]
    data = workbook("xlsx", {"Spring": rows, "Autumn": [*rows, ["D", 5, 5, 2]]})
    book = tmp_path / "yard.xlsx"
    book.write_bytes(data)
    assert len(gw.read_spots((book, "Spring"), "m")) == 3
    assert len(gw.read_spots((data, "autumn"), "m")) == 4
    with pytest.raises(gw.InputError, match="Spring, Autumn"):
        gw.read_spots(book, "m")
    levels = [
        ["station", "BS", "IS", "FS"],
        ["BM", 1.5, None, None],
        ["A", None, 1.2, None],
        ["BM", None, None, 1.5],
    ]
    done = gw.reduce_notes((workbook("xls", {"L": levels}), "L"), "m", known={"BM": 30.0})
    assert done.elevations.round(3).tolist() == [30.0, 30.3]


def test_a_workbook_from_standard_input(workbook, monkeypatch, run) -> None:
    import io
    import sys

    rows = [["station", "x", "y", "z"], ["A", 0, 0, "oak"], ["B", 5, 0, 1.25]]
    stream = io.TextIOWrapper(io.BytesIO(workbook("xlsx", {"Yard": rows})))
    monkeypatch.setattr(sys, "stdin", stream)
    told = run("cutfill", "-", "--units", "m", "--level", "1", "--corner", "0,0", "--size", "1,1")
    assert told.status == 2
    assert "standard input, sheet Yard, cell D2: error: " in told.err
