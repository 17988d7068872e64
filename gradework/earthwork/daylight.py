"""The outline of a pad and its side slopes on the ground, checked in every run against the areas they cover.

The parts of triangles that the slopes cover lie side by side, so the line round them is what is left of all
their sides when each side has cancelled its neighbour's, which runs the other way. Nothing is made wider or
narrower on the way: corners are set on a grid of ten nanometres, so that neighbours have the same ones, and a
side is led through the corners of others that lie on it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.ring import contains, ring_area
from gradework.errors import CheckError

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

GRID = 1e-8
"""[m] The grid of the corners: far below what a stake can be placed to, far above the rounding of places."""

SAME = 0.1 * GRID
"""[m] Coordinates that differ by no more are one, so that rounding cannot set them apart on the grid."""

ON_SIDE = 2.0 * GRID
"""[m] A corner this close to a side lies on it: all three may be set off by 0.7 of the grid."""

STRAIGHT = 1e-7
"""[m] Corners are left out where the line moves by no more: a few steps of the grid off a straight line."""

AREA = 1e-9
"""The line and the closed form must give one area within this part of it, plus what `STRAIGHT` may move."""


def daylight_rings(pad: Floats, parts: Sequence[tuple[Floats, Floats]], area: float) -> list[Floats]:
    """Join the pad (n, 2) and the covered parts of triangles into rings, not closed.

    parts : triangles (k, 3, 2) and the height of the slope over the ground at their corners (k, 3) [m];
    only where it is above zero the ground is covered. area : what pad and parts cover together [m²], by the
    closed form. Outside rings run anticlockwise, the one round the pad first; islands left bare run
    clockwise. Raises CheckError where the rings do not hold that area.
    """
    rings = [pad]
    for triangles, heights in parts:
        for corners, height in zip(triangles, heights, strict=True):
            covered = _covered(corners, height)
            if len(covered) >= 3:
                rings.append(np.array(covered))
    places, numbers = _on_grid(np.concatenate(rings))
    lengths = np.array([len(ring) for ring in rings])
    after = np.arange(1, len(numbers) + 1)
    after[np.cumsum(lengths) - 1] -= lengths  # the last corner of each ring leads to its first
    sides = _cancelled(_led_through(places, np.stack((numbers, numbers[after]), axis=1)))
    found = [_straight(places[loop]) for loop in _loops(sides)]
    found = [ring for ring in found if len(ring) >= 3]
    middle = pad.mean(axis=0)[None]
    found.sort(key=lambda ring: (not (ring_area(ring) > 0.0 and contains(ring, middle)[0]), -ring_area(ring)))
    _check(found, area)
    return found


def _check(rings: Sequence[Floats], area: float) -> None:
    """Raise CheckError unless the rings hold the area [m²] that the closed form gives."""
    held = sum(ring_area(ring) for ring in rings)
    length = sum(float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum()) for ring in rings)
    if not abs(held - area) <= AREA * area + STRAIGHT * length:
        raise CheckError(f"the daylight line holds {held!r} m², pad and slopes cover {area!r} m²")


def _on_grid(corners: Floats) -> tuple[Floats, Numbers]:
    """Different places on the grid (p, 2) [m] and the number of each corner's (n,)."""
    steps = np.empty(corners.shape, dtype=np.int64)
    for axis in (0, 1):
        order = np.argsort(corners[:, axis])
        ordered = corners[order, axis]
        fresh = np.concatenate(([True], np.diff(ordered) > SAME))
        steps[order, axis] = np.rint(ordered[fresh] / GRID)[np.cumsum(fresh) - 1]
    places, numbers = np.unique(steps, axis=0, return_inverse=True)
    at: Floats = places.astype(np.float64) * GRID
    return at, numbers.reshape(-1).astype(np.int64)


def _led_through(places: Floats, sides: Numbers) -> Numbers:
    """The sides (s, 2), each split at the places of others that lie on it."""
    sides = sides[sides[:, 0] != sides[:, 1]]
    tree = shapely.STRtree([shapely.Point(place) for place in places.tolist()])
    side, place = tree.query(shapely.linestrings(places[sides]), predicate="dwithin", distance=ON_SIDE)
    between = (place != sides[side, 0]) & (place != sides[side, 1])
    side, place = side[between], place[between]
    run = places[sides[:, 1]] - places[sides[:, 0]]
    part = ((places[place] - places[sides[side, 0]]) * run[side]).sum(axis=1) / (run[side] ** 2).sum(axis=1)
    count = len(sides)
    of = np.concatenate((np.arange(count), side, np.arange(count)))
    at = np.concatenate((np.full(count, -1.0), part, np.full(count, 2.0)))  # the ends stay the ends
    order = np.lexsort((at, of))
    number, of = np.concatenate((sides[:, 0], place, sides[:, 1]))[order], of[order]
    one = of[1:] == of[:-1]
    return np.stack((number[:-1][one], number[1:][one]), axis=1)


def _cancelled(sides: Numbers) -> Numbers:
    """The sides (s, 2) that no other runs against."""
    low, high = sides.min(axis=1), sides.max(axis=1)
    pairs, which = np.unique(np.stack((low, high), axis=1), axis=0, return_inverse=True)
    net = np.bincount(which.reshape(-1), np.where(sides[:, 0] == low, 1, -1), len(pairs)).astype(np.int64)
    directed = np.where(net[:, None] > 0, pairs, pairs[:, ::-1])
    return np.repeat(directed, np.abs(net), axis=0)


def _loops(sides: Numbers) -> list[list[int]]:
    """The sides (s, 2) as loops of places, none of which comes twice to one place.

    As many sides lead to a place as away from it, so a walk can always go on until it meets itself.
    """
    onward: dict[int, list[int]] = {}
    for start, end in sides.tolist():
        onward.setdefault(start, []).append(end)
    loops = []
    for first in onward:
        walk, seen = [first], {first: 0}
        while onward[walk[-1]]:
            following = onward[walk[-1]].pop()
            if following in seen:
                loop = walk[seen[following] :]
                loops.append(loop)
                del walk[seen[following] + 1 :]
                for place in loop[1:]:
                    del seen[place]
            else:
                seen[following] = len(walk)
                walk.append(following)
    return loops


def _straight(ring: Floats) -> Floats:
    """The ring without corners that lie on a straight line, and empty where it is thinner than the grid."""
    length = float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())
    if len(ring) < 3 or abs(ring_area(ring)) <= GRID * length:
        return np.empty((0, 2))
    first = int(np.argmax(((ring - ring.mean(axis=0)) ** 2).sum(axis=1)))  # the farthest one is a corner
    kept = shapely.simplify(shapely.Polygon(np.roll(ring, -first, axis=0)), STRAIGHT)
    return np.array(kept.exterior.coords)[:-1]


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
