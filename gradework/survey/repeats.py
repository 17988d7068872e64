"""Points read more than once from one set-up: the error of a reading, and whether the instrument moved.

As long as the instrument stands, the rod reads the same on the same point. A jump that lasts says that it
moved, between the last reading that still agreed and the first that did not.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import Finding, visible
from gradework.survey.setups import Setup, split_setups
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.level_notes import LevelNotes

MOVED = 0.02 * 0.3048
"""A closing shot that differs by more says that the instrument moved [m]; 0.02 ft, common practice, no
source."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """Two readings of one point from one set-up, one after the other: rows of the notes, and their difference
    (later minus earlier) [m]."""

    station: str
    setup: int
    first: int
    second: int
    difference: float


def repeats(notes: LevelNotes) -> tuple[Repeat, ...]:
    """Every pair of successive readings of the same point within a set-up, in the order of the notes."""
    return tuple(r for s in split_setups(notes) for r in _of_setup(notes, s))


def reading_error(notes: LevelNotes) -> tuple[float, int]:
    """Standard error of one reading [m] from the repeats, and how many pairs say so; (NaN, 0) without any.

    A pair differs with twice the variance of a reading: s = √(sum d² / 2n). Pairs that say the instrument
    moved are left out.

    >>> from gradework.fieldnotes.level_notes import LevelNotes, LevelRow
    >>> rows = [LevelRow("BM", backsight=1.5)] + [LevelRow("A", intermediate=r) for r in (1.2, 1.202)]
    >>> round(reading_error(LevelNotes(tuple(rows)))[0], 6)
    0.001414
    """
    pairs = [r.difference for r in repeats(notes) if abs(r.difference) <= MOVED]
    if not pairs:
        return math.nan, 0
    return math.sqrt(math.fsum(d * d for d in pairs) / (2 * len(pairs))), len(pairs)


def moved_findings(notes: LevelNotes) -> list[Finding]:
    """One warning for each set-up during which the instrument seems to have moved, with the lines between."""
    found = []
    for setup in split_setups(notes):
        pairs = _of_setup(notes, setup)
        off = [p for p in pairs if abs(p.difference) > MOVED]
        if off:
            found.append(_moved(notes, setup, pairs, off))
    return found


def _of_setup(notes: LevelNotes, setup: Setup) -> list[Repeat]:
    last: dict[str, tuple[int, float]] = {}
    found = []
    for sight in (setup.back, *setup.forward):
        name = notes.rows[sight.row].station
        if name in last:
            row, reading = last[name]
            found.append(Repeat(name, setup.number, row, sight.row, sight.reading - reading))
        last[name] = (sight.row, sight.reading)
    return found


def _moved(notes: LevelNotes, setup: Setup, pairs: Sequence[Repeat], off: Sequence[Repeat]) -> Finding:
    """Between which lines: after the latest start and before the earliest end of the pairs that differ, less
    the stretches over which a point still read the same."""
    del setup
    show = Display(notes.unit)
    after, before = max(p.first for p in off), min(p.second for p in off)
    for p in pairs:
        if p in off:
            continue
        if p.first <= after < p.second < before:
            after = p.second
        elif after < p.first < before <= p.second:
            before = p.first
    worst = max(off, key=lambda p: abs(p.difference))
    name = visible(worst.station)
    more = "more" if worst.difference > 0 else "less"
    head = f"{name} reads {show.elevation(abs(worst.difference))} {more} than before"
    lines = f"lines {notes.rows[after].line} and {notes.rows[before].line}"
    text = (
        f"{head}: the instrument moved between {lines}, or one of the two readings is wrong. Shoot what "
        f"follows line {notes.rows[after].line} again."
        if after < before
        else f"{head}, and other repeats contradict each other: read the repeated points again."
    )
    return Finding("instrument-moved", "warning", f"{name}, {lines}", worst.difference, MOVED, text)
