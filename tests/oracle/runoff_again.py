"""Which ground drains to the walls once more: a raster of the ground, each cell handing all it has to those
of its eight neighbours that lie lower, in proportion to the slope, the highest cell first; hollows fill and
run over."""

from __future__ import annotations

import heapq
from collections.abc import Iterator

import numpy as np
import shapely
from asked_again import FT, Asked, Seen
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Cell = tuple[int, int]
CELL = 0.5
"""[m] Side of a cell."""

MOST = 1000.0 * FT**2
ROUGH = 0.25
"""[-] Two ways of following water over a yard of cells agree within a quarter."""


def areas_drained(asked: Asked) -> Floats:
    """Ground that drains to each wall [m²]; a hollow is full and runs over."""
    house = asked.grown(0.0)
    hull = shapely.convex_hull(asked.ground.edges)
    x0, y0, x1, y1 = hull.bounds
    xs, ys = (np.arange(a + CELL / 2.0, b, CELL) for a, b in ((x0, x1), (y0, y1)))
    grid = np.stack(np.meshgrid(xs, ys), axis=-1)
    z = asked.ground.at(grid).reshape(len(ys), len(xs))
    inside = shapely.contains_xy(house, grid[..., 0], grid[..., 1])
    own = np.where(np.isfinite(z) & ~inside, CELL**2, 0.0)
    walls = [shapely.LineString(wall) for wall in asked.walls]
    areas = np.zeros(len(walls))
    level, order, onto = _flooded(z, inside)
    rank = {cell: number for number, cell in enumerate(order)}
    for cell in reversed(order):
        if inside[cell]:
            continue
        lower = [
            (beside, (level[cell] - level[beside]) / far)
            for beside, far in _beside(cell, z)
            if rank[beside] < rank[cell] and level[beside] < level[cell]
        ]
        if not lower and cell in onto:
            lower = [(onto[cell], 1.0)]
        total = sum(slope for _, slope in lower)
        for beside, slope in lower:
            part = own[cell] * slope / total
            if inside[beside]:
                here = shapely.Point(grid[cell])
                areas[int(np.argmin([wall.distance(here) for wall in walls]))] += part
            else:
                own[beside] += part
    return areas


def _beside(cell: Cell, z: Floats) -> Iterator[tuple[Cell, float]]:
    """The neighbours of a cell that have ground, and how far off they are [cells]."""
    row, column = cell
    for i, j in ((i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j):
        a, b = row + i, column + j
        if 0 <= a < z.shape[0] and 0 <= b < z.shape[1] and np.isfinite(z[a, b]):
            yield (a, b), float(np.hypot(i, j))


def _flooded(z: Floats, inside: NDArray[np.bool_]) -> tuple[Floats, list[Cell], dict[Cell, Cell]]:
    """How high water stands that runs off over the edge of the ground or to the house, the cells lowest first
    as they are reached from there, and the one from which each was reached."""
    level, onto, order = np.full(z.shape, np.inf), {}, []
    cells = [(int(a), int(b)) for a, b in np.argwhere(np.isfinite(z))]
    edge = [cell for cell in cells if inside[cell] or sum(1 for _ in _beside(cell, z)) < 8]
    for cell in edge:
        level[cell] = z[cell]
    heap = [(z[cell], number, cell) for number, cell in enumerate(edge)]
    heapq.heapify(heap)
    while heap:
        high, _, cell = heapq.heappop(heap)
        order.append(cell)
        for beside, _ in _beside(cell, z):
            if np.isinf(level[beside]):
                level[beside], onto[beside] = max(z[beside], high), cell
                heapq.heappush(heap, (level[beside], len(onto) + len(edge), beside))
    return level, order, onto


def drained_seen(asked: Asked) -> Iterator[Seen]:
    """The wall to which most ground drains: an "if" where that is over 1,000 sq ft and nothing is said of
    it; nothing is told of less."""
    if asked.job.get("drainage", {}).get("led_past"):
        return
    most = float(areas_drained(asked).max())
    if most > MOST / (1.0 + ROUGH):
        sure = most > MOST * (1.0 + ROUGH)
        yield Seen("drained to a wall", most, False if sure else None, ROUGH, "wall", lenient=True)
