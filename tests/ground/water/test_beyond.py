"""Ground beyond the survey joins its edge exactly, and water runs over it as over any other side."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.ground.surface import Surface
from gradework.ground.water.airborne import APART, beside_shots, beyond_survey
from gradework.ground.water.beyond import LONGEST, Beyond
from gradework.ground.water.ground import around, on_surface
from gradework.sitework.catchment import catchments_now

Floats = NDArray[np.float64]
Ground = Callable[..., Surface]
Height = Callable[[Floats, Floats], Floats]
MARKS = np.arange(0.0, 24.1, 2.0)
HUT = Outline.rectangle((10.0, 9.0), (4.0, 6.0))
SD = 0.1


def slope(ridge: float) -> Height:
    """Falls 1 in 20 toward smaller x, up to a ridge beyond which it falls the other way."""
    return lambda x, _: 100.0 + 0.05 * np.minimum(x, 2.0 * ridge - x)


def cone(x: Floats, y: Floats) -> Floats:
    """Falls 1 in 10 from a top at 60, 12, the building far down its side."""
    return 110.0 - 0.1 * np.hypot(x - 60.0, y - 12.0)


def yard(ground: Ground, height: Height) -> Surface:
    return ground([(x, y, float(height(np.float64(x), np.float64(y)))) for x in MARKS for y in MARKS])


def points(height: Height, low: float = -36.0, high: float = 60.0, step: float = 2.0) -> Floats:
    x, y = (a.ravel() for a in np.meshgrid(*(np.arange(low, high + 0.1, step),) * 2))
    return np.column_stack((x, y, height(x, y)))


def beyond(surface: Surface, height: Height, **more: float) -> Beyond:
    return beyond_survey(surface, points(height, **more), 0.0, SD)


def to_uphill_wall(surface: Surface, farther: Beyond | None) -> tuple[float, float, bool]:
    """The area of the wall that faces larger x, what of it was surveyed, and whether it is the least."""
    wall = catchments_now(surface, HUT, farther)[1]
    return wall.area, wall.surveyed, wall.least


def test_a_wall_gets_its_width_by_the_way_to_the_ridge(ground: Ground) -> None:
    """6 m wide, from 14 m to the ridge at 44 m: 180 m², 60 of them surveyed. With a ridge at 90 m the
    airborne ground ends first, at 60 m, and it is the least."""
    for ridge, area, least in ((44.0, 180.0, False), (90.0, 276.0, True)):
        surface = yard(ground, slope(ridge))
        assert to_uphill_wall(surface, None) == (pytest.approx(60.0), pytest.approx(60.0), True)
        found = to_uphill_wall(surface, beyond(surface, slope(ridge)))
        assert found == (pytest.approx(area, abs=1e-5), pytest.approx(60.0), least)


def test_ground_beyond_a_ridge_changes_no_area(ground: Ground) -> None:
    """The survey reaches over the ridge at 18 m; what lies beyond falls away from it."""
    surface = yard(ground, slope(18.0))
    alone = [one.area for one in catchments_now(surface, HUT)]
    joined = catchments_now(surface, HUT, beyond(surface, slope(18.0)))
    assert [one.area for one in joined] == pytest.approx(alone, abs=1e-9)
    assert alone[1] == pytest.approx(24.0)
    assert not any(one.least or one.farther for one in joined)


def test_of_a_cone_a_wall_gets_the_sector_to_its_top(ground: Ground) -> None:
    """From the top the wall from 14, 9 to 14, 15 is a triangle 46 m high on 6 m, whatever lies between."""
    surface = yard(ground, cone)
    area, surveyed, least = to_uphill_wall(surface, beyond(surface, cone, low=-36.0, high=84.0))
    assert area == pytest.approx(0.5 * 46.0 * 6.0, rel=0.04)  # ground of triangles is no cone
    assert surveyed < 0.5 * area
    assert not least


@pytest.mark.parametrize("turn", [0.0, 0.4, 1.1])
def test_it_covers_all_up_to_its_own_hull_once_and_meets_the_edge(ground: Ground, turn: float) -> None:
    """The survey cut by a building at its middle, in any turn: no gap, no overlap, each side told twice."""
    surface = yard(ground, slope(44.0))
    ring = np.array([(-2.0, -2.0), (2.0, -2.0), (2.0, 2.0), (-2.0, 2.0)])
    c, s = np.cos(turn), np.sin(turn)
    ring = ring @ np.array([[c, s], [-s, c]]) + 12.0 - surface.origin
    farther = beyond(surface, slope(44.0), step=3.0)
    made = around(surface, [ring], np.inf, farther)
    assert float(made.areas.sum()) == pytest.approx(96.0**2 - 16.0, abs=1e-6)
    row, side = np.nonzero(made.neighbours >= 0)
    other = made.neighbours[row, side]
    assert (made.neighbours[other, made.mates[row, side]] == row).all()
    start, end = made.triangles[row, side], made.triangles[row, (side + 1) % 3]
    mate = made.mates[row, side]
    assert made.places[start] == pytest.approx(made.places[made.triangles[other, (mate + 1) % 3]], abs=1e-7)
    assert made.places[end] == pytest.approx(made.places[made.triangles[other, mate]], abs=1e-7)
    triangles = shapely.polygons(made.places[made.triangles])
    assert float(shapely.area(shapely.union_all(triangles))) == pytest.approx(96.0**2 - 16.0, abs=1e-4)


def test_the_survey_keeps_its_own_ground(ground: Ground) -> None:
    """The first triangles are those of the survey as they are; points in it or close to it are left out."""
    surface = yard(ground, slope(44.0))
    high = beyond(surface, lambda x, y: slope(44.0)(x, y) + 5.0)
    assert (np.abs(high.points[:, :2] + surface.origin - 12.0).max(axis=1) >= 12.0 + APART).all()
    known, made = on_surface(surface), high.joined(on_surface(surface))
    count = len(known.triangles)
    assert (made.triangles[:count] == known.triangles).all()
    assert made.places[made.triangles[:count]] == pytest.approx(known.places[known.triangles])
    assert made.down[:count] == pytest.approx(known.down)


def test_nothing_is_made_up_where_no_ground_was_seen(ground: Ground) -> None:
    """A gap of 40 m, as under a lake, stays one; on one side only the others end where the survey does."""
    surface = yard(ground, slope(90.0))
    every = points(slope(90.0), high=110.0)
    gap = every[(every[:, 0] < 40.0) | (every[:, 0] > 40.0 + LONGEST + 15.0)]
    made = beyond_survey(surface, gap, 0.0, SD).joined(on_surface(surface))
    middles = made.places[made.triangles].mean(axis=1) + surface.origin
    assert not ((middles[:, 0] > 41.0) & (middles[:, 0] < 79.0)).any()
    area, _, least = to_uphill_wall(surface, beyond_survey(surface, gap, 0.0, SD))
    assert (area, least) == (pytest.approx(6.0 * (38.0 - 14.0), abs=1e-5), True)
    below = every[every[:, 0] < -2.0]
    assert to_uphill_wall(surface, beyond_survey(surface, below, 0.0, SD))[0] == pytest.approx(60.0)


def test_the_shots_tell_the_datum_and_how_rough_it_is(ground: Ground) -> None:
    """Moved by 37.2 m and, at random, by 5 cm: both are found; beside no shot nothing is."""
    surface = yard(ground, slope(44.0))
    air = points(slope(44.0))
    off = np.random.default_rng(3).normal(0.0, 0.05, len(air))
    found = beside_shots(surface, air + np.column_stack((0.0 * off, 0.0 * off, off - 37.2)))
    assert found.met == len(MARKS) ** 2
    assert found.shift == pytest.approx(37.2, abs=0.02)
    assert found.rough == pytest.approx(0.05, rel=0.3)
    assert beside_shots(surface, air[air[:, 0] > 40.0]).met == 0
    assert beside_shots(surface, air[:2]).met == 0


def test_the_grounds_that_it_may_be_as_well_are_off_by_as_much(ground: Ground) -> None:
    surface = yard(ground, slope(44.0))
    one = beyond(surface, slope(44.0))
    off = np.array([other.points - one.points for other in one.drawn(8)])
    assert np.abs(off[..., :2]).max() == 0.0
    assert float(off[..., 2].std()) == pytest.approx(SD, rel=0.03)
    assert [(a.points == b.points).all() for a, b in zip(one.drawn(3), one.drawn(3), strict=True)] == [
        True
    ] * 3
