"""Cutting triangles of ground by straight lines, many at once: bare arithmetic, nothing is checked here.

A region is a set of half-planes, rows (nx, ny, offset): a point is inside where nx x + ny y >= offset in
every row. Polygons are kept in one array, (k, m, 3); a polygon with fewer than m corners repeats its last
one, which adds no area and crosses no line. Rows are gathered with ``take`` on flat numbers: for the few
dozen triangles of a yard the cost is the number of numpy calls, and this is the cheapest one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]


def half_planes(ring: Floats) -> Floats:
    """The half-planes to the left of each side of a convex ring (k, 2): (k, 3), unit normals."""
    side = ring.take(_following(len(ring)), axis=0) - ring
    side /= np.hypot(side[:, 0], side[:, 1])[:, None]
    planes = np.empty((len(ring), 3))
    planes[:, 0], planes[:, 1] = -side[:, 1], side[:, 0]
    planes[:, 2] = (planes[:, :2] * ring).sum(axis=1)
    return planes


def clip(triangles: Floats, planes: Floats) -> tuple[Numbers, Floats, Numbers]:
    """Cut triangles (k, 3, 3) by a convex region of half-planes (e, 3).

    Returns the numbers of the triangles that lie wholly inside, the polygons that remain of those that
    straddle (n, m, 3) and the numbers of the triangles they came from (n,).
    """
    k, e = len(triangles), len(planes)
    distances = triangles.reshape(3 * k, 3)[:, :2] @ planes[:, :2].T
    distances -= planes[:, 2]
    inside = (distances >= 0.0).reshape(k, 3, e)
    reached = (inside[:, 0] | inside[:, 1] | inside[:, 2]).all(axis=1)
    clear = inside[:, 0] & inside[:, 1] & inside[:, 2]
    whole = np.asarray(clear.all(axis=1))
    source = (reached & ~whole).nonzero()[0]
    polygons, count = triangles.take(source, axis=0), np.full(len(source), 3)
    # few triangles straddle more than two lines, so all are cut by their first line, then the rest by
    # their second
    clear = clear.take(source, axis=0)
    lines = clear.argsort(axis=1, kind="stable")
    wanted = e - clear.sum(axis=1)
    for turn in range(int(wanted.max(initial=0))):
        rows = ((wanted > turn) & (count > 0)).nonzero()[0]
        if len(rows):
            polygons = _cut(polygons, count, rows, planes.take(lines[:, turn].take(rows), axis=0))
    alive = count.nonzero()[0]
    if len(alive) < len(source):
        polygons, source = polygons.take(alive, axis=0), source.take(alive)
    return whole.nonzero()[0], polygons, source


def _cut(polygons: Floats, count: Numbers, rows: Numbers, planes: Floats) -> Floats:
    """Cut the polygons ``rows`` of (k, m, 3) each by its own half-plane (len(rows), 3): (k, m', 3).

    Puts their ``count`` of corners right. A polygon of which nothing is left has the count 0 and keeps its
    corners.
    """
    k, m = len(rows), polygons.shape[1]
    own = polygons.take(rows, axis=0)
    distance = own[:, :, 0] * planes[:, :1]
    distance += own[:, :, 1] * planes[:, 1:2]
    distance -= planes[:, 2:]
    corners, distance = own.reshape(k * m, 3), distance.reshape(k * m)
    inside = distance >= 0.0
    following = _next_corner(k, m)
    crossed = (inside != inside.take(following)).nonzero()[0]
    after = following.take(crossed)
    start, d0 = corners.take(crossed, axis=0), distance.take(crossed)
    part = d0 / (d0 - distance.take(after))
    start += part[:, None] * (corners.take(after, axis=0) - start)
    # corner i of a polygon sits in place 2 i, a crossing on the side after it in 2 i + 1; repeats are dropped
    keep = np.zeros((k * m, 2), dtype=bool)
    keep[:, 0] = inside
    if m > 3:
        keep[:, 0] &= (np.arange(m) < count.take(rows)[:, None]).reshape(-1)
    keep[crossed, 1] = True
    number = np.empty((k * m, 2), dtype=np.intp)
    number[:, 0] = np.arange(k * m)
    number[crossed, 1] = np.arange(k * m, k * m + len(crossed))
    kept = number.reshape(-1).take(keep.reshape(-1).nonzero()[0])
    left = keep.reshape(k, 2 * m).sum(axis=1)
    count[rows] = left
    wide = max(m, int(left.max()))
    if wide > m:
        polygons = polygons.take(np.minimum(np.arange(wide), m - 1), axis=1)
    last = left.cumsum() - 1
    if not left.all():
        alive = left.nonzero()[0]
        rows, left, last = rows.take(alive), left.take(alive), last.take(alive)
    pick = np.minimum((last - left + 1)[:, None] + np.arange(wide), last[:, None])
    polygons[rows] = np.concatenate((corners, start)).take(kept.take(pick), axis=0)
    return polygons


def _following(m: int) -> Numbers:
    """The number of the next corner of each of m."""
    after = np.arange(1, m + 1)
    after[-1] = 0
    return after


def _next_corner(k: int, m: int) -> Numbers:
    """The number of the next corner in k polygons of m corners, counted through (k * m,)."""
    after = np.arange(1, k * m + 1)
    after[m - 1 :: m] -= m
    return after


def fan(polygons: Floats) -> tuple[Floats, Numbers]:
    """Split convex polygons (k, m, 3) into the triangles of a fan from their first corner.

    Returns the triangles with an area, (n, 3, 3), and the polygon each came from (n,).
    """
    k, m, _ = polygons.shape
    triangles = np.empty((k, m - 2, 3, 3))
    triangles[:, :, 0] = polygons[:, :1]
    triangles[:, :, 1] = polygons[:, 1:-1]
    triangles[:, :, 2] = polygons[:, 2:]
    flat = triangles.reshape(k * (m - 2), 3, 3)
    kept = signed_areas(flat).nonzero()[0]
    return flat.take(kept, axis=0), kept // (m - 2)


def signed_areas(triangles: Floats) -> Floats:
    """Plan areas of triangles (k, 3, 3) [m²], positive when anticlockwise."""
    sides = triangles[:, 1:, :2] - triangles[:, :1, :2]
    areas: Floats = 0.5 * (sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0])
    return areas
