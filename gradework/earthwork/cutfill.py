"""Cut and fill of a level plane against the ground under an outline: closed form, checked in every run.

No cells, no samples: each triangle of ground gives a polynomial of the level. Volumes are geometry only;
whether they are in place, loose or compacted is for the caller to say (``cut`` is ground in place).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import prism
from gradework.earthwork.bracket import falling_root
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces

Floats = NDArray[np.float64]

AGREEMENT = 1e-9
"""Two ways to one volume must agree within this part of cut plus fill."""

ON_GRADE = 1e-9
"""[m] Ground this close to the level all over a piece is on grade: neither in cut nor in fill."""

NUDGE = 0.01
"""[m] The run-time check raises and lowers the plane by this: cut must not grow upward, nor fill shrink."""


@dataclass(frozen=True, slots=True)
class CutFill:
    """Cut and fill against one level [m, m², m³]; cut, fill and their areas are never negative.

    net = cut - fill.  mean_depth: mean height of the ground above the level (negative: below).  doubt: how
    far cut, fill or net may be off because the survey does not say how its squares fold.
    """

    level: float
    area: float
    cut: float
    fill: float
    net: float
    cut_area: float
    fill_area: float
    grade_area: float
    mean_depth: float
    doubt: float


def cut_and_fill(pieces: Pieces, levels: float | Sequence[float] | Floats) -> tuple[CutFill, ...]:
    """Cut and fill of the ground under an outline for each level [m], in the order given.

    Flat ground exactly at the level is on grade and has no volume. Raises ValueError for a level that is not
    finite, CheckError where two ways to the same volume disagree.
    """
    wanted = np.atleast_1d(np.asarray(levels, dtype=np.float64))
    if not np.isfinite(wanted).all():
        raise ValueError(f"levels must be finite numbers [m], not {wanted[~np.isfinite(wanted)][0]}")
    if not len(wanted):
        return ()
    datum = pieces.mean
    heights = pieces.heights - datum
    climb = np.concatenate((wanted, [wanted.min() - NUDGE, wanted.max() + NUDGE])) - datum
    totals = prism.sums(heights, pieces.areas, climb)
    cut, fill = np.maximum(totals.cut, 0.0), np.maximum(totals.fill, 0.0)
    cut_area, fill_area, grade = _with_grade(heights, pieces.areas, climb, totals)
    net = _net(heights, pieces.areas, climb)
    _check(pieces, climb, cut, fill, net, cut_area + fill_area + grade)
    rows = zip(
        wanted.tolist(),
        cut.tolist(),
        fill.tolist(),
        cut_area.tolist(),
        fill_area.tolist(),
        grade.tolist(),
        strict=False,
    )
    area, doubt = pieces.area, pieces.doubt
    return tuple(
        CutFill(
            level, area, dug, filled, dug - filled, in_cut, in_fill, on_grade, (dug - filled) / area, doubt
        )
        for level, dug, filled, in_cut, in_fill, on_grade in rows
    )


def balance_level(pieces: Pieces, compaction: float = 1.0) -> float:
    """The level [m] at which cut times ``compaction`` equals fill, exact to about 1e-10 m.

    compaction : compacted volume per volume in place [-]; with 1 the answer is the mean elevation of the
    ground. Raises ValueError unless it is finite and above zero.
    """
    if not (np.isfinite(compaction) and compaction > 0.0):
        raise ValueError(f"compaction must be a number above zero [-], not {compaction}")
    datum = pieces.mean
    if compaction == 1.0:
        return datum
    heights = pieces.heights - datum

    def surplus(level: float) -> tuple[float, float]:
        totals = prism.sums(heights, pieces.areas, np.array([level]))
        value = compaction * totals.cut[0] - totals.fill[0]
        return float(value), -float(compaction * totals.cut_area[0] + totals.fill_area[0])

    return datum + falling_root(surplus, float(heights[:, 0].min()), float(heights[:, 2].max()))


def _with_grade(
    heights: Floats, areas: Floats, levels: Floats, totals: prism.Sums
) -> tuple[Floats, Floats, Floats]:
    """Areas in cut, in fill and on grade: flat pieces within ``ON_GRADE`` of a level belong to the last."""
    grade = np.zeros(len(levels))
    cut_area, fill_area = totals.cut_area, totals.fill_area
    flat = np.flatnonzero(heights[:, 2] - heights[:, 0] <= 2 * ON_GRADE)
    if len(flat):
        own, weight = heights.take(flat, axis=0), areas.take(flat)
        level = levels[:, None]
        on_grade = (np.abs(level - own[:, 0]) <= ON_GRADE) & (np.abs(level - own[:, 2]) <= ON_GRADE)
        for number in np.flatnonzero(on_grade.any(axis=1)):
            hit = np.flatnonzero(on_grade[number])
            part = prism.sums(own[hit], weight[hit], levels[number : number + 1])
            grade[number] = weight[hit].sum()
            cut_area[number] -= part.cut_area[0]
            fill_area[number] -= part.fill_area[0]
    return np.maximum(cut_area, 0.0), np.maximum(fill_area, 0.0), grade


def _net(heights: Floats, areas: Floats, levels: Floats) -> Floats:
    """Ground less level over the whole outline, from the corners alone: the second way to cut - fill."""
    ground = float(np.dot(areas, heights.sum(axis=1))) / 3.0
    return ground - levels * float(areas.sum())


def _check(pieces: Pieces, levels: Floats, cut: Floats, fill: Floats, net: Floats, covered: Floats) -> None:
    """Raise CheckError unless the results agree (``levels`` are above the pieces' mean elevation)."""
    area = pieces.area
    low, high = pieces.lowest - pieces.mean, pieces.highest - pieces.mean
    # what rounding alone may leave in one volume: a few last digits of the greatest height times the area
    reach = max(-low, high, float(np.abs(levels).max()))
    rounding = area * (reach + abs(pieces.mean)) * 1e-14
    total = cut + fill
    if not np.isfinite(total).all():
        raise CheckError("a volume is not finite")
    if not (np.abs(covered - area) <= AGREEMENT * area).all():
        raise CheckError("the areas in cut, in fill and on grade do not add up to the outline")
    slack = AGREEMENT * total + rounding
    if not (np.abs(cut - fill - net) <= slack).all():
        raise CheckError("cut less fill differs from the net volume worked out by itself")
    for volume, least, most in ((cut, low - levels, high - levels), (fill, levels - high, levels - low)):
        inside = (volume >= np.maximum(least, 0.0) * area - slack) & (
            volume <= np.maximum(most, 0.0) * area + slack
        )
        if not inside.all():
            raise CheckError("a volume lies outside what the highest and lowest ground allow")
    order = np.argsort(levels)
    # areas are signed, so one thin piece may turn the last digit
    if (np.diff(cut[order]) > slack.max()).any() or (np.diff(fill[order]) < -slack.max()).any():
        raise CheckError("raising the level gave more cut or less fill")
