"""Digging below the 1:1 line from a wall: against figures by hand, and against many places looked at."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gradework.foundations.checks.footing import Dug, below_line, foot_of, ring_edges, triangle_edges
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]
SQUARE = np.array([(1.0, 0.0), (3.0, 0.0), (3.0, 2.0), (1.0, 2.0)])


def test_a_hole_beside_a_wall_by_hand() -> None:
    wall = np.array([[[0.0, -5.0, 100.0], [0.0, 5.0, 100.0]]])
    assert below_line(wall, [Dug("hole", ring_edges(SQUARE, 99.2))])[0] == pytest.approx(-0.2)
    assert below_line(wall, [Dug("hole", ring_edges(SQUARE, 98.7))]) == (pytest.approx(0.3), "hole")
    assert below_line(wall, [])[0] == -np.inf


def test_the_worst_of_several_is_named() -> None:
    wall = np.array([[[0.0, -5.0, 100.0], [0.0, 5.0, 100.0]]])
    far = Dug("far", ring_edges(SQUARE + 5.0, 99.0))
    assert below_line(wall, [far, Dug("near", ring_edges(SQUARE, 99.0))]) == (pytest.approx(0.0), "near")


def test_the_foot_of_a_wall_follows_the_ground(ground: Ground) -> None:
    xyz = np.array(
        [(x, y, 100.0 + 0.1 * x + 0.3 * (x == 4) * (y == 4)) for x in (0, 4, 8) for y in (0, 4, 8)]
    )
    surface = ground(xyz)
    foot = foot_of(surface, shapely.LineString([(1.0, 3.0), (7.0, 5.0)]))
    assert np.allclose(foot[:, :, 2].ravel(), surface.elevation(foot[:, :, :2].reshape(-1, 2)))
    # between bends the ground is straight: the middle of each stretch is the mean of its ends
    assert np.allclose(foot[:, :, 2].mean(axis=1), surface.elevation(foot[:, :, :2].mean(axis=1)), atol=1e-9)


def test_beyond_the_survey_its_edge_stands_for_the_foot(ground: Ground) -> None:
    surface = ground(np.array([(x, y, 100.0 + 0.1 * x) for x in (0.0, 8.0) for y in (0.0, 8.0)]))
    foot = foot_of(surface, shapely.LineString([(0.0, 9.0), (8.0, 9.0)]))
    assert np.allclose(foot[:, :, 2], 100.0 + 0.1 * foot[:, :, 0])


heights = st.floats(-0.6, 0.6)
spots = st.tuples(st.floats(0.0, 6.0), st.floats(0.0, 6.0), heights)


@settings(max_examples=25, deadline=None)
@given(st.lists(spots, min_size=2, max_size=4), st.lists(spots, min_size=3, max_size=3))
def test_no_pair_of_places_is_worse_and_one_is_as_bad(
    wall: list[tuple[float, float, float]], hole: list[tuple[float, float, float]]
) -> None:
    foot = np.array([(a, b) for a, b in itertools.pairwise(wall)])
    edges = triangle_edges(np.array([hole]))
    # digging that crosses the wall is another check's matter
    assume(
        not shapely.LineString([p[:2] for p in wall]).intersects(
            shapely.MultiLineString(list(edges[:, :, :2]))
        )
    )
    found, _ = below_line(foot, [Dug("hole", edges)])
    share = np.linspace(0.0, 1.0, 41)[:, None]
    up = np.concatenate([a + share * (b - a) for a, b in foot])
    down = np.concatenate([a + share * (b - a) for a, b in edges])
    apart = np.hypot(*(up[:, None, :2] - down[None, :, :2]).transpose(2, 0, 1))
    brute = float((up[:, None, 2] - down[None, :, 2] - apart).max())
    steps = (
        max(float(np.abs(edges[:, 0] - edges[:, 1]).max()), float(np.abs(foot[:, 0] - foot[:, 1]).max())) / 40
    )
    assert brute <= found + 1e-9
    assert found <= brute + 6.0 * steps
