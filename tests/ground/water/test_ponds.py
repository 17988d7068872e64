"""Where water stands: bowls and troughs with known volumes, and a raster flooded apart from the program."""

from __future__ import annotations

from collections.abc import Callable

import flow_oracle
import numpy as np
import pytest
import shapely

from gradework.ground.surface import Surface
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import on_surface, slivers
from gradework.ground.water.ponds import ponds, under, water_on

Ground = Callable[..., Surface]


def bowl(ground: Ground) -> Surface:
    """An upside-down pyramid 2 m deep, 8 m square, in level ground that falls away beyond."""
    shots = [(0, 0, 8.0)]
    shots += [(x, y, 10.0) for x in (-4, 4) for y in (-4, 4)]
    shots += [(x, y, 9.0) for x in (-9, 9) for y in (-9, 9)]
    return ground(shots)


def test_an_upside_down_pyramid_holds_a_third(ground: Ground) -> None:
    surface = bowl(ground)
    flow = Flow(on_surface(surface))
    (pond,) = ponds(flow)
    assert (pond.level, pond.depth) == (10.0, 2.0)
    assert pond.area == pytest.approx(64.0, rel=1e-12)
    assert pond.volume == pytest.approx(64.0 * 2.0 / 3.0, rel=1e-12)
    assert (np.array(pond.lowest[:2]) + surface.origin).tolist() == [0.0, 0.0]
    assert np.abs(np.array(pond.spill[:2]) + surface.origin).tolist() == [4.0, 4.0]
    wet = shapely.union_all([shapely.Polygon(ring) for ring in water_on(flow, pond)])
    assert wet.area == pytest.approx(64.0, rel=1e-9)


def test_a_lower_lip_lets_out_and_parts_two_ponds(ground: Ground) -> None:
    """Two bowls in a row with a low ridge between: one water above it, two once the lip is lower."""
    across = np.array([(x, y) for x in range(-10, 11, 2) for y in (-4, -2, 0, 2, 4)])

    def made(lip: float) -> Surface:
        height = np.where(np.abs(across[:, 1]) > 1, 10.0, 9.0 + 0.6 * np.cos(across[:, 0] * np.pi / 4.0))
        height[np.abs(across[:, 0]) > 7] = 10.0
        height[(across[:, 0] == 8) & (across[:, 1] == 0)] = lip
        height[(across[:, 0] == 10) & (across[:, 1] == 0)] = 8.0
        return ground(np.column_stack((across, height)))

    (one,) = ponds(Flow(on_surface(made(9.9))))
    assert one.level == 9.9
    low, high = ponds(Flow(on_surface(made(9.2)))), 9.6
    assert sorted(round(pond.level, 9) for pond in low) == [9.2, high]


def test_a_dry_slope_and_level_ground_hold_nothing(ground: Ground) -> None:
    marks = np.arange(0.0, 13.0, 3.0)
    for fall in (0.05, 0.0):
        surface = ground([(x, y, 10.0 + fall * x) for x in marks for y in marks])
        assert ponds(Flow(on_surface(surface))) == ()


@pytest.mark.parametrize("seed", [3, 12, 17, 22])
def test_a_raster_flooded_apart_agrees(seed: int) -> None:
    """Cells of 8 cm on the triangles themselves: level, and how much stands on it."""
    surface = flow_oracle.yard(seed).surface
    flow = Flow(on_surface(surface))
    step = 0.08
    low, high = surface.hull_xy.min(axis=0), surface.hull_xy.max(axis=0)
    axes = [np.arange(a, b + 1e-9, step) for a, b in zip(low, high, strict=True)]
    xy = np.stack(np.meshgrid(*axes), axis=-1)
    height = surface.elevation(xy.reshape(-1, 2)).reshape(xy.shape[:2])
    height[slivers(surface)[surface.locate(xy.reshape(-1, 2))].reshape(height.shape)] = np.nan
    _, water = flow_oracle.flooded(height)
    stands = float(np.nansum(water - height)) * step**2
    found = ponds(flow)
    assert sum(pond.volume for pond in found) == pytest.approx(stands, rel=0.05, abs=2e-3)
    for pond in found:
        cell = np.rint((np.array(pond.lowest[:2]) + surface.origin - low) / step).astype(int)
        assert water[cell[1], cell[0]] == pytest.approx(pond.level, abs=0.02)


def test_under_a_level_between_the_corners() -> None:
    """Against the same triangle cut into many."""
    heights, area = np.array([[1.0, 1.4, 2.0]]), np.array([3.0])
    n = 400
    i, j = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    keep = i + j < n
    share = np.stack([i + 1 / 3, j + 1 / 3, n - i - j - 2 / 3], axis=-1)[keep] / n
    twin = keep & (i + j < n - 1)
    share = np.concatenate((share, np.stack([i + 2 / 3, j + 2 / 3, n - i - j - 4 / 3], axis=-1)[twin] / n))
    z = share @ heights[0]
    for level in (0.5, 1.1, 1.4, 1.7, 2.0, 2.5):
        volume, wet = under(heights, area, np.array([level]))
        assert volume[0] == pytest.approx(float(np.maximum(level - z, 0.0).mean()) * 3.0, abs=1e-4)
        assert wet[0] == pytest.approx(float((z < level).mean()) * 3.0, abs=1e-2)
