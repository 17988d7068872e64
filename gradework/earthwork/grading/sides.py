"""The sides of a pad and the slopes that start at them, up and down.

Along a side u runs from its first corner to its second, t outward from the edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.planes import Highest, Lowest, Plane, Shape
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


WALL = 10.0
"""[-] How steeply a slope ends where it does not belong, at the least: past an inward corner, in the pad."""


def batter_shapes(ring: Floats, level: float, run: float) -> tuple[Shape, Shape]:
    """The dug and the filled slope of a whole pad, ``run``:1, mitred at its corners.

    ring : (k, 2), local, anticlockwise [m];  level : of the pad [m].

    At an outward corner the slopes of two sides meet in a ridge, at an inward one in a valley, both half way
    between them. So what is filled is the highest, what is dug the lowest of the slopes of all sides, each
    over its own strip: as far as the ridge at an outward corner, straight out from an inward one. What
    lies between that and the valley is higher on the other side. A slope ends in walls steeper than any,
    where it counts nowhere.
    """
    sides, turns = sides_of(ring), half_turns(ring)
    up, down = (tuple(side.plane(0.0, 0.0, level, out=rise / run) for side in sides) for rise in (1.0, -1.0))
    if not is_hollow(ring):
        return Highest(up), Lowest(down)
    wall = max(WALL, 1.0 / run)
    shapes = []
    for slopes, sign in ((up, -1.0), (down, 1.0)):
        strips = []
        for number, side in enumerate(sides):
            before, after = number - 1, (number + 1) % len(sides)
            parts = [slopes[number], side.plane(0.0, 0.0, level, out=sign * wall)]
            for corner, other, u, along in (
                (number, before, 0.0, sign * wall),
                (after, after, side.length, -sign * wall),
            ):
                outward = turns[corner] > -STRAIGHT
                parts.append(slopes[other] if outward else side.plane(u, 0.0, level, along=along))
            strips.append((Lowest if sign > 0.0 else Highest)(tuple(parts)))
        shapes.append((Highest if sign > 0.0 else Lowest)(tuple(strips)))
    return shapes[0], shapes[1]


def is_hollow(ring: Floats) -> bool:
    """Whether a ring (k, 2), anticlockwise, turns inward somewhere."""
    return bool((half_turns(ring) < -STRAIGHT).any())


UPRIGHT = 1e-3
"""A face that stands straight up runs so much per rise [-]: a plane cannot stand upright."""


def room_shape(ring: Floats, floor: float, run: float) -> Highest | None:
    """What is dug beside a pad: level at ``floor`` [m] out to ``ring`` (k, 2), local, from there up, ``run``
    per rise; None of a hollow one."""
    if is_hollow(ring):
        return None
    up, _ = batter_shapes(ring, floor, max(run, UPRIGHT))
    return Highest((*(up.parts if isinstance(up, Highest) else (up,)), Plane(0.0, 0.0, floor)))
