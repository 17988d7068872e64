"""Coordinates of a reference system, and plain places beside the readings."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.coordinates import places_beside, read_system
from gradework.fieldnotes.places import PlainPlace

FOOT = 0.3048


def codes(read, text: str) -> list[tuple[str, int]]:
    with pytest.raises(InputError) as caught:
        read(text.encode(), "notes.csv", unit="ft")
    return [(fault.code, fault.line) for fault in caught.value.faults]


def test_degrees_in_either_order_and_survey_feet_as_the_system_counts():
    text = b"station,latitude,longitude,elevation\nA,44.5,-72.5,100\n"
    (place,) = read_system(text, "g.csv", unit="ft").rows
    assert (place.east, place.north) == (-72.5, 44.5)
    assert place.elevation == pytest.approx(100 * FOOT)
    (place,) = read_system(b"station,northing,easting\nA,500000.123,1640416.667\n", "g.csv", unit="ftUS").rows
    assert (place.east, place.north) == pytest.approx((1640416.667, 500000.123), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("44° 30' 36\" N", "write 44.5100000"),
        ("-72 30 36", "write -72.5100000"),
        ("W 72°30.6′", "write -72.5100000"),
        ("44.5 S", "write -44.5000000"),
        ("44:30:36", "write 44.5100000"),
    ],
)
def test_degrees_and_minutes_are_told_in_decimals(text: str, fix: str):
    cell = '"' + text.replace('"', '""') + '"'
    with pytest.raises(InputError) as caught:
        read_system(f"station,latitude,longitude\nA,{cell},-72\n".encode(), "g.csv", unit="ft")
    (fault,) = caught.value.faults
    assert (fault.code, fault.line, fault.column) == ("coordinate-not-decimal", 2, 3)
    assert fault.fix == fix


def test_without_names_each_is_called_by_its_line():
    """As a map program exports points: two coordinates, a height, no names."""
    rows = read_system(
        b"easting,northing,elevation\n503211.2,4411201.1,12\n503221.2,4411201.1,12.2\n", "e.csv", unit="m"
    ).rows
    assert [(one.station, one.east, one.elevation) for one in rows] == [
        ("line 2", 503211.2, 12.0), ("line 3", 503221.2, 12.2)
    ]  # fmt: skip


def test_plain_places_beside_readings():
    text = "station,BS,IS,FS,x,y\nBM,1.5,,,,\nA,,1.2,,3,4\nB,,1.1,,5,6\nA,,1.2,,3,4\n"
    found = places_beside(text.encode(), "b.csv", unit="m")
    assert found is not None
    assert found.rows == (PlainPlace("A", 3.0, 4.0, 3), PlainPlace("B", 5.0, 6.0, 4))
    assert places_beside(b"station,BS,IS\nBM,1,\nA,,2\n", "b.csv", unit="m") is None


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [
        (places_beside, "station,BS,IS,x,y\nBM,1,,,\nA,,1,1,\n", [("notes-cell", 3)]),
        (places_beside, "station,BS,IS,x,y\nBM,1,,0,0\nBM,,1,1,0\n", [("mark-twice", 3)]),
        (read_system, "station,latitude\nA,44\n", [("crs-columns", 1)]),
        (read_system, "station,latitude,longitude\nA,,-72\n", [("coordinate-empty", 2)]),
        (read_system, "station,latitude,longitude\nA,north,-72\n", [("notes-cell", 2)]),
    ],
)
def test_what_cannot_be_read_is_told_by_line(read, text: str, expected: list[tuple[str, int]]):
    assert codes(read, text) == expected
