"""Breaklines as they are written: a table of their own, or a column beside the shots."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.breaklines import read_breaklines
from gradework.fieldnotes.spots import read_spots


def test_rows_of_stations_and_of_own_shots_and_an_empty_name_goes_on() -> None:
    text = "Breaklines of the yard\nline,point,x (m),y (m),elevation (m)\n"
    text += "top,B3,,,\n,,4,2.5,30.25\nfoot,C1,,,\n"
    rows = read_breaklines(text.encode(), "breaklines.csv", unit="ft").rows
    assert [row[:2] for row in rows] == [("top", "B3"), ("top", "top 2"), ("foot", "C1")]
    assert [row.at for row in rows] == [None, (4.0, 2.5, 30.25), None]
    assert [row.row for row in rows] == [3, 4, 5]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (b"line,station\n,B3\ntop,B4\n", "nothing says which line this row belongs to"),
        (b"line,station,x,y,elevation\ntop,,,,\ntop,B4,,,\n", "names no point"),
        (b"line,station,x,y,elevation\ntop,,4,,30\ntop,B4,,,\n", "no y"),
        (b"line,note\ntop,here\n", "no column for station, or x, y and elevation,"),
        (b"station,note\nB3,here\n", "no column for line"),
    ],
)
def test_what_names_no_line_or_no_point_is_refused(text: bytes, told: str) -> None:
    with pytest.raises(InputError) as caught:
        read_breaklines(text, "breaklines.csv", unit="ft")
    assert told in caught.value.faults[0].found, caught.value.faults


def test_a_column_beside_the_shots_tells_lines_in_the_order_of_the_shots() -> None:
    rows = ["station,x,y,elevation,breakline"]
    rows += [f"A{i},{i},0,10,{'top' if i % 2 else ''}" for i in range(1, 6)]
    plain = read_spots("\n".join([*rows, "B1,0,4,9,top + path", ""]).encode(), "yard.csv", unit="m")
    assert [one[:2] for one in plain.breaklines] == [
        ("top", "A1"), ("top", "A3"), ("top", "A5"), ("top", "B1"), ("path", "B1"),
    ]  # fmt: skip
    # a cell with its unit is read row by row, and tells the same
    other = read_spots("\n".join([*rows, "B1,0,4 m,9,top + path", ""]).encode(), "yard.csv", unit="m")
    assert other.breaklines == plain.breaklines


def test_own_shots_may_be_noted_line_by_line_and_a_stationing_is_one_name() -> None:
    text = "line,x (m),y (m),elevation (m)\ntop,0,0,2\nfoot,0,1,1\nTop,4,0,2\nfoot,4,1,1\n"
    rows = read_breaklines(text.encode(), "breaklines.csv", unit="m").rows
    assert [row.station for row in rows] == ["top 1", "foot 1", "Top 2", "foot 2"]
    spots = "station,x,y,elevation,breakline\nA1,0,0,2,0+50\nA2,4,0,2,0+50\nA3,4,4,1,\n"
    told = read_spots(spots.encode(), "yard.csv", unit="m").breaklines
    assert [one[:2] for one in told] == [("0+50", "A1"), ("0+50", "A2")]
