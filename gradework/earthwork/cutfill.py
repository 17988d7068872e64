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
    far = abs(datum) + float(np.abs(climb).max()) + float(np.abs(heights).max())
    _check(heights, pieces.area, climb, cut, fill, net, cut_area + fill_area + grade, far)
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
    flat = (heights[:, 2] - heights[:, 0] <= 2 * ON_GRADE).nonzero()[0]
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


def _check(
    heights: Floats,
    area: float,
    levels: Floats,
    cut: Floats,
    fill: Floats,
    net: Floats,
    covered: Floats,
    far: float,
) -> None:
    """Raise CheckError unless the results agree.

    heights and levels : above one datum [m];  covered : area in cut, in fill and on grade [m²];  far : the
    greatest elevation [m], whose last digits set what rounding alone may leave.
    """
    low, high = float(heights[:, 0].min()), float(heights[:, 2].max())
    slack = AGREEMENT * (cut + fill) + area * far * 1e-14
    if not np.isfinite(slack).all():
        raise CheckError("a volume is not finite")
    if (np.abs(covered - area) > AGREEMENT * area).any():
        raise CheckError("the areas in cut, in fill and on grade do not add up to the outline")
    if (np.abs(cut - fill - net) > slack).any():
        raise CheckError("cut less fill differs from the net volume worked out by itself")
    least, most = np.maximum(low - levels, 0.0) * area - slack, np.maximum(high - levels, 0.0) * area + slack
    beyond = (cut < least) | (cut > most)
    least, most = np.maximum(levels - high, 0.0) * area - slack, np.maximum(levels - low, 0.0) * area + slack
    if (beyond | (fill < least) | (fill > most)).any():
        raise CheckError("a volume lies outside what the highest and lowest ground allow")
    order = levels.argsort()
    cut, fill, most_slack = cut.take(order), fill.take(order), float(slack.max())
    if (cut[1:] - cut[:-1] > most_slack).any() or (fill[:-1] - fill[1:] > most_slack).any():
        raise CheckError("raising the level gave more cut or less fill")
