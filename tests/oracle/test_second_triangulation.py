"""A second engine agrees: scipy's Delaunay, shapely's hull, a naive search for the triangle of a point."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator
from scipy.spatial import Delaunay


def random_yard(seed, n):
    """Random places: no four on a circle, so the triangulation is unique."""
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.random((n, 2)) * [25, 18], rng.random(n)])


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("n", [3, 5, 30, 400])
def test_same_triangles_as_the_second_engine(ground, seed, n):
    xyz = random_yard(seed, n)
    surface = ground(xyz)
    other = Delaunay(xyz[:, :2])
    assert len(other.coplanar) == 0
    ours = {tuple(sorted(t)) for t in surface.triangles.tolist()}
    theirs = {tuple(sorted(t)) for t in other.simplices.tolist()}
    # the second engine keeps hull slivers that it cannot tell from ground
    assert ours <= theirs
    slivers = [shapely.Polygon(xyz[list(t), :2]).area for t in theirs - ours]
    assert sum(slivers) < 1e-6
    assert surface.area == pytest.approx(shapely.MultiPoint(xyz[:, :2]).convex_hull.area, rel=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_same_elevations_as_the_second_engine(ground, seed):
    xyz = random_yard(seed, 300)
    surface = ground(xyz)
    where = np.random.default_rng(seed).uniform(-2, 27, (4000, 2))
    ours = surface.elevation(where)
    theirs = LinearNDInterpolator(xyz[:, :2], xyz[:, 2])(where)
    hull = shapely.MultiPoint(xyz[:, :2]).convex_hull
    near_hull = shapely.distance(hull.exterior, shapely.points(where)) < 0.002
    assert np.array_equal(np.isnan(ours)[~near_hull], np.isnan(theirs)[~near_hull])
    both = ~np.isnan(ours) & ~np.isnan(theirs)
    assert both.sum() > 1000
    assert ours[both] == pytest.approx(theirs[both], abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_points_on_every_edge_and_on_the_hull_have_an_elevation(ground, seed):
    """Also at state-plane offsets, where a general interpolator answers NaN on half of the hull."""
    xyz = random_yard(seed, 200) + np.array([1.9e6, 0.65e6, 0])
    surface = ground(xyz)
    corner = surface.vertices[surface.triangles]
    part = np.random.default_rng(seed).random((len(corner), 3, 1))
    on_edge = (corner + part * (corner[:, [1, 2, 0]] - corner)).reshape(-1, 3)
    found = surface.elevation(on_edge[:, :2] + surface.origin)
    assert found == pytest.approx(on_edge[:, 2], abs=1e-6)  # 1e-10 m of place on slopes of up to some hundred


@pytest.mark.parametrize("seed", range(3))
def test_the_walk_finds_what_a_search_through_all_triangles_finds(ground, seed):
    rng = np.random.default_rng(seed)
    places = np.unique(rng.integers(0, 15, (150, 2)), axis=0) * 1.0
    surface = ground(np.column_stack([places, rng.random(len(places))]))
    where = rng.uniform(-1, 15, (500, 2))
    found = surface.locate(where)
    polygons = shapely.polygons(surface.vertices[surface.triangles, :2])
    for p, t in zip(where - surface.origin, found.tolist(), strict=True):
        holds = np.flatnonzero(shapely.intersects(polygons, shapely.Point(p)))
        assert (t in holds) if len(holds) else (t == -1)
