"""The thickened edge of a slab: its concrete by the formula of mitred strips."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import Outline

Floats = NDArray[np.float64]


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
