"""A hollow outline, or one with holes, as triangles: the constrained triangulation of its corners.

The library under it hangs on what is not a number and crashes on a bad index, so it is only ever given rings
that ``outline`` has checked, and what it returns is checked again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pythoncdt
from numpy.typing import NDArray

from gradework.earthwork.ring import ring_area
from gradework.errors import CheckError

Floats = NDArray[np.float64]

CLOSURE = 1e-9
"""The parts' areas must add up to the outline's within this part of it."""


def convex_parts(rings: Sequence[Floats]) -> list[Floats]:
    """Split an outline (outside anticlockwise, holes clockwise, local coordinates) into triangles (3, 2),
    anticlockwise.

    Raises CheckError where the parts do not cover the outline exactly once.
    """
    corners = np.concatenate(rings)
    sides = np.concatenate([_sides(ring, at) for ring, at in zip(rings, _starts(rings), strict=True)])
    if not np.isfinite(corners).all() or len(np.unique(corners, axis=0)) != len(corners):
        raise CheckError("an outline's corners are not finite and different")
    triangulation = pythoncdt.Triangulation(
        pythoncdt.VertexInsertionOrder.AS_PROVIDED, pythoncdt.IntersectingConstraintEdges.NOT_ALLOWED, 0.0
    )
    triangulation.insert_vertices(corners)  # type: ignore[call-overload]  # takes any buffer
    triangulation.insert_edges(sides.astype(np.uint32))  # type: ignore[call-overload]
    triangulation.erase_outer_triangles_and_holes()
    numbers = triangulation.triangles_array(copy=True)["vertices"].astype(np.intp)
    if len(numbers) == 0 or int(numbers.max()) >= len(corners):
        raise CheckError("the outline's triangulation returned no triangles or an unknown corner")
    parts = corners[numbers]
    areas = np.array([ring_area(part) for part in parts])
    area = sum(ring_area(ring) for ring in rings)
    if (areas < 0).any() or not abs(areas.sum() - area) <= CLOSURE * area:
        raise CheckError(f"the outline's parts cover {areas.sum()!r} m², the outline {area!r} m²")
    return list(parts[areas > 0])


def _starts(rings: Sequence[Floats]) -> list[int]:
    return [0, *np.cumsum([len(ring) for ring in rings])[:-1].tolist()]


def _sides(ring: Floats, at: int) -> NDArray[np.intp]:
    number = np.arange(len(ring))
    return np.stack((at + number, at + (number + 1) % len(ring)), axis=1)
