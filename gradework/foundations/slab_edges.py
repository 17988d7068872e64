"""The edge of a slab: the thickened part below it, and form boards by height along the ground outside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import Outline
from gradework.earthwork.perimeter import Side
from gradework.errors import CheckError

Floats = NDArray[np.float64]

_FLAT = 1e-12  # [m] ground that rises less than this between two points is level there


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


def length_between(side: Side, low: float, high: float) -> float:
    """Give the length of a side [m] where the ground lies above ``low`` and not above ``high`` [m]."""
    a, b = side.ground[:-1], side.ground[1:]
    steps = np.diff(side.along)
    rise = b - a
    flat = np.abs(rise) < _FLAT
    safe = np.where(flat, 1.0, rise)

    def below(limit: float) -> Floats:
        crossing = np.clip((limit - a) / safe, 0.0, 1.0)
        part: Floats = np.where(rise > 0.0, crossing, 1.0 - crossing)
        return np.where(flat, (a <= limit).astype(np.float64), part)

    return float((steps * (below(high) - below(low))).sum())


@dataclass(frozen=True, slots=True)
class FormStretch:
    """Form boards of one height [m] and the length of edge that needs them [m].

    Where no board sold is so high, ``courses`` boards of equal height stand one above the other.

    >>> FormStretch(0.5715, 10.8, courses=2).board
    0.28575
    """

    height: float
    length: float
    courses: int = 1

    @property
    def board(self) -> float:
        """Give the height of one board [m]."""
        return self.height / self.courses


def form_boards(
    sides: Sequence[Side], *, top: float, least: float, most: float, heights: Sequence[float]
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
        length = sum(length_between(side, floor, ceiling) for side in sides)
        covered += length
        if length > 1e-9:
            stretches.append(FormStretch(_sold_height(high, heights), length))
    if abs(covered - total) > 1e-6 * total:
        raise CheckError(f"form boards cover {covered} m of {total} m of edge")
    merged: dict[float, float] = {}
    for stretch in stretches:
        merged[stretch.height] = merged.get(stretch.height, 0.0) + stretch.length
    tallest = max(heights)
    return tuple(
        FormStretch(height, length, max(1, round(height / tallest)))
        for height, length in sorted(merged.items())
    )


def _sold_height(needed: float, heights: Sequence[float]) -> float:
    fitting = [height for height in sorted(heights) if height >= needed - 1e-9]
    if fitting:
        return fitting[0]
    return math.ceil(needed / max(heights) - 1e-9) * max(heights)
