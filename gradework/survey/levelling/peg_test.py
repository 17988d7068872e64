"""The two-peg test: by how much the line of sight of a level rises or dips, and what that does to readings.

The error is a slope, metres per metre of sight, positive where the line rises (readings too large far away).
It cancels where backsight and foresight are equally long, and only there.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import InputError, fault, finding
from gradework.survey.levelling.given import PegSetup
from gradework.survey.levelling.setups import sight_lengths
from gradework.units.display import Display

if TYPE_CHECKING:
    from gradework.fieldnotes.levels import LevelNotes


LARGEST_SLOPE = 0.01
"""A line of sight further out than 1 in 100 is a misreading, not an instrument [-]; common practice, no
source."""


def two_peg_test(first: PegSetup, second: PegSetup) -> float:
    """Slope of the line of sight [-], positive rising, from two set-ups over the same pegs.

    Usually the first stands midway and the second close to one peg. Raises InputError when the two set-ups
    are equally unbalanced (they say nothing about the line) or the answer is no instrument's.

    >>> mid, near = PegSetup(1.500, 1.700, 25, 25), PegSetup(1.400, 1.605, 2, 52)
    >>> round(two_peg_test(mid, near), 6)
    0.0001
    """
    lean = (first.distance_b - first.distance_a) - (second.distance_b - second.distance_a)
    values = (*first.values, *second.values)
    if not all(math.isfinite(v) for v in values):
        raise InputError([fault("two-peg-unusable")])
    if abs(lean) < 1.0:
        raise InputError([fault("two-peg-unusable", variant="alike", apart=f"{abs(lean):.2f}")])
    slope = ((first.reading_b - first.reading_a) - (second.reading_b - second.reading_a)) / lean
    _check_slope(slope)
    return slope


def straighten(notes: LevelNotes, slope: float) -> LevelNotes:
    """Level notes with every reading of known sight length freed of the slope of the line of sight [-].

    A corrected reading is reading - slope·length. Readings without a length stay as they are, with a finding:
    their error cancels only as far as the sights were balanced; so do those of a book with the lengths of
    its legs (see ``sight_lengths``). Raises InputError for a slope no instrument has.
    """
    _check_slope(slope)
    missing = 0
    rows = []
    for row, length in zip(notes.rows, sight_lengths(notes.rows), strict=True):
        ahead = row.foresight is not None or row.intermediate is not None
        missing += (row.backsight is not None and length.back is None) + (ahead and length.ahead is None)
        rows.append(
            replace(
                row,
                backsight=_without(row.backsight, length.back, slope),
                intermediate=_without(row.intermediate, length.ahead, slope),
                foresight=_without(row.foresight, length.ahead, slope),
            )
        )
    found = notes.findings
    if missing:
        show = Display(notes.unit)
        found = (
            *found,
            finding(
                "sights-not-straightened",
                "warning",
                "level notes",
                slope,
                off=show.elevation(abs(slope) * 30),
                reach=show.distance(30),
                count=missing,
            ),
        )
    return replace(notes, rows=tuple(rows), findings=found)


def _without(reading: float | None, length: float | None, slope: float) -> float | None:
    return reading if reading is None or length is None else reading - slope * length


def _check_slope(slope: float) -> None:
    if not abs(slope) <= LARGEST_SLOPE:
        found = fault("two-peg-unusable", variant="slope", slope=f"{slope:.3g}", most=f"{LARGEST_SLOPE:g}")
        raise InputError([found])
