"""Finding the triangle of a point, also where the walk cannot."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.locate import TOUCH, Locator, weights
from gradework.ground.surface import build_surface
from gradework.survey.stations import Stations


def yard(n=80, seed=2):
    rng = np.random.default_rng(seed)
    xyz = np.column_stack([rng.random((n, 2)) * 20, rng.random(n)])
    names = [f"S{i + 1}" for i in range(n)]
    return build_surface(Stations(names, xyz, np.full(n, np.nan), np.arange(n) + 2, "yard.csv", "m"))


def test_when_every_walk_ends_at_once_the_search_finds_the_same_triangles():
    surface = yard()
    lost = Locator(
        surface.vertices,
        surface.triangles,
        np.full_like(surface.neighbours, -1),
        surface.hull,
        len(surface.stations),
    )
    inside = np.random.default_rng(3).uniform(4, 16, (200, 2))
    found = surface.locate(inside)
    assert (found >= 0).all()
    assert lost.locate(inside - surface.origin).tolist() == found.tolist()


def test_shares_add_up_and_depth_is_never_too_great():
    surface = yard()
    inside = np.random.default_rng(4).uniform(4, 16, (300, 2))
    local, corners = inside - surface.origin, surface.triangles[surface.locate(inside)]
    share, depth = weights(surface.vertices, corners, local)
    assert share.sum(axis=1) == pytest.approx(np.ones(300))
    assert ((share[:, :, None] * surface.vertices[corners, :2]).sum(axis=1)) == pytest.approx(local)
    p, q = surface.vertices[corners, :2], surface.vertices[np.roll(corners, -1, axis=1), :2]
    run, arm = q - p, local[:, None] - p
    true = np.abs(run[..., 0] * arm[..., 1] - run[..., 1] * arm[..., 0]) / np.hypot(run[..., 0], run[..., 1])
    assert (depth <= true.min(axis=1) + 1e-12).all()
    assert (depth > 0).all()


def test_shares_at_the_corners_are_whole():
    surface = yard()
    for k in range(3):
        local = surface.vertices[surface.triangles[:, k], :2]
        share, depth = weights(surface.vertices, surface.triangles, local)
        assert np.array_equal(share, np.tile(np.eye(3)[k], (len(share), 1)))
        assert (depth == 0).all()


def test_a_point_outside_counts_as_the_nearest_inside():
    vertices = np.array([[0, 0, 0], [4, 0, 0], [0, 3, 0.0]])
    share, depth = weights(
        vertices, np.array([[0, 1, 2]] * 3), np.array([[1.0, -1.0], [-1.0, -2.0], [9.0, 0.0]])
    )
    assert share == pytest.approx(np.array([[0.75, 0.25, 0], [1, 0, 0], [0, 1, 0]]))
    assert depth.tolist() == [0, 0, 0]


def test_a_triangle_without_area_answers_with_a_corner():
    vertices = np.array([[0, 0, 0], [1, 0, 0], [2, 0, 0.0]])
    share, _ = weights(vertices, np.array([[0, 1, 2]]), np.array([[0.5, 0.0]]))
    assert share.tolist() == [[1, 0, 0]]


def test_a_millimetre_beside_every_side_of_the_hull():
    surface = yard()
    ring = surface.hull_xy
    side = np.roll(ring, -1, axis=0) - ring
    out = np.column_stack([side[:, 1], -side[:, 0]]) / np.hypot(*side.T)[:, None]
    middle = ring + 0.5 * side
    assert (surface.locate(middle + 0.5 * TOUCH * out) >= 0).all()
    assert (surface.locate(middle + 1.5 * TOUCH * out) == -1).all()
