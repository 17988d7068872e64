"""The finished ground by small cases that a person can work out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.planes import Highest, Lowest, Plane
from gradework.earthwork.grading.sides import batter_shapes, sides_of
from gradework.earthwork.rings import half_turns
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

RECTANGLE = np.array([(8, 8), (14, 8), (14, 12), (8, 12)], dtype=float)
SIX = np.array([(8, 8), (12, 8), (14, 10), (12, 13), (8, 13), (6, 10)], dtype=float)
RUN = 2.0


def level_yard(ground: Ground, height: float = 5.0) -> Surface:
    return ground([(x, y, height) for x in (0, 7, 13, 22) for y in (0, 6, 12, 21)])


@pytest.mark.parametrize("ring", [RECTANGLE, SIX], ids=["rectangle", "six sides"])
@pytest.mark.parametrize("height", [0.6, -0.6], ids=["raised", "cut in"])
def test_slopes_on_level_ground(ground: Ground, ring: np.ndarray, height: float) -> None:
    """Along each metre of edge m h²/2, at each corner t m² h³/3 more, t the tangent of half its turn."""
    surface = level_yard(ground)
    shapes = batter_shapes(ring - surface.origin, 5.0 + height, RUN)
    assert shapes is not None
    made = finished_ground(surface, ring, 5.0 + height, cut=shapes[0], fill=shapes[1])
    around, corners = sum(side.length for side in sides_of(ring)), half_turns(ring).sum()
    rise = abs(height)
    volume = around * RUN * rise**2 / 2 + corners * RUN**2 * rise**3 / 3
    area = around * RUN * rise + corners * (RUN * rise) ** 2
    expected = (0.0, volume, 0.0, area) if height > 0 else (volume, 0.0, area, 0.0)
    assert (made.cut, made.fill, made.cut_area, made.fill_area) == pytest.approx(expected, abs=1e-6)
    assert made.leaves is None


def test_a_board_is_an_upright_face(ground: Ground) -> None:
    """Without slopes the ground steps at the edge: each place there has two heights, and nothing is dug."""
    surface = level_yard(ground)
    made = finished_ground(surface, RECTANGLE, 5.5)
    assert (made.cut, made.fill) == (0.0, 0.0)
    just_inside, just_outside = [(8.001, 10.0)], [(7.999, 10.0)]
    assert made.surface.elevation(np.array(just_inside)) == pytest.approx(5.5)
    assert made.surface.elevation(np.array(just_outside)) == pytest.approx(5.0)
    at = np.flatnonzero((np.abs(made.surface.vertices[:, :2] - RECTANGLE[0]) < 1e-6).all(axis=1))
    assert sorted(made.surface.vertices[at, 2].tolist()) == [5.0, 5.5]


def test_stations_come_first_and_the_hull_stays(ground: Ground) -> None:
    surface = level_yard(ground)
    made = finished_ground(surface, np.array([(6, 5), (14, 5), (14, 13), (6, 13)], dtype=float), 5.5).surface
    assert made.vertices[:16, :2].tolist() == surface.vertices[:16, :2].tolist()
    inside = (np.abs(surface.vertices[:16, :2] - (10, 9)) < 4).all(axis=1)
    assert made.stations.xyz[:, 2].tolist() == np.where(inside, 5.5, 5.0).tolist()
    assert made.area == pytest.approx(surface.area)
    assert (
        made.elevation(surface.vertices[:16, :2] + surface.origin).tolist()
        == made.stations.xyz[:, 2].tolist()
    )


def test_a_hollow_beyond_the_daylight_line_is_left(ground: Ground) -> None:
    """A dip of 1 m, 6 m off: the slope would reach down to it, but level ground lies between."""
    dip = [(18, y, 3.0) for y in (6, 12)]
    flat = [(x, y, 5.0) for x in (0, 7, 13, 16, 20, 24) for y in (0, 6, 12, 21)]
    surface = ground(flat + dip)
    down = Plane(-0.2, 0.0, 5.2 + 0.2 * 14.0)  # from 5.2 at x = 14, meets level ground at x = 15
    made = finished_ground(surface, RECTANGLE, 5.2, fill=Lowest((down, Plane(1.0, 0.0, 5.2 - 14.0))))
    assert made.surface.elevation(np.array([(18.0, 9.0), (14.5, 10.0)])) == pytest.approx([3.0, 5.1])
    beyond = made.shaped[made.shaped[:, :, 0].min(axis=1) > 15.1]
    assert len(made.shaped) > 0
    assert len(beyond) == 0


def test_what_hangs_on_a_dug_line_counts_without_the_pad(ground: Ground) -> None:
    """A trench away from the pad: V, 3:1, 0.3 m deep at y = 17, along x from 5 to 15; closed at its ends."""
    surface = level_yard(ground)
    sides = (Plane(0.0, 1 / 3, 4.7 - 17 / 3), Plane(0.0, -1 / 3, 4.7 + 17 / 3))
    ends = (Plane(1.0, 0.0, 4.7 - 15.0), Plane(-1.0, 0.0, 4.7 + 5.0))
    line = np.array([[(5.0, 17.0), (15.0, 17.0)]])
    trench = Highest((*sides, *ends))
    without = finished_ground(surface, RECTANGLE, 5.0, cut=trench)
    made = finished_ground(surface, RECTANGLE, 5.0, cut=trench, lines=line)
    # 10 m of a V of m d²; at each end the integral of 6 s (d - s) + 3 (d - s)² over s to d, which is 2 d³
    assert (without.cut, made.cut) == pytest.approx((0.0, 10 * 3 * 0.09 + 2 * 2 * 0.027), abs=1e-6)


def test_a_slope_that_runs_off_the_survey_is_told(ground: Ground) -> None:
    """A face that falls 1 in 10 to the west, as steep as the ground rises: at the edge of the survey it is
    2.4 m under level ground, and as much more as the ground has risen over 8 m."""
    for up in (0.0, 0.05):
        places = [(x, y) for x in (0, 7, 13, 22) for y in (0, 6, 12, 21)]
        surface = ground([(x, y, 5.0 + up * (8.0 - x)) for x, y in places])
        leaves = finished_ground(surface, RECTANGLE, 4.0, cut=Plane(0.1, 0.0, 4.0 - 1.4)).leaves
        assert leaves is not None
        assert (leaves.x, leaves.off, leaves.rise) == pytest.approx((0.0, 5.0 - 2.6 + 8.0 * up, up))


def test_what_is_filled_off_the_survey_is_not_dug(ground: Ground) -> None:
    made = finished_ground(level_yard(ground), RECTANGLE, 5.5, fill=Plane(0.0, -0.01, 5.5))
    assert made.fill > 0.0
    assert made.leaves is None
