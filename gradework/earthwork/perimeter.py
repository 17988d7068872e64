"""The ground along the sides of an outline: straight between the points where a side crosses a triangle edge.

Taken from the pieces of the clipped ground, so it is the same ground the volumes are made of.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline

Floats = NDArray[np.float64]

ON_SIDE = 1e-9
"""Part of the outline's size within which a corner of a piece lies on a side: rounding, nothing more."""

HULL_STRIP = 0.0015
"""[m] The same where the outline runs along the hull and up to 1 mm outside it (and its mitre)."""


@dataclass(frozen=True, eq=False)
class Side:
    """The ground along one side, from corner to corner in the direction of the ring.

    start, end : corner names.  along : (k,) distance from the first corner [m], rising, from 0 to the length.
    ground : (k,) elevation there [m]; straight between.  xy : (2, 2) the two corners, site frame [m].
    """

    start: str
    end: str
    xy: Floats
    along: Floats
    ground: Floats

    @property
    def length(self) -> float:
        """Length of the side [m]."""
        return float(self.along[-1])

    @property
    def fall(self) -> float:
        """Ground at the first corner less ground at the last [m]: positive where it falls."""
        return float(self.ground[0] - self.ground[-1])

    def point(self, along: float) -> tuple[float, float]:
        """The place on the side at a distance from its first corner, site frame [m]."""
        x, y = self.xy[0] + (self.xy[1] - self.xy[0]) * (along / self.length)
        return float(x), float(y)


def sides(outline: Outline, pieces: Pieces) -> tuple[Side, ...]:
    """The ground along every side of the outline, ring after ring.

    Raises CheckError where the pieces leave a corner of the outline without ground.
    """
    whole = abs(pieces.area - outline.area) <= ON_SIDE * outline.area
    points = np.unique(pieces.corners.reshape(-1, 3), axis=0)
    low, high = points[:, :2].min(axis=0), points[:, :2].max(axis=0)
    near = ON_SIDE * float(np.hypot(*(high - low))) if whole else HULL_STRIP
    found, at = [], 0
    for ring in outline.rings:
        local = ring - pieces.origin
        names = outline.names[at : at + len(ring)]
        at += len(ring)
        for number in range(len(ring)):
            after = (number + 1) % len(ring)
            along, ground = _profile(points, local[number], local[after], near)
            found.append(Side(names[number], names[after], ring[[number, after]], along, ground))
    return tuple(found)


def _profile(points: Floats, start: Floats, end: Floats, near: float) -> tuple[Floats, Floats]:
    """Distances along one side and the ground there, from the corners of the pieces that lie on it."""
    step = end - start
    length = float(np.hypot(*step))
    direction = step / length
    local = points[:, :2] - start
    along = local @ direction
    off = local[:, 0] * direction[1] - local[:, 1] * direction[0]
    on = np.flatnonzero((np.abs(off) <= near) & (along >= -near) & (along <= length + near))
    on = on[np.argsort(along[on], kind="stable")]
    if len(on) < 2 or along[on[0]] > 2 * near or along[on[-1]] < length - 2 * near:
        raise CheckError("a side of the outline has no ground at one of its corners")
    where, ground = along[on], points[on, 2]
    apart = np.concatenate((np.diff(where) > near, [True]))  # one point of each cluster, the last
    where, ground = where[apart].copy(), ground[apart]
    where[0], where[-1] = 0.0, length
    where.setflags(write=False)
    ground.setflags(write=False)
    return where, ground
