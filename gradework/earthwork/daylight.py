"""The outline of a pad and its side slopes on the ground: for drawing and staking, never for volumes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HAIR = 1e-6
"""[m] Gaps of this width are closed and corners this close joined; no stake is set closer."""


def daylight_rings(pad: Floats, parts: Sequence[tuple[Floats, Floats]]) -> list[Floats]:
    """Join the pad (n, 2) and the covered parts of triangles into rings, not closed.

    parts : triangles (k, 3, 2) and the height of the slope over the ground at their corners (k, 3) [m];
    only where it is above zero the ground is covered. Outside rings run anticlockwise, islands left bare
    clockwise.
    """
    shapes = [shapely.Polygon(pad)]
    for triangles, heights in parts:
        for corners, height in zip(triangles, heights, strict=True):
            covered = _covered(corners, height)
            if len(covered) >= 3:
                shapes.append(shapely.Polygon(covered))
    valid = np.array([shape for shape in shapes if shape.area > HAIR**2])
    # rounding leaves hairline gaps between neighbours: a hair wider, joined, and back
    wider = shapely.buffer(valid, HAIR, join_style="mitre")
    joined = shapely.union_all(wider).buffer(-HAIR, join_style="mitre").simplify(HAIR)
    rings = []
    for polygon in shapely.get_parts(joined):
        if polygon.covers(shapely.Point(pad.mean(axis=0))):
            turned = shapely.orient_polygons(polygon)
            rings += [np.asarray(ring.coords)[:-1] for ring in (turned.exterior, *turned.interiors)]
    return rings


def _covered(corners: Floats, height: Floats) -> list[tuple[float, float]]:
    """The part of one triangle where the height is above zero."""
    kept = []
    for k in range(3):
        after = (k + 1) % 3
        if height[k] > 0.0:
            kept.append((float(corners[k, 0]), float(corners[k, 1])))
        if (height[k] > 0.0) != (height[after] > 0.0):
            part = height[k] / (height[k] - height[after])
            x, y = corners[k] + part * (corners[after] - corners[k])
            kept.append((float(x), float(y)))
    return kept
