"""A mesh under an outline, and cut and fill of many grounds on it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.likely import Band, band_of, cut_and_fill_of, figure_of, likely_under, mesh_of
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface, Tilt

TERRAIN = Path(__file__).parents[1] / "terrain" / "lidar_north.npz"
SQUARE = Outline.rectangle((3.0, 2.0), (6.0, 5.0), 20.0)
ELL = Outline.polygon([(0, 0), (5, 0), (5, 2), (2, 2), (2, 4), (0, 4)])


@pytest.mark.parametrize("outline", [SQUARE, ELL])
def test_the_mesh_covers_the_outline(outline: Outline) -> None:
    mesh = mesh_of(outline)
    assert mesh.areas.sum() == pytest.approx(outline.area, rel=1e-12)
    assert 90 < len(mesh.points) < 250
    assert len(np.unique(mesh.points.round(5), axis=0)) == len(mesh.points)


def test_each_ground_is_cut_and_filled_as_a_surface_would_be(ground: Callable[..., Surface]) -> None:
    """Planes: the closed form over the surveyed triangles gives the same, level by level."""
    surface = ground([(0, 0, 1.0), (12, 0, 1.6), (12, 12, 2.5), (0, 12, 1.9)])
    mesh, level = mesh_of(SQUARE), 1.6
    planes = np.array([surface.elevation(mesh.points) + shift for shift in (-2.0, -0.2, 0.0, 0.1, 2.0)])
    cut, fill = cut_and_fill_of(mesh, planes, level)
    wanted = cut_and_fill(clip(surface, SQUARE), [level + 2.0, level + 0.2, level, level - 0.1, level - 2.0])
    np.testing.assert_allclose(cut, [one.cut for one in wanted], atol=1e-6)
    np.testing.assert_allclose(fill, [one.fill for one in wanted], atol=1e-6)


def test_each_ground_may_have_a_level_of_its_own() -> None:
    mesh = mesh_of(ELL)
    grounds = np.random.default_rng(1).normal(0.0, 0.1, (7, len(mesh.points)))
    levels = np.linspace(-0.2, 0.2, 7)
    cut, fill = cut_and_fill_of(mesh, grounds, levels)
    alone = [cut_and_fill_of(mesh, grounds[n : n + 1], float(levels[n])) for n in range(7)]
    np.testing.assert_allclose(cut, [float(one[0][0]) for one in alone], rtol=1e-12)
    np.testing.assert_allclose(fill, [float(one[1][0]) for one in alone], rtol=1e-12)


def test_figures_are_numpys_percentiles() -> None:
    values = np.random.default_rng(2).normal(size=1000)
    assert band_of(values) == Band(*(pytest.approx(np.percentile(values, q)) for q in (10, 50, 90)))


def test_tilted_ground_has_the_same_draws_tilted(ground: Callable[..., Surface]) -> None:
    rng = np.random.default_rng(3)
    xy = np.stack(np.meshgrid(np.arange(8) * 1.5, np.arange(8) * 1.5), axis=-1).reshape(-1, 2)
    surface = ground(np.column_stack((xy, 5.0 + 0.05 * rng.standard_normal(64))))
    likely = likely_under(surface, ELL)
    assert likely_under(surface, ELL) is likely  # drawn once
    tilt = Tilt(np.array([0.1, -0.05]), np.array([2.0, 3.0]))
    steeper = likely_under(surface.tilted(tilt), ELL)
    rise = (likely.mesh.points - (2.0, 3.0)) @ (0.1, -0.05)
    np.testing.assert_allclose(steeper.grounds - likely.grounds, np.broadcast_to(rise, likely.grounds.shape))


def test_intervals_hold_on_windows_of_real_ground(ground: Callable[..., Surface]) -> None:
    """A small slice of ``python tests/bench spread``: nominal 80 % intervals of the mean ground under a pad,
    shots 3 m apart. Of 24 windows 14 to 23 must hold (binomial, 1 in 200 at 80 %)."""
    held = np.load(TERRAIN)
    z = held["base_m"] + held["unit_m"] * held["z"].astype(np.float64)
    rng, hits = np.random.default_rng(11), 0
    x, y = (part.ravel() for part in np.meshgrid(np.arange(0, 22, 3), np.arange(0, 16, 3)))
    for _ in range(24):
        i, j = int(rng.integers(0, z.shape[0] - 16)), int(rng.integers(0, z.shape[1] - 22))
        shots = z[i + y, j + x] + 0.003 * rng.standard_normal(len(x))
        surface = ground(np.column_stack((x, y, shots)))
        a, b = int(rng.integers(2, 13)), int(rng.integers(2, 8))
        pad = Outline.rectangle((a, b), (6, 5))
        mesh, grounds, _ = likely_under(surface, pad)
        cut, fill = cut_and_fill_of(mesh, grounds, 0.0)
        # bilinear cells: the mean of their corners
        cells = z[i + b : i + b + 6, j + a : j + a + 7]
        true = float((cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]).sum()) / 4.0
        band = band_of(cut - fill)
        hits += band.p10 <= true <= band.p90
    assert 14 <= hits <= 23


@pytest.mark.parametrize("count", [1, 2, 3, 7, 12])
@pytest.mark.parametrize("chance", [0.0, 10.0, 50.0, 90.0, 99.0, 100.0])
def test_a_figure_of_few_values_is_numpys_percentile(count: int, chance: float) -> None:
    values = np.random.default_rng(count).normal(size=count)
    assert figure_of(values, chance) == pytest.approx(np.percentile(values, chance))
