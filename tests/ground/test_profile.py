"""Where a straight line crosses the edges of the triangles, by hand on five shots."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.ground.profile import (
    as_lines,
    crossings,
    cut_along,
    edges_once,
    heights_beside,
    inside,
    stretches,
)
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


def test_a_surface_is_cut_between_two_distances_of_a_place_of_the_site(tent: Surface) -> None:
    start, along = np.array([-1.0, 2.0]), np.array([1.0, 0.0])
    whole = cut_along(tent, start, along)
    assert whole.tolist() == [[[1.0, 1.0], [3.5, 2.0]], [[3.5, 2.0], [8.5, 2.0]], [[8.5, 2.0], [11.0, 1.0]]]
    cut = cut_along(tent, start, along, 2.25, 6.0)
    assert cut.tolist() == [[[2.25, 1.5], [3.5, 2.0]], [[3.5, 2.0], [6.0, 2.0]]]
    assert cut_along(tent, start, along, 12.0, 20.0).shape == (0, 2, 2)
    [line] = as_lines(whole)
    assert line[[0, -1]].tolist() == [[1.0, 1.0], [11.0, 1.0]]
    assert as_lines(whole[[0, 2]])[1].tolist() == whole[2].tolist()
    assert as_lines(whole[:0]) == ()


def test_heights_beside_a_place_tell_a_step_and_the_ends() -> None:
    found = np.array([[(0.0, 1.0), (2.0, 3.0)], [(2.0, 5.0), (4.0, 5.0)], [(6.0, 7.0), (8.0, 7.0)]])
    before, after = heights_beside(found, np.array([0.0, 1.0, 2.0, 4.0, 5.0, 6.0, 9.0]))
    nan = np.nan
    np.testing.assert_allclose(before, [nan, 2.0, 3.0, 5.0, nan, nan, nan], atol=1e-9)
    np.testing.assert_allclose(after, [1.0, 2.0, 5.0, nan, nan, 7.0, nan], atol=1e-9)
    assert np.isnan(heights_beside(found[:0], np.array([1.0]))).all()


def test_a_line_is_inside_an_outline_but_not_in_its_hole() -> None:
    ell = np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 2.0), (2.0, 2.0), (2.0, 5.0), (0.0, 5.0)])
    hole = np.array([(3.0, 0.5), (4.0, 0.5), (4.0, 1.5), (3.0, 1.5)])
    start, along = np.array([-1.0, 1.0]), np.array([1.0, 0.0])
    assert inside([ell, hole], start, along) == ((1.0, 4.0), (5.0, 7.0))
    assert inside([ell], np.array([-1.0, 3.0]), along) == ((1.0, 3.0),)
    assert inside([ell], np.array([-1.0, 9.0]), along) == ()


@pytest.mark.parametrize("turn", [0.0, 0.3, 0.7, 1.1, 2.0])
def test_along_the_rim_there_is_ground_both_ways(ground: Ground, turn: float) -> None:
    c, s = np.cos(turn), np.sin(turn)
    rim = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0)]) @ np.array([[c, s], [-s, c]])
    middle = np.array([(5.0, 4.0)]) @ np.array([[c, s], [-s, c]])
    surface = ground(np.column_stack((np.vstack((rim, middle)), [1.0, 1.2, 1.5, 1.1, 3.0])))
    for first, last in zip(rim, np.roll(rim, -1, axis=0), strict=True):
        for a, b in ((first, last), (last, first)):
            length = float(np.hypot(*(b - a)))
            (line,) = as_lines(cut_along(surface, a, (b - a) / length, 0.0, length))
            assert line[[0, -1], 0] == pytest.approx([0.0, length], abs=1e-4)
            assert line[[0, -1], 1] == pytest.approx(surface.elevation(np.stack((a, b))), abs=1e-4)
