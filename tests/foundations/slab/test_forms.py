"""Form boards of a slab: as many courses as the ground asks for, cut side by side, none too short to hold."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.footprint import Side
from gradework.earthwork.outline import Outline
from gradework.errors import CheckError
from gradework.foundations.slab import forms
from gradework.foundations.slab.design import design_slab
from gradework.foundations.slab.forms import SHAVING, SHORTEST, form_boards, form_stretches
from gradework.foundations.slab.spec import FORM_HEIGHTS, SlabPrices, SlabSpec
from gradework.ground.surface import Surface
from gradework.units.amounts import M_PER_FT, M_PER_IN
from gradework.units.display import FEET

Ground = Callable[..., Surface]
HEIGHTS = (0.1, 0.2, 0.3)


def side(along: list[float], ground: list[float]) -> Side:
    corners = np.array([(0.0, 0.0), (along[-1], 0.0)])
    return Side("a", "b", corners, np.array(along), np.array(ground))


def boards_on(one: Side, top: float, least: float, most: float) -> list[tuple[int, float, float, float]]:
    found = form_boards([one], top=top, least=least, most=most, heights=HEIGHTS)
    return [(b.course, round(b.start, 2), round(b.length, 2), b.height) for b in found]


def test_boards_follow_the_ground_in_courses() -> None:
    """Needed from the top: 0.05 rising to 0.65 over 12 m; at least 0.1, at most 0.55. The second course
    begins at 0.3 (5 m), is 0.1 high to 0.4 (7 m), 0.2 to 0.5 (9 m), then 0.3."""
    slope = side([0.0, 12.0], [10.0, 9.4])
    assert boards_on(slope, 10.05, 0.1, 0.55) == [
        (0, 0.0, 1.0, 0.1),
        (0, 1.0, 2.0, 0.2),
        (0, 3.0, 9.0, 0.3),
        (1, 5.0, 2.0, 0.1),
        (1, 7.0, 2.0, 0.2),
        (1, 9.0, 3.0, 0.3),
    ]
    stretches = form_stretches(
        [slope], form_boards([slope], top=10.05, least=0.1, most=0.55, heights=HEIGHTS)
    )
    assert [(s.boards, round(s.length, 2)) for s in stretches] == [
        ((0.1,), 1.0),
        ((0.2,), 2.0),
        ((0.3,), 2.0),
        ((0.3, 0.1), 2.0),
        ((0.3, 0.2), 2.0),
        ((0.3, 0.3), 3.0),
    ]
    assert [(s.courses, round(s.height, 2)) for s in stretches[-2:]] == [(2, 0.5), (2, 0.6)]


def test_a_short_low_stretch_takes_the_higher_board_of_its_neighbour() -> None:
    bump = side([0.0, 3.0, 3.2, 3.4, 6.0], [9.85, 9.85, 9.95, 9.85, 9.85])
    assert boards_on(bump, 10.0, 0.05, 0.3) == [(0, 0.0, 6.0, 0.2)]


def test_a_short_deep_stretch_borrows_from_its_neighbours_until_two_stakes_hold_it() -> None:
    dip = side([0.0, 3.0, 3.2, 3.4, 6.0], [9.95, 9.95, 9.85, 9.95, 9.95])
    (left, deep, right) = form_boards([dip], top=10.0, least=0.05, most=0.3, heights=HEIGHTS)
    assert (left.height, deep.height, right.height) == (0.1, 0.2, 0.1)
    assert deep.length == pytest.approx(SHORTEST)
    assert deep.start < 3.11
    assert deep.end > 3.29
    # a second course that only a small hole needs is as long
    hole = side([0.0, 3.0, 3.2, 3.4, 6.0], [9.75, 9.75, 9.65, 9.75, 9.75])
    assert boards_on(hole, 10.0, 0.05, 0.5) == [(0, 0.0, 6.0, 0.3), (1, 2.9, round(SHORTEST, 2), 0.1)]
    # and at the corner of a side it stands against the corner
    corner = side([0.0, 0.2, 6.0], [9.65, 9.75, 9.75])
    assert boards_on(corner, 10.0, 0.05, 0.5)[1] == (1, 0.0, round(SHORTEST, 2), 0.1)


def test_two_holes_near_each_other_share_a_board() -> None:
    holes = side([0.0, 2.0, 2.2, 2.4, 2.6, 2.8, 3.0, 6.0], [9.75, 9.75, 9.65, 9.75, 9.75, 9.65, 9.75, 9.75])
    (_, below) = form_boards([holes], top=10.0, least=0.05, most=0.5, heights=HEIGHTS)
    assert (below.course, below.height) == (1, 0.1)
    assert 2.1 < below.start < 2.2
    assert 2.8 < below.end < 2.9


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.05, 3.0), st.floats(-0.6, 0.3)), min_size=2, max_size=7),
    st.floats(0.05, 0.3),
    st.floats(0.0, 0.6),
)
def test_no_place_lacks_height_and_no_board_is_too_short(
    bends: list[tuple[float, float]], least: float, deeper: float
) -> None:
    """Looked at every few millimetres; the stretches of edge add up to the side."""
    steps, rises = zip(*bends, strict=True)
    one = side([0.0, *np.cumsum(steps[1:]).tolist()], [10.0 + rise for rise in rises])
    most = least + deeper
    boards = form_boards([one], top=10.2, least=least, most=most, heights=FORM_HEIGHTS)
    at = np.linspace(0.0, one.length, 997)
    needed = np.clip(10.2 - np.interp(at, one.along, one.ground), least, most)
    stands = np.zeros_like(at)
    for course in {board.course for board in boards}:
        own = [board for board in boards if board.course == course]
        stands += np.max([np.where((at >= b.start) & (at <= b.end), b.height, 0.0) for b in own], axis=0)
    assert (stands >= needed - 2 * SHAVING).all()
    assert all(board.length >= min(SHORTEST, one.length) - 2 * SHAVING for board in boards)
    assert min(board.start for board in boards) >= -1e-9
    assert max(board.end for board in boards) <= one.length + 1e-9
    stretches = form_stretches([one], boards)
    assert sum(s.length for s in stretches) == pytest.approx(one.length, abs=1e-3)
    # no more courses than the deepest place asks for
    assert max(s.courses for s in stretches) <= max(
        1, int(np.ceil((needed.max() - SHAVING) / max(FORM_HEIGHTS)))
    )


def test_a_deep_edge_takes_a_third_course_only_where_the_ground_is_that_low(ground: Ground) -> None:
    """An edge of 24 in on ground 100 - 0.08 x - 0.02 y [ft], 16 x 12 ft at 15, 15: by hand from the plane."""
    xyz = np.array([(x, y, 100 - 0.08 * x - 0.02 * y) for x in (0.0, 45.0) for y in (0.0, 45.0)]) * M_PER_FT
    studio = Outline.rectangle((15 * M_PER_FT, 15 * M_PER_FT), (16 * M_PER_FT, 12 * M_PER_FT))
    slab = design_slab(ground(xyz), studio, SlabSpec(edge_depth=24 * M_PER_IN), SlabPrices(), FEET)
    lengths = {n: sum(s.length for s in slab.forms if s.courses == n) / M_PER_FT for n in (1, 2, 3)}
    # Needed in feet, from the high corner: 0.5 + 0.08 a + 0.02 b. Over 11.25 in (1 board): a > 5.46875 along
    # the near side, a > 2.46875 along the far one, and all of the low side; over 22.5 in (two): on the near
    # side nowhere, on the far side a > 14.21875, on the low side b > 4.75.
    assert lengths[1] == pytest.approx(5.46875 + 2.46875 + 12.0, abs=0.01)
    third = (16 - 14.21875) + (12 - 4.75)
    # the third course of the far side would be 1 ft 9 in: it is 2 ft long
    assert lengths[3] == pytest.approx(third + 2 - (16 - 14.21875), abs=0.02)  # less a shaving
    assert sum(lengths.values()) == pytest.approx(56.0)
    assert all(s.height <= (24 + 3.5) * M_PER_IN for s in slab.forms)


def test_boards_too_low_for_the_ground_stop_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    def too_low(runs: list[list[float]], length: float) -> list[tuple[float, float, float]]:
        return [(0.0, length, 0.1)]

    monkeypatch.setattr(forms, "_lengthened", too_low)
    with pytest.raises(CheckError, match="form boards from a to b"):
        form_boards([side([0.0, 4.0], [10.0, 9.7])], top=10.1, least=0.1, most=0.4, heights=HEIGHTS)


def test_a_board_knows_whether_it_reaches_the_corner() -> None:
    boards = form_boards([side([0.0, 8.0], [10.0, 9.8])], top=10.05, least=0.1, most=0.4, heights=HEIGHTS)
    assert [(board.height, board.at_end) for board in boards] == [(0.1, False), (0.2, False), (0.3, True)]
