"""The guard before the triangulation: whole numbers on a local grid, in an order that no row order changes.

Which stations are joined is decided on whole numbers only, so signed areas are exact. Lengths, areas and
elevations never see the grid: they are computed with the true coordinates (see `ties` for what that means
where four stations lie on one circle). It never merges stations: `survey` did that.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults, visible
from gradework.survey import Stations
from gradework.survey.spread import check_spread

COARSEST_QUANTUM = 1e-4
"""[m] 0.1 mm: a tenth of what a tape can place."""

FINEST_WHOLE = 2**26
"""Whole coordinates below this keep an orientation exact even in plain float64."""


class GridPlaces(NamedTuple):
    """Stations in the local frame and on the whole-number grid.

    ``origin`` (2,) [m], whole metres, site = local + origin; ``local`` (n, 2) [m], exact differences;
    ``quantum`` [m], the step of the grid; ``whole`` (n, 2) the places in steps, from 0; ``order``
    (n,) the stations sorted by place, so that neighbours in the yard stand close in memory.
    """

    origin: NDArray[np.float64]
    local: NDArray[np.float64]
    quantum: float
    whole: NDArray[np.int64]
    order: NDArray[np.int64]


def lay_grid(stations: Stations) -> GridPlaces:
    """Check the stations and lay them on the finest grid that keeps the arithmetic exact.

    The step is the finest power of ten metre, at most 0.1 mm, for which the site is narrower than 2**26
    steps; a site wider than 6.7 km keeps 0.1 mm, and the 64-bit integer checks stay exact up to the
    widest site allowed. Raises ``InputError``: what `check_spread` refuses, and `stations-too-close`.
    """
    check_spread(stations.names, stations.xyz, stations.lines, stations.file, stations.show)
    xy = stations.xyz[:, :2]
    low = xy.min(axis=0)
    origin = np.floor(low)
    local = np.ascontiguousarray(xy - origin)
    quantum = _quantum(float(np.max(xy.max(axis=0) - low)))
    whole = np.rint(local / quantum).astype(np.int64)
    whole -= whole.min(axis=0)
    key = _interleaved(whole)
    order = np.argsort(key)
    ordered = key[order]
    same = np.flatnonzero(ordered[1:] == ordered[:-1])
    if len(same):
        _refuse_same_place(stations, order, int(same[0]))
    return GridPlaces(origin, local, quantum, whole, order)


def _interleaved(whole: NDArray[np.int64]) -> NDArray[np.uint64]:
    """The bits of both coordinates in turn: sorted by it, places follow a curve that fills the plane."""
    key = np.zeros(len(whole), dtype=np.uint64)
    for axis in (0, 1):
        bits = whole[:, axis].astype(np.uint64)
        for step in (16, 8, 4, 2, 1):  # 32 bits drawn apart by halves
            mask = np.uint64(((1 << 64) - 1) // ((1 << step) + 1))
            bits = (bits | (bits << np.uint64(step))) & mask
        key |= bits << np.uint64(axis)
    return key


def _quantum(extent: float) -> float:
    exponent = 4
    while exponent < 12 and extent * 10.0 ** (exponent + 1) < FINEST_WHOLE:
        exponent += 1
    return float(10.0**-exponent)


def _refuse_same_place(stations: Stations, order: NDArray[np.int64], at: int) -> None:
    a, b = sorted((int(order[at]), int(order[at + 1])))
    Faults(stations.file).stop(
        "stations-too-close",
        f"stations {visible(stations.names[a])} and {visible(stations.names[b])} stand in the same place",
        "one station per place",
        "delete one of the two",
        line=int(stations.lines[b]),
    )
