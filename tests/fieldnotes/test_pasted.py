"""A block of numbers, as it is pasted, is a grid: with commas, tabs, semicolons or spaces, headed or not."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.spots import SpotNotes, read_spots

GRID = LetteredGrid((5.0, 5.0))
HEIGHTS = [["98.72", "98.60", "98.41"], ["98.55", "98.40", "98.22"]]
TOP = ["0", "5", "10"]


def read(text: str, grid: LetteredGrid | None = GRID) -> SpotNotes:
    return read_spots(text.encode(), "p.txt", unit="m", grid=grid)


def written(rows: list[list[str]], mark: str) -> str:
    return "\n".join(mark.join(row) for row in rows) + "\n"


@pytest.mark.parametrize("mark", [",", "\t", ";", " ", "   "])
def test_a_block_without_a_header(mark) -> None:
    notes = read(written(HEIGHTS, mark))
    assert notes.names == ("A1", "A2", "A3", "B1", "B2", "B3")
    assert list(notes.x) == [0.0, 5.0, 10.0] * 2
    assert list(notes.y) == [0.0] * 3 + [5.0] * 3
    assert list(notes.elevation) == [98.72, 98.60, 98.41, 98.55, 98.40, 98.22]
    assert list(notes.lines) == [1, 1, 1, 2, 2, 2]
    assert "notes-pasted-grid" in [told.code for told in notes.findings]


@pytest.mark.parametrize("mark", [",", "\t", ";", " ", "   "])
@pytest.mark.parametrize("grid", [None, GRID])
@pytest.mark.parametrize("corner", ["", "y"])
def test_a_block_with_x_on_top_and_y_at_the_side(mark, grid, corner) -> None:
    top = [corner, *TOP] if corner or mark.strip(" ") else TOP
    if corner and not mark.strip():
        return  # a letter among numbers with spaces between them is no block
    rows = [top, *[[y, *row] for y, row in zip(["0", "5"], HEIGHTS, strict=True)]]
    notes = read(written(rows, mark), grid)
    assert notes.names[:2] == ("x0 y0", "x5 y0")
    assert list(notes.y) == [0.0] * 3 + [5.0] * 3
    assert list(notes.elevation) == [98.72, 98.60, 98.41, 98.55, 98.40, 98.22]


@pytest.mark.parametrize(("mark", "none"), [(",", ""), (",", "-"), ("\t", ""), (" ", "-"), (" ", "–")])
def test_places_that_were_not_shot(mark, none) -> None:
    notes = read(written([HEIGHTS[0], [HEIGHTS[1][0], none, HEIGHTS[1][2]]], mark))
    assert notes.names == ("A1", "A2", "A3", "B1", "B3")
    notes = read(written([["-", *HEIGHTS[0][1:]], HEIGHTS[1]], mark))
    assert notes.names == ("A2", "A3", "B1", "B2", "B3")


def test_an_empty_first_cell_is_not_taken_for_a_corner_unseen() -> None:
    with pytest.raises(InputError) as told:
        read("\t98.60\t98.41\n98.55\t98.40\t98.22\n")
    (fault,) = told.value.faults
    assert (fault.code, fault.line) == ("notes-pasted-unclear", 1)
    notes = read("-\t98.60\t98.41\n98.55\t98.40\t98.22\n")  # as the message says
    assert notes.names == ("A2", "A3", "B1", "B2", "B3")


def test_a_row_that_was_not_shot_on_top_leaves_the_row_below_it_as_unclear() -> None:
    with pytest.raises(InputError) as told:
        read("-\n98.5 98.4\n98.5 98.3 98.1\n98.5 98.3 98.1\n")
    assert [(f.code, f.line) for f in told.value.faults] == [("notes-pasted-unclear", 2)]
    for grid in (None, LetteredGrid((10.0, 10.0))):
        notes = read("-\n0 10\n0 98.3 98.1\n10 98.5 98.1\n", grid)
        assert notes.names == ("x0 y0", "x10 y0", "x0 y10", "x10 y10")
        assert list(notes.elevation) == [98.3, 98.1, 98.5, 98.1]


def test_decimal_commas_and_titles() -> None:
    notes = read("Yard in May, invented\n\n98,72 98,60\n98,55 98,40\n")
    assert list(notes.elevation) == [98.72, 98.60, 98.55, 98.40]
    assert "notes-title-line" in [told.code for told in notes.findings]
    notes = read("98,72;98,60\n98,55;98,40\n")
    assert list(notes.elevation) == [98.72, 98.60, 98.55, 98.40]


def test_feet_and_inches_apart_by_tabs() -> None:
    text = "98' 8 5/8\"\t98' 7\"\n98' 6\"\t98' 5 1/2\"\n"
    notes = read_spots(text.encode(), "p", unit="ft", grid=LetteredGrid((1.524, 1.524)))
    assert [z / 0.3048 for z in notes.elevation] == pytest.approx(
        [98 + 8.625 / 12, 98 + 7 / 12, 98.5, 98 + 5.5 / 12]
    )


def test_the_corner_and_the_turn_of_the_grid_count() -> None:
    notes = read(written(HEIGHTS, ","), LetteredGrid((2.0, 4.0), (10.0, 20.0), 90.0))
    assert list(zip(notes.x, notes.y, strict=True))[:4] == [
        (10.0, 20.0),
        (10.0, 24.0),
        (10.0, 28.0),
        (8.0, 20.0),
    ]


def test_a_cell_that_is_no_length_is_named_where_it_stands() -> None:
    with pytest.raises(InputError) as told:
        read("98.72,98.60,98.41\n98.55,oak,98.22\n98.5,98.4,98.3\n")
    assert [(f.line, f.column) for f in told.value.faults] == [(2, 7)]


@pytest.mark.parametrize("mark", [",", "\t", ";", " "])
@pytest.mark.parametrize("at", [0, 1, 2])
@pytest.mark.parametrize("wide", [2, 3])
@pytest.mark.parametrize("error", ["#N/A", "#SPILL!", "#####"])
def test_an_error_of_a_sheet_in_the_first_cell_is_no_comment(mark, at, wide, error) -> None:
    rows = [row[:wide] for row in (*HEIGHTS, HEIGHTS[0])]
    rows[at] = [error, *rows[at][1:]]
    with pytest.raises(InputError) as told:
        read(written(rows, mark))
    assert [(f.code, f.line, f.column) for f in told.value.faults] == [("notes-cell", at + 1, 1)]


@pytest.mark.parametrize("mark", [",", "\t", ";", " "])
@pytest.mark.parametrize("wide", [2, 3])
def test_a_row_whose_name_makes_it_a_comment_is_told(mark, wide) -> None:
    rows = [row[:wide] for row in (*HEIGHTS, HEIGHTS[0])]
    rows[1][0] = "#5"
    notes = read(written(rows, mark))
    assert notes.names == ("A1", "A2", "A3", "B1", "B2", "B3") if wide == 3 else ("A1", "A2", "B1", "B2")
    (told,) = (told for told in notes.findings if told.code == "notes-comment-like-shot")
    assert told.where == "p.txt line 2"
    assert "'#5" in told.advice


@pytest.mark.parametrize("mark", [",", "\t", ";", " "])
def test_a_blank_row_inside_a_block_may_be_one_that_was_not_shot(mark) -> None:
    first, second = written(HEIGHTS, mark).splitlines()
    for gap in ("", " ", mark, mark * 2):
        with pytest.raises(InputError) as told:
            read(f"{first}\n{gap}\n\n{second}\n")
        assert [(f.code, f.line) for f in told.value.faults] == [("notes-pasted-unclear", 2)]
        assert "a blank row inside the block" in told.value.faults[0].found
    for filled in ("-", mark.join("---")):  # as the message says
        notes = read(f"\n{first}\n{filled}\n{second}\n\n\n")
        assert notes.names == ("A1", "A2", "A3", "C1", "C2", "C3")
        assert list(notes.y) == [0.0] * 3 + [10.0] * 3


@pytest.mark.parametrize("mark", [",", "\t", " "])
def test_a_first_row_that_was_hardly_shot_is_no_title(mark) -> None:
    notes = read(written([["-", "-", "98.41"], *HEIGHTS], mark))
    assert notes.names[:4] == ("A3", "B1", "B2", "B3")
    notes = read(written([["2026"], *HEIGHTS], mark)) if mark != " " else None
    assert notes is None or notes.names[0] == "A1"


def test_a_single_figure_below_is_no_row_of_the_block() -> None:
    with pytest.raises(InputError) as told:
        read(written([*HEIGHTS, ["7"]], ","))
    assert [fault.code for fault in told.value.faults] == ["notes-no-header"]


def test_without_a_spacing_the_advice_is_to_give_one() -> None:
    with pytest.raises(InputError):
        read(written(HEIGHTS, ","), None)


def test_a_row_beyond_z() -> None:
    notes = read("".join(f"98.{row:02d} 98.5\n" for row in range(60)))
    assert notes.names[51:56] == ("Z2", "AA1", "AA2", "AB1", "AB2")
    assert notes.y[54] == 27 * 5.0


def test_a_large_block_is_refused_at_once() -> None:
    row = ",".join(["98.5"] * 300)
    with pytest.raises(InputError, match="notes-too-many-rows"):
        read(f"{row}\n" * 300)
