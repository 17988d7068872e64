"""The edge of a slab: the thickened part below it, and form boards by height along the ground outside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import Outline, Pieces
from gradework.errors import CheckError

Floats = NDArray[np.float64]

_ON_SIDE = 1e-7  # [m] clipped corners lie on a side to well below this


def rib_volume(outline: Outline, *, depth: float, width: float, slope: float = 1.0) -> float:
    """Give the concrete below the slab in its thickened edge [m³]: ``width`` [m] at the bottom, mitred
    corners.

    ``depth`` [m] is from the underside of the slab down; ``slope`` is run over rise of the inner face.
    Holes of the outline get an edge too. Exact for outlines whose corners do not meet: the area within a
    distance r of the sides is perimeter x r - k r², k being the sum of the tangents of half the turns.
    Raises ``ValueError`` where the edges of opposite sides would meet.
    """
    if depth <= 0.0:
        return 0.0
    perimeter, turns = outline.perimeter, sum(_half_turns(ring) for ring in outline.rings)
    reach = width + slope * depth
    left = outline.area - perimeter * reach + turns * reach**2
    if left <= 0.0 or perimeter - 2.0 * turns * reach <= 0.0:
        raise ValueError(f"edges {reach:g} m wide would meet in the middle of the slab")
    spread = slope * depth
    bottom = perimeter * width - turns * width**2
    return depth * (bottom + spread * (0.5 * perimeter - turns * width) - turns * spread**2 / 3.0)


def _half_turns(ring: Floats) -> float:
    side = np.roll(ring, -1, axis=0) - ring
    before = np.roll(side, 1, axis=0)
    cross = before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]
    dot = (before * side).sum(axis=1)
    return float(np.tan(0.5 * np.arctan2(cross, dot)).sum())


@dataclass(frozen=True)
class SideGround:
    """The ground along one side of the outline: ``along`` (k,) from its first corner, ``level`` (k,) [m]."""

    name: str
    along: Floats
    level: Floats

    @property
    def length(self) -> float:
        """Give the length of the side [m]."""
        return float(self.along[-1])

    def length_between(self, low: float, high: float) -> float:
        """Give the length of the side [m] where the ground lies above ``low`` and not above ``high`` [m]."""
        a, b = self.level[:-1], self.level[1:]
        steps = np.diff(self.along)
        rise = b - a
        flat = np.abs(rise) < 1e-12
        safe = np.where(flat, 1.0, rise)

        def below(limit: float) -> Floats:
            crossing = np.clip((limit - a) / safe, 0.0, 1.0)
            part: Floats = np.where(rise > 0.0, crossing, 1.0 - crossing)
            return np.where(flat, (a <= limit).astype(np.float64), part)

        return float((steps * (below(high) - below(low))).sum())


def ground_along_sides(outline: Outline, pieces: Pieces) -> tuple[SideGround, ...]:
    """Read the ground along each side from the pieces clipped by the outline: straight between their corners.

    Raises ``CheckError`` where the pieces leave part of a side without ground.
    """
    points = pieces.corners.reshape(-1, 3)
    site = points[:, :2] + pieces.origin
    found = []
    names = iter(outline.names)
    for ring in outline.rings:
        own = [next(names) for _ in ring]
        for number, start in enumerate(ring):
            after = (number + 1) % len(ring)
            side = ring[after] - start
            length = math.hypot(*side)
            from_start = site - start
            along = from_start @ side / length
            off = np.abs(from_start[:, 0] * side[1] - from_start[:, 1] * side[0]) / length
            on = (off < _ON_SIDE) & (along > -_ON_SIDE) & (along < length + _ON_SIDE)
            order = np.argsort(along[on], kind="stable")
            here, level = along[on][order], points[on, 2][order]
            keep = np.concatenate([[True], np.diff(here) > _ON_SIDE]) if len(here) else np.empty(0, bool)
            here, level = here[keep], level[keep]
            if len(here) < 2 or here[0] > _ON_SIDE * 10 or here[-1] < length - _ON_SIDE * 10:
                raise CheckError(f"no ground along the side from {own[number]}")
            found.append(SideGround(f"{own[number]} to {own[after]}", here - here[0], level))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class FormStretch:
    """Form boards of one height [m] and the length of edge that needs them [m]."""

    height: float
    length: float


def form_boards(
    sides: Sequence[SideGround], *, top: float, least: float, most: float, heights: Sequence[float]
) -> tuple[FormStretch, ...]:
    """Choose boards for the edge: from the ground outside up to ``top`` [m], ``least`` to ``most`` high [m].

    ``heights`` [m] are the boards sold. Edge higher than the highest board takes courses of it. All stretches
    together are as long as the sides. Raises ``CheckError`` when they are not.
    """
    total = sum(side.length for side in sides)
    sold = [height for height in sorted(heights) if height < most - 1e-9]
    # The highest class ends at the deepest edge; what is higher than any board sold is stacked.
    classes = sorted({least, *(height for height in sold if height > least), max(most, least)})
    stretches = []
    covered = 0.0
    for low, high in zip([None, *classes[:-1]], classes, strict=True):
        floor = -math.inf if high == classes[-1] else top - high
        ceiling = math.inf if low is None else top - low
        length = sum(_between(side, floor, ceiling) for side in sides)
        covered += length
        if length > 1e-9:
            stretches.append(FormStretch(_sold_height(high, heights), length))
    if abs(covered - total) > 1e-6 * total:
        raise CheckError(f"form boards cover {covered} m of {total} m of edge")
    merged: dict[float, float] = {}
    for stretch in stretches:
        merged[stretch.height] = merged.get(stretch.height, 0.0) + stretch.length
    return tuple(FormStretch(height, length) for height, length in sorted(merged.items()))


def _between(side: SideGround, low: float, high: float) -> float:
    return side.length_between(low, high)


def _sold_height(needed: float, heights: Sequence[float]) -> float:
    fitting = [height for height in sorted(heights) if height >= needed - 1e-9]
    if fitting:
        return fitting[0]
    return math.ceil(needed / max(heights) - 1e-9) * max(heights)
