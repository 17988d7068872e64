"""The tie rule on figures that a person can draw."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.ground import cocircular
from gradework.ground.cocircular import fold_ties
from gradework.ground.triangulation import Mesh


def test_a_square_gets_the_mean_of_its_corners_in_the_middle(ground, volume):
    surface = ground([[0, 0, 1.0], [2, 0, 2.0], [2, 2, 4.0], [0, 2, 7.0]])
    assert surface.vertices[4].tolist() == [1.0, 1.0, 3.5]
    assert surface.folds.centres.tolist() == [4]
    assert surface.folds.gaps.tolist() == [2.0]  # (1 + 4) / 2 against (2 + 7) / 2
    assert sorted(surface.folds.triangles.tolist()) == [0, 1, 2, 3]
    assert surface.folds.starts.tolist() == [0, 4]
    assert volume(surface) == pytest.approx(14.0, abs=1e-14)


def test_a_trapezoid_gets_the_crossing_of_its_diagonals(ground):
    # an isosceles trapezoid has its corners on a circle; the diagonals cross at a third of the height
    surface = ground([[0, 0, 0.0], [4, 0, 0.0], [3, 3, 3.0], [1, 3, 6.0]])
    assert surface.vertices[4] == pytest.approx([2.0, 2.0, (2 / 3 * 3.0 + 2 / 3 * 6.0) / 2])
    assert surface.folds.gaps == pytest.approx([2.0])


def test_no_tie_no_fold(ground):
    surface = ground([[0, 0, 1.0], [2, 0, 2.0], [2.1, 2, 4.0], [0, 2, 7.0]])
    assert len(surface.folds) == 0
    assert len(surface.triangles) == 2
    assert surface.folds.starts.tolist() == [0]


@pytest.mark.parametrize("corners", [5, 6, 12, 37])
def test_a_ring_of_many_is_fanned_from_its_mean(ground, corners):
    a = np.arange(corners) * 2 * np.pi / corners
    z = np.cos(2 * a)
    surface = ground(np.column_stack([3 * np.cos(a), 3 * np.sin(a), z]))
    assert len(surface.triangles) == corners
    assert len(surface.folds) == 1
    assert surface.elevation(np.array([[0.0, 0.0]])) == pytest.approx([z.mean()], abs=1e-12)
    # cos 2a has no part along a plane, so the spread about the plane is that of z itself
    assert surface.folds.gaps == pytest.approx([np.ptp(z)], abs=1e-9)


def test_the_gap_of_a_rectangle_is_the_same_by_both_definitions(ground):
    # one rectangle, and the same with its four corners and two more on the circle
    z = [1.0, 2.0, 4.0, 7.0]
    square = [[-1, -1, z[0]], [1, -1, z[1]], [1, 1, z[2]], [-1, 1, z[3]]]
    assert ground(square).folds.gaps == pytest.approx([2.0])
    r = 2**0.5
    plane = 3.5  # the least-squares plane through the corners passes the axes at 3.5 +- slope
    more = [[r, 0, plane + r * -0.5], [-r, 0, plane - r * -0.5]]
    assert ground(square + more).folds.gaps == pytest.approx([2.0])


def test_shots_in_line_on_a_turned_hull_leave_no_slivers(ground):
    a = np.radians(17.3)
    x, y = np.meshgrid(np.arange(9) * 1.2192, np.arange(7) * 1.2192)
    turned = np.column_stack([x.ravel(), y.ravel()]) @ [[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]
    z = np.random.default_rng(1).random(x.size)
    surface = ground(np.column_stack([turned, z]))
    assert len(surface.triangles) == 4 * 8 * 6
    assert len(surface.hull) == 2 * (8 + 6)
    assert surface.triangle_areas.min() == pytest.approx(1.2192**2 / 4)


def test_the_doubt_band_brackets_both_foldings(ground, volume):
    """All cells folded up or all folded down: the fan lies half way, and the gaps give the distance."""
    z = np.array([[0.0, 1.0, 0.3], [0.7, 0.1, 0.9]])
    x, y = np.meshgrid(np.arange(3.0), np.arange(2.0))
    surface = ground(np.column_stack([x.ravel(), y.ravel(), z.ravel()]))
    ups = downs = 0.0
    for k in (0, 1):
        a, b, c, d = z[0, k], z[0, k + 1], z[1, k + 1], z[1, k]
        one, two = (2 * a + 2 * c + b + d) / 6, (2 * b + 2 * d + a + c) / 6
        ups, downs = ups + max(one, two), downs + min(one, two)
    areas = np.add.reduceat(surface.triangle_areas[surface.folds.triangles], surface.folds.starts[:-1])
    band = float((areas / 3 * surface.folds.gaps / 2).sum())
    assert volume(surface) == pytest.approx((ups + downs) / 2)
    assert band == pytest.approx((ups - downs) / 2)


def test_tied_triangles_that_close_about_a_station_are_left_as_they_are(monkeypatch):
    """Only a chain of near ties could do this; here it is forced: six triangles about a middle shot."""
    a = np.arange(6) * np.pi / 3
    xyz = np.vstack([np.column_stack([np.cos(a), np.sin(a), a]), [[0, 0, 9.0]]])
    triangles = np.array([[i, (i + 1) % 6, 6] for i in range(6)], dtype=np.int32)
    neighbours = np.array([[-1, (i + 1) % 6, (i - 1) % 6] for i in range(6)], dtype=np.int32)
    monkeypatch.setattr(cocircular, "tied_rings", lambda *_: np.zeros(6, dtype=np.int32))
    folded = fold_ties(xyz, Mesh(triangles, neighbours), 1e-6)
    assert len(folded.folds) == 0
    assert np.array_equal(folded.mesh.triangles, triangles)
    assert np.array_equal(folded.vertices, xyz)


@pytest.mark.parametrize("bend", [0.0, 1e-9, -1e-9])
def test_a_ring_whose_fan_would_turn_over_is_left_beside_one_that_is_fanned(monkeypatch, bend):
    """A square, and beyond its side a triangle pair with three shots in line, forced to be a ring."""
    xyz = np.array([[0, 0, 0], [2, 0, 0], [2, 2, 0], [0, 2, 1], [4, 0, 0], [3, -bend, 0]], dtype=float)
    triangles = np.array([[0, 1, 2], [0, 2, 3], [1, 4, 2], [1, 5, 4]], dtype=np.int32)
    neighbours = np.array([[-1, 2, 1], [0, -1, -1], [3, -1, 0], [-1, -1, 2]], dtype=np.int32)
    monkeypatch.setattr(cocircular, "tied_rings", lambda *_: np.array([0, 0, 2, 2], dtype=np.int32))
    folded = fold_ties(xyz, Mesh(triangles, neighbours), 1e-6)
    assert len(folded.folds) == 1
    assert folded.vertices[6].tolist() == [1.0, 1.0, 0.25]
    assert folded.mesh.triangles[2:4].tolist() == [[1, 4, 2], [1, 5, 4]]
    # the untouched triangle now looks at the fan triangle over the side it shares with the square
    fan = int(folded.mesh.neighbours[2, 2])
    assert folded.mesh.triangles[fan].tolist() == [1, 2, 6]
    assert folded.mesh.neighbours[fan, 0] == 2


def turned_grid(step, rounded, z, turn=17.3, shift=(0.0, 0.0)):
    """A 9 x 7 grid turned and then written down to ``rounded`` [m]."""
    a = np.radians(turn)
    x, y = np.meshgrid(np.arange(9) * step, np.arange(7) * step)
    xy = np.column_stack([x.ravel(), y.ravel()]) @ [[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]
    xy = np.round((xy + shift) / rounded) * rounded
    return np.column_stack([xy, z(*xy.T)])


@pytest.mark.parametrize(
    ("step", "rounded"),
    [(1.524, 1e-4), (1.524, 0.001 * 0.3048), (1.524, 0.01 * 0.3048), (0.6096, 0.01 * 0.3048), (0.5, 1e-3)],
)
@pytest.mark.parametrize("turn", [3.0, 17.3, 44.0, 71.9])
def test_a_turned_grid_whose_coordinates_were_rounded_is_a_tie_in_every_cell(ground, step, rounded, turn):
    rng = np.random.default_rng(2)
    shots = turned_grid(step, rounded, lambda x, y: rng.random(x.size + 0 * y.size), turn, (1e5, 2e6))
    surface = ground(shots)
    areas = np.add.reduceat(surface.triangle_areas[surface.folds.triangles], surface.folds.starts[:-1])
    cells = areas > step**2 / 2  # rounding also leaves slivers along the hull, some of them ties
    assert areas[cells] == pytest.approx(np.full(8 * 6, step**2), rel=0.02)
    assert (np.diff(surface.folds.starts)[cells] == 4).all()
    # whatever the order of the shots
    order = rng.permutation(len(shots))
    again = ground(shots[order])
    centres = [np.sort(s.vertices[s.folds.centres], axis=0) for s in (surface, again)]
    assert np.array_equal(*centres)
    assert np.array_equal(np.sort(surface.folds.gaps), np.sort(again.folds.gaps))


def test_a_plane_stays_a_plane_over_rectangles_that_were_rounded(ground):
    surface = ground(turned_grid(1.524, 0.003048, lambda x, y: 30 + 0.07 * x - 0.04 * y))
    assert len(surface.folds) == 48
    assert surface.folds.gaps.max() < 1e-12
    held = surface.triangle_gradients[surface.folds.triangles]
    assert held == pytest.approx(np.tile([0.07, -0.04], (4 * 48, 1)), abs=1e-9)
    xy = np.random.default_rng(1).uniform(0.0, 9.0, (500, 2))
    xy = xy[np.isfinite(surface.elevation(xy))]
    assert len(xy) > 200
    assert surface.elevation(xy) == pytest.approx(30 + 0.07 * xy[:, 0] - 0.04 * xy[:, 1], abs=1e-9)


def test_a_grid_that_is_skew_by_more_than_rounding_is_no_tie(ground):
    for skew, cells in ((0.002, 48), (0.02, 0)):
        x, y = np.meshgrid(np.arange(9) * 1.5, np.arange(7) * 1.5)
        z = np.random.default_rng(5).random(x.size)
        shots = np.column_stack([(x + skew * y / 1.5).ravel(), y.ravel(), z])
        assert len(ground(shots).folds) == cells


def test_shots_that_stand_anyhow_hardly_ever_tie(ground):
    rng = np.random.default_rng(6)
    folds = 0
    for _ in range(10):
        shots = np.column_stack([rng.random((200, 2)) * 28.0, rng.random(200)])  # about 2 m apart
        folds += len(ground(shots).folds)
    assert folds <= 3  # of some 6 000 sides
