"""The two-peg test and what it takes out of unbalanced sights."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import InputError
from gradework.fieldnotes.levels import LevelNotes, LevelRow
from gradework.survey.levelling.given import PegSetup
from gradework.survey.levelling.peg_test import straighten, two_peg_test
from gradework.survey.levelling.reduce import reduce_levels


@settings(deadline=None, max_examples=60)
@given(st.floats(-0.005, 0.005), st.floats(-1, 1), st.floats(1, 3), st.floats(20, 60))
def test_the_slope_put_in_comes_out(slope, rise, reading, length):
    def seen(da, db, at_a):
        return PegSetup(at_a + slope * da, at_a - rise + slope * db, da, db)

    found = two_peg_test(seen(length / 2, length / 2, reading), seen(1.0, length + 1, reading + 0.2))
    assert found == pytest.approx(slope, abs=1e-9)


def dipping(slope):
    """A loop with sights of 10 m back and 40 m ahead over flat ground, seen by a level that is out."""
    back, ahead = 1.5 + slope * 10, 1.5 + slope * 40
    return LevelNotes(
        (
            LevelRow("BM", backsight=back, known=10.0, distance=10.0, line=2),
            LevelRow("T", backsight=back, foresight=ahead, distance=40.0, back_distance=10.0, line=3),
            LevelRow("X", foresight=ahead, distance=40.0, line=4),
        )
    )


def test_unbalanced_sights_are_straightened():
    notes = dipping(-0.0006)
    assert reduce_levels(notes).lines[-1].raw == pytest.approx(10.0 + 2 * 30 * 0.0006)
    straight = reduce_levels(straighten(notes, -0.0006))
    assert [line.raw for line in straight.lines] == pytest.approx([10.0, 10.0, 10.0])
    assert "sights-not-straightened" not in [f.code for f in straight.findings]


def test_sights_of_unknown_length_are_reported():
    notes = LevelNotes(
        (LevelRow("BM", backsight=1.0, known=1.0), LevelRow("A", intermediate=1.0, distance=5.0))
    )
    out = straighten(notes, 0.001)
    assert out.rows[0].backsight == 1.0
    assert out.rows[1].intermediate == pytest.approx(0.995)
    assert [f.code for f in out.findings] == ["sights-not-straightened"]


def test_useless_tests_are_refused():
    mid = PegSetup(1.5, 1.6, 25, 25)
    for attempt in (
        lambda: two_peg_test(mid, PegSetup(1.4, 1.5, 20, 20)),
        lambda: two_peg_test(mid, PegSetup(1.4, float("nan"), 2, 52)),
        lambda: two_peg_test(mid, PegSetup(1.4, 2.9, 2, 52)),
        lambda: straighten(LevelNotes(()), 0.5),
    ):
        with pytest.raises(InputError, match="two-peg-unusable"):
            attempt()


def test_balanced_sights_in_one_column_stay_balanced():
    """10 + 1.500 - 1.200 + 1.400 - 1.700 = 10: closes as it is, and 40 m of every sight change nothing."""
    rows = (
        LevelRow("BM", backsight=1.5, known=10.0, distance=40.0, line=2),
        LevelRow("TP", backsight=1.4, foresight=1.2, distance=40.0, line=3),
        LevelRow("BM", foresight=1.7, distance=40.0, line=4),
    )
    straight = straighten(LevelNotes(rows), 1e-4)
    assert [r.backsight for r in straight.rows[:2]] == pytest.approx([1.496, 1.396])
    assert [r.foresight for r in straight.rows[1:]] == pytest.approx([1.196, 1.696])
    assert straight.findings == ()
    assert reduce_levels(straight).misclosure == pytest.approx(0.0, abs=1e-12)


def test_legs_are_no_sights():
    rows = (
        LevelRow("BM", backsight=1.5, known=10.0, line=2),
        LevelRow("TP", backsight=1.4, foresight=1.2, distance=80.0, line=3),
        LevelRow("BM", foresight=1.7, distance=80.0, line=4),
    )
    straight = straighten(LevelNotes(rows), 1e-4)
    assert [r.foresight for r in straight.rows] == [None, 1.2, 1.7]
    (told,) = straight.findings
    assert told.code == "sights-not-straightened"
    assert "4 readings" in told.advice
