"""Soil in a thin layer: exact volumes, the ground with it, and the water that it may hold back."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.earthwork.grading.spread import Patch, held_back, spread_on, unit_volume
from gradework.errors import CheckError

SQUARE = np.array([(8.0, 12.0), (16.0, 12.0), (16.0, 16.0), (8.0, 16.0)])


def rectangle(length: float, width: float, runs: np.ndarray) -> float:
    """Sections of the layer are rectangles that shrink evenly: their integral by hand."""
    along, across = runs[1] + runs[3], runs[0] + runs[2]
    return length * width - (across * length + along * width) / 2.0 + along * across / 3.0


@pytest.mark.parametrize("seed", range(6))
def test_a_rectangle_by_hand(seed: int) -> None:
    rng = np.random.default_rng(seed)
    length, width, turn = rng.uniform(3.0, 9.0), rng.uniform(2.0, 6.0), rng.uniform(0.0, 6.0)
    runs = rng.uniform(0.1, 0.5, 4) * np.array([width, length, width, length])
    axes = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
    ring = np.array([(0, 0), (length, 0), (length, width), (0, width)]) @ axes + rng.normal(0.0, 30.0, 2)
    assert unit_volume(ring, runs) == pytest.approx(rectangle(length, width, runs), rel=1e-12)


def test_edges_that_meet_make_a_roof() -> None:
    # over a square of 4 m with edges of 2 m the layer is a pyramid
    ring = np.array([(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)])
    assert unit_volume(ring, np.full(4, 2.0)) == pytest.approx(16.0 / 3.0)
    # a triangle whose edges take its inner radius is one, too
    triangle = np.array([(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)])
    assert unit_volume(triangle, np.full(3, 1.0)) == pytest.approx(6.0 / 3.0)


@pytest.mark.parametrize("seed", range(4))
def test_the_ground_with_it_holds_what_was_spread(ground, volume, seed: int) -> None:
    rng = np.random.default_rng(seed)
    places = rng.uniform(0.0, 24.0, (120, 2))
    rim = np.array([(x, y) for x in (-1, 12, 25) for y in (-1, 12, 25)], dtype=float)
    places = np.concatenate((places, rim))
    before = ground(np.column_stack((places, 30.0 + rng.normal(0.0, 0.3, len(places)))))
    other = Patch(SQUARE - 7.0, 0.05, np.array([0.2, 0.9, 0.3, 0.4]))
    patches = (Patch(SQUARE, 0.076, rng.uniform(0.2, 2.0, 4)), other)
    after = spread_on(before, patches)
    assert after.area == pytest.approx(before.area, rel=1e-9)
    assert volume(after) - volume(before) == pytest.approx(sum(one.volume for one in patches), abs=1e-5)
    middle = SQUARE.mean(axis=0)[None]
    assert after.elevation(middle) - before.elevation(middle) == pytest.approx(0.076, abs=1e-6)
    away = np.array([(20.0, 3.0), (2.0, 20.0)])
    assert after.elevation(away) == pytest.approx(before.elevation(away), abs=1e-6)


def test_a_patch_that_leaves_the_survey_is_refused(ground) -> None:
    small = ground([(0, 0, 1.0), (10, 0, 1.0), (10, 14, 1.5), (0, 14, 1.2)])
    with pytest.raises(CheckError):
        spread_on(small, [Patch(SQUARE, 0.1, np.full(4, 0.3))])
    assert spread_on(small, []) is small


def valley(ground, side: float, fall: float):
    """Ground that falls along y, its two sides to the middle x = 12."""
    places = np.array([(x, y) for x in range(0, 25, 3) for y in range(0, 25, 3)], dtype=float)
    heights = 30.0 - fall * places[:, 1] + side * np.abs(places[:, 0] - 12.0)
    return ground(np.column_stack((places, heights)))


def test_a_layer_across_a_valley_holds_water_and_one_on_a_plane_none(ground) -> None:
    layer = Patch(SQUARE, 0.1, np.full(4, 0.3))
    assert held_back(spread_on(valley(ground, 0.0, 0.05), [layer]), [layer]) == pytest.approx(0.0, abs=1e-9)
    # in the valley water has to go over the layer, 0.1 m high where its uphill edge has come up: it stands
    # deepest at the foot of that edge, 0.3 m of fall lower
    held = held_back(spread_on(valley(ground, 0.05, 0.05), [layer]), [layer])
    assert held == pytest.approx(0.1 - 0.3 * 0.05, abs=1e-6)
    # an edge so long that the ground nowhere falls back holds none
    gentle = Patch(SQUARE, 0.1, np.array([2.0, 0.3, 0.3, 0.3]))
    assert held_back(spread_on(valley(ground, 0.05, 0.05), [gentle]), [gentle]) == pytest.approx(
        0.0, abs=1e-9
    )


def test_a_hollow_that_was_there_before_is_not_held_back_by_the_layer(ground) -> None:
    """A plane that falls 5 % along y, 0.5 m lower at (12, 18), below the layer: water stands there anyway."""
    places = np.array([(x, y) for x in range(0, 25, 3) for y in range(0, 25, 3)], dtype=float)
    pit = (places == (12.0, 18.0)).all(axis=1)
    surface = ground(np.column_stack((places, 30.0 - 0.05 * places[:, 1] - 0.5 * pit)))
    layer = Patch(SQUARE, 0.1, np.full(4, 0.3))
    assert held_back(spread_on(surface, [layer]), [layer]) == pytest.approx(0.0, abs=1e-6)
