"""How piers stand to each other in plan: which are neighbours, which are corners, which line up in rows.

All of it comes from the places alone, so the order in which piers are given never counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SAME_ROW = 0.05
"""Piers whose places across differ less than this stand in one row [m]."""

LEAST_TURN = 10.0
"""A pier on the outline of all piers is a corner where that outline turns by at least this [degrees]."""

_ALMOST = 1e-9


def neighbours(places: Floats) -> tuple[tuple[int, int], ...]:
    """Give the pairs (smaller number first) of places (n, 2) [m] that are neighbours.

    Two are neighbours when the circle with both at the ends of its diameter holds no third place, nor has
    one on it (the Gabriel graph). In even rows these are the next along the row and the ones straight
    across; diagonals are none. The pairs hang together: from every place a chain of them leads to any other.
    """
    pairs = []
    for own, here in enumerate(places):
        away = places - here
        order = [int(k) for k in np.argsort((away**2).sum(axis=1), kind="stable") if k != own]
        free = np.ones(len(places), np.bool_)
        free[own] = False
        for k in order:
            if free[k]:
                pairs.append((min(own, k), max(own, k)))
            # All beyond the line through k square to its own direction have k inside their circle.
            free &= (away - away[k]) @ away[k] < -_ALMOST * (away[k] @ away[k])
            free[k] = False
            if not free.any():
                break
    return tuple(sorted(set(pairs)))


def corners(places: Floats) -> tuple[int, ...]:
    """Give the numbers of the places (n, 2) [m] at the corners of all of them.

    Corners are where the shortest outline around all places turns by ``LEAST_TURN`` at least; of places on
    one line the two ends, of one place that one.
    """
    hull = shapely.MultiPoint(places).convex_hull
    ring = shapely.get_coordinates(hull.boundary if hull.geom_type == "Polygon" else hull)
    if hull.geom_type == "Polygon":
        ring = ring[:-1]
        leave = np.roll(ring, -1, axis=0) - ring
        arrive = np.roll(leave, 1, axis=0)
        across = np.abs(arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0])
        ring = ring[np.degrees(np.arctan2(across, (arrive * leave).sum(axis=1))) >= LEAST_TURN]
    at = (places[:, None, :] == ring[None, :, :]).all(axis=2).any(axis=1)
    return tuple(np.flatnonzero(at).tolist())


def overlapping(local: Floats, sizes: Sequence[tuple[float, float]]) -> Iterator[tuple[int, int]]:
    """Give the pairs of places whose holes, each of its own size, overlap.

    Holes of sizes that each keep apart from their like may do so where one is wider and the other longer.
    """
    half = 0.5 * np.array(sizes)
    for number in range(len(local) - 1):
        apart = np.abs(local[number + 1 :] - local[number])
        over = (apart < half[number + 1 :] + half[number] - _ALMOST).all(axis=1)
        yield from ((number, number + 1 + int(k)) for k in np.flatnonzero(over))


def rows(local: Floats) -> tuple[tuple[int, int], ...] | None:
    """Number places (n, 2) [m: along, across the beams] by row and place in it, both from 1.

    Rows count from the lowest across, places in a row from the lowest along. None when the places do not
    line up: some row would hold one pier only while another holds more.

    >>> rows(np.array([[5.0, 4.0], [0.0, 0.0], [0.0, 4.01], [5.0, 0.02]]))
    ((2, 2), (1, 1), (2, 1), (1, 2))
    >>> rows(np.array([[0.0, 0.0], [5.0, 0.0], [2.5, 2.0]])) is None
    True
    """
    found: list[list[int]] = []
    for k in np.argsort(local[:, 1], kind="stable").tolist():
        if found and local[k, 1] - local[found[-1][0], 1] < SAME_ROW:
            found[-1].append(k)
        else:
            found.append([k])
    if len(local) > 1 and min(map(len, found)) < 2:
        return None
    numbers = [(0, 0)] * len(local)
    for row, members in enumerate(found, start=1):
        for number, k in enumerate(sorted(members, key=lambda k: float(local[k, 0])), start=1):
            numbers[k] = (row, number)
    return tuple(numbers)
