"""The shots that narrow a figure most: by hand, and by shooting them."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.next_shots import NextShot, next_shots
from gradework.ground.spread.roughness import read_roughness


def test_the_place_that_tells_most_comes_first() -> None:
    """Three places that vary by themselves; the figure is mostly the second, a little the first."""
    rng = np.random.default_rng(1)
    grounds = rng.standard_normal((40_000, 3)) * 0.1
    places = np.array([[0.0, 0.0], [5.0, 1.0], [9.0, 2.0]])
    first, second = next_shots(places, grounds, 3.0 * grounds[:, 1] + 1.0 * grounds[:, 0], 0.02, 2)
    assert (first.x, first.y) == (5.0, 1.0)
    assert (second.x, second.y) == (0.0, 0.0)
    # 9 parts of 10 of the variance told, but for the error of the reading
    told = 0.1**2 / (0.1**2 + 0.02**2)
    assert first.left == pytest.approx(np.sqrt(1.0 - 0.9 * told), abs=0.01)
    assert second.left == pytest.approx(np.sqrt(1.0 - told), abs=0.02)


def test_the_second_shot_stands_away_from_the_first() -> None:
    grounds = np.random.default_rng(2).standard_normal((5000, 4)) * 0.1
    grounds[:, 1] = grounds[:, 0]  # the same place twice
    places = np.array([[0.0, 0.0], [0.1, 0.0], [4.0, 0.0], [8.0, 0.0]])
    shots = next_shots(places, grounds, grounds @ (1.0, 1.0, 1.5, 0.2), 0.005, 3)
    assert [shot.x for shot in shots[1:]] == [4.0, 8.0]
    assert shots[0].x in (0.0, 0.1)


def test_shots_named_on_rough_ground_do_narrow_it() -> None:
    """Shoot what was named, with the ground that is there, and draw again."""
    xy = np.stack(np.meshgrid(np.arange(0, 21, 5.0), np.arange(0, 16, 5.0)), axis=-1).reshape(-1, 2)
    under = np.stack(np.meshgrid(np.arange(6, 13, 1.0), np.arange(5, 11, 1.0)), axis=-1).reshape(-1, 2)

    def true(places: np.ndarray) -> np.ndarray:
        x, y = places.T
        return 0.05 * x + 0.25 * np.sin(x / 3.0) * np.cos(y / 2.5)

    def drawn(places: np.ndarray) -> tuple[float, tuple[NextShot, ...]]:
        shots = np.column_stack((places, true(places)))
        known = read_roughness(shots, np.full(len(shots), 0.003), under)
        grounds = likely_ground(known, under)
        mean = grounds.mean(axis=1)
        return float(mean.std()), next_shots(under, grounds, mean, known.reading_error, 3)

    before, shots = drawn(xy)
    after, _ = drawn(np.vstack((xy, [(shot.x, shot.y) for shot in shots])))
    assert shots[0].left > shots[1].left > shots[2].left
    assert after < 0.75 * before


def test_a_figure_that_does_not_hang_on_the_ground_needs_no_shot() -> None:
    assert next_shots(np.zeros((2, 2)), np.zeros((10, 2)), np.ones(10), 0.005, 3) == ()
