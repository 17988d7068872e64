"""A table parted by its columns: each reader sees its own, and errors still point at the file."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.headers import X, Y
from gradework.fieldnotes.heights import read_laser
from gradework.fieldnotes.parting import part_columns
from gradework.fieldnotes.places import ALONG, OFFSET, read_offsets

NOTES = """\
Back yard, 3 May
station;along;offset;reading;note
# from the fence
A;5;10;1,31;"by the ""old"" oak
and the wall"
BM;;;1,20;

B;15;-4;1,52;
"""


def parts() -> tuple[bytes, bytes]:
    return part_columns(NOTES.encode(), "n.csv", (ALONG, OFFSET))


def test_each_reader_gets_its_columns_on_the_old_lines() -> None:
    readings, places = parts()
    found = read_laser(readings, "n.csv", unit="m").rows
    assert [(r.station, r.reading, r.line) for r in found] == [("A", 1.31, 4), ("BM", 1.2, 6), ("B", 1.52, 8)]
    offsets = read_offsets(places, "n.csv", unit="m", decimal=",").rows
    assert [(o.station, o.along, o.offset, o.line) for o in offsets] == [("A", 5, 10, 4), ("B", 15, -4, 8)]


def test_errors_point_at_the_line_and_column_of_the_file() -> None:
    bad = NOTES.replace("15;-4", "15;four").encode()
    with pytest.raises(InputError) as caught:
        read_offsets(part_columns(bad, "n.csv", (ALONG, OFFSET))[1], "n.csv", unit="m", decimal=",")
    (fault,) = caught.value.faults
    assert (fault.line, fault.column) == (8, 6)


def test_without_a_header_both_get_the_whole() -> None:
    data = b"A,1,2,3\nB,2,3,4\n"
    assert part_columns(data, "n.csv", (X, Y)) == (data, data)
