"""A workbook gives the same notes as the text of its sheet, and its faults name sheet and cell."""

from __future__ import annotations

import datetime
import subprocess

import pytest

from gradework.errors import InputError, SheetName
from gradework.fieldnotes.levels import read_levels
from gradework.fieldnotes.spots import read_spots
from gradework.fieldnotes.workbook.door import notes_in

KINDS = ("xlsx", "ods", "xls")

SPOTS = [
    ["station", "x (ft)", "y (ft)", "elevation (ft)", "note"],
    ["A1", 0, 0, 98.72, None],
    ["A2", 5, 0, "98' 4 1/2\"", "by the oak"],
    [None, None, None, None, None],
    ["B1", 0, 5.5, (98.375, "# ?/?"), None],
]


def refused(data: bytes, file: str, sheet: str | None = None) -> list[str]:
    with pytest.raises(InputError) as told:
        read_spots(*notes_in(data, file, sheet), unit="ft")
    return [str(fault) for fault in told.value.faults]


@pytest.mark.parametrize("kind", KINDS)
def test_spots_come_out_as_from_text(kind, workbook) -> None:
    text, file = notes_in(workbook(kind, {"Yard": SPOTS}), f"yard.{kind}")
    assert file == f"yard.{kind}, sheet Yard"
    notes = read_spots(text, file, unit=None)
    assert notes.names == ("A1", "A2", "B1")
    assert [z / 0.3048 for z in notes.elevation] == pytest.approx([98.72, 98.375, 98.375])
    assert list(notes.lines) == [2, 3, 5]
    assert list(notes.notes) == ["", "by the oak", ""]
    assert notes.findings == ()


@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_names_sheet_and_cell(kind, workbook) -> None:
    rows = [
        ["Our yard"],
        [None],
        [None, "station", "x", "y", "z"],
        [None, "A1", 0, 0, 5],
        [None, "A2", "far", 0, 5],
    ]
    (told,) = refused(workbook(kind, {"Yard": rows}), "yard.ods")
    assert told.startswith("yard.ods, sheet Yard, cell C5: error: ")


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_margin_left_of_the_table_is_passed_over(kind, workbook) -> None:
    rows = [[None], [None, None, None, 0, 5], [None, None, 0, 1.5, 1.6], [None, None, 5, 1.7, "oak"]]
    (told,) = refused(workbook(kind, {"Grid": rows}), "grid.xls")
    assert "sheet Grid, cell E4: error: " in told
    rows[3][4] = 1.8
    text, file = notes_in(workbook(kind, {"Grid": rows}), "grid.xls")
    assert read_spots(text, file, unit="m").names == ("x0 y0", "x5 y0", "x0 y5", "x5 y5")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("value", "says"),
    [
        (datetime.date(2026, 5, 3), "date"),
        ("#REF!", "#REF!"),
        ((0.02, "0%"), "2"),
        (True, "TRUE"),
        (None, "no elevation"),
    ],
)
def test_what_is_no_length_is_refused_at_its_cell(kind, value, says, workbook) -> None:
    if kind == "ods" and value is True:
        value = "TRUE"  # its writer knows no truth values
    rows = [["station", "x", "y", "z"], ["A", 0, 0, value], ["B", 5, 0, 1.0]]
    (told,) = refused(workbook(kind, {"Yard": rows}), "b")
    assert told.startswith("b, sheet Yard, cell D2: error: ")
    assert says in told


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_a_formula_that_nothing_has_worked_out_is_not_an_empty_cell(kind, workbook) -> None:
    grid = [[None, 0, 5], [0, 1.5, "=B2+1"], [5, 1.7, 1.8]]
    (told,) = refused(workbook(kind, {"Grid": grid}), "b")
    assert "sheet Grid, cell C2: error: " in told
    assert "=B2+1" in told


@pytest.mark.parametrize("kind", KINDS)
def test_an_error_in_a_grid_is_no_place_that_was_not_shot(kind, workbook) -> None:
    grid = [[None, 0, 5], [0, 1.5, 1.6], [5, 1.7, "#REF!"]]
    (told,) = refused(workbook(kind, {"Grid": grid}), "b")
    assert "sheet Grid, cell C3: error: " in told


@pytest.mark.parametrize("kind", KINDS)
def test_a_unit_in_the_format_of_a_cell_is_its_unit(kind, workbook) -> None:
    rows = [["station", "x", "y", "z"], ["A", 0, 0, (12.25, '0.00" in"')], ["B", 5, 0, (6.5, '0.00" in"')]]
    text, file = notes_in(workbook(kind, {"Yard": rows}), "b")
    heights = read_spots(text, file, unit="ft").elevation
    assert [z / 0.0254 for z in heights] == pytest.approx([12.25, 6.5])


@pytest.mark.parametrize("kind", KINDS)
def test_names_of_stations_that_are_numbers_stay_whole(kind, workbook) -> None:
    rows = [["pt", "x", "y", "z"], [101, 0, 0, 1.1], [102.0, 5, 0, 1], [103, 0, 5, 0.1 + 0.2]]
    notes = read_spots(*notes_in(workbook(kind, {"S": rows}), "b"), unit="m")
    assert notes.names == ("101", "102", "103")
    assert notes.elevation[2] == 0.3


@pytest.mark.parametrize("kind", KINDS)
def test_the_sheet_that_looks_like_notes_is_found_and_said(kind, workbook) -> None:
    data = workbook(kind, {"Prices": [["gravel", 38], ["boards", 4]], "Yard": SPOTS})
    text, file = notes_in(data, "b")
    assert file == "b, sheet Yard"
    (told,) = read_spots(text, file, unit="ft").findings
    assert told.code == "workbook-sheet-found"
    assert "sheet 'Yard'" in told.advice
    assert "not Prices" in told.advice


@pytest.mark.parametrize("kind", KINDS)
def test_several_sheets_of_notes_want_a_name(kind, workbook) -> None:
    data = workbook(kind, {"Spring": SPOTS, "Autumn": SPOTS})
    (told,) = refused(data, "b")
    assert "more than one sheet with notes: Spring, Autumn" in told
    assert '--sheet "Spring"' in told
    for name in ("Autumn", " autumn "):
        assert notes_in(data, "b", name)[1] == "b, sheet Autumn"
    (told,) = refused(data, "b", "Autum")
    assert "did you mean 'Autumn'?" in told
    (told,) = refused(data, "b", "Ties")
    assert "expected one of Spring, Autumn" in told


def test_no_sheet_of_notes_and_nothing_at_all(workbook) -> None:
    prices = [["gravel", 38], ["boards", 4]]
    (told,) = refused(workbook("xlsx", {"A": prices, "B": prices}), "b")
    assert "no sheet that looks like notes: A, B" in told
    (told,) = refused(workbook("xlsx", {"A": []}), "b")
    assert "nothing on its sheets" in told
    (told,) = refused(b"station,x,y,z\n", "b.csv", "Yard")
    assert "no workbook" in told


@pytest.mark.parametrize("kind", KINDS)
def test_a_long_remark_on_another_sheet_is_no_matter(kind, workbook) -> None:
    remark = "We met the neighbour, who told of the spring below the wall. " * 400
    data = workbook(kind, {"Diary": [[remark], ["May", 3]], "Yard": SPOTS})
    assert notes_in(data, "b")[1] == "b, sheet Yard"


@pytest.mark.parametrize("kind", KINDS)
def test_a_sheet_that_was_named_and_is_empty(kind, workbook) -> None:
    (told,) = refused(workbook(kind, {"Yard": SPOTS, "Garden": []}), "b", "garden")
    assert "on the sheet 'Garden'" in told
    assert "name the sheet that holds them with --sheet" in told


@pytest.mark.parametrize("kind", ["xlsx", "xls"])
def test_a_format_that_shows_one_unit_or_the_other_is_refused_at_its_cell(kind, workbook) -> None:
    shown = '[<1]0.0" in";0.0" ft"'
    rows = [["station", "x", "y", "z"], ["A", 0, 0, 1.5], ["B", 5, 0, (0.5, shown)], ["C", 0, 5, 1.2]]
    (told,) = refused(workbook(kind, {"Yard": rows}), "b")
    assert told.startswith("b, sheet Yard, cell D3: error: ")
    assert "in or ft" in told


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_dates_where_no_process_can_be_started(kind, workbook, monkeypatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError("no processes here")

    monkeypatch.setattr(subprocess, "run", refuse)
    rows = [["station", "x", "y", "z"], ["A", 0, 0, datetime.date(2026, 5, 3)], ["B", 5, 0, 1.0]]
    (told,) = refused(workbook(kind, {"Yard": rows}), "b")
    assert "cell D2: error: " in told
    assert "2026-05-03" in told


@pytest.mark.parametrize("kind", KINDS)
def test_lines_in_a_sentence_are_rows(kind, workbook) -> None:
    rows = [
        ["station", "x", "y", "z"],
        ["A", 0, 0, 1.0],
        ["#5", 5, 0, 1.0],
        ["C", 0, 5, 1.0],
        ["D", 5, 5, 1.0],
    ]
    (told,) = read_spots(*notes_in(workbook(kind, {"S": rows}), "b"), unit="m").findings
    assert told.code == "notes-comment-like-shot"
    assert told.where == "b, sheet S, row 3"
    assert told.advice.startswith("Row 3 begins")
    assert "('#5 5 0 1')" in told.advice


def test_text_in_one_column_is_cut_as_text(workbook) -> None:
    rows = [["station,x,y,z"], ["A,0,0,1.5"], ["B,4,0,oak"]]
    (told,) = refused(workbook("xlsx", {"S": rows}), "b")
    assert "sheet S, cell A3: error: " in told


def test_a_level_book_with_titles_over_several_columns(workbook) -> None:
    rows = [
        ["Level book, invented", None, None, None],
        ["station", "BS", "IS", "FS"],
        ["BM", 1.5, None, None],
        ["A", None, 1.2, None],
        ["BM", None, None, 1.5],
    ]
    text, file = notes_in(workbook("xlsx", {"Book": rows}), "b")
    assert [row.station for row in read_levels(text, file, unit="m", known={"BM": 10.0}).rows] == [
        "BM",
        "A",
        "BM",
    ]


def test_what_came_out_may_come_in_again(workbook) -> None:
    text, file = notes_in(workbook("xlsx", {"S": SPOTS}), "b")
    assert isinstance(file, SheetName)
    assert notes_in(text, file, "S") == (text, file)
