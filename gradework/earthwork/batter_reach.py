"""From which level on a side slope reaches each cell of ground, and where it would leave the survey.

Told for filling: the slope stands at L - d/m and covers ground below it, that is where z + d/m < L. A cell
is one triangle inside one facet. Two cells meet along a piece of a triangle's edge or of a mitre line; the
slope passes from one to the other as soon as L is above the lowest z + d/m on that piece.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gradework.ground.surface import Surface


# The ground outside a convex outline, shared out among its sides by the mitre lines at the corners.

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

STRAIGHT = 1e-9
"""A corner that turns by less than this (its sine) is left out: its two sides are one."""


@dataclass(frozen=True, eq=False)
class Facets:
    """Side i runs from ring[i] to ring[i + 1]; d_i = normals[i] · x - offsets[i] is the distance outward
    from it [m].

    mitres : (n, 2) directions of the lines outward from each corner along which d of its two sides is equal.
    """

    ring: Floats
    normals: Floats
    offsets: Floats
    mitres: Floats

    def region(self, side: int) -> Floats:
        """Half-planes (3, 3) of one facet: outside its side, and farther from it than from the next two."""
        count = len(self.ring)
        beside = ((side - 1) % count, (side + 1) % count)
        return np.array(
            [
                (*self.normals[side], self.offsets[side]),
                *(
                    (*(self.normals[side] - self.normals[k]), self.offsets[side] - self.offsets[k])
                    for k in beside
                ),
            ]
        )

    def farthest(self, points: Floats) -> Floats:
        """Distance d (p,) of points (p, 2) outside the pad, the greatest over all sides [m]; 0 inside."""
        far = np.zeros(len(points))
        for (x, y), offset in zip(self.normals.tolist(), self.offsets.tolist(), strict=True):
            np.maximum(far, points[:, 0] * x + points[:, 1] * y - offset, out=far)
        return far

    def distance(self, points: Floats, side: Numbers) -> Floats:
        """Distance outward (k, ...) [m] of points (k, ..., 2) from the side given for each row."""
        normal = self.normals[side]
        shape = (len(side),) + (1,) * (points.ndim - 2)
        x, y = normal[:, 0].reshape(shape), normal[:, 1].reshape(shape)
        far: Floats = points[..., 0] * x + points[..., 1] * y - self.offsets[side].reshape(shape)
        return np.maximum(far, 0.0)


def facets_of(ring: Floats) -> Facets:
    """The facets of a convex ring (n, 2), anticlockwise, local coordinates [m]."""
    side = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(side[:, 0], side[:, 1])
    before, before_length = np.roll(side, 1, axis=0), np.roll(length, 1)
    sine = (before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]) / (length * before_length)
    corners = ring[np.abs(sine) > STRAIGHT]
    side = np.roll(corners, -1, axis=0) - corners
    normals = np.stack((side[:, 1], -side[:, 0]), axis=1) / np.hypot(side[:, 0], side[:, 1])[:, None]
    last = np.roll(normals, 1, axis=0)
    mitres = (normals + last) / (1.0 + (normals * last).sum(axis=1))[:, None]
    return Facets(corners, normals, (normals * corners).sum(axis=1), mitres)


SHORT = 1e-9
"""[m] Cells that meet along less than this meet in a point, and nothing passes there."""

AT_EDGE = 0.0015
"""[m] A hull edge this close to the pad's own edge cuts its slope off at once."""


@dataclass(frozen=True, slots=True)
class Exit:
    """A place on the edge of the survey (x, y) [m] where a slope still stands ``height`` above the ground
    [m].

    way : "fill" for a slope down to the ground, "cut" for one up to it (then the ground stands above the
    slope).
    """

    way: Literal["fill", "cut"]
    x: float
    y: float
    height: float

    def moved(self, origin: Floats) -> Exit:
        """The same in the site frame."""
        return replace(self, x=self.x + float(origin[0]), y=self.y + float(origin[1]))


@dataclass(frozen=True, eq=False)
class Passes:
    """opens : (cells,) level from which on the slope reaches the cell, inf where never.

    ends : (e, 4) on the hull: level from which on the slope reaches the place, z + d/m there, x, y.
    """

    opens: Floats
    ends: Floats
    way: Literal["fill", "cut"]

    def leaving(self, level: float) -> list[Exit]:
        """Where the slope of a pad at this level leaves the survey."""
        out = self.ends[(self.ends[:, 0] < level) & (self.ends[:, 1] < level - SHORT)]
        return [Exit(self.way, x, y, level - height) for _, height, x, y in out.tolist()]


def find_passes(
    surface: Surface,
    numbers: Numbers,
    triangles: Floats,
    facets: Facets,
    batter: float,
    names: Numbers,
    *,
    filling: bool,
) -> Passes:
    """Find the passes between cells.

    numbers, triangles : the surface triangles looked at and their corners (k, 3, 3), local; names : the
    cells, sorted, each k * sides + facet.
    """
    walk = _Walk(surface, numbers, triangles, facets, batter, names)
    opens = _opened(walk, len(names))
    ends = [(opens[cell] if cell >= 0 else -np.inf, height, x, y) for cell, height, x, y in walk.along_hull()]
    return Passes(opens, np.array(ends, dtype=np.float64).reshape(-1, 4), "fill" if filling else "cut")


def _opened(walk: _Walk, cells: int) -> Floats:
    """The level from which on the slope reaches each cell: the lowest way there over the highest pass."""
    pairs = list(walk.along_edges())
    mitres = list(walk.along_mitres())
    one = np.concatenate([*(pair[0] for pair in pairs), np.array([m[0] for m in mitres], dtype=np.intp)])
    two = np.concatenate([*(pair[1] for pair in pairs), np.array([m[1] for m in mitres], dtype=np.intp)])
    lows = np.concatenate([*(pair[2] for pair in pairs), np.array([m[2] for m in mitres])])
    # each link from both its cells, those of one cell side by side: from first[cell] to first[cell + 1]
    source = np.concatenate((one, two))
    order = np.argsort(source, kind="stable")
    first = np.searchsorted(source[order], np.arange(cells + 1)).tolist()
    others = np.concatenate((two, one))[order].tolist()
    lowest = np.concatenate((lows, lows))[order].tolist()
    opens = [np.inf] * cells
    queue = sorted(walk.along_sides())
    while queue:
        level, cell = heapq.heappop(queue)
        if level >= opens[cell]:
            continue
        opens[cell] = level
        for link in range(first[cell], first[cell + 1]):
            then = max(level, lowest[link])
            if then < opens[others[link]]:
                heapq.heappush(queue, (then, others[link]))
    return np.array(opens, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class _Walk:
    """Walks along the lines where cells meet: triangle edges, mitre lines, the pad's sides, the hull."""

    surface: Surface
    numbers: Numbers
    triangles: Floats
    facets: Facets
    batter: float
    names: Numbers

    def _cells(self, rows: Numbers, facet: int) -> Numbers:
        """The cells of rows (p,) inside a facet; -1 where there is none."""
        if not len(self.names):
            return np.full(len(rows), -1)
        wanted = rows * len(self.facets.ring) + facet
        at = np.minimum(np.searchsorted(self.names, wanted), len(self.names) - 1)
        return np.where(self.names[at] == wanted, at, -1)

    def _cell(self, row: int, facet: int) -> int:
        return int(self._cells(np.array([row]), facet)[0])

    def _edges(self, hull: bool) -> Iterator[tuple[int, Numbers, Numbers, Floats, Floats]]:
        """Pieces of triangle edges inside each facet: the facet, rows (p,), the rows beyond (p,) (-2 the
        hull), first and last points (p, 3)."""
        neighbours = self.surface.neighbours[self.numbers]
        row_of = np.full(len(self.surface.triangles), -1)
        row_of[self.numbers] = np.arange(len(self.numbers))
        beyond = np.where(neighbours >= 0, row_of[neighbours], -2)
        rows = np.arange(len(self.numbers))[:, None]
        wanted = beyond == -2 if hull else (beyond > rows)
        row, k = np.nonzero(wanted)
        start, end = self.triangles[row, k], self.triangles[row, (k + 1) % 3]
        for facet in range(len(self.facets.ring)):
            number, first, last = _clipped(start, end, self.facets.region(facet), AT_EDGE if hull else 0.0)
            yield facet, row[number], beyond[row[number], k[number]], first, last

    def _heights(self, points: Floats) -> Floats:
        """z + d/m at points (p, 3)."""
        heights: Floats = points[:, 2] + self.facets.farthest(points[:, :2]) / self.batter
        return heights

    def along_edges(self) -> Iterator[tuple[Numbers, Numbers, Floats]]:
        """Cells (p,) of one facet on both sides of triangles' edges, and the lowest heights between them."""
        for facet, rows, others, first, last in self._edges(hull=False):
            lowest = np.minimum(self._heights(first), self._heights(last))
            one, two = self._cells(rows, facet), self._cells(others, facet)
            both = (one >= 0) & (two >= 0)
            yield one[both], two[both], lowest[both]

    def along_hull(self) -> Iterator[tuple[int, float, float, float]]:
        """Cells on the hull (-1: the pad's own edge) with the height and the place of both ends."""
        for facet, rows, _, first, last in self._edges(hull=True):
            far = np.maximum(self.facets.farthest(first[:, :2]), self.facets.farthest(last[:, :2])) > AT_EDGE
            ends = np.stack((first, last), axis=1)
            heights = self._heights(ends.reshape(-1, 3)).reshape(-1, 2)
            cells = self._cells(rows, facet).tolist()
            for cell, away, points, height in zip(cells, far.tolist(), ends, heights, strict=True):
                if cell < 0 and away:
                    continue
                for point, z in zip(points.tolist(), height.tolist(), strict=True):
                    yield (cell if away else -1), z, point[0], point[1]

    def along_mitres(self) -> Iterator[tuple[int, int, float]]:
        """Cells of one triangle on both sides of a mitre line."""
        count = len(self.facets.ring)
        reach = float(np.abs(self.triangles[:, :, :2]).max()) * 4.0 + 1.0
        for corner in range(count):
            start = self.facets.ring[corner]
            before = (corner - 1) % count
            for row, first, last in self._through(start, start + reach * self.facets.mitres[corner]):
                one, two = self._cell(row, before), self._cell(row, corner)
                if one >= 0 and two >= 0:
                    yield one, two, float(self._heights(np.stack((first, last))).min())

    def along_sides(self) -> Iterator[tuple[float, int]]:
        """Cells that touch the pad's sides, with the lowest ground there."""
        count = len(self.facets.ring)
        for side in range(count):
            for row, first, last in self._through(
                self.facets.ring[side], self.facets.ring[(side + 1) % count]
            ):
                cell = self._cell(row, side)
                if cell >= 0:
                    yield min(float(first[2]), float(last[2])), cell

    def _through(self, start: Floats, end: Floats) -> Iterator[tuple[int, Floats, Floats]]:
        """Where a line from start to end (2,) runs through triangles: row, first and last point (3,)."""
        corners = self.triangles[:, :, :2]
        side = corners[:, [1, 2, 0]] - corners
        normal = np.stack((-side[:, :, 1], side[:, :, 0]), axis=2)
        size = np.hypot(side[:, :, 0], side[:, :, 1])
        d0 = (normal * (start - corners)).sum(axis=2) / size
        d1 = (normal * (end - corners)).sum(axis=2) / size
        low, high = _interval(d0 + SHORT, d1 + SHORT)
        length = float(np.hypot(*(end - start)))
        for row in np.flatnonzero((high - low) * length > 4 * SHORT).tolist():
            first, last = start + low[row] * (end - start), start + high[row] * (end - start)
            yield row, self._on_ground(row, first), self._on_ground(row, last)

    def _on_ground(self, row: int, point: Floats) -> Floats:
        """A point (2,) with the elevation of the triangle's plane there."""
        a, b, c = self.triangles[row]
        u, v, w = b - a, c - a, point - a[:2]
        base = u[0] * v[1] - u[1] * v[0]
        s, t = (w[0] * v[1] - w[1] * v[0]) / base, (u[0] * w[1] - u[1] * w[0]) / base
        s, t = min(max(s, 0.0), 1.0), min(max(t, 0.0), 1.0)
        return np.array([point[0], point[1], a[2] + s * u[2] + t * v[2]])


def _interval(d0: Floats, d1: Floats) -> tuple[Floats, Floats]:
    """The part of a segment on the positive side of lines: distances (k, e) of its ends; (k,) each."""
    step = d0 - d1
    at = d0 / np.where(step == 0.0, 1.0, step)
    low = np.where(step < 0.0, at, np.where((step == 0.0) & (d0 < 0.0), 2.0, 0.0)).max(axis=1)
    high = np.where(step > 0.0, at, 1.0).min(axis=1)
    return np.maximum(low, 0.0), np.minimum(high, 1.0)


def _clipped(start: Floats, end: Floats, planes: Floats, slack: float) -> tuple[Numbers, Floats, Floats]:
    """The pieces of segments (k, 3) inside half-planes (e, 3): numbers (p,), first and last points (p, 3)."""
    d0 = start[:, :2] @ planes[:, :2].T - planes[:, 2] + slack
    d1 = end[:, :2] @ planes[:, :2].T - planes[:, 2] + slack
    low, high = _interval(d0, d1)
    length = np.hypot(*(end - start)[:, :2].T)
    number = np.flatnonzero((high - low) * length > SHORT)
    step = (end - start)[number]
    first = start[number] + low[number, None] * step
    return number, first, start[number] + high[number, None] * step
