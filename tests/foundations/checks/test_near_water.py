"""Water toward somebody else's wall, well or septic field: by hand, and against many looks."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from gradework.earthwork.nearby import Kind, Neighbour
from gradework.foundations.checks.near_water import FAN, Outlet, lowest_between, water_checks
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
SHED = shapely.box(0.0, 0.0, 4.0, 3.0)
WALL = Neighbour("garage", "garage", np.array([(-1.0, 5.0), (6.0, 5.0)]), False)
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
    (check,) = water_checks(plane(ground, -0.1), touching, SHED, level, ())
    assert (check.value, check.holds) == (0.0, None)


def test_a_lower_slab_counts_with_its_top(ground: Ground) -> None:
    surface = plane(ground, 0.05)
    assert lowest_between(surface, WALL, SHED, 99.5) == pytest.approx(100.0 - 0.05 * 5.0 - 99.5)


def test_a_wall_far_off_is_not_looked_at(ground: Ground) -> None:
    far = Neighbour("garage", "garage", np.array([(-1.0, 7.0), (6.0, 7.0)]), False)
    assert lowest_between(plane(ground, 0.05), far, SHED, None) is None
    assert list(water_checks(plane(ground, 0.05), far, SHED, None, ())) == []


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
    checks = [c for c in water_checks(surface, one, SHED, None, outlets) if c.check == "outlet runs clear"]
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
