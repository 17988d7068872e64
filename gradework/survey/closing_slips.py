"""Which single misread backsight or foresight would explain a misclosure that is too large.

A whole foot could be any of them; swapped digits, tenths taken for inches or bars counted as hundredths point
to few. Suspicions, never corrections.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.survey.misreading import Misreading, explain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.level_notes import LevelRow
    from gradework.survey.field_book import Closure
    from gradework.survey.setups import Setup
    from gradework.units import Display, Unit

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class ClosingSlip:
    """A reading of the levelled line, and the slip in it that would make the miss; ``column`` is BS or FS."""

    line: int
    station: str
    column: str
    written: float
    slip: Misreading


def closing_slips(
    rows: Sequence[LevelRow], setups: Sequence[Setup], closure: Closure, *, unit: Unit, reading_sd: float
) -> tuple[ClosingSlip, ...]:
    """Slips in the backsights and turning foresights up to a closing mark that explain its miss, likeliest
    first.

    A backsight read too long lifts all that follows, a foresight read too long lowers it. ``reading_sd`` [m]
    of one reading: the miss of sound readings grows with the root of their number. Of a line over several
    runs only the readings of the one that closes are looked at.
    """
    end = next(i for i, s in enumerate(setups) if any(_closes(rows[x.row], closure) for x in s.forward))
    part = [s for s in setups[max(0, end - closure.setups + 1) : end + 1] if s.run == setups[end].run]
    sd = reading_sd * math.sqrt(2 * len(part))
    found: list[ClosingSlip] = []
    for number, setup in enumerate(part):
        last = setup.turn
        if number == len(part) - 1:
            last = next(x for x in setup.forward if _closes(rows[x.row], closure))
        for sight, column, sense in ((setup.back, "BS", 1), (last, "FS", -1)):
            row = rows[sight.row]
            slips = explain(sight.reading, sense * closure.misclosure, sd, unit)
            found += [ClosingSlip(row.line, row.station, column, sight.reading, s) for s in slips]
    return tuple(sorted(found, key=lambda c: (-c.slip.score, c.line)))


def _closes(row: LevelRow, closure: Closure) -> bool:
    return row.station == closure.station and row.line == closure.line


def slip_words(slips: Sequence[ClosingSlip], show: Display, *, single: bool = False) -> str:
    """A sentence about the likeliest slips, empty without any; ``single``: the book has one column only."""
    if not slips:
        return ""
    whole = [s for s in slips if s.slip.kind.startswith("a whole")]
    pointed = [s for s in slips if not s.slip.kind.startswith("a whole")][:MOST_NAMED]
    words = []
    if whole:
        places = "reading on the mark" if single else "backsight or turning point"
        words.append(f"{whole[0].slip.kind} in any one {places}")
    words += [
        f"{s.slip.kind} in the {'reading' if single else s.column} on line {s.line} "
        f"({show.elevation(s.written)} for {show.elevation(s.slip.likely)})"
        for s in pointed
    ]
    return "It would be explained by " + ", or by ".join(words) + "."
