"""Laws of the surface: what must not change, and what must change in step."""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

ROUNDING = 1e-11  # [m³] sums of some hundred products of metres, in doubles
SHIFTED = 1e-7  # [m³] state-plane coordinates hold only 1e-10 m; times heights of metres and sides of a yard


def grid_yard(seed: int, columns=7, rows=5, dx=1.5, dy=2.0):
    """A square-grid survey: every cell is a tie."""
    rng = np.random.default_rng(seed)
    x, y = np.meshgrid(np.arange(columns) * dx, np.arange(rows) * dy)
    return np.column_stack([x.ravel(), y.ravel(), rng.random(x.size)])


def scattered_yard(seed: int, n=40):
    """Places on a coarse raster, so that ties of four and more, and shots in line, are common."""
    rng = np.random.default_rng(seed)
    places = np.unique(rng.integers(0, 12, (n, 2)), axis=0)
    return np.column_stack([places * 0.75, rng.random(len(places))])


YARDS = [grid_yard(1), scattered_yard(2), scattered_yard(3), scattered_yard(4, n=90)]


@pytest.mark.parametrize("xyz", YARDS)
def test_order_of_rows_changes_nothing(ground, volume, xyz):
    surface = ground(xyz)
    where = np.random.default_rng(5).random((50, 2)) * xyz[:, :2].max(axis=0)
    for seed in range(10):
        again = ground(np.random.default_rng(seed).permutation(xyz))
        assert volume(again) == volume(surface)
        assert np.array_equal(again.elevation(where), surface.elevation(where), equal_nan=True)
        assert np.array_equal(np.sort(again.folds.gaps), np.sort(surface.folds.gaps))


@pytest.mark.parametrize("xyz", YARDS)
@pytest.mark.parametrize("shift", [(3, -8), (0.3048, 17.77), (1.92e6, 0.65e6), (-2.1e6, 6.4e6), (-0.5, 1e-3)])
def test_shift_changes_nothing(ground, volume, xyz, shift):
    surface = ground(xyz)
    moved = ground(xyz + np.array([*shift, 0.0]))
    assert volume(moved) == pytest.approx(volume(surface), abs=SHIFTED if max(shift) > 1e3 else ROUNDING)
    assert len(moved.folds) == len(surface.folds)
    where = np.random.default_rng(6).uniform(0.2, 0.8, (50, 2)) * xyz[:, :2].max(axis=0)
    assert moved.elevation(where + shift) == pytest.approx(surface.elevation(where), abs=1e-7, nan_ok=True)


@pytest.mark.parametrize("xyz", YARDS)
def test_quarter_turns_and_mirror_images_change_nothing(ground, volume, xyz):
    surface = ground(xyz)
    where = np.random.default_rng(7).random((50, 2)) * xyz[:, :2].max(axis=0)
    for turn in (
        [[0, 1], [-1, 0]],
        [[-1, 0], [0, -1]],
        [[0, -1], [1, 0]],
        [[-1, 0], [0, 1]],
        [[0, 1], [1, 0]],
    ):
        other = ground(np.column_stack([xyz[:, :2] @ turn, xyz[:, 2]]))
        assert volume(other) == pytest.approx(volume(surface), abs=ROUNDING)
        assert len(other.folds) == len(surface.folds)
        assert other.elevation(where @ turn) == pytest.approx(
            surface.elevation(where), abs=1e-12, nan_ok=True
        )


@pytest.mark.parametrize("xyz", YARDS)
@pytest.mark.parametrize("degrees", [15, 30, 45, 77.7])
def test_any_turn_keeps_volume_area_and_folds(ground, volume, xyz, degrees):
    surface = ground(xyz)
    a = np.radians(degrees)
    turned = xyz[:, :2] @ [[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]
    other = ground(np.column_stack([turned, xyz[:, 2]]))
    # stations in line along the hull are off it by a rounding error: 1e-15 m times a side
    assert volume(other) == pytest.approx(volume(surface), abs=ROUNDING)
    assert other.area == pytest.approx(surface.area, abs=ROUNDING)
    assert len(other.folds) == len(surface.folds)
    assert len(other.triangles) == len(surface.triangles)
    steep = np.nanmax(surface.triangle_slopes)
    assert np.nanmax(other.triangle_slopes) == pytest.approx(steep, rel=1e-9)


@pytest.mark.parametrize("xyz", YARDS)
@pytest.mark.parametrize("scale", [2.0, 0.5, 0.3048, 10.0])
def test_scale(ground, volume, xyz, scale):
    surface = ground(xyz)
    other = ground(xyz * scale)
    assert volume(other) == pytest.approx(volume(surface) * scale**3, rel=1e-12)
    assert other.area == pytest.approx(surface.area * scale**2, rel=1e-12)


@pytest.mark.parametrize("xyz", YARDS)
def test_adding_a_constant_to_the_elevations_lifts_the_ground(ground, volume, xyz):
    surface = ground(xyz)
    other = ground(xyz + np.array([0, 0, 100.0]))
    assert volume(other) == pytest.approx(volume(surface) + 100.0 * surface.area, rel=1e-12)
    assert other.folds.gaps == pytest.approx(surface.folds.gaps, abs=1e-12)
    assert np.array_equal(other.triangles, surface.triangles)


@settings(max_examples=60, deadline=None)
@given(
    columns=st.integers(2, 8),
    rows=st.integers(2, 8),
    dx=st.floats(0.05, 50),
    dy=st.floats(0.05, 50),
    corner=st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4)),
    seed=st.integers(0, 2**32 - 1),
)
def test_any_rectangular_grid_gives_the_unit_area_rule(ground, volume, columns, rows, dx, dy, corner, seed):
    """Corner weights 1, 2, 4 (borrow pits): the volume is dx dy / 4 times the weighted sum of heights."""
    x, y = np.meshgrid(np.arange(columns) * dx, np.arange(rows) * dy)
    z = np.random.default_rng(seed).uniform(-3, 3, x.shape)
    weight = np.ones_like(z)
    weight[1:-1] *= 2
    weight[:, 1:-1] *= 2
    xyz = np.column_stack([x.ravel() + corner[0], y.ravel() + corner[1], z.ravel()])
    surface = ground(xyz)
    assert len(surface.folds) == (columns - 1) * (rows - 1)
    scale = surface.area * 3
    assert abs(volume(surface) - (weight * z).sum() * dx * dy / 4) <= 1e-9 * scale


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), n=st.integers(4, 60), a=st.floats(-1, 1), b=st.floats(-1, 1))
def test_a_plane_comes_out_as_that_plane(ground, seed, n, a, b):
    rng = np.random.default_rng(seed)
    places = np.unique(rng.integers(0, 9, (n, 2)), axis=0) * 0.6
    if np.linalg.matrix_rank(places - places[0]) < 2:
        return
    xyz = np.column_stack([places, 30 + a * places[:, 0] + b * places[:, 1]])
    surface = ground(xyz)
    where = rng.random((40, 2)) * 4.8
    found = surface.elevation(where)
    # not within the millimetre outside the hull, where the nearest point of the hull answers
    around = [surface.elevation(where + step) for step in ([0.002, 0], [-0.002, 0], [0, 0.002], [0, -0.002])]
    inside = ~np.isnan(found) & ~np.isnan(around).any(axis=0)
    assert found[inside] == pytest.approx((30 + where @ [a, b])[inside], abs=1e-12)
    assert surface.gradient(where)[inside] == pytest.approx(np.tile([a, b], (inside.sum(), 1)), abs=1e-11)
    assert surface.folds.gaps == pytest.approx(np.zeros(len(surface.folds)), abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), n=st.integers(3, 80))
def test_every_survey_on_a_raster_is_covered_once(ground, seed, n):
    """Ties of every kind: fans cover the hull, no triangle is turned over, neighbours agree."""
    places = np.unique(np.random.default_rng(seed).integers(0, 8, (n, 2)), axis=0)
    if np.linalg.matrix_rank(places - places[0]) < 2:
        return
    xyz = np.column_stack([places, np.random.default_rng(seed).random(len(places))])
    surface = ground(xyz)
    assert (surface.triangle_areas > 0).all()
    ring = surface.hull_xy
    ahead = np.roll(ring, -1, axis=0)
    hull_area = (ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]).sum() / 2
    assert surface.area == pytest.approx(hull_area, rel=1e-12)
    assert set(surface.triangles.ravel().tolist()) == set(range(len(surface.vertices)))
    for t, k in np.argwhere(surface.neighbours >= 0).tolist():
        a, b = surface.triangles[t, k], surface.triangles[t, (k + 1) % 3]
        other = surface.neighbours[t, k]
        back = int(np.flatnonzero(surface.neighbours[other] == t)[0])
        assert (surface.triangles[other, back], surface.triangles[other, (back + 1) % 3]) == (b, a)
