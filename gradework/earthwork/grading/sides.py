"""The sides of a pad and the shapes that start at them: slopes up and down, at outward and inward corners.

Along a side u runs from its first corner to its second, t outward from the edge. The pad may be convex, or
have right angles only (an L, a T): then it is the union of rectangles, and its slopes are the highest
(filled) or the lowest (dug) of theirs.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.planes import Highest, Lowest, Plane, Shape
from gradework.earthwork.rings import contains, ring_area

Floats = NDArray[np.float64]

SQUARE = 1e-9
"""A corner whose cosine is below this is a right angle."""

SAME_PLACE = 1e-6
"""[m] Sides this close to one line lie on it."""


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


def half_turns(sides: tuple[Side, ...]) -> Floats:
    """The tangent of half the turn at the corner after each side (k,): above zero outward, below inward."""
    turns = []
    for number, side in enumerate(sides):
        after = sides[(number + 1) % len(sides)]
        sine = float(side.along[0] * after.along[1] - side.along[1] * after.along[0])
        turns.append(sine / (1.0 + float(side.along @ after.along)))
    return np.array(turns)


def blocks_of(ring: Floats) -> tuple[tuple[int, ...], ...]:
    """The convex parts whose union is the pad, each by the sides on whose lines it lies; () where unknown.

    A convex ring is one part. A hollow one with right angles only is the union of the largest rectangles in
    it.
    """
    sides = sides_of(ring)
    turns = half_turns(sides)
    if (turns >= -SQUARE).all():
        return (tuple(range(len(sides))),)
    if any(abs(float(side.along @ sides[k - 1].along)) > SQUARE for k, side in enumerate(sides)):
        return ()
    frame = np.stack((sides[0].along, sides[0].outward), axis=1)
    corners = ring @ frame
    inside = _rectangles(corners)
    return tuple(_lines_of(corners, rectangle) for rectangle in inside)


def _rectangles(corners: Floats) -> list[tuple[float, float, float, float]]:
    """The largest rectangles inside a ring with right angles, sides along the axes: low and high of both."""
    cuts = [_different(corners[:, axis]) for axis in (0, 1)]
    found = []
    for (west, east), (south, north) in (
        (one, other) for one in combinations(cuts[0], 2) for other in combinations(cuts[1], 2)
    ):
        middles = [
            [(x0 + x1) / 2, (y0 + y1) / 2]
            for x0, x1 in zip(cuts[0], cuts[0][1:], strict=False)
            for y0, y1 in zip(cuts[1], cuts[1][1:], strict=False)
            if west <= x0 and x1 <= east and south <= y0 and y1 <= north
        ]
        ring = corners if ring_area(corners) > 0 else corners[::-1]
        if contains(ring, np.array(middles)).all():
            found.append((west, south, east, north))
    return [
        one
        for one in found
        if not any(
            other != one
            and other[0] <= one[0]
            and other[1] <= one[1]
            and one[2] <= other[2]
            and one[3] <= other[3]
            for other in found
        )
    ]


def _different(values: Floats) -> list[float]:
    ordered = np.sort(values)
    kept: list[float] = ordered[np.concatenate(([True], np.diff(ordered) > SAME_PLACE))].tolist()
    return kept


def _lines_of(corners: Floats, rectangle: tuple[float, float, float, float]) -> tuple[int, ...]:
    """The sides that lie on the border of a rectangle."""
    west, south, east, north = rectangle
    ends = np.roll(corners, -1, axis=0)
    found = []
    for number, (start, end) in enumerate(zip(corners, ends, strict=True)):
        for axis, borders, low, high in ((0, (west, east), south, north), (1, (south, north), west, east)):
            on_border = min(abs(start[axis] - border) for border in borders) <= SAME_PLACE
            straight = abs(start[axis] - end[axis]) <= SAME_PLACE
            first, last = sorted((float(start[1 - axis]), float(end[1 - axis])))
            if on_border and straight and first < high - SAME_PLACE and last > low + SAME_PLACE:
                found.append(number)
    return tuple(found)


def batter_shapes(ring: Floats, level: float, run: float) -> tuple[Shape, Shape] | None:
    """The dug and the filled slope of a whole pad, ``run``:1, mitred; None where its parts are not known.

    ring : (k, 2), local, anticlockwise [m];  level : of the pad [m].
    """
    sides, blocks = sides_of(ring), blocks_of(ring)
    if not blocks:
        return None
    up = [Highest(tuple(sides[k].plane(0.0, 0.0, level, out=1.0 / run) for k in part)) for part in blocks]
    down = [Lowest(tuple(sides[k].plane(0.0, 0.0, level, out=-1.0 / run) for k in part)) for part in blocks]
    return Lowest(tuple(up)), Highest(tuple(down))
