"""Where a straight line crosses the edges of the triangles, by hand on five shots."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.ground.profile import crossings, edges_once, stretches
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]


@pytest.fixture
def tent(ground: Ground) -> Surface:
    """Level at 1 m round a peak of 3 m in the middle."""
    return ground([(0, 0, 1.0), (10, 0, 1.0), (10, 8, 1.0), (0, 8, 1.0), (5, 4, 3.0)])


def test_each_edge_is_there_once(tent: Surface) -> None:
    """Four sides and four ridges of four triangles."""
    edges = edges_once(tent) + np.append(tent.origin, 0.0)
    pairs = {frozenset(tuple(end[:2]) for end in edge.tolist()) for edge in edges}
    assert (len(edges), len(pairs)) == (8, 8)


def test_a_line_meets_the_edges_in_their_order(tent: Surface) -> None:
    edges = edges_once(tent) + np.append(tent.origin, 0.0)
    found = crossings(edges, np.array([2.5, 2.0]), np.array([1.0, 0.0]))
    assert found.tolist() == [[-2.5, 1.0], [0.0, 2.0], [5.0, 2.0], [7.5, 1.0]]


def test_an_edge_in_the_line_is_told_by_those_at_its_ends(tent: Surface) -> None:
    edges = edges_once(tent) + np.append(tent.origin, 0.0)
    found = crossings(edges, np.array([0.0, 0.0]), np.array([1.0, 0.0]))
    assert np.unique(found, axis=0).tolist() == [[0.0, 1.0], [10.0, 1.0]]


def test_stretches_follow_on_each_other_and_lie_on_the_ground(ground: Ground) -> None:
    rng = np.random.default_rng(2)
    surface = ground(np.column_stack((rng.uniform(0, 20, (80, 2)), rng.uniform(0, 3, 80))))
    start, way = np.array([3.0, 9.0]), np.array([0.8, 0.6])
    found = stretches(surface.vertices[surface.triangles], start - surface.origin, way)
    assert found[1:, 0] == pytest.approx(found[:-1, 1], abs=1e-9)
    middles = found.mean(axis=1)
    assert middles[:, 1] == pytest.approx(surface.elevation(start + middles[:, :1] * way), abs=1e-9)


def test_a_line_along_edges_meets_one_triangle_beside_each(tent: Surface) -> None:
    triangles = tent.vertices[tent.triangles] + np.append(tent.origin, 0.0)
    found = stretches(triangles, np.array([0.0, 0.0]), np.array([10.0, 8.0]) / np.hypot(10.0, 8.0))
    half = np.hypot(5.0, 4.0)
    assert found.tolist() == pytest.approx(np.array([[[0, 1], [half, 3]], [[half, 3], [2 * half, 1]]]))
