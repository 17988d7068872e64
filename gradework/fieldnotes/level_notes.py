"""Level notes as they were written down: one record per line of the book, in metres, nothing computed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.errors import Finding
    from gradework.units import Unit


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One line of the level book. A turning point carries its foresight and the next backsight on one line.

    ``backsight``, ``intermediate``, ``foresight``: rod readings [m]; negative for an inverted rod.
    ``known``: the given elevation of the mark [m]. ``booked``: the elevation worked out by hand [m].
    ``distance``: length of the sight on this line, or of the leg since the last turning point [m] (which of
    them, ``survey.sight_lengths`` tells). ``back_distance``: length of the backsight where the line also
    holds a foresight [m]. ``line`` counts from 1; 0 means none.
    """

    station: str
    backsight: float | None = None
    intermediate: float | None = None
    foresight: float | None = None
    known: float | None = None
    distance: float | None = None
    back_distance: float | None = None
    booked: float | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class LevelNotes:
    """A level book: its lines in order, the file and the unit it was written in.

    ``single``: it was written as one column of readings, so that it has no BS, IS and FS to be named.
    """

    rows: tuple[LevelRow, ...]
    file: str = ""
    unit: Unit = "m"
    findings: tuple[Finding, ...] = ()
    single: bool = False
