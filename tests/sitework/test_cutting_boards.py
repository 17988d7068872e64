"""Edge boards: courses, corners, joints."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.sitework.cutting import SHORTEST_JOINED, Board, board_pieces, cut_stock

FOOT = 0.3048
INCH = 0.0254
TWO_BY_SIX = Board("2 x 6", 1.5 * INCH, 5.5 * INCH, (8 * FOOT, 10 * FOOT, 12 * FOOT, 16 * FOOT))


def test_a_pad_of_14_by_10_ft_by_hand() -> None:
    """Sides of 14 ft and 10 ft, each 1 1/2 in longer for the corner: 14 ft 1 1/2 in needs a 16 ft board,
    10 ft 1 1/2 in a 12 ft board."""
    pieces = board_pieces([(ft * FOOT, 1) for ft in (14, 10, 14, 10)], TWO_BY_SIX)
    assert math.fsum(pieces) / FOOT == pytest.approx(48.5, abs=1e-9)
    assert cut_stock(pieces, TWO_BY_SIX.lengths, kerf=0.003).count() == {16 * FOOT: 2, 12 * FOOT: 2}


def test_each_side_has_its_own_courses() -> None:
    assert len(board_pieces([(2.0, 3), (2.5, 0)], TWO_BY_SIX)) == 3


def test_a_side_of_20_ft_is_joined_and_no_stub_is_left() -> None:
    pieces = board_pieces([(20 * FOOT, 2)], TWO_BY_SIX)
    assert len(pieces) == 4
    assert min(pieces) >= SHORTEST_JOINED
    stub = board_pieces([(16 * FOOT, 1)], TWO_BY_SIX)
    assert len(stub) == 2
    assert min(stub) == pytest.approx(SHORTEST_JOINED)


@settings(deadline=None, max_examples=60)
@given(st.floats(0.05, 30.0), st.integers(0, 3))
def test_pieces_add_up_to_the_side_and_fit_the_longest_board(length: float, courses: int) -> None:
    pieces = board_pieces([(length, courses)], TWO_BY_SIX)
    assert math.fsum(pieces) == pytest.approx(courses * (length + TWO_BY_SIX.thickness), abs=1e-3)
    assert all(piece <= max(TWO_BY_SIX.lengths) + 1e-4 for piece in pieces)


def test_mass_of_a_board() -> None:
    assert TWO_BY_SIX.mass(12 * FOOT) == pytest.approx(0.0381 * 0.1397 * 3.6576 * 600.0)
