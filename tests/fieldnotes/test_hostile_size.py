"""A large file of nothing is refused by a first look; one of something costs no more than its size."""

from __future__ import annotations

import time

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.grids import MOST_CELLS
from gradework.fieldnotes.levels import MOST_LEVEL_ROWS, read_levels
from gradework.fieldnotes.places import read_ties
from gradework.fieldnotes.rows import MOST_COMMENTS
from gradework.fieldnotes.spots import read_spots
from gradework.fieldnotes.text import MOST_EMPTY, MOST_ROWS, read_text

HEAD = b"station,x,y,elevation\n"
SHOTS = b"A,0,0,50\nB,4,0,50\nC,0,4,50\n"


def refused(data: bytes, seconds: float = 2.0) -> str:
    start = time.process_time()
    with pytest.raises(InputError) as told:
        read_spots(data, "yard.csv", unit="m")
    assert time.process_time() - start < seconds
    (fault,) = told.value.faults
    assert fault.code in str(told.value)
    return str(fault)


def test_a_file_of_empty_lines_is_refused_at_once() -> None:
    told = refused(b"\n" * 10_000_000)
    assert "notes-empty-lines" in told
    assert "yard.csv:1:" in told
    assert "notes-empty-lines" in refused(HEAD + SHOTS + b"\n" * 1_000_000)
    assert "yard.csv:5:" in refused(HEAD + SHOTS + b"\r\n" * 1_000_000)


def test_some_empty_lines_do_no_harm() -> None:
    data = HEAD + SHOTS + b"\n" * MOST_EMPTY + b"D,4,4,50\n"
    assert len(read_spots(data, "yard.csv", unit="m")) == 4
    assert read_text(b"\n" * (MOST_EMPTY + 1), "yard.csv").text.count("\n") == MOST_EMPTY + 1


def test_more_lines_than_rows_are_read_are_refused_before_they_are_read() -> None:
    told = refused(HEAD + b" \n" * (2 * MOST_ROWS), 3.0)
    assert "notes-too-many-rows" in told


def test_a_grid_of_a_third_of_a_million_cells_is_refused_before_they_are_read() -> None:
    wide = b"y," + b",".join(b"%d" % i for i in range(1500)) + b"\n"
    data = wide + b"".join(b"%d," % j + b"50," * 1499 + b"50\n" for j in range(220))
    told = refused(data)
    assert "notes-too-many-rows" in told
    assert f"{MOST_CELLS:,}" in told


def test_many_remarks_that_look_like_shots_are_told_a_few_times_and_counted() -> None:
    remarks = b"".join(b"#S%d,%d,%d,50.1\n" % (i, i % 250, i // 250) for i in range(30_000))
    start = time.process_time()
    notes = read_spots(HEAD + SHOTS + remarks, "yard.csv", unit="m")
    assert time.process_time() - start < 6.0  # was 60 s
    told = [f for f in notes.findings if f.code == "notes-comment-like-shot"]
    assert len(told) == MOST_COMMENTS
    assert "Line 5 " in told[0].advice
    assert f"{30_000 - MOST_COMMENTS + 1:,} more lines" in told[-1].advice


def test_a_few_remarks_are_told_one_by_one() -> None:
    remarks = b"".join(b"#S%d,1,2,50.1\n" % i for i in range(MOST_COMMENTS))
    notes = read_spots(HEAD + SHOTS + remarks, "yard.csv", unit="m")
    told = [f for f in notes.findings if f.code == "notes-comment-like-shot"]
    assert [f.where for f in told] == [f"yard.csv line {5 + i}" for i in range(MOST_COMMENTS)]


def test_a_level_book_longer_than_any_is_refused_before_it_is_read() -> None:
    rows = b"".join(b"S%d,,1.2,\n" % i for i in range(MOST_LEVEL_ROWS + 20))
    start = time.process_time()
    with pytest.raises(InputError, match="more than 20,000 rows") as told:
        read_levels(b"station,BS,IS,FS\nBM,1.5,,\n" + rows, "book.csv", unit="m")
    assert time.process_time() - start < 0.5
    assert [fault.code for fault in told.value.faults] == ["notes-too-many-rows"]


@pytest.mark.parametrize("wide", [False, True])
def test_more_ties_than_anyone_tapes_are_refused_before_they_are_read(wide: bool) -> None:
    marks = [f"M{i}" for i in range(40 if wide else 2)]
    head = ",".join(("station", *marks)) if wide else "station,mark,distance"
    row = "S," + ",".join("5" for _ in marks) if wide else "S,M1,5"
    text = head + "\n" + (row + "\n") * (300 if wide else 10_020)
    with pytest.raises(InputError, match="10,000") as told:
        read_ties(text.encode(), "t.csv", unit="m", marks=marks)
    assert [fault.code for fault in told.value.faults] == ["notes-too-many-rows"]


def test_reading_stops_after_a_thousand_bad_cells() -> None:
    start = time.process_time()
    with pytest.raises(InputError) as told:
        read_levels(b"station,BS,IS,FS\n" + b"A,x,y,z\n" * 19_000, "book.csv", unit="m")
    assert time.process_time() - start < 3.0
    assert 1_000 <= len(told.value.faults) < 1_010
