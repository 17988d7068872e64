"""The closed form of a level plane against triangles of ground: bare arithmetic, nothing is checked here.

Over a triangle whose corners stand at heights a <= b <= c the ground is a plane, so what lies between it
and a level L with a < L < c is a polynomial in L. Of the three corners one stands alone on its side of L: c
while L is at or above b, a while L is below b. Write w for its distance from L, u for the distance of the
far one of the other two and v for that of b, all positive, and

    r = w / (c - a),   q = w / |lone - b|,   x = u / (c - a) = 1 - r,   y = v / |lone - b| = 1 - q.

Per unit of the triangle's plan area the lone side holds the volume w r q / 3 on the share r q of the area,
the other side (x (u + v) + r y v) / 3 on the share x + r y. These are the textbook prism formulas with every
subtraction of nearly equal numbers multiplied out: all terms are positive, so thin and nearly level
triangles lose no digits, and no divisor can be zero (a < L < c leaves the lone corner's arm some length).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BLOCK = 1 << 16
"""So many (level, triangle) pairs are worked at a time; they then stay in the processor's cache."""


class Sums(NamedTuple):
    """Totals over all triangles, one entry per level, shape (m,): volumes [m³] and plan areas [m²]."""

    cut: Floats
    fill: Floats
    cut_area: Floats
    fill_area: Floats


def split_depths(
    low: Floats, middle: Floats, high: Floats, level: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Mean cut and fill over triangles that the level passes through, and their shares in cut and in fill.

    All (n,) [m] and low < level < high throughout. Returns cut [m], fill [m], cut share [-], fill share [-],
    each (n,) and positive.

    >>> import numpy as np
    >>> cut, fill, _, _ = split_depths(*(np.array([height]) for height in (0.0, 0.0, 3.0, 1.0)))
    >>> round(float(cut[0]), 12), round(float(fill[0]), 12)     # (2/3)³ of the whole 3/3 stands above
    (0.296296296296, 0.296296296296)
    """
    upper = level >= middle
    below, above = level - low, high - level
    lone = np.where(upper, above, below)
    far = np.where(upper, below, above)
    near = np.abs(level - middle)
    span = high - low
    arm = np.where(upper, high - middle, middle - low)
    r = lone / span
    lone_share = r * (lone / arm)
    lone_depth = lone * lone_share / 3.0
    x = far / span
    ry = r * (near / arm)
    pair_depth = (x * (far + near) + ry * near) / 3.0
    pair_share = x + ry
    return (
        np.where(upper, lone_depth, pair_depth),
        np.where(upper, pair_depth, lone_depth),
        np.where(upper, lone_share, pair_share),
        np.where(upper, pair_share, lone_share),
    )


def sums(heights: Floats, areas: Floats, levels: Floats) -> Sums:
    """Cut, fill and their plan areas over all triangles for every level.

    heights : (k, 3) sorted along the row [m], best above a datum near the levels;  areas : (k,) signed [m²];
    levels : (m,) [m], same datum. A triangle that lies level at L counts as in fill, with no volume.
    """
    step = max(1, BLOCK // max(1, len(levels)))
    totals = np.zeros((4, len(levels)))
    for start in range(0, len(areas), step):
        block = slice(start, start + step)
        totals += _block(heights[block], areas[block], levels)
    return Sums(totals[0], totals[1], totals[2], totals[3])


def _block(heights: Floats, areas: Floats, levels: Floats) -> Floats:
    """The four totals of one block of triangles, (4, m): those on one side by weight, the others split."""
    low, middle, high = heights[:, 0], heights[:, 1], heights[:, 2]
    below = levels[:, None] >= high
    above = levels[:, None] <= low
    above &= ~below
    moments = np.empty((len(areas), 2))
    moments[:, 0] = areas
    moments[:, 1] = areas * (low + middle + high) / 3.0
    filled = below.astype(np.float64) @ moments
    dug = above.astype(np.float64) @ moments
    totals = np.empty((4, len(levels)))
    totals[0] = dug[:, 1] - levels * dug[:, 0]
    totals[1] = levels * filled[:, 0] - filled[:, 1]
    totals[2] = dug[:, 0]
    totals[3] = filled[:, 0]
    row, column = (~(below | above)).nonzero()
    if len(row):
        parts = split_depths(low[column], middle[column], high[column], levels[row])
        weight = areas[column]
        totals += [np.bincount(row, part * weight, len(levels)) for part in parts]
    return totals
