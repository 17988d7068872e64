"""The level book split into set-ups: which readings share one height of instrument, and how they chain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import Faults, visible
from gradework.survey.names import spaceless
from gradework.survey.sight_lengths import sight_lengths
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from gradework.fieldnotes.level_notes import LevelNotes, LevelRow
    from gradework.survey.sight_lengths import Lengths

MOST_ROWS = 20_000
"""A level book longer than this is not a yard."""


LONGEST_READING = 304.8
"""[m] 1,000 ft, some 40 rods: no decimal point in the wrong place makes a level sight of more, and far more
would drown the millimetres of all other readings."""


@dataclass(frozen=True, slots=True)
class Sight:
    """One rod reading [m]: its row in the notes (from 0), the length of the sight [m] or None."""

    row: int
    reading: float
    length: float | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """One place of the instrument. ``turn`` is its last forward reading, the foresight by rule of the book.

    ``number`` counts set-ups from 1; ``run`` counts unbroken chains from 0: a set-up whose backsight does not
    stand on the turn before it opens a new run. ``aside`` are the rows booked as foresight that nothing
    turned on. ``measured``: the length of the leg to the turn [m], where that was noted and not the sights.
    """

    number: int
    run: int
    back: Sight
    forward: tuple[Sight, ...]
    aside: tuple[int, ...] = ()
    measured: float | None = None

    @property
    def turn(self) -> Sight:
        return self.forward[-1]

    @property
    def leg(self) -> float | None:
        """Length from the backsight to the turn along the sights [m], None where it was not measured."""
        if self.turn.length is None or self.back.length is None:
            return self.measured
        return self.back.length + self.turn.length


def split_setups(notes: LevelNotes, faults: Faults | None = None) -> tuple[Setup, ...]:
    """Set-ups of a level book in order.

    Raises InputError with every fault: no rows, a row without a reading, two readings where one belongs, a
    reading before the first backsight, a backsight that nothing was read from, a value that is not finite, a
    reading over 1,000 ft; and those in ``faults``, which were found before.
    """
    faults = faults or Faults(notes.file)
    spoilt = _check_rows(notes, faults)
    begun = any(r.backsight is not None for r in notes.rows)
    setups: list[Setup] = []
    back: Sight | None = None
    forward: list[Sight] = []
    lengths = sight_lengths(notes.rows)
    for index, (row, length) in enumerate(zip(notes.rows, lengths, strict=True)):
        ahead = row.foresight
        if ahead is None and row.backsight is None:
            ahead = row.intermediate
        if ahead is not None:
            if back is not None:
                forward.append(Sight(index, ahead, length.ahead))
            elif begun:
                _no_backsight(faults, row, single=notes.single)
        if row.backsight is not None:
            _close(setups, notes, back, forward, faults, lengths, spoilt)
            back, forward = Sight(index, row.backsight, length.back), []
    _close(setups, notes, back, forward, faults, lengths, spoilt)
    faults.raise_if_any()
    return tuple(setups)


def _close(
    setups: list[Setup],
    notes: LevelNotes,
    back: Sight | None,
    forward: list[Sight],
    faults: Faults,
    lengths: Sequence[Lengths],
    spoilt: Collection[int],
) -> None:
    """Finish the set-up in hand, if there is one. A reading that is lost in a ``spoilt`` row after its
    backsight is told of there."""
    if back is None:
        return
    row = notes.rows[back.row]
    if not forward and back.row + 1 in spoilt:
        return
    if not forward:
        faults.add(
            "levels-backsight-unused",
            f"backsight on {visible(row.station)} with no reading after it",
            "at least one intermediate sight or foresight from each set-up",
            "add the readings taken from this set-up, or delete the backsight",
            line=row.line,
        )
        return
    run = 0
    if setups:
        before = setups[-1]
        turned = notes.rows[before.turn.row].station == row.station
        run = before.run if turned else before.run + 1
    aside = tuple(s.row for s in forward[:-1] if notes.rows[s.row].foresight is not None)
    leg = lengths[forward[-1].row].leg
    setups.append(Setup(len(setups) + 1, run, back, tuple(forward), aside, leg))


def _no_backsight(faults: Faults, row: LevelRow | None = None, *, single: bool) -> None:
    found = "no reading in the notes" if single else "no backsight in the notes"
    faults.add(
        "levels-no-backsight",
        found if row is None else f"a reading on {visible(row.station)} before any backsight",
        "a reading on a benchmark first" if single else "a backsight on a benchmark first",
        f"start the notes with the benchmark: its reading goes {'first' if single else 'in the BS column'}",
        line=row.line if row else 0,
    )


def _check_rows(notes: LevelNotes, faults: Faults) -> frozenset[int]:
    """Look at every row by itself; gives the indexes of the rows with a fault."""
    if not any(r.backsight is not None for r in notes.rows):
        _no_backsight(faults, single=notes.single)
    if len(notes.rows) > MOST_ROWS:
        faults.add(
            "levels-too-long",
            f"{len(notes.rows)} rows",
            f"at most {MOST_ROWS} rows of level notes",
            "split the notes into one file per day",
        )
    spoilt = set()
    for index, row in enumerate(notes.rows):
        before = len(faults.all)
        _check_row(row, faults, Display(notes.unit), single=notes.single)
        if len(faults.all) > before:
            spoilt.add(index)
    _check_names(notes, faults)
    return frozenset(spoilt)


def _check_names(notes: LevelNotes, faults: Faults) -> None:
    """Names that differ only in capitals or spaces: one mark closes nothing under two of them."""
    first: dict[str, LevelRow] = {}
    told: set[str] = set()
    for row in notes.rows:
        before = first.setdefault(spaceless(row.station), row)
        if before.station != row.station and row.station not in told:
            told.add(row.station)
            faults.add(
                "station-names-alike",
                f"{visible(row.station)}, and {visible(before.station)} on line {before.line}: alike but for "
                "capitals or spaces",
                "one name for one point",
                "write it alike everywhere, or give one of the two another name",
                line=row.line,
            )


def _check_row(row: LevelRow, faults: Faults, show: Display, *, single: bool) -> None:
    given = (
        row.backsight,
        row.intermediate,
        row.foresight,
        row.known,
        row.distance,
        row.back_distance,
        row.booked,
    )
    if any(v is not None and not math.isfinite(v) for v in given):
        faults.add(
            "levels-not-finite",
            f"a value at {visible(row.station)} that is not a number",
            "plain numbers",
            "write the reading, or leave the cell empty",
            line=row.line,
        )
    for reading in (row.backsight, row.intermediate, row.foresight):
        if reading is not None and LONGEST_READING < abs(reading) < math.inf:
            faults.add(
                "rod-reading-impossible",
                f"a reading of {visible(show.elevation(reading))} at {visible(row.station)}",
                f"a rod reading, {show.distance(LONGEST_READING)} at the very most",
                "check the decimal point and the unit of the notes",
                line=row.line,
            )
    if any(v is not None and v < 0 for v in (row.distance, row.back_distance)):
        faults.add(
            "levels-distance-negative",
            f"a negative distance at {visible(row.station)}",
            "a distance of zero or more",
            "write the length of the sight without a sign",
            line=row.line,
        )
    if row.intermediate is not None and (row.foresight is not None or row.backsight is not None):
        faults.add(
            "levels-two-readings",
            f"an intermediate sight beside another reading at {visible(row.station)}",
            "IS alone on its line; only FS and the next BS share a line",
            "a point the next backsight stands on was read as foresight: move it to the FS column",
            line=row.line,
        )
    if row.backsight is None and row.intermediate is None and row.foresight is None and row.known is None:
        faults.add(
            "levels-no-reading",
            f"no reading at {visible(row.station)}",
            "a reading on each line" if single else "a BS, IS or FS on each line",
            "write the rod reading, or delete the line",
            line=row.line,
        )
