"""The shots that narrow a figure most: by hand, and by shooting them."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.spread.draws import likely_ground
from gradework.ground.spread.next_shots import READING, next_shots
from gradework.ground.spread.roughness import read_roughness


def test_the_place_that_tells_most_comes_first() -> None:
    """Three places that vary by themselves; the figure is mostly the second, a little the first."""
    rng = np.random.default_rng(1)
    grounds = rng.standard_normal((40_000, 3)) * 0.1
    places = np.array([[0.0, 0.0], [5.0, 1.0], [9.0, 2.0]])
    first, second = next_shots(places, grounds, 3.0 * grounds[:, 1] + 1.0 * grounds[:, 0], 2)
    assert (first.x, first.y) == (5.0, 1.0)
    assert (second.x, second.y) == (0.0, 0.0)
    # 9 parts of 10 of the variance told, but for the error of the reading
    told = 0.1**2 / (0.1**2 + READING**2)
    assert first.left == pytest.approx(np.sqrt(1.0 - 0.9 * told), abs=0.01)
    assert second.left == pytest.approx(np.sqrt(1.0 - told), abs=0.02)


def test_the_second_shot_stands_away_from_the_first() -> None:
    grounds = np.random.default_rng(2).standard_normal((5000, 4)) * 0.1
    grounds[:, 1] = grounds[:, 0]  # the same place twice
    places = np.array([[0.0, 0.0], [0.1, 0.0], [4.0, 0.0], [8.0, 0.0]])
    shots = next_shots(places, grounds, grounds @ (1.0, 1.0, 1.5, 0.2), 3)
    assert [shot.x for shot in shots[1:]] == [4.0, 8.0]
    assert shots[0].x in (0.0, 0.1)


def test_shooting_there_narrows_as_much_as_was_said() -> None:
    """Add the shots that were named, at their most likely ground, and draw again."""
    xy = np.stack(np.meshgrid(np.arange(0, 21, 5.0), np.arange(0, 16, 5.0)), axis=-1).reshape(-1, 2)
    z = 0.05 * xy[:, 0] + 0.25 * np.sin(xy[:, 0] / 3.0) * np.cos(xy[:, 1] / 2.5)
    under = np.stack(np.meshgrid(np.arange(6, 13, 1.0), np.arange(5, 11, 1.0)), axis=-1).reshape(-1, 2)
    sd = np.full(len(xy), 0.003)
    before = likely_ground(read_roughness(np.column_stack((xy, z)), sd, under), under)
    shots = next_shots(under, before, before.mean(axis=1), 3)
    ground = [before[:, (under == (s.x, s.y)).all(axis=1)].mean() for s in shots]
    more = np.vstack((np.column_stack((xy, z)), [(s.x, s.y, g) for s, g in zip(shots, ground, strict=True)]))
    after = likely_ground(read_roughness(more, np.full(len(more), 0.003), under), under)
    assert after.mean(axis=1).std() / before.mean(axis=1).std() == pytest.approx(shots[-1].left, abs=0.15)


def test_a_figure_that_does_not_hang_on_the_ground_needs_no_shot() -> None:
    assert next_shots(np.zeros((2, 2)), np.zeros((10, 2)), np.ones(10), 3) == ()
