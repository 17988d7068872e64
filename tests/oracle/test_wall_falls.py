"""The falls from the walls against dense sampling, on 300 random grids of shots."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.checks.check import ONE_READING
from gradework.foundations.checks.drainage_rules import IRC_2015
from gradework.foundations.checks.wall_falls import PUDDLE, wall_falls
from gradework.foundations.checks.wall_strips import PadTop, Wall, walls_of
from gradework.ground.locate import TOUCH
from gradework.ground.surface import Surface

Ground = Callable[..., Surface]

SHAPES = [
    [(0, 0), (5, 0), (5, 3), (0, 3)],
    [(0, 0), (6, 0), (6, 4), (3, 4), (3, 2), (0, 2)],
    [(0, 0), (4, 0), (5, 2), (2, 4), (-1, 2)],
]
ACROSS, OUT = 90, 90
STEPS = np.linspace(0.0, 1.0, OUT)


def yard(seed: int) -> tuple[np.ndarray, Outline]:
    """Shots on a grid, a little off it, on ground that is rough, tilted, or has one mound; a building."""
    rng = np.random.default_rng(seed)
    step = rng.uniform(1.0, 2.5)
    places = np.arange(-9.0, 9.01, step)
    x, y = (a.ravel() for a in np.meshgrid(places, places))
    xy = np.column_stack((x, y)) + rng.uniform(-0.2, 0.2, (len(x), 2)) * step
    z = xy @ rng.uniform(-0.15, 0.15, 2)
    z += rng.normal(0.0, rng.choice([0.0, 0.02, 0.2]), len(z))
    if seed % 3 == 0:
        z[np.argmin(np.hypot(*(xy - rng.uniform(-4.0, 4.0, 2)).T))] += rng.uniform(0.2, 1.0)
    ring = np.array(SHAPES[seed % len(SHAPES)], dtype=float)
    turn = np.radians(rng.uniform(0.0, 90.0))
    frame = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    ring = (ring - ring.mean(axis=0)) @ frame + rng.uniform(-0.5, 0.5, 2)
    return np.column_stack((xy, z)), Outline.polygon(ring)


def sampled(surface: Surface, wall: Wall, building: Outline, pad: PadTop | None) -> tuple[float, float, bool]:
    """The greatest rise and the least spare fall on many looks square to a wall, and if all are known."""
    along = (np.arange(ACROSS) + 0.5) / ACROSS * wall.length
    far = np.minimum(IRC_2015.reach, crossed(building, wall, along, np.zeros(ACROSS)))
    near = np.zeros(ACROSS)
    if pad is not None:
        near = crossed(pad.outline, wall, along, near)
        far = np.minimum(far, crossed(pad.outline, wall, along, near))
    some = near < far - TOUCH
    along, near, far = along[some], near[some], far[some]
    out = near[:, None] + (far - near)[:, None] * STEPS
    places = wall.start + along[:, None, None] * wall.along + out[:, :, None] * wall.outward
    height = surface.elevation(places.reshape(-1, 2)).reshape(out.shape)
    base = height[:, 0] if pad is None else np.minimum(height[:, 0], pad.level)
    if pad is not None and np.nanmax(height - base[:, None]) <= PUDDLE:
        base = np.full(len(base), pad.level)  # no ground rises from the edge: what shows of it counts
    spare = base - height[:, -1] - IRC_2015.fall * far
    return float(np.nanmax(height - base[:, None])), float(np.nanmin(spare)), not np.isnan(height).any()


def crossed(outline: Outline, wall: Wall, along: np.ndarray, beyond: np.ndarray) -> np.ndarray:
    """How far out looks (n,) from a wall next meet an outline beyond a distance; inf where they do not."""
    ring = outline.rings[0]
    found = np.full(len(along), np.inf)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        (ua, ta), (ub, tb) = wall.frame(np.array([a, b]))
        if ua != ub:
            t = ta + (along - ua) / (ub - ua) * (tb - ta)
            meets = ((ua < along) != (ub < along)) & (t > beyond + 2 * TOUCH)
            found = np.where(meets, np.minimum(found, t), found)
    return found


@pytest.mark.parametrize("batch", range(30))
def test_highest_ground_and_least_fall_are_those_of_dense_sampling(ground: Ground, batch: int) -> None:
    """Never less bad than any sample; no worse than the steepest triangle allows between two samples."""
    told = 0
    for seed in range(10 * batch, 10 * batch + 10):
        shots, building = yard(seed)
        surface = ground(shots)
        pad = None
        if seed % 2:
            level = float(np.median(surface.elevation(building.rings[0]))) + (seed % 7 - 3) * 0.1
            pad = PadTop(level, building.grown(0.4))
        steep = float(np.nanmax(surface.triangle_slopes[surface.triangle_areas > 1e-6]))
        for wall, fall in zip(
            walls_of(building), wall_falls(surface, building, IRC_2015, pad=pad), strict=True
        ):
            rise, spare, whole = sampled(surface, wall, building, pad)
            assert bool(fall.missing) <= (not whole) or fall.known > IRC_2015.reach - 0.1
            slack = 2.0 * steep * (wall.length / ACROSS + IRC_2015.reach / OUT)
            assert rise - 1e-5 * (1.0 + steep) <= fall.rise <= max(rise, 0.0) + slack
            if whole and fall.verdict != "toward":
                assert spare - slack <= fall.fall - fall.needed <= spare + 1e-5 * (1.0 + steep)
                told += 1
            if fall.verdict == "away":
                assert spare >= -ONE_READING - slack

    assert told > 0
