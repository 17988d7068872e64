"""Water toward somebody else's wall, well or septic field: by hand, and against many looks."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from gradework.earthwork.nearby import Kind, Nearby, Neighbour
from gradework.earthwork.outline import Outline
from gradework.foundations.checks.near_water import (
    FAN,
    REACH,
    Outlet,
    Shed,
    lowest_between,
    pipe_may_run,
    spare_beside,
    water_checks,
)
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
SHED = shapely.box(0.0, 0.0, 4.0, 3.0)
WALL = Neighbour("garage", "garage", np.array([(-1.0, 5.0), (6.0, 5.0)]), False)
NOTHING = shapely.Polygon()
GRID = [(float(x), float(y)) for x in range(-4, 11, 2) for y in range(-4, 9, 2)]


def plane(ground: Ground, fall: float) -> Surface:
    """Ground that falls by ``fall`` per metre toward the wall."""
    return ground(np.array([(x, y, 100.0 - fall * y) for x, y in GRID]))


def test_ground_that_falls_to_the_wall_leaves_nothing(ground: Ground) -> None:
    assert lowest_between(plane(ground, 0.05), WALL, SHED, None) == 0.0


def test_ground_that_falls_from_the_wall_keeps_it_dry(ground: Ground) -> None:
    assert lowest_between(plane(ground, -0.05), WALL, SHED, None) == pytest.approx(0.05 * 2.0)


@pytest.mark.parametrize("level", [None, 99.0])
def test_eaves_that_reach_the_wall_wet_its_foot_however_the_ground_lies(
    ground: Ground, level: float | None
) -> None:
    touching = Neighbour("garage", "garage", np.array([(-1.0, 3.0), (6.0, 3.0)]), False)
    slab = Shed(SHED, NOTHING, SHED, level)
    (check,) = water_checks(plane(ground, -0.1), touching, slab, ())
    assert (check.value, check.holds) == (0.0, None)


def test_a_roof_that_drips_toward_a_wall_fails_and_with_a_gutter_passes(ground: Ground) -> None:
    """The edge of the eave lies 2 m before the wall and the ground falls 0.1 m to its foot."""
    surface, edge = plane(ground, 0.05), shapely.LineString([(0.0, 3.0), (4.0, 3.0)])
    (drips,) = water_checks(surface, WALL, Shed(SHED, edge, NOTHING, None), ())
    assert (drips.value, drips.holds) == (0.0, False)
    (led,) = water_checks(surface, WALL, Shed(SHED, NOTHING, NOTHING, None), ())
    assert (led.value, led.holds) == (REACH, True)
    (lost,) = water_checks(surface, WALL, Shed(SHED, NOTHING, edge, None), ())
    assert (lost.value, lost.holds) == (0.0, None)
    (away,) = water_checks(plane(ground, -0.05), WALL, Shed(SHED, edge, NOTHING, None), ())
    assert (away.value, away.holds) == (pytest.approx(0.1), True)


def test_nothing_sheds_far_from_a_wall_or_without_a_shape(ground: Ground) -> None:
    surface = plane(ground, 0.05)
    assert spare_beside(surface, WALL, NOTHING, None) == REACH
    assert spare_beside(surface, WALL, shapely.box(0.0, -4.0, 4.0, 1.9), None) == REACH  # 3.1 m off
    assert spare_beside(surface, WALL, shapely.box(0.0, 0.0, 4.0, 4.95), None) == 0.0  # 50 mm off


def test_a_pipe_runs_over_nothing_that_stands_near(ground: Ground) -> None:
    """Along y = -2 from x = 0: a cable 0.2 m beside it bars it, one 0.4 m off does not; a well in its way 9 m
    on does, a fence across it too."""
    surface, shed = plane(ground, 0.0), Outline.rectangle((0.0, 0.0), (4.0, 3.0))
    start, end = np.array([0.0, -2.0]), np.array([3.0, -2.0])

    def may(kind: Kind, *places: tuple[float, float]) -> bool:
        return pipe_may_run(
            surface, Nearby(shed, (Neighbour("it", kind, np.array(places), False),)), start, end
        )

    assert may("pipe", (-1.0, -2.4), (5.0, -2.4))
    assert not may("pipe", (-1.0, -2.2), (5.0, -2.2))
    assert may("well", (13.0, -2.0))
    assert not may("well", (12.0, -2.0))
    assert may("fence", (4.0, -5.0), (4.0, 0.0))
    assert not may("fence", (2.0, -5.0), (2.0, 0.0))


def test_a_lower_slab_counts_with_its_top(ground: Ground) -> None:
    surface = plane(ground, 0.05)
    assert lowest_between(surface, WALL, SHED, 99.5) == pytest.approx(100.0 - 0.05 * 5.0 - 99.5)


def test_a_wall_far_off_is_not_looked_at(ground: Ground) -> None:
    far = Neighbour("garage", "garage", np.array([(-1.0, 7.0), (6.0, 7.0)]), False)
    assert lowest_between(plane(ground, 0.05), far, SHED, None) is None
    assert list(water_checks(plane(ground, 0.05), far, Shed(SHED, SHED, NOTHING, None), ())) == []


def test_rough_ground_against_many_looks(ground: Ground) -> None:
    rng = np.random.default_rng(3)
    surface = ground(np.array([(x, y, 100.0 + 0.1 * rng.normal()) for x, y in GRID]))
    worst = np.inf
    for x in np.linspace(-1.0, 6.0, 701):
        nearest = (min(max(x, 0.0), 4.0), 3.0)
        share = np.linspace(0.0, 1.0, 401)[:, None]
        way = np.array(nearest) + share * (np.array([x, 5.0]) - np.array(nearest))
        if np.hypot(*(way[-1] - way[0])) <= 3.048:
            heights = surface.elevation(way)
            worst = min(worst, float(heights[-1] - heights.min()))
    assert lowest_between(surface, WALL, SHED, None) == pytest.approx(worst, abs=0.003)


def clear(surface: Surface, kind: Kind, at: tuple[float, float], way: tuple[float, float]) -> float | None:
    one = Neighbour("it", kind, np.array([at]), False)
    outlets = [Outlet(np.array([5.0, 0.0]), np.array(way))]
    shed = Shed(SHED, SHED, NOTHING, None)
    checks = [c for c in water_checks(surface, one, shed, outlets) if c.check == "outlet runs clear"]
    return checks[0].value if checks else None


def test_an_outlet_may_not_point_at_a_well(ground: Ground) -> None:
    surface = plane(ground, 0.0)
    assert clear(surface, "well", (9.0, 0.0), (1.0, 0.0)) == pytest.approx(4.0)
    assert clear(surface, "well", (9.0, 3.9), (1.0, 0.0)) == pytest.approx(np.hypot(4.0, 3.9))
    assert clear(surface, "well", (9.0, 4.1), (1.0, 0.0)) == FAN
    assert clear(surface, "well", (9.0, 0.0), (-1.0, 0.0)) == FAN
    assert clear(surface, "tree", (9.0, 0.0), (1.0, 0.0)) is None


def test_water_also_runs_down_the_slope(ground: Ground) -> None:
    surface = ground(np.array([(x, y, 100.0 - 0.05 * x) for x, y in GRID]))
    assert clear(surface, "well", (9.0, 0.0), (0.0, 1.0)) == pytest.approx(4.0)
    assert clear(surface, "well", (1.0, 0.0), (0.0, 1.0)) == FAN
