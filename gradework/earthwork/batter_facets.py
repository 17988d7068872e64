"""The ground outside a pad, shared out among the slopes of its sides.

At an outward corner the slopes of two sides meet in a ridge half way between them: the mitre line, on which
both are as far away. At an inward corner they meet in a valley, on the same line. Filling, the higher of two
slopes counts, digging the lower: in both cases that of the side which is nearer.

A side reaches as far as the mitre line at an outward corner, and straight out at an inward one. Of a convex
pad these strips lie side by side. Of a hollow one they overlap, and lie over the pad itself: each is then cut
by the pad, and by the lines along which another side is as near. What is left are convex parts, each with one
side that its slope runs down from.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.rings import convex_parts, half_turns, ring_area, turn
from gradework.errors import Faults

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

STRAIGHT = 1e-9
"""A corner that turns by less than this (its sine) is left out: its two sides are one."""

SHORT = 1e-9
"""[m] Parts that meet along less than this meet in a point, and nothing passes there."""

NO_AREA = 1e-9
"""[m²] A part smaller than this is none."""

SQUARE = 1e-6
"""A corner turns by a right angle within this (its cosine)."""


class Border(NamedTuple):
    """Where two parts meet, or a part the pad: their numbers (the second -1), and both ends (2,) [m]."""

    one: int
    other: int
    start: Floats
    end: Floats


@dataclass(frozen=True, eq=False)
class Facets:
    """Side i runs from ring[i] to ring[i + 1]; d_i = normals[i] · x - offsets[i] is the distance outward
    from it [m].

    side : (parts,) the side of each part;  regions : half-planes (e, 3) of each;  borders : where parts meet;
    edges : where they touch the pad.
    """

    ring: Floats
    normals: Floats
    offsets: Floats
    side: Numbers
    regions: tuple[Floats, ...]
    borders: tuple[Border, ...]
    edges: tuple[Border, ...]
    hollow: bool

    def away(self, points: Floats, part: int) -> Floats:
        """Distance outward (p,) [m] of points (p, 2) in a part; of a convex pad from the farthest side."""
        far = np.zeros(len(points))
        which = [int(self.side[part])] if self.hollow else range(len(self.ring))
        for number in which:
            x, y = self.normals[number].tolist()
            np.maximum(far, points[:, 0] * x + points[:, 1] * y - self.offsets[number], out=far)
        return far

    def distance(self, points: Floats, side: Numbers) -> Floats:
        """Distance outward (k, ...) [m] of points (k, ..., 2) from the side given for each row."""
        normal = self.normals[side]
        shape = (len(side),) + (1,) * (points.ndim - 2)
        x, y = normal[:, 0].reshape(shape), normal[:, 1].reshape(shape)
        far: Floats = points[..., 0] * x + points[..., 1] * y - self.offsets[side].reshape(shape)
        return np.maximum(far, 0.0)


def facets_of(ring: Floats, reach: float) -> Facets:
    """The facets of a ring (n, 2), anticlockwise, local coordinates [m], out to ``reach`` [m] and farther."""
    side = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(side[:, 0], side[:, 1])
    before, before_length = np.roll(side, 1, axis=0), np.roll(length, 1)
    sine = (before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]) / (length * before_length)
    corners = ring[np.abs(sine) > STRAIGHT]
    side = np.roll(corners, -1, axis=0) - corners
    along = side / np.hypot(side[:, 0], side[:, 1])[:, None]
    normals = np.stack((along[:, 1], -along[:, 0]), axis=1)
    offsets = (normals * corners).sum(axis=1)
    outward = half_turns(corners) > 0.0
    strips = [_strip(number, corners, along, normals, offsets, outward) for number in range(len(corners))]
    if outward.all():
        count = len(corners)
        ends = corners + reach * _mitres(normals)
        borders = [Border((k - 1) % count, k, corners[k], ends[k]) for k in range(count)]
        edges = [Border(k, -1, corners[k], corners[(k + 1) % count]) for k in range(count)]
        sides = np.arange(count)
        return Facets(corners, normals, offsets, sides, tuple(strips), tuple(borders), tuple(edges), False)
    parts = [
        (number, part)
        for number in range(len(corners))
        for part in _nearest(number, strips, corners, normals, offsets, reach)
    ]
    regions = [region for _, region in parts]
    edges = []
    for number, (one, region) in enumerate(parts):
        found = _within(corners[one], corners[(one + 1) % len(corners)], region)
        edges += [Border(number, -1, *found)] if found else []
    sides = np.array([one for one, _ in parts], dtype=np.intp)
    borders = list(_borders(regions, reach))
    return Facets(corners, normals, offsets, sides, tuple(regions), tuple(borders), tuple(edges), True)


def _mitres(normals: Floats) -> Floats:
    """(n, 2) directions of the lines outward from each corner along which d of its two sides is equal."""
    last = np.roll(normals, 1, axis=0)
    mitres: Floats = (normals + last) / (1.0 + (normals * last).sum(axis=1))[:, None]
    return mitres


def _strip(
    side: int, corners: Floats, along: Floats, normals: Floats, offsets: Floats, outward: NDArray[np.bool_]
) -> Floats:
    """Half-planes (3, 3) of what one side reaches: outside it, and at both ends the mitre or straight out."""
    rows = [np.array([*normals[side], offsets[side]])]
    count = len(corners)
    for corner, other, sign in ((side, side - 1, 1.0), ((side + 1) % count, (side + 1) % count, -1.0)):
        if outward[corner]:
            row = np.array([*(normals[side] - normals[other]), offsets[side] - offsets[other]])
        else:
            row = sign * np.array([*along[side], along[side] @ corners[corner]])
        rows.append(row / np.hypot(*row[:2]))
    return np.array(rows)


def _nearest(
    side: int, strips: Sequence[Floats], corners: Floats, normals: Floats, offsets: Floats, reach: float
) -> list[Floats]:
    """The convex parts of a strip that lie outside the pad and nearer to their side than to any other."""
    parts = [strips[side]]
    for solid in convex_parts([corners]):
        parts = [left for part in parts for left in _without(part, _half_planes(solid), reach)]
    for other, strip in enumerate(strips):
        if other == side:
            continue
        row = np.array([*(normals[other] - normals[side]), offsets[other] - offsets[side]])
        steep = float(np.hypot(*row[:2]))
        same = steep < STRAIGHT and abs(row[2]) <= SHORT  # one line: the first of the two has it
        kept = []
        for part in parts:
            shared = _corners_of(np.vstack((part, strip)), reach)
            nearer = not len(shared) or bool((shared @ row[:2] >= row[2] - SHORT).all())
            if nearer and not (same and other < side and len(shared)):
                kept.append(part)
                continue
            kept += _without(part, strip, reach)
            both = np.vstack((part, strip, (row / steep)[None])) if steep > STRAIGHT else None
            kept += [both] if both is not None and len(_corners_of(both, reach)) else []
        parts = kept
    return parts


def _half_planes(ring: Floats) -> Floats:
    """The half-planes (k, 3) to the left of each side of a convex ring (k, 2)."""
    side = np.roll(ring, -1, axis=0) - ring
    left = np.stack((-side[:, 1], side[:, 0]), axis=1) / np.hypot(*side.T)[:, None]
    return np.column_stack((left, (left * ring).sum(axis=1)))


def _without(part: Floats, hole: Floats, reach: float) -> list[Floats]:
    """What is left of a convex part (e, 3) without a convex hole (h, 3), as convex parts."""
    if not len(_corners_of(np.vstack((part, hole)), reach)):
        return [part]
    left = []
    for number, row in enumerate(hole):
        rest = np.vstack((part, hole[:number], -row[None]))
        if len(_corners_of(rest, reach)):
            left.append(rest)
    return left


def _corners_of(region: Floats, reach: float) -> Floats:
    """The corners (k, 2) of half-planes (e, 3) within ``reach`` of the origin; none of no area."""
    ring = reach * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    for x, y, offset in region.tolist():
        off = ring @ (x, y) - offset
        after, onward = np.roll(off, -1), np.roll(ring, -1, axis=0)
        kept = []
        for k in range(len(ring)):
            if off[k] >= 0.0:
                kept.append(ring[k])
            if (off[k] >= 0.0) != (after[k] >= 0.0):
                kept.append(ring[k] + off[k] / (off[k] - after[k]) * (onward[k] - ring[k]))
        if len(kept) < 3:
            return np.empty((0, 2))
        ring = np.array(kept)
    return ring if ring_area(ring) > NO_AREA else np.empty((0, 2))


def _borders(regions: Sequence[Floats], reach: float) -> Iterator[Border]:
    """Where two regions (e, 3) lie side by side along a line."""
    for (one, first), (other, second) in combinations(enumerate(regions), 2):
        for row in first:
            middle, way = row[2] * row[:2], np.array([-row[1], row[0]])
            found = _within(
                middle - 4.0 * reach * way, middle + 4.0 * reach * way, np.vstack((first, second))
            )
            if found:
                yield Border(one, other, *found)
                break


def _within(start: Floats, end: Floats, region: Floats) -> tuple[Floats, Floats] | None:
    """The piece of a line from start to end (2,) in or along half-planes (e, 3); None where there is none."""
    low, high = 0.0, 1.0
    for one, two in zip(
        (region[:, :2] @ start - region[:, 2] + SHORT).tolist(),
        (region[:, :2] @ end - region[:, 2] + SHORT).tolist(),
        strict=True,
    ):
        if one < 0.0 and two < 0.0:
            return None
        if one < 0.0:
            low = max(low, one / (one - two))
        elif two < 0.0:
            high = min(high, one / (one - two))
    if (high - low) * float(np.hypot(*(end - start))) <= 10.0 * SHORT:
        return None
    return start + low * (end - start), start + high * (end - start)


def refuse_hollow(outline: Outline) -> None:
    """Raise InputError ``batter-hollow`` for an outline with a hole, or with a corner that points across a
    hollow at another part of it: there the slopes meet farther out than half way between two sides.

    Where all corners are square they do not.
    """
    if outline.is_convex:
        return
    ring = outline.rings[0]
    if len(outline.rings) > 1 or (not _is_square(ring) and _points_at_itself(ring)):
        Faults().halt("batter-hollow")


def _is_square(ring: Floats) -> bool:
    """Whether all corners of a ring (k, 2) are right angles, or straight."""
    side = np.roll(ring, -1, axis=0) - ring
    side /= np.hypot(*side.T)[:, None]
    before = np.roll(side, 1, axis=0)
    cosine = np.abs((before * side).sum(axis=1))
    return bool(((cosine < SQUARE) | (cosine > 1.0 - SQUARE)).all())


def _points_at_itself(ring: Floats) -> bool:
    """Whether the mitre line of an outward corner of a ring (k, 2) meets another side of it."""
    side = np.roll(ring, -1, axis=0) - ring
    normals = np.stack((side[:, 1], -side[:, 0]), axis=1) / np.hypot(*side.T)[:, None]
    far = ring + 2.0 * float(np.ptp(ring, axis=0).sum()) * _mitres(normals)
    for corner in np.flatnonzero(half_turns(ring) > STRAIGHT).tolist():
        a, b = tuple(ring[corner].tolist()), tuple(far[corner].tolist())
        for number in range(len(ring)):
            c, d = tuple(ring[number].tolist()), tuple(ring[(number + 1) % len(ring)].tolist())
            if a in (c, d):
                continue
            if turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0:
                return True
    return False
