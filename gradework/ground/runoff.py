"""Where water runs from a place: down the slope of the ground, step by step, until it stops or leaves.

Steps are short against a yard, so what is told of an area is good to a few parts in a hundred. Nothing is
filled: water that comes to a hollow stays there.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

STEP = 0.25
"""[m] How far water runs between two looks at the slope."""

LEVEL = 1e-6
"""[-] On ground that falls by less nothing runs."""

CELL = 0.75
"""[m] Side of the squares of ground whose water is followed; larger where there would be too many."""

REACH = 30.48
"""[m] Ground is counted that lies no farther off, 100 ft: what comes from beyond has gathered by then."""

_MOST_CELLS = 1600
_MOST_STEPS = 2000


def ways_down(surface: Surface, starts: Floats, stop: Any, *, step: float = STEP) -> Floats:
    """Give the ways (k, n, 2) [m] that water runs from ``starts`` (n, 2) [m], site: the places after each
    step; one that came to ``stop`` (a polygon of shapely), into a hollow or off the survey stays.

    >>> from gradework.survey.stations import Stations
    >>> from gradework.ground.surface import build_surface
    >>> xyz = np.array([(0, 0, 1.0), (9, 0, 0.1), (9, 9, 0.1), (0, 9, 1.0)])
    >>> slope = build_surface(Stations(list("abcd"), xyz, np.full(4, 0.01), np.arange(4), "yard.csv", "m"))
    >>> ways_down(slope, np.array([(1.0, 4.0)]), shapely.box(5, 3, 7, 5))[-1].round(6).tolist()
    [[5.0, 4.0]]
    """
    place = np.array(starts, dtype=np.float64).reshape(-1, 2)
    low, high = surface.hull_xy.min(axis=0), surface.hull_xy.max(axis=0)
    shapely.prepare(stop)
    ways, runs = [place.copy()], ~shapely.intersects_xy(stop, *place.T)
    far = 2.0 * float(np.hypot(*(high - low)))
    step = max(step, far / _MOST_STEPS)
    for _ in range(math.ceil(far / step)):
        number = np.flatnonzero(runs)
        if not len(number):
            break
        slope = surface.gradient(place[number])
        steep = np.hypot(*slope.T)
        going = steep > LEVEL  # NaN beyond the survey compares false
        runs[number[~going]] = False
        number, slope, steep = number[going], slope[going], steep[going]
        place[number] -= step * slope / steep[:, None]
        runs[number[shapely.intersects_xy(stop, *place[number].T)]] = False
        ways.append(place.copy())
    return np.stack(ways)


def drained_to(surface: Surface, stop: Any) -> tuple[Floats, float]:
    """Give where water comes in (m, 2) [m] from each square of surveyed ground within ``REACH`` that drains
    to ``stop``, a polygon, and how large a square is [m²]."""
    box = np.array(stop.bounds).reshape(2, 2)
    low = np.maximum(surface.hull_xy.min(axis=0), box[0] - REACH)
    high = np.minimum(surface.hull_xy.max(axis=0), box[1] + REACH)
    cell = max(CELL, math.sqrt(float(np.prod(np.maximum(high - low, 0.0))) / _MOST_CELLS))
    marks = [np.arange(a + cell / 2.0, b, cell) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*marks), axis=-1).reshape(-1, 2)
    near = shapely.distance(shapely.points(grid), stop) <= REACH
    grid = grid[near & (surface.locate(grid) >= 0) & ~shapely.intersects_xy(stop, *grid.T)]
    # nothing drains to it from below its lowest place
    rim = surface.elevation(shapely.get_coordinates(shapely.segmentize(stop.exterior, CELL)))
    grid = grid[surface.elevation(grid) > float(np.nanmin(rim))]
    ends: Floats = ways_down(surface, grid, stop, step=STEP * cell / CELL)[-1] if len(grid) else grid
    arrived: Floats = ends[shapely.intersects_xy(stop, *ends.T)]
    return arrived, cell**2
