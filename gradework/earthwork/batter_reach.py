"""From which level on a side slope reaches each cell of ground, and where it would leave the survey.

Told for filling: the slope stands at L - d/m and covers ground below it, that is where z + d/m < L. A cell
is one triangle inside one part of the facets. Two cells meet along a piece of a triangle's edge or of a
border of two parts; the slope passes from one to the other as soon as L is above the lowest z + d/m on that
piece.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.batter_facets import SHORT

if TYPE_CHECKING:
    from gradework.earthwork.batter_facets import Facets
    from gradework.ground.surface import Surface


Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

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
    cells, sorted, each k * parts + part.
    """
    walk = _Walk(surface, numbers, triangles, facets, batter, names)
    opens = _opened(walk, len(names))
    ends = [(opens[cell] if cell >= 0 else -np.inf, height, x, y) for cell, height, x, y in walk.along_hull()]
    return Passes(opens, np.array(ends, dtype=np.float64).reshape(-1, 4), "fill" if filling else "cut")


def _opened(walk: _Walk, cells: int) -> Floats:
    """The level from which on the slope reaches each cell: the lowest way there over the highest pass."""
    pairs = list(walk.along_edges())
    mitres = list(walk.along_borders())
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
        wanted = rows * len(self.facets.regions) + facet
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
        for facet, region in enumerate(self.facets.regions):
            number, first, last = _clipped(start, end, region, AT_EDGE if hull else 0.0)
            yield facet, row[number], beyond[row[number], k[number]], first, last

    def _heights(self, points: Floats, facet: int) -> Floats:
        """z + d/m at points (p, 3) of a facet."""
        heights: Floats = points[:, 2] + self.facets.away(points[:, :2], facet) / self.batter
        return heights

    def along_edges(self) -> Iterator[tuple[Numbers, Numbers, Floats]]:
        """Cells (p,) of one facet on both sides of triangles' edges, and the lowest heights between them."""
        for facet, rows, others, first, last in self._edges(hull=False):
            lowest = np.minimum(self._heights(first, facet), self._heights(last, facet))
            one, two = self._cells(rows, facet), self._cells(others, facet)
            both = (one >= 0) & (two >= 0)
            yield one[both], two[both], lowest[both]

    def along_hull(self) -> Iterator[tuple[int, float, float, float]]:
        """Cells on the hull (-1: the pad's own edge) with the height and the place of both ends."""
        for facet, rows, _, first, last in self._edges(hull=True):
            far = np.maximum(*(self.facets.away(end[:, :2], facet) for end in (first, last))) > AT_EDGE
            ends = np.stack((first, last), axis=1)
            heights = self._heights(ends.reshape(-1, 3), facet).reshape(-1, 2)
            cells = self._cells(rows, facet).tolist()
            for cell, away, points, height in zip(cells, far.tolist(), ends, heights, strict=True):
                if cell < 0 and away:
                    continue
                for point, z in zip(points.tolist(), height.tolist(), strict=True):
                    yield (cell if away else -1), z, point[0], point[1]

    def along_borders(self) -> Iterator[tuple[int, int, float]]:
        """Cells on both sides of a border of two facets: of one triangle, or of two where it runs along the
        edge between them."""
        for border in self.facets.borders:
            met = list(self._through(border.start, border.end))
            if not met:
                continue
            rows = np.array([row for row, _, _ in met])
            ends = np.array([(first, last) for _, first, last in met])
            along = (border.end - border.start) / np.hypot(*(border.end - border.start))
            at = (ends[:, :, :2] - border.start) @ along
            heights = self._heights(ends.reshape(-1, 3), border.one).reshape(-1, 2)
            own, beyond = self._cells(rows, border.one), self._cells(rows, border.other)
            low, high = np.maximum(at[:, None, 0], at[None, :, 0]), np.minimum(at[:, None, 1], at[None, :, 1])
            both = (own[:, None] >= 0) & (beyond[None, :] >= 0) & (high - low > SHORT)
            for i, j in zip(*(k.tolist() for k in np.nonzero(both)), strict=True):
                there = np.interp([low[i, j], high[i, j]], at[i], heights[i])
                yield int(own[i]), int(beyond[j]), float(there.min())

    def along_sides(self) -> Iterator[tuple[float, int]]:
        """Cells that touch the pad's sides, with the lowest ground there."""
        for edge in self.facets.edges:
            for row, first, last in self._through(edge.start, edge.end):
                cell = self._cell(row, edge.one)
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
