"""Rings of corners: area, spikes, crossings, what lies inside, and their cut into convex parts.

The library that cuts hollow ones hangs on what is not a number and crashes on a bad index. So it is only ever
given rings that ``outline`` has checked, and what it returns is checked again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np
import pythoncdt
from numpy.typing import NDArray

from gradework.errors import CheckError

# One ring of corners: its area, and whether its sides cross, decided exactly.
#
# Which side of a line a corner lies on is decided in floating point where that is certain and in
# fractions where it is not, so a ring is never taken for simple, or refused, by an accident of rounding.

Floats = NDArray[np.float64]
Point = tuple[float, float]

FOLD_SINE = 1e-6
"""Two sides that fold back on each other within this angle (its sine) make a spike: a margin round a sharper
corner would reach a million margins out."""

THIN = 1e-9
"""A ring narrower than this part of its length has no area."""

NARROW = 0.001
"""[m] Nor has a ring narrower than this: no tape is read closer."""

ONE_CORNER = 1e-6
"""[m] Two corners in a row this close are one corner, written twice."""

FARTHEST = 1e9
"""[m] Farther from the origin than this, a coordinate no longer holds a tenth of a millimetre."""

WIDEST = 15_240.0
"""[m] 50,000 ft: no side is longer than the widest site."""

_FILTER = 4 * 2.0**-53
"""Relative error bound of the two products in ``turn``; anything closer to zero is decided in fractions."""


def turn(a: Point, b: Point, c: Point) -> int:
    """Return 1 where a, b, c turn left, -1 where they turn right, 0 where they lie on one line; exact.

    >>> turn((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)), turn((0.1, 0.1), (0.2, 0.2), (0.3, 0.3))
    (1, 0)
    """
    (ax, ay), (bx, by), (cx, cy) = a, b, c
    left, right = (bx - ax) * (cy - ay), (by - ay) * (cx - ax)
    value = left - right
    if abs(value) > _FILTER * (abs(left) + abs(right)):
        return 1 if value > 0 else -1
    fx, fy = Fraction(ax), Fraction(ay)
    exact = (Fraction(bx) - fx) * (Fraction(cy) - fy) - (Fraction(by) - fy) * (Fraction(cx) - fx)
    return (exact > 0) - (exact < 0)


def ring_length(ring: Floats) -> float:
    """The length round a ring (k, 2) [m]."""
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def ring_area(ring: Floats) -> float:
    """Signed area of a ring (k, 2) [m²], positive when it runs anticlockwise; worked from its own corner."""
    local = ring - ring[0]
    x, y = local[:, 0], local[:, 1]
    return 0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))


def half_turns(ring: Floats) -> Floats:
    """Tangent of half the turn at each corner of a ring (n, 2), (n,): 1 at a square one, below 0 inward.

    A strip of width w along the sides, mitred at the corners, covers length x w, and this x w² at each.
    """
    side = np.roll(ring, -1, axis=0) - ring
    before = np.roll(side, 1, axis=0)
    cross = before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]
    half: Floats = np.tan(0.5 * np.arctan2(cross, (before * side).sum(axis=1)))
    return half


def kept_corners(ring: Floats) -> NDArray[np.intp]:
    """Numbers of the corners that remain without a closing corner and without corners given twice in a row.

    >>> import numpy as np
    >>> kept_corners(np.array([[0.0, 0.0], [1, 0], [1, 0], [1, 1], [0, 0]])).tolist()
    [0, 1, 3]
    """
    kept = [0]
    for number, far in enumerate(np.hypot(*np.diff(ring, axis=0).T).tolist(), start=1):
        if far > ONE_CORNER or np.hypot(*(ring[number] - ring[kept[-1]])) > ONE_CORNER:
            kept.append(number)
    while len(kept) > 1 and np.hypot(*(ring[kept[-1]] - ring[0])) <= ONE_CORNER:
        kept.pop()
    return np.array(kept, dtype=np.intp)


def is_thin(ring: Floats) -> bool:
    """Whether all corners lie on one line, within ``THIN`` of the ring's length and within ``NARROW``."""
    local = ring - ring[0]
    far = local[int(np.argmax((local**2).sum(axis=1)))]
    length = float(np.hypot(*far))
    if length < NARROW:
        return True
    offsets = np.abs(far[0] * local[:, 1] - far[1] * local[:, 0]) / length
    return float(offsets.max()) <= max(THIN * length, NARROW)


def spikes(ring: Floats) -> list[int]:
    """Numbers of the corners at which the ring turns straight back on itself."""
    back, ahead = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    cross = back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]
    size = np.hypot(back[:, 0], back[:, 1]) * np.hypot(ahead[:, 0], ahead[:, 1])
    folded = (np.abs(cross) <= FOLD_SINE * size) & ((back * ahead).sum(axis=1) > 0)
    return [int(number) for number in np.flatnonzero(folded)]


def _between(a: Point, b: Point, p: Point) -> bool:
    """Whether p, known to lie on the line through a and b, lies on the side itself."""
    return min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def meeting(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """Where the sides a-b and c-d cross, touch or overlap (then one such point), or None; decided exactly."""
    abc, abd, cda, cdb = turn(a, b, c), turn(a, b, d), turn(c, d, a), turn(c, d, b)
    if abc * abd < 0 and cda * cdb < 0:
        fall = (b[0] - a[0]) * (d[1] - c[1]) - (b[1] - a[1]) * (d[0] - c[0])
        along = ((c[0] - a[0]) * (d[1] - c[1]) - (c[1] - a[1]) * (d[0] - c[0])) / (fall or 1.0)
        return (a[0] + along * (b[0] - a[0]), a[1] + along * (b[1] - a[1]))
    for on_line, start, end, point in ((abc, a, b, c), (abd, a, b, d), (cda, c, d, a), (cdb, c, d, b)):
        if on_line == 0 and _between(start, end, point):
            return point
    return None


def crossings(rings: Sequence[Floats]) -> Iterator[tuple[int, int, Point]]:
    """Pairs of sides that meet away from a common corner: their numbers through all rings, the point."""
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    lows, highs = np.minimum(starts, ends), np.maximum(starts, ends)
    after = np.concatenate([[*range(at + 1, at + len(ring)), at] for at, ring in _offsets(rings)])
    a, b = [(x, y) for x, y in starts.tolist()], [(x, y) for x, y in ends.tolist()]
    for i in range(len(starts) - 1):
        near = (lows[i + 1 :] <= highs[i]).all(axis=1) & (highs[i + 1 :] >= lows[i]).all(axis=1)
        for j in (np.flatnonzero(near) + i + 1).tolist():
            if after[i] == j or after[j] == i:
                continue
            point = meeting(a[i], b[i], a[j], b[j])
            if point is not None:
                yield i, j, point


def _offsets(rings: Sequence[Floats]) -> Iterator[tuple[int, Floats]]:
    at = 0
    for ring in rings:
        yield at, ring
        at += len(ring)


def contains(ring: Floats, points: Floats) -> NDArray[np.bool_]:
    """Which points (n, 2) lie inside the ring, counting how often a ray to the right leaves it.

    A point exactly on the ring may come out either way; ask about it with ``meeting`` where it matters.
    """
    inside = np.zeros(len(points), dtype=bool)
    x, y = points[:, 0], points[:, 1]
    for (ax, ay), (bx, by) in zip(ring.tolist(), np.roll(ring, -1, axis=0).tolist(), strict=True):
        if ay == by:
            continue
        spans = (ay > y) != (by > y)
        left_of = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
        inside ^= spans & ((left_of > 0) == (by > ay))
    return inside


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
