"""The ground that drains to what is dug beside a pad: what was surveyed of it, and where more may come in.

What was surveyed is followed on the finished ground, exactly; nobody knows what lies beyond the survey.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.sides import sides_of
from gradework.earthwork.nearby import polygon_of
from gradework.ground.water.catchment import drained
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import WaterGround, on_surface

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

NOWHERE = np.empty((0, 2))

FARTHER = 6.096
"""[m] Shots for what drains from beyond the survey are asked for so far out, 20 ft."""

INFLOW = 0.3048
"""[m] A rim over which water comes in along less than a foot counts for nothing (judgement)."""

FLAT_RIM = 0.001
"""[-] Ground at the rim that rises outward by no more brings nothing."""


def before_line(pad: Floats, sides: tuple[int, int], offset: float) -> Floats:
    """The half planes (k, 3) that bound the ground before a line ``offset`` [m] out from some ``sides`` of a
    pad (n, 2): first and last, counted on past 0."""
    every = sides_of(pad)
    own = (every[number % len(every)] for number in range(sides[0], sides[1] + 1))
    return np.array([(*-side.outward, -float(side.outward @ side.start) - offset) for side in own])


def finished_water(finished: Surface, pad: Outline, level: float) -> WaterGround:
    """The finished ground round a pad or slab whose top is at a ``level`` [m]: water runs along its foot."""
    made = on_surface(finished)
    middles = made.places[made.triangles].mean(axis=1) + finished.origin
    inside = shapely.contains_xy(polygon_of(pad), *middles.T)
    return made.without(inside, level)


def drains_to(finished: Surface, pad: Outline, level: float, lines: Floats) -> float | None:
    """The ground [m²] that drains to ``lines`` (s, 2, 2), site [m], of what is dug, hollows full; None where
    none of them is a side of the finished ground's triangles."""
    made = finished_water(finished, pad, level)
    made.catch([lines - finished.origin])
    if not (made.caught >= 0).any():
        return None
    return float(drained(Flow(made, 1)).areas[0])


def shots_above(surface: Surface, nearby: Nearby, before: Floats) -> Floats:
    """Where to shoot (k, 2), site [m], at most three places: out from the rim of the survey beyond a line,
    where it ends on ground that rises on. Nowhere that a wall, a fence or a lot line keeps one from."""
    row, side = np.nonzero(surface.neighbours < 0)
    ring = surface.vertices[surface.triangles[row], :2]
    start, end = ring[np.arange(len(row)), side], ring[np.arange(len(row)), (side + 1) % 3]
    step, middle = end - start, 0.5 * (start + end)
    length = np.hypot(*step.T)
    out = np.stack((step[:, 1], -step[:, 0]), axis=1) / np.maximum(length, 1e-9)[:, None]
    rise = (surface.triangle_gradients[row] * out).sum(axis=1)  # NaN of one without area brings nothing
    comes = (before[:, :2] @ middle.T < before[:, 2:]).any(axis=0) & (rise > FLAT_RIM)
    places = middle + FARTHER * out + surface.origin
    comes &= nearby.measurable(middle + INFLOW * out + surface.origin) & ~nearby.beyond(places)
    if length[comes].sum() <= INFLOW:
        return NOWHERE
    arm = middle[comes] - middle.mean(axis=0)
    way = arm.sum(axis=0)
    turn = np.arctan2(arm[:, 0] * way[1] - arm[:, 1] * way[0], arm @ way)  # from the middle of where it comes
    wanted = places[comes][np.argsort(turn, kind="stable")]
    picked: Floats = wanted[np.unique([0, len(wanted) // 2, len(wanted) - 1])]
    return picked
