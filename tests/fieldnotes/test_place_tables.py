"""Places as tables: ties, offsets, rays, x and y, coordinates of a reference system."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.place_notes import Offset, Ray, Tie
from gradework.fieldnotes.place_tables import (
    PlainPlace,
    read_offsets,
    read_rays,
    read_system,
    read_ties,
    read_xy,
)

FOOT = 0.3048


def codes(read, text: str) -> list[tuple[str, int]]:
    with pytest.raises(InputError) as caught:
        read(text.encode(), "notes.csv", unit="ft")
    return [(fault.code, fault.line) for fault in caught.value.faults]


def test_ties_with_sides_and_rises():
    text = "station,mark,distance,rise,side\nA1,barn A,22' 4\",,L\nA1,barn B,31.0,0.5,\n"
    first, second = read_ties(text.encode(), "t.csv", unit="ft").rows
    assert first == Tie("A1", "barn A", pytest.approx((22 + 4 / 12) * FOOT), None, "left", 2)
    assert second == Tie("A1", "barn B", pytest.approx(31 * FOOT), pytest.approx(0.5 * FOOT), None, 3)
    assert read_ties(b"point,from,tape\nA,K,3\n", "t.csv", unit="m").rows == (Tie("A", "K", 3.0, line=2),)


def test_offsets_and_rays():
    text = b"station,along,offset\nA,3,-1\n"
    assert read_offsets(text, "o.csv", unit="m").rows == (Offset("A", 3.0, -1.0, 2),)
    text = b"station,angle,distance,rise\nA,90,10,\nB,0,5,1\n"
    assert read_rays(text, "r.csv", unit="m").rows == (
        Ray("A", 90.0, 10.0, None, 2),
        Ray("B", 0.0, 5.0, 1.0, 3),
    )


def test_plain_places_beside_readings():
    text = "station,BS,IS,FS,x,y\nBM,1.5,,,,\nA,,1.2,,3,4\nB,,1.1,,5,6\n"
    assert read_xy(text.encode(), "b.csv", unit="m").rows == (
        PlainPlace("A", 3.0, 4.0, None, 3),
        PlainPlace("B", 5.0, 6.0, None, 4),
    )


def test_degrees_in_either_order_and_survey_feet_as_the_system_counts():
    text = b"station,latitude,longitude,elevation\nA,44.5,-72.5,100\n"
    (place,) = read_system(text, "g.csv", unit="ft").rows
    assert (place.x, place.y) == (-72.5, 44.5)
    assert place.elevation == pytest.approx(100 * FOOT)
    (place,) = read_system(b"station,northing,easting\nA,500000.123,1640416.667\n", "g.csv", unit="ftUS").rows
    assert (place.x, place.y) == pytest.approx((1640416.667, 500000.123), abs=1e-9)


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [
        (
            read_ties,
            "station,mark,distance\nA,,3\n,K,3\n",
            [("place-cell-empty", 2), ("place-cell-empty", 3)],
        ),
        (read_ties, "station,mark,distance,side\nA,K,3,up\n", [("tie-side", 2)]),
        (read_ties, "station,distance\nA,3\n", [("notes-column-missing", 1)]),
        (read_rays, "station,angle,distance\nA,,3\n", [("place-cell-empty", 2)]),
        (read_rays, "station,angle,distance\nA,north,3\n", [("notes-cell", 2)]),
        (read_xy, "station,x,y\nA,1,\n", [("notes-cell", 2)]),
        (read_system, "station,latitude\nA,44\n", [("crs-columns", 1)]),
        (read_system, "station,latitude,longitude\nA,,-72\n", [("place-cell-empty", 2)]),
    ],
)
def test_what_cannot_be_read_is_told_by_line(read, text: str, expected: list[tuple[str, int]]):
    assert codes(read, text) == expected
