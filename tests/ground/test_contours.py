"""Contours: on the edges, whole, and undisturbed by flats, peaks and levels that meet a station."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground.contours import trace


def grid(z, step=1.0):
    z = np.asarray(z, dtype=float)
    x, y = np.meshgrid(np.arange(z.shape[1]) * step, np.arange(z.shape[0]) * step)
    return np.column_stack([x.ravel(), y.ravel(), z.ravel()])


def bumpy(seed=1, n=120):
    rng = np.random.default_rng(seed)
    xy = rng.random((n, 2)) * 30
    z = np.sin(xy[:, 0] / 4) + np.cos(xy[:, 1] / 5) + rng.normal(0, 0.1, n)
    return np.column_stack([xy + np.array([5e5, 4e6]), z])


def test_one_straight_line_across_a_tilted_square(ground):
    (contour,) = trace(ground(grid([[0, 1], [0, 1]])), [0.25])
    assert (contour.level, contour.closed) == (0.25, False)
    # in at the top, over the two spokes of the fan, out at the bottom: higher ground on its left
    assert contour.xy.tolist() == [[0.25, 1.0], [0.25, 0.75], [0.25, 0.25], [0.25, 0.0]]
    assert not contour.xy.flags.writeable


def test_a_ring_about_a_peak_is_closed_and_runs_anticlockwise(ground):
    (contour,) = trace(ground(grid([[0, 0, 0], [0, 1, 0], [0, 0, 0]])), [0.5])
    assert contour.closed
    x, y = contour.xy.T
    assert (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() > 0
    assert not (contour.xy[0] == contour.xy[-1]).all()
    # at a quarter and a half of the fans' edges: a square with its sides half way, cut at the cell centres
    assert np.abs(contour.xy - 1).max() == pytest.approx(0.5)


def test_a_ring_about_a_pit_runs_clockwise(ground):
    (contour,) = trace(ground(grid([[1, 1, 1], [1, 0, 1], [1, 1, 1]])), [0.5])
    x, y = contour.xy.T
    assert contour.closed
    assert (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() < 0


@pytest.mark.parametrize("level", [-1.0, 0.0, 2.0])
def test_a_level_that_the_ground_does_not_cross(ground, level):
    assert trace(ground(grid([[0, 1], [0, 1]])), [level]) == []


def test_level_ground_has_no_contours_at_its_own_level_either(ground):
    surface = ground(grid(np.full((4, 4), 7.0)))
    assert trace(surface, [6.9, 7.0, 7.1]) == []


def test_a_plateau_at_the_level_is_outlined_along_its_rim(ground):
    z = np.zeros((5, 5))
    z[1:4, 1:4] = 1.0
    (contour,) = trace(ground(grid(z)), [1.0])
    assert contour.closed
    assert contour.xy.min(axis=0).tolist() == [1.0, 1.0]
    assert contour.xy.max(axis=0).tolist() == [3.0, 3.0]
    assert set(np.unique(contour.xy)) <= {1.0, 2.0, 3.0}


def test_a_peak_exactly_at_the_level_shrinks_to_nothing(ground):
    assert trace(ground(grid([[0, 0, 0], [0, 1, 0], [0, 0, 0]])), [1.0]) == []


def test_a_line_through_stations_at_the_level_goes_on(ground):
    (contour,) = trace(ground(grid([[0, 0, 0], [1, 1, 1], [2, 2, 2]])), [1.0])
    assert not contour.closed
    assert contour.xy[:, 1] == pytest.approx(np.ones(len(contour.xy)))
    assert sorted(contour.xy[:, 0].tolist())[:: len(contour.xy) - 1] == [0.0, 2.0]


def test_a_saddle_at_the_level_gives_two_lines_that_meet(ground):
    # the four corners make a saddle whose centre lies at the level; above counts its centre
    lines = trace(ground(grid([[1, 0], [0, 1]])), [0.5])
    assert len(lines) == 2
    assert all(not line.closed for line in lines)
    assert all([0.5, 0.5] in line.xy.tolist() for line in lines)


@pytest.mark.parametrize("seed", range(5))
def test_every_vertex_lies_on_an_edge_at_its_level(ground, seed):
    surface = ground(bumpy(seed))
    corner = surface.vertices[surface.triangles]
    start, end = corner.reshape(-1, 3), corner[:, [1, 2, 0]].reshape(-1, 3)
    for contour in trace(surface, np.arange(-1.5, 1.6, 0.25)):
        assert surface.elevation(contour.xy) == pytest.approx(
            np.full(len(contour.xy), contour.level), abs=1e-7
        )
        for p in contour.xy - surface.origin:
            run = end[:, :2] - start[:, :2]
            off = run[:, 0] * (p[1] - start[:, 1]) - run[:, 1] * (p[0] - start[:, 0])
            assert (np.abs(off) / np.hypot(*run.T)).min() < 1e-8


@pytest.mark.parametrize("seed", range(5))
def test_lines_end_at_the_hull_or_close(ground, seed):
    surface = ground(bumpy(seed))
    ring = surface.hull_xy - surface.origin
    edge = np.roll(ring, -1, axis=0) - ring
    for contour in trace(surface, [-0.6, 0.1, 0.7]):
        assert len(contour.xy) >= (3 if contour.closed else 2)
        if not contour.closed:
            for p in (contour.xy[0], contour.xy[-1]):
                arm = p - surface.origin - ring
                off = np.abs(edge[:, 0] * arm[:, 1] - edge[:, 1] * arm[:, 0]) / np.hypot(*edge.T)
                assert off.min() < 1e-8


@pytest.mark.parametrize("seed", range(5))
def test_the_pieces_are_all_there(ground, seed):
    """The length of all contours of a level is that of the segments found triangle by triangle."""
    surface = ground(bumpy(seed))
    level = 0.2
    naive = 0.0
    for triangle in surface.triangles.tolist():
        points = []
        for k in range(3):
            p, q = surface.vertices[triangle[k]], surface.vertices[triangle[(k + 1) % 3]]
            if (p[2] >= level) != (q[2] >= level):
                points.append(p[:2] + (level - p[2]) / (q[2] - p[2]) * (q[:2] - p[:2]))
        if points:
            naive += float(np.hypot(*(points[0] - points[1])))
    total = 0.0
    for contour in trace(surface, [level]):
        points = np.vstack([contour.xy, contour.xy[:1]]) if contour.closed else contour.xy
        total += float(np.hypot(*np.diff(points, axis=0).T).sum())
    assert total == pytest.approx(naive, rel=1e-9)


def test_order_of_rows_does_not_change_the_lines(ground):
    surface = ground(bumpy(3))
    again = ground(surface.stations.xyz[::-1])
    for one, two in zip(trace(surface, [0.1, 0.5]), trace(again, [0.1, 0.5]), strict=True):
        assert np.array_equal(one.xy, two.xy)


def test_the_second_engine_agrees(ground):
    import contourpy

    x, y = np.linspace(0, 9, 25), np.linspace(0, 7, 20)
    z = np.sin(x)[None] * np.cos(y)[:, None]
    surface = ground(np.column_stack([np.tile(x, 20), np.repeat(y, 25), z.ravel()]))
    # its quadrilaterals with a corner mean are our fans
    theirs = contourpy.contour_generator(x, y, z, name="serial", quad_as_tri=True).lines(0.3)
    ours = trace(surface, [0.3])
    assert len(ours) == len(theirs)

    def length(xy, closed=False):
        xy = np.vstack([xy, xy[:1]]) if closed else xy
        return float(np.hypot(*np.diff(xy, axis=0).T).sum())

    assert sorted(length(c.xy, c.closed) for c in ours) == pytest.approx(
        sorted(map(length, theirs)), rel=1e-9
    )
