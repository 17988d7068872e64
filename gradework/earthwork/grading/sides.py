"""The sides of a pad and the slopes that start at them, up and down.

Along a side u runs from its first corner to its second, t outward from the edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.planes import Highest, Lowest, Plane
from gradework.earthwork.rings import half_turns

Floats = NDArray[np.float64]

STRAIGHT = 1e-9
"""A corner that turns inward by less is no corner."""


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a pad, local: ``start`` (2,) [m], unit vectors ``along`` and ``outward``, length [m]."""

    start: Floats
    along: Floats
    outward: Floats
    length: float

    def point(self, u: float, t: float) -> Floats:
        """The place (2,) [m] that far along the side and out from it."""
        place: Floats = self.start + u * self.along + t * self.outward
        return place

    def plane(self, u: float, t: float, height: float, *, along: float = 0.0, out: float = 0.0) -> Plane:
        """The plane at ``height`` [m] at (u, t), rising by ``along`` and ``out`` per metre of u and of t."""
        east, north = (along * self.along + out * self.outward).tolist()
        x, y = self.point(u, t).tolist()
        return Plane(east, north, height - east * x - north * y)


def sides_of(ring: Floats) -> tuple[Side, ...]:
    """The sides of an anticlockwise ring (k, 2), local [m], in the order of its corners."""
    steps = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(*steps.T)
    unit = steps / lengths[:, None]
    return tuple(
        Side(ring[k], unit[k], np.array([unit[k, 1], -unit[k, 0]]), float(lengths[k]))
        for k in range(len(ring))
    )


def batter_shapes(ring: Floats, level: float, run: float) -> tuple[Highest, Lowest] | None:
    """The dug and the filled slope of a whole pad, ``run``:1, mitred; None of a hollow one.

    ring : (k, 2), local, anticlockwise [m];  level : of the pad [m].
    """
    sides = sides_of(ring)
    if (half_turns(ring) < -STRAIGHT).any():
        return None
    up, down = (tuple(side.plane(0.0, 0.0, level, out=rise / run) for side in sides) for rise in (1.0, -1.0))
    return Highest(up), Lowest(down)


UPRIGHT = 1e-3
"""A face that stands straight up runs so much per rise [-]: a plane cannot stand upright."""


def room_shape(ring: Floats, floor: float, run: float) -> Highest | None:
    """What is dug beside a pad: level at ``floor`` [m] out to ``ring`` (k, 2), local, from there up, ``run``
    per rise; None of a hollow one."""
    slopes = batter_shapes(ring, floor, max(run, UPRIGHT))
    return None if slopes is None else Highest((*slopes[0].parts, Plane(0.0, 0.0, floor)))
