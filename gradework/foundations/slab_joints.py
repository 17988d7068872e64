"""Where a plain slab is cut, so that it cracks there and not elsewhere."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gradework.units.bulk import M_PER_FT

LEAST_FACTOR, MOST_FACTOR = 24.0, 36.0
"""Joint spacing over thickness of plain slabs [-] (ACI 302.1R-96 in a trade magazine; quoted)."""

MOST_SPACING = 18.0 * M_PER_FT
"""No spacing above this [m] (the same)."""

DEPTH_PART = 0.25
"""Depth of a joint over thickness [-] (ACI 302 and NRMCA CIP 6; the figure is from memory)."""


@dataclass(frozen=True, slots=True)
class Joints:
    """Panels along and across; joints ``depth`` deep, ``length`` in all, ``spacing`` the widest panel [m]."""

    along: int
    across: int
    spacing: float
    depth: float
    length: float


def spacing_range(thickness: float) -> tuple[float, float]:
    """Give the published range of joint spacing [m] for a thickness [m].

    >>> tuple(round(s / 0.3048, 6) for s in spacing_range(4 * 0.0254))
    (8.0, 12.0)
    """
    return min(LEAST_FACTOR * thickness, MOST_SPACING), min(MOST_FACTOR * thickness, MOST_SPACING)


def plan_joints(length: float, width: float, thickness: float) -> Joints:
    """Divide a slab [m] into panels no wider than the middle of the published range."""
    low, high = spacing_range(thickness)
    most = 0.5 * (low + high)
    along, across = (max(1, math.ceil(side / most - 1e-9)) for side in (length, width))
    cut = (along - 1) * width + (across - 1) * length
    return Joints(along, across, max(length / along, width / across), DEPTH_PART * thickness, cut)
