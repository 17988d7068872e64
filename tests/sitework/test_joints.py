"""Runs of boards longer than a board: courses, corners, joints."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.sitework.cutting import Board
from gradework.sitework.joints import SHORTEST_JOINED, Joined, cut_runs, frame_runs

FOOT = 0.3048
INCH = 0.0254
TWO_BY_SIX = Board("2 x 6", 1.5 * INCH, 5.5 * INCH, (8 * FOOT, 10 * FOOT, 12 * FOOT, 16 * FOOT))


def cut(*feet: float) -> Joined:
    runs = frame_runs([ft * FOOT for ft in feet], TWO_BY_SIX)
    return cut_runs(runs, TWO_BY_SIX.lengths, kerf=TWO_BY_SIX.kerf)


def test_a_pad_of_14_by_10_ft_by_hand() -> None:
    """Sides of 14 ft and 10 ft, each 1 1/2 in longer for the corner: 14 ft 1 1/2 in needs a 16 ft board,
    10 ft 1 1/2 in a 12 ft board."""
    found = cut(14, 10, 14, 10)
    assert math.fsum(p for bar in found.plan.bars for p in bar.pieces) / FOOT == pytest.approx(48.5, abs=1e-3)
    assert found.plan.count() == {16 * FOOT: 2, 12 * FOOT: 2}
    assert found.runs == ()


def test_two_sides_of_16_ft_take_34_ft_and_not_40() -> None:
    """12 ft and the start of another 12, its rest and the start of a 10: by hand."""
    found = cut(16, 16)
    assert found.plan.bought / FOOT == pytest.approx(34.0)
    assert found.plan.proved  # 32 ft 3 in: no boards of 8 to 16 ft come to less than 34 ft
    assert found.joints == 2


def test_ends_of_18_ft_come_from_one_board() -> None:
    """Three sides of 18 ft 1 1/2 in: three boards of 16 ft and one of 8 ft for the three ends."""
    found = cut(18, 18, 18)
    assert found.plan.bought / FOOT <= 56.0
    assert len(found.runs) == 3


def test_a_mirror_image_buys_the_same() -> None:
    assert cut(18, 12, 7.3, 5.1, 18, 3.2) == cut(3.2, 18, 5.1, 7.3, 12, 18)


def test_so_many_runs_that_the_search_ends_are_still_cut() -> None:
    feet = [16.5 + 0.37 * number for number in range(14)]
    found = cut(*feet)
    assert len(found.runs) == 14
    assert found.plan.bought / FOOT >= sum(feet)


@settings(deadline=None, max_examples=80)
@given(st.lists(st.floats(0.05, 15.0), min_size=1, max_size=6))
def test_pieces_make_the_runs_and_fit_the_boards(lengths: list[float]) -> None:
    kerf, longest = 0.003, 16 * FOOT
    found = cut_runs(lengths, TWO_BY_SIX.lengths, kerf=kerf)
    for bar in found.plan.bars:
        assert math.fsum(bar.pieces) + kerf * (len(bar.pieces) - 1) <= bar.stock + 1e-6
        assert bar.offcut == pytest.approx(max(0.0, bar.stock - sum(bar.pieces) - kerf * len(bar.pieces)))
    joined = sorted(sum(run) for run in found.runs)
    assert joined == pytest.approx(sorted(one for one in lengths if one > longest + 1e-4), abs=2e-4)
    for run in found.runs:
        assert len(run) == math.ceil(sum(run) / longest - 1e-6)  # the fewest
        assert min(run) >= SHORTEST_JOINED - 1e-9
    pieces = sorted(p for bar in found.plan.bars for p in bar.pieces)
    whole = [one for one in lengths if one <= longest + 1e-4]
    assert pieces == pytest.approx(sorted([*whole, *(p for run in found.runs for p in run)]), abs=2e-4)


def test_mass_of_a_board() -> None:
    assert TWO_BY_SIX.mass(12 * FOOT) == pytest.approx(0.0381 * 0.1397 * 3.6576 * 600.0)
