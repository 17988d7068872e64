"""The sides of a pad, and its slopes against their closed form."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.batter import batter_ground
from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.sides import batter_shapes, sides_of
from gradework.earthwork.outline import Outline
from gradework.earthwork.rings import half_turns
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

EL = [(0, 0), (5, 0), (5, 2), (2, 2), (2, 4), (0, 4)]


def test_a_side_knows_its_planes() -> None:
    side = sides_of(np.array(EL, dtype=float))[0]
    assert side.point(2.0, 1.5).tolist() == [2.0, -1.5]
    plane = side.plane(2.0, 1.5, 7.0, along=0.1, out=-0.2)
    at = side.point(3.0, 4.0)
    assert plane.east * at[0] + plane.north * at[1] + plane.level == pytest.approx(7.0 + 0.1 - 0.5)


def test_outward_corners_turn_above_zero_inward_ones_below() -> None:
    assert np.roll(half_turns(np.array(EL, dtype=float)), -1) == pytest.approx([1, 1, -1, 1, 1, 1])


HOLLOW = {
    "L": [(0, 0), (6, 0), (6, 2.5), (2.5, 2.5), (2.5, 5), (0, 5)],
    "U": [(0, 0), (7, 0), (7, 5), (4.5, 5), (4.5, 2), (2.5, 2), (2.5, 5), (0, 5)],
    "Z": [(0, 0), (4, 0), (4, 2), (6, 2), (6, 5), (2, 5), (2, 3), (0, 3)],
    "V": [(0, 0), (6, 0), (6, 3), (3, 1.6), (0, 3)],
}


@pytest.mark.parametrize("rise", [-0.5, 0.1, 0.6])
@pytest.mark.parametrize("shape", HOLLOW)
def test_slopes_of_a_hollow_pad_are_those_of_the_closed_form(ground: Ground, shape: str, rise: float) -> None:
    """Made twice: as the highest and lowest of planes over the whole yard, and cut into parts of it."""
    rng = np.random.default_rng(len(HOLLOW[shape]) + int(10 * rise))
    xy = np.array([(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)]) + rng.normal(0, 0.3, (121, 2))
    surface = ground(np.column_stack((xy, 100 + xy @ (0.05, -0.08) + rng.normal(0, 0.12, 121))))
    turn = np.radians(rng.uniform(0, 360))
    about = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    outline = Outline.polygon((np.array(HOLLOW[shape], dtype=float) - 3.0) @ about + 15.0)
    level = float(surface.elevation(outline.rings[0]).mean()) + rise
    known = batter_ground(surface, outline, 1.7)
    slopes, volumes = known.slopes(level), known.volumes(np.array([level]))
    assert volumes.cut[0] + volumes.fill[0] > 0.05
    cut, fill = batter_shapes(outline.rings[0] - surface.origin, level, 1.7)
    made = finished_ground(surface, outline.rings[0], level, cut=cut, fill=fill)
    assert (made.cut, made.fill) == pytest.approx((slopes.cut, slopes.fill), abs=1e-7)
    assert (made.cut_area, made.fill_area) == pytest.approx((slopes.cut_area, slopes.fill_area), abs=1e-6)
    rim = np.concatenate(slopes.daylight)  # where the slopes end the ground is what it was
    away = np.array([min(np.hypot(*(outline.rings[0] - place).T)) for place in rim]) > 0.01
    off = made.surface.elevation(rim[away]) - surface.elevation(rim[away])
    assert np.abs(off).max() < 1e-4


@pytest.mark.parametrize("seed", range(3))
def test_slopes_of_a_convex_pad_are_those_of_the_closed_form(ground: Ground, seed: int) -> None:
    rng = np.random.default_rng(seed)
    xy = np.array([(x, y) for x in range(0, 31, 3) for y in range(0, 31, 3)]) + rng.normal(0, 0.3, (121, 2))
    surface = ground(np.column_stack((xy, 100 + xy @ (0.05, 0.12) + rng.normal(0, 0.15, 121))))
    outline = Outline.rectangle((12, 11), (6, 4), turn=20.0 * seed)
    level = float(surface.elevation(outline.rings[0]).mean()) + 0.1
    known = batter_ground(surface, outline, 2.0).volumes(np.array([level]))
    shapes = batter_shapes(outline.rings[0] - surface.origin, level, 2.0)
    made = finished_ground(surface, outline.rings[0], level, cut=shapes[0], fill=shapes[1])
    assert (made.cut, made.fill) == pytest.approx((known.cut[0], known.fill[0]), abs=1e-7)
    assert (made.cut_area, made.fill_area) == pytest.approx((known.cut_area[0], known.fill_area[0]), abs=1e-6)
