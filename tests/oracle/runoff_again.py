"""Which ground drains to the walls once more: a raster of the ground, each cell handing all it has to those
of its eight neighbours that lie lower, in proportion to the slope, the highest cell first."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from asked_again import FT, Asked, Seen
from numpy.typing import NDArray

Floats = NDArray[np.float64]
CELL = 0.5
"""[m] Side of a cell."""

MOST = 1000.0 * FT**2
ROUGH = 0.25
"""[-] Two ways of following water over a yard of cells agree within a quarter."""


def areas_drained(asked: Asked) -> Floats:
    """Ground that drains to each wall [m²]."""
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
    ways = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
    for cell in np.argsort(-z, axis=None, kind="stable"):
        row, column = divmod(int(cell), len(xs))
        if not own[row, column] or inside[row, column]:
            continue
        lower = []
        for i, j in ways:
            a, b = row + i, column + j
            if 0 <= a < len(ys) and 0 <= b < len(xs) and z[a, b] < z[row, column]:
                lower.append((a, b, (z[row, column] - z[a, b]) / np.hypot(i, j)))
        total = sum(slope for _, _, slope in lower)
        for a, b, slope in lower:
            part = own[row, column] * slope / total
            if inside[a, b]:
                here = shapely.Point(grid[row, column])
                areas[int(np.argmin([wall.distance(here) for wall in walls]))] += part
            else:
                own[a, b] += part
    return areas


def drained_seen(asked: Asked) -> Iterator[Seen]:
    """The wall to which most ground drains: an "if" where that is over 1,000 sq ft and nothing is said of
    it; nothing is told of less."""
    if asked.job.get("drainage", {}).get("led_past"):
        return
    most = float(areas_drained(asked).max())
    if most > MOST / (1.0 + ROUGH):
        sure = most > MOST * (1.0 + ROUGH)
        yield Seen("drained to a wall", most, False if sure else None, ROUGH, "wall", lenient=True)
