"""Where a straight beam has building above it: the pieces of its line inside an outline, and their piers."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from gradework.units.bulk import M_PER_FT

Floats = NDArray[np.float64]

LEAST_APART = 2.0 * M_PER_FT
"""A piece of a beam with less between its insets gets one pier in its middle [m] (judgement: two holes)."""

_BESIDE = 1e-6


def spans(rings: Sequence[Floats], across: float) -> list[tuple[float, float]]:
    """Give the pieces, from to [m along], of the line at ``across`` [m] that lie inside.

    ``rings``, each (k, 2) [m: along, across], are the outside and the holes. A line along an edge counts as
    inside; pieces that touch are one.
    """
    found = sorted(piece for side in (-_BESIDE, _BESIDE) for piece in _inside(rings, across + side))
    joined: list[tuple[float, float]] = []
    for start, end in found:
        if joined and start <= joined[-1][1] + _BESIDE:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end))
        else:
            joined.append((start, end))
    return joined


def _inside(rings: Sequence[Floats], across: float) -> list[tuple[float, float]]:
    """Give the pieces of a line that meets no corner: from every odd crossing to the next."""
    places: list[float] = []
    for ring in rings:
        after = np.roll(ring, -1, axis=0)
        meets = (ring[:, 1] > across) != (after[:, 1] > across)
        a, b = ring[meets], after[meets]
        places += (a[:, 0] + (across - a[:, 1]) / (b[:, 1] - a[:, 1]) * (b[:, 0] - a[:, 0])).tolist()
    places.sort()
    return list(zip(places[::2], places[1::2], strict=True))


def along_span(span: tuple[float, float], inset: float, spacing: float, *, whole: bool) -> list[float]:
    """Give the places of piers under one piece of a beam [m along]: even, ``inset`` from its ends.

    As few as ``spacing`` allows, but two; a piece too short for two gets one in its middle, unless it is the
    ``whole`` length of the building.

    >>> along_span((0.0, 6.0), 0.5, 2.5, whole=True), along_span((1.0, 2.0), 0.3, 2.5, whole=False)
    ([0.5, 3.0, 5.5], [1.5])
    """
    start, end = span
    room = end - start - 2.0 * inset
    if room < LEAST_APART and not whole:
        return [0.5 * (start + end)]
    count = max(2, math.ceil(room / spacing - 1e-9) + 1)
    places: list[float] = np.linspace(start + inset, end - inset, count).tolist()
    return places
