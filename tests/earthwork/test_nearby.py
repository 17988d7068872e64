"""What lies beyond a wall: by a second way of computing, and where a builder would say so."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gradework.earthwork.nearby import STAND, TOUCH, Kind, Nearby, Neighbour
from gradework.earthwork.outline import Outline

HUT = Outline.rectangle((0.0, 0.0), (4.0, 3.0))
Place = tuple[float, float]
places = st.tuples(st.floats(-8.0, 12.0), st.floats(-8.0, 12.0))


def near(kind: Kind, *at: Place, closed: bool = False) -> Nearby:
    return Nearby(HUT, (Neighbour("it", kind, np.array(at), closed),))


def test_behind_a_fence_is_beyond_and_before_it_is_not() -> None:
    fence = near("fence", (-5.0, -1.0), (9.0, -1.0))
    assert fence.beyond([(1.0, -2.0), (1.0, -0.5), (1.0, 5.0), (1.0, -1.0), (20.0, -2.0)]).tolist() == [
        True, False, False, False, False,
    ]  # fmt: skip


def test_inside_a_house_and_behind_it_is_beyond() -> None:
    house = near("house", (0.0, 4.0), (4.0, 4.0), (4.0, 9.0), (0.0, 9.0), closed=True)
    assert house.beyond([(2.0, 6.0), (2.0, 10.0), (2.0, 4.0), (2.0, 3.5), (5.0, 6.0)]).tolist() == [
        True, True, False, False, False,
    ]  # fmt: skip


@pytest.mark.parametrize("kind", ["tree", "well", "septic", "pipe"])
def test_what_is_no_wall_bars_nothing(kind: Kind) -> None:
    pipe = near(kind, (-5.0, -1.0), (9.0, -1.0))
    assert not pipe.beyond([(1.0, -2.0)]).any()
    assert pipe.hit((1.0, 0.0), (0.0, -1.0), 9.0) == math.inf
    assert pipe.measurable([(1.0, -1.0)]).all()


def test_nothing_near_bars_nothing() -> None:
    alone = Nearby(HUT)
    assert not alone
    assert not alone.beyond([(1.0, -2.0)]).any()
    assert alone.room((0.0, 0.0), (-1.0, 0.0), 1.2) == 1.2


def test_a_stake_stands_before_the_wall() -> None:
    fence = near("fence", (-5.0, -1.0), (9.0, -1.0))
    assert fence.room((0.0, 0.0), (0.0, -1.0), 1.2) == pytest.approx(1.0 - STAND)
    assert fence.room((0.0, 0.0), (0.0, -1.0), 0.5) == 0.5
    assert fence.room((0.0, 0.0), (0.0, 1.0), 1.2) == 1.2
    assert fence.room((0.0, -2.0), (0.0, -1.0), 1.2) == 0.0


def crossed(p: Place, q: Place, a: Place, b: Place) -> bool:
    """Whether two stretches properly cross, by the signs of four areas."""

    def turn(u: Place, v: Place, w: Place) -> float:
        return (v[0] - u[0]) * (w[1] - u[1]) - (v[1] - u[1]) * (w[0] - u[0])

    return turn(p, q, a) * turn(p, q, b) < 0.0 and turn(a, b, p) * turn(a, b, q) < 0.0


@settings(max_examples=300, deadline=None)
@given(places, st.lists(places, min_size=2, max_size=4))
def test_beyond_agrees_with_signs_of_areas(place: Place, line: list[Place]) -> None:
    # the nearest point of a rectangle, without any library
    nearest = (min(max(place[0], 0.0), 4.0), min(max(place[1], 0.0), 3.0))
    way = math.dist(place, nearest)
    sides = list(itertools.pairwise(line))
    assume(all(math.dist(a, b) > 0.1 for a, b in sides))
    margins = [abs(side_of(place, a, b)) for a, b in sides] + [abs(side_of(nearest, a, b)) for a, b in sides]
    ends = [abs(side_of(corner, place, nearest)) for corner in line] if way > 0.01 else []
    assume(way > 0.01 and min(margins + ends) > 2.0 * TOUCH)  # clear cases only: a hair decides the others
    expected = any(crossed(place, nearest, a, b) for a, b in sides)
    assert near("fence", *line).beyond([place])[0] == expected


def side_of(p: Place, a: Place, b: Place) -> float:
    return ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])) / math.dist(a, b)


def test_a_place_written_twice_counts_once() -> None:
    (line,) = near("fence", (0.0, -1.0), (0.0, -1.0), (9.0, -1.0)).neighbours
    assert list(line.face.coords) == [(0.0, -1.0), (9.0, -1.0)]
    (well,) = near("well", (1.0, 1.0), (1.0, 1.0)).neighbours
    assert well.shape.geom_type == "Point"
