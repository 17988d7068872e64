"""Shapes made of planes: the lowest or the highest of several, nested, and the lines along which they bend.

A face that is to be dug or filled is one plane. Two faces that meet in a ridge are the lowest of their
planes, two that meet in a groove the highest, and so on upward: a swale that turns a corner is the highest
of its inner and its outer faces, the inner ones the lowest of one for each side. Each shape is defined over
the whole plan, so no region has to be drawn: the region of a face is where its plane is the one that
counts.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]

SAME = 1e-9
"""[m] Heights that differ by no more are one; far above the rounding of a local frame."""

_SHORTEST = 1e-9
"""[m] A line shorter than this bends nothing."""


class Plane(NamedTuple):
    """z = east x + north y + level: rises per metre [-], and the height above the local origin [m]."""

    east: float
    north: float
    level: float

    def raised(self, height: float) -> Plane:
        """The plane ``height`` [m] higher."""
        return Plane(self.east, self.north, self.level + height)


class Lowest(NamedTuple):
    """The lowest of its parts at each place."""

    parts: tuple[Shape, ...]


class Highest(NamedTuple):
    """The highest of its parts at each place."""

    parts: tuple[Shape, ...]


Shape = Plane | Lowest | Highest


def faces_at(shape: Shape, xy: Floats) -> Floats:
    """The plane that counts at each of ``xy`` (m, 2) local [m]: rows of east, north, level (m, 3)."""
    if isinstance(shape, Plane):
        return np.broadcast_to(np.array(shape), (len(xy), 3))
    parts = np.stack([faces_at(part, xy) for part in shape.parts])
    heights = heights_of(parts, xy)
    pick = heights.argmin(axis=0) if isinstance(shape, Lowest) else heights.argmax(axis=0)
    counting: Floats = parts[pick, np.arange(len(xy))]
    return counting


def heights_of(faces: Floats, xy: Floats) -> Floats:
    """Heights [m] of planes (..., 3) at places (..., 2)."""
    heights: Floats = faces[..., 0] * xy[..., 0] + faces[..., 1] * xy[..., 1] + faces[..., 2]
    return heights


def height_at(shape: Shape, xy: Floats) -> Floats:
    """The height of a shape (m,) [m] at ``xy`` (m, 2) local [m].

    >>> roof = Lowest((Plane(0.5, 0.0, 0.0), Plane(-0.5, 0.0, 2.0)))
    >>> height_at(roof, np.array([[0.0, 0.0], [2.0, 5.0], [3.0, 0.0]])).tolist()
    [0.0, 1.0, 0.5]
    """
    return heights_of(faces_at(shape, xy), xy)


def planes_of(shape: Shape) -> tuple[Plane, ...]:
    """The different planes of a shape, in their order."""
    return tuple(dict.fromkeys(_each(shape)))


def _each(shape: Shape) -> Iterator[Plane]:
    if isinstance(shape, Plane):
        yield shape
        return
    for part in shape.parts:
        yield from _each(part)


def bends(shape: Shape, box: Box) -> Floats:
    """The lines inside ``box`` along which one face of a shape meets another: ends (s, 2, 2) local [m].

    Two planes meet in a line. It is cut where a third plane passes through it; between two cuts the faces
    that count do not change, so the middle of each stretch tells whether the shape bends there.
    """
    planes = np.array(planes_of(shape))
    one, other = np.triu_indices(len(planes), 1)
    apart = planes[one] - planes[other]
    steep = np.hypot(apart[:, 0], apart[:, 1])
    meet = steep > SAME
    apart, steep, one = apart[meet], steep[meet], one[meet]
    normal = apart[:, :2] / steep[:, None]
    start, along = -(apart[:, 2] / steep)[:, None] * normal, np.stack((-normal[:, 1], normal[:, 0]), axis=1)
    low, high = np.array(box[:2]), np.array(box[2:])
    with np.errstate(divide="ignore", invalid="ignore"):
        at = np.sort(np.stack(((low - start) / along, (high - start) / along)), axis=0)
    level = np.abs(along) < SAME  # runs along the box: it is inside all the way or not at all
    beside = level & ((start < low) | (start > high))
    first = np.where(level, -np.inf, at[0]).max(axis=1)
    last = np.where(level, np.inf, at[1]).min(axis=1)
    kept = (last > first) & ~beside.any(axis=1)
    ends = start[:, None] + np.stack((first, last), axis=1)[..., None] * along[:, None]
    return _where_it_counts(shape, ends[kept], planes[one[kept]], planes)


def crossings_with(shape: Shape, corners: Floats) -> Floats:
    """Where triangles of ground (k, 3, 3) [m] pass through a shape: ends of lines (s, 2, 2) local [m]."""
    planes = np.array(planes_of(shape))
    over = corners[:, :, 2] - heights_of(planes[:, None, None], corners[:, :, :2])  # (planes, k, 3)
    plane, number = np.nonzero((over.max(axis=2) > 0.0) & (over.min(axis=2) < 0.0))
    over, at = over[plane, number], corners[number, :, :2]
    after, onward = np.roll(over, -1, axis=1), np.roll(at, -1, axis=1)
    crossed = (over >= 0.0) != (after >= 0.0)  # two of the three sides
    part = over[crossed] / (over[crossed] - after[crossed])
    ends = (at[crossed] + part[:, None] * (onward - at)[crossed]).reshape(-1, 2, 2)
    return _where_it_counts(shape, ends, planes[plane], planes)


def _where_it_counts(shape: Shape, ends: Floats, own: Floats, planes: Floats) -> Floats:
    """Cut lines (k, 2, 2), each in its ``own`` plane (k, 3), where any of ``planes`` passes through; of the
    stretches keep those on which the own plane is the one that counts."""
    if not len(ends):
        return np.empty((0, 2, 2))
    over = heights_of(planes[:, None, None], ends) - heights_of(own[:, None], ends)  # (planes, k, 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        cuts = over[..., 0] / (over[..., 0] - over[..., 1])
    cuts = np.where((cuts > 0.0) & (cuts < 1.0), cuts, 0.0).T
    cuts = np.sort(np.column_stack((np.zeros(len(ends)), cuts, np.ones(len(ends)))), axis=1)
    line, number = np.nonzero(cuts[:, 1:] > cuts[:, :-1])
    run = ends[line, 1] - ends[line, 0]
    first, last = (ends[line, 0] + cuts[line, number + step][:, None] * run for step in (0, 1))
    middle = 0.5 * (first + last)
    counts = np.abs(height_at(shape, middle) - heights_of(own[line], middle)) <= SAME
    counts &= np.hypot(*(last - first).T) > _SHORTEST
    kept: Floats = np.stack((first, last), axis=1)[counts]
    return kept
