"""Tables of ties, offsets, rays, places and of the simple ways of levelling: both forms, and bad rows."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.heights import (
    Difference,
    Drop,
    RodReading,
    Step,
    WaterPair,
    read_differences,
    read_drops,
    read_laser,
    read_steps,
    read_water_pairs,
)
from gradework.fieldnotes.places import (
    Offset,
    Ray,
    Tie,
    read_offsets,
    read_places,
    read_rays,
    read_ties,
)

FOOT = 0.3048


def test_ties_in_both_forms_are_the_same():
    wide = b"station,barn A,barn B,side\nS1,22' 4\",31' 0\",left\nS2,18.5,,right\n"
    long = (
        b"station,mark,distance,side\nS1,barn A,22' 4\",left\nS1,barn B,31' 0\",left\nS2,barn A,18.5,right\n"
    )
    first = read_ties(wide, "t.csv", unit="ft", marks=["barn A", "barn B"])
    second = read_ties(long, "t.csv", unit="ft")
    strip = [(t.station, t.mark, t.distance, t.side) for t in first.rows]
    assert strip == [(t.station, t.mark, t.distance, t.side) for t in second.rows]
    assert strip[0] == ("S1", "barn A", pytest.approx((22 + 4 / 12) * FOOT), "left")
    assert [t.line for t in first.rows] == [2, 2, 3]
    assert first.unit == "ft"


def test_a_rise_beside_a_slope_distance():
    text = b"station,mark,distance,rise\nS1,A,5.0,-1.2\nS1,B,6.0,\n"
    assert read_ties(text, "t.csv", unit="m").rows == (
        Tie("S1", "A", 5.0, -1.2, None, 2),
        Tie("S1", "B", 6.0, None, None, 3),
    )


def test_each_mark_of_a_row_may_have_its_own_rise():
    text = b"station,A,rise A,oak,rise to oak,rise\nS1,5,1.2,6,-0.4,\nS2,7,,8,0.5,2\nS3,7,0.1,,,\n"
    found = read_ties(text, "t.csv", unit="m", marks=["A", "oak"])
    assert [(t.station, t.mark, t.distance, t.rise) for t in found.rows] == [
        ("S1", "A", 5.0, 1.2),
        ("S1", "oak", 6.0, -0.4),
        ("S2", "A", 7.0, 2.0),
        ("S2", "oak", 8.0, 0.5),
        ("S3", "A", 7.0, 0.1),
    ]
    assert found.findings == ()


def test_one_rise_for_tapes_from_several_marks_is_noted():
    text = b"station,A,B,rise\nS1,5,6,\nS2,7,8,1\nS3,7,,1\nS4,7,9,1\n"
    found = read_ties(text, "t.csv", unit="m", marks=["A", "B"])
    assert [t.rise for t in found.rows] == [None, None, 1, 1, 1, 1, 1]
    (told,) = found.findings
    assert (told.code, told.severity, told.where, told.value) == ("tie-rise-shared", "note", "line 3", 2.0)
    assert '"rise A" and "rise B"' in told.advice


def test_the_other_tables():
    assert read_offsets(b"station,along,offset\nA,10,2\n", "o", unit="ft").rows == (
        Offset("A", pytest.approx(10 * FOOT), pytest.approx(2 * FOOT), 2),
    )
    assert read_rays(b"station,angle,distance,rise\nA,30.5,5,1\n", "r", unit="m").rows == (
        Ray("A", 30.5, 5.0, 1.0, 2),
    )
    assert read_drops(b"station,drop,along\nA,0.5,2\nB,0.6,\n", "d", unit="m").rows == (
        Drop("A", 0.5, 2.0, 2),
        Drop("B", 0.6, None, 3),
    )
    assert read_differences(b"station,higher\nA,-0.25\n", "d", unit="m").rows == (Difference("A", -0.25, 2),)
    assert read_steps(b"station,run,rise\nA,2,-0.1\n", "s", unit="m").rows == (Step("A", 2.0, -0.1, 2),)
    assert read_laser(b"station,reading\nA,1.25\n", "l", unit="m").rows == (RodReading("A", 1.25, 2),)
    pairs = read_water_pairs(b"from,water at from,to,water at to\nBM,1.2,A,1.3\n", "w", unit="m")
    assert pairs.rows == (WaterPair("BM", 1.2, "A", 1.3, 2),)


def test_places_by_name():
    (a, b) = read_places(b"mark,x,y\nbarn A,0,0\nbarn B,24,0\n", "m.csv", unit="ft").rows
    assert (a.station, a.x, b.station, b.x, b.line) == ("barn A", 0.0, "barn B", pytest.approx(24 * FOOT), 3)


@pytest.mark.parametrize(
    ("read", "text", "code", "line"),
    [
        (read_ties, b"station,mark,distance\n,A,5\n", "levels-no-station", 2),
        (read_ties, b"station,mark,distance\nS,A,\n", "notes-cell", 2),
        (read_ties, b"station,mark,distance\nS,A,5.0.1\n", "notes-cell", 2),
        (read_ties, b"station,mark,distance,side\nS,A,5,west\n", "tie-side-word", 2),
        (read_ties, b"station,distance\nS,5\n", "ties-columns", 1),
        (read_offsets, b"station,along\nS,5\n", "notes-column-missing", 1),
        (read_rays, b"station,angle,distance\nS,north,5\n", "notes-cell", 2),
        (read_water_pairs, b"from,water at from,to,water at to\n,1,A,1\n", "levels-no-station", 2),
        (read_steps, b"station,run,rise\nA,2,nan\n", "notes-cell", 2),
    ],
)
def test_bad_rows_are_refused_with_their_line(read, text, code, line):
    with pytest.raises(InputError) as caught:
        read(text, "notes.csv", unit="m")
    assert (code, line) in [(f.code, f.line) for f in caught.value.faults]
