"""Where water runs on ground whose ways are known: a plane, a valley, a hollow, the rim of the survey."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from gradework.ground.runoff import REACH, STEP, drained_to, ways_down
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
MARKS = np.arange(0.0, 24.1, 2.0)


def yard(ground: Ground, height: Callable[[float, float], float]) -> Surface:
    return ground([(x, y, height(x, y)) for x in MARKS for y in MARKS])


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.0])
def test_on_a_plane_the_strip_above_it_drains_to_it(ground: Ground, turn: float) -> None:
    """A round building on a plane: as wide as it is, as long as the survey reaches uphill."""
    up = np.array([np.cos(turn), np.sin(turn)])
    surface = yard(ground, lambda x, y: 100.0 + 0.05 * float(up @ (x, y)))
    house = shapely.Point(12.0, 12.0).buffer(3.0)
    strip = shapely.LineString([(12.0, 12.0), np.array([12.0, 12.0]) + 40.0 * up]).buffer(
        3.0, cap_style="flat"
    )
    above = strip.intersection(shapely.box(0, 0, 24, 24)).difference(house).area
    ends, square = drained_to(surface, house)
    assert len(ends) * square == pytest.approx(above, rel=0.04)


def test_a_valley_brings_all_that_lies_above(ground: Ground) -> None:
    surface = yard(ground, lambda x, y: 100.0 + 0.1 * x + 0.2 * abs(y - 12.0))
    house = shapely.box(4.0, 11.0, 6.0, 13.0)
    ends, square = drained_to(surface, house)
    area = len(ends) * square
    # 1 down for 2 across: what lies beside it within half its length above runs past below it
    assert 300.0 < area < 24.0 * 18.0
    whole = ways_down(surface, np.array([(20.0, 20.0)]), house)[:, 0]
    assert house.distance(shapely.Point(whole[-1])) == 0.0
    assert np.hypot(*np.diff(whole, axis=0).T).max() <= STEP + 1e-9


def test_water_stays_in_a_hollow_and_ends_at_the_rim(ground: Ground) -> None:
    hollow = yard(ground, lambda x, y: 100.0 + 0.05 * float(np.hypot(x - 6.0, y - 6.0)))
    end = ways_down(hollow, np.array([(10.0, 10.0)]), shapely.box(20, 20, 22, 22))[-1, 0]
    assert np.hypot(*(end - 6.0)) < 2.0 * STEP
    slope = yard(ground, lambda x, _: 100.0 + 0.05 * x)
    (end,) = ways_down(slope, np.array([(5.0, 7.0)]), shapely.box(10, 10, 12, 12))[-1]
    assert -STEP <= end[0] <= 0.0
    assert end[1] == pytest.approx(7.0)


def test_level_ground_drains_to_nothing(ground: Ground) -> None:
    level = yard(ground, lambda *_: 100.0)
    assert len(drained_to(level, shapely.box(10, 10, 12, 12))[0]) == 0


def test_a_wide_survey_is_looked_at_near_the_building_only(ground: Ground) -> None:
    """A plane of 4 km: the strip above a building of 6 m, no longer than what is looked at."""
    marks = np.linspace(0.0, 4000.0, 5)
    surface = ground([(x, y, 100.0 + 0.02 * y) for x in marks for y in marks])
    house = shapely.box(1997.0, 1997.0, 2003.0, 2003.0)
    ends, square = drained_to(surface, house)
    assert len(ends) * square == pytest.approx(6.0 * REACH, rel=0.15)
    assert len(ends) < 1600
    way = ways_down(surface, np.array([(2000.0, 3900.0)]), house)
    assert len(way) <= 2002
    assert house.distance(shapely.Point(way[-1, 0])) == 0.0
