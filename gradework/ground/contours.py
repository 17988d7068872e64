"""Contours: exact lines of one elevation on the triangles.

Each contour vertex lies on a triangle edge at the place straight interpolation gives; nothing is smoothed
and nothing is drawn outside the surveyed ground.

A vertex exactly at the level counts as above it (the level is taken an infinitesimal step lower). So each
triangle is crossed by no line or by one, whatever is flat: a level plateau is outlined along the lower side
of its rim, a single peak at the level shrinks to a point and is left out, a level basin at its own
elevation has no line.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from gradework.ground.surface import Surface
from gradework.ground.triangulation import NEXT

# What the site says: its high point, its low point, and the relief between them.


@dataclass(frozen=True)
class Spot:
    """One station: its name, place [m] in the site frame, and elevation [m]."""

    station: str
    x: float
    y: float
    elevation: float


@dataclass(frozen=True)
class SiteShape:
    """The highest and the lowest station and the relief [m] between them."""

    high: Spot
    low: Spot
    relief: float


def site_shape(surface: Surface) -> SiteShape:
    """High point, low point and relief; where several stations tie, the one farthest left, then lowest down.

    The surface is straight between stations, so its highest and lowest points are stations.
    """
    xyz = surface.stations.xyz
    # sorted by place first, so that a tie does not hang on the order of the rows
    by_place = np.lexsort((xyz[:, 1], xyz[:, 0]))
    z = xyz[by_place, 2]
    high, low = _spot(surface, int(by_place[np.argmax(z)])), _spot(surface, int(by_place[np.argmin(z)]))
    return SiteShape(high, low, high.elevation - low.elevation)


def _spot(surface: Surface, i: int) -> Spot:
    x, y, z = surface.stations.xyz[i].tolist()
    return Spot(surface.stations.names[i], x, y, z)


@dataclass(frozen=True)
class Contour:
    """One line: ``level`` [m]; ``xy`` (k, 2) [m], site frame, higher ground on its left; ``closed`` lines
    do not repeat their first point.
    """

    level: float
    xy: NDArray[np.float64]
    closed: bool


def trace(surface: Surface, levels: Iterable[float]) -> list[Contour]:
    """Every contour at the given levels [m], level by level; none where the ground does not cross a level."""
    return [contour for level in levels for contour in _trace_level(surface, float(level))]


def _trace_level(surface: Surface, level: float) -> list[Contour]:
    above = surface.vertices[:, 2] >= level
    corner_above = above[surface.triangles]
    crossed = np.flatnonzero(corner_above.any(axis=1) & ~corner_above.all(axis=1))
    if not len(crossed):
        return []
    state = corner_above[crossed]
    rising = ~state & state[:, NEXT]
    falling = state & ~state[:, NEXT]
    into, out = np.argmax(falling, axis=1), np.argmax(rising, axis=1)
    place = np.full(len(surface.triangles), -1, dtype=np.int64)
    place[crossed] = np.arange(len(crossed))
    before = surface.neighbours[crossed, into]
    before = np.where(before >= 0, place[before], -1)
    head, rank, closed = _chains(before)
    order = np.lexsort((rank, head))
    tails = _edge_points(surface, crossed, out, level)[order]
    starts = np.flatnonzero(rank[order] == 0)
    firsts = _edge_points(surface, crossed[order[starts]], into[order[starts]], level)
    ends = np.append(starts[1:], len(order))
    lines = []
    for begin, end, first in zip(starts.tolist(), ends.tolist(), firsts, strict=True):
        ring = bool(closed[order[begin]])
        points = tails[begin:end] if ring else np.concatenate([first[None], tails[begin:end]])
        contour = _contour(level, points, ring, surface.origin)
        if contour is not None:
            lines.append(contour)
    return lines


def _chains(before: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Head and rank of each crossed triangle in its chain, and whether the chain is a ring.

    ``before`` (c,): the crossed triangle before each, -1 at the start of an open chain. Every pointer is
    doubled until all have arrived: no step per triangle.
    """
    c = len(before)
    own = np.arange(c)
    rounds = range(max(1, int(c).bit_length()))
    jump = np.where(before < 0, own, before)
    low = own.copy()
    for _ in rounds:
        low = np.minimum(low, low[jump])
        jump = jump[jump]
    closed = before[jump] >= 0
    # a ring starts at its lowest number
    pointer = np.where((before < 0) | (closed & (low == own)), own, before)
    rank = (pointer != own).astype(np.int64)
    for _ in rounds:
        rank = rank + rank[pointer]
        pointer = pointer[pointer]
    return pointer, rank, closed


def _edge_points(
    surface: Surface, triangle: NDArray[np.int64], side: NDArray[np.int64], level: float
) -> NDArray[np.float64]:
    """Where the level crosses the given sides (c, 2), local; both triangles of a side get the same point."""
    a = surface.vertices[surface.triangles[triangle, side]]
    b = surface.vertices[surface.triangles[triangle, NEXT[side]]]
    up = (a[:, 2] < b[:, 2])[:, None]
    low, high = np.where(up, a, b), np.where(up, b, a)
    part = ((level - low[:, 2]) / (high[:, 2] - low[:, 2]))[:, None]
    # from the nearer end, so that a level equal to an end's elevation gives that end exactly
    run = high[:, :2] - low[:, :2]
    point: NDArray[np.float64] = np.where(
        part < 0.5, low[:, :2] + part * run, high[:, :2] - (1.0 - part) * run
    )
    return point


def _contour(
    level: float, points: NDArray[np.float64], closed: bool, origin: NDArray[np.float64]
) -> Contour | None:
    """Drop repeated points; None for a line that has shrunk to a point."""
    new = np.ones(len(points), dtype=bool)
    new[1:] = (points[1:] != points[:-1]).any(axis=1)
    points = points[new]
    if closed and len(points) > 1 and (points[0] == points[-1]).all():
        points = points[:-1]
    if len(points) < 2:
        return None
    xy = points + origin
    xy.setflags(write=False)
    return Contour(level, xy, closed and len(points) > 2)
