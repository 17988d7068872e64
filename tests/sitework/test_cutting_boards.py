"""Edge boards: courses, corners, joints."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.sitework.cutting import SHORTEST_JOINED, Board, EdgeSide, board_plan, courses_for

FOOT = 0.3048
INCH = 0.0254
TWO_BY_SIX = Board("2 x 6", 1.5 * INCH, 5.5 * INCH, (8 * FOOT, 10 * FOOT, 12 * FOOT, 16 * FOOT))


@pytest.mark.parametrize(
    ("inches", "courses"),
    [(-1.0, 0), (0.0, 0), (0.1, 1), (5.5, 1), (5.6, 2), (11.0, 2), (16.5, 3), (17.0, 4)],
)
def test_courses_reach_the_height_with_actual_not_nominal_boards(inches: float, courses: int) -> None:
    assert courses_for(inches * INCH, TWO_BY_SIX) == courses


def test_a_pad_of_14_by_10_ft_by_hand() -> None:
    """Sides of 14 ft and 10 ft, each 1 1/2 in longer for the corner: 14 ft 1 1/2 in needs a 16 ft board,
    10 ft 1 1/2 in a 12 ft board."""
    sides = [
        EdgeSide(n, ft * FOOT, 1) for n, ft in (("north", 14), ("east", 10), ("south", 14), ("west", 10))
    ]
    plan = board_plan(sides, TWO_BY_SIX)
    assert plan.cutting.count() == {16 * FOOT: 2, 12 * FOOT: 2}
    assert plan.joints == 0
    assert plan.net_length / FOOT == pytest.approx(48.5, abs=1e-9)


def test_each_side_has_its_own_courses() -> None:
    plan = board_plan([EdgeSide("low side", 2.0, 3), EdgeSide("high side", 2.0, 0)], TWO_BY_SIX)
    assert [name for name, _ in plan.pieces] == ["low side"] * 3


def test_a_side_of_20_ft_is_joined_and_no_stub_is_left() -> None:
    plan = board_plan([EdgeSide("long", 20 * FOOT, 2)], TWO_BY_SIX)
    assert plan.joints == 2
    assert min(length for _, length in plan.pieces) >= SHORTEST_JOINED
    stub = board_plan([EdgeSide("just over", 16 * FOOT, 1)], TWO_BY_SIX)
    assert stub.joints == 1
    assert min(length for _, length in stub.pieces) == pytest.approx(SHORTEST_JOINED)


@settings(deadline=None, max_examples=60)
@given(st.floats(0.05, 30.0), st.integers(0, 3))
def test_pieces_add_up_to_the_side_and_fit_the_longest_board(length: float, courses: int) -> None:
    plan = board_plan([EdgeSide("a", length, courses)], TWO_BY_SIX)
    assert math.fsum(p for _, p in plan.pieces) == pytest.approx(
        courses * (length + TWO_BY_SIX.thickness), abs=1e-3
    )
    assert all(p <= max(TWO_BY_SIX.lengths) + 1e-4 for _, p in plan.pieces)


def test_mass_of_a_board() -> None:
    assert TWO_BY_SIX.mass(12 * FOOT) == pytest.approx(0.0381 * 0.1397 * 3.6576 * 600.0)
