"""What the reduced level book says about itself: closure, the page as booked by hand, odd readings."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, visible
from gradework.survey.levelling.network import network_finding
from gradework.survey.misreadings import Misreading, explain
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gradework.fieldnotes.levels import LevelNotes, LevelRow
    from gradework.survey.levelling.field_book import BookLine, Closure, FieldBook, PageCheck
    from gradework.survey.levelling.setups import Setup
    from gradework.units.lengths import Unit


# Which single misread backsight or foresight would explain a misclosure that is too large.
#
# A whole foot could be any of them; swapped digits, tenths taken for inches or bars counted as hundredths
# point to few. Suspicions, never corrections.

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


LONGEST_ROD = 25 * 0.3048
"""No rod is longer [m]; common practice, no source."""

CAREFUL_SD = 0.0015
"""Standard error of one careful reading [m], for telling a slip from the usual small errors; a judgement."""

BOOKED_APART_METRIC, BOOKED_APART_FEET = 0.0006, 0.006 * 0.3048
"""A rise booked by hand that differs by more was not rounded but worked out wrong [m]: just over half the
last place of notes to the millimetre, or to a hundredth of a foot."""


def level_findings(
    notes: LevelNotes, book: FieldBook, setups: Sequence[Setup], *, asked_by_distance: bool
) -> FieldBook:
    """The book with its findings added to those of the notes."""
    show = Display(notes.unit)
    found = [
        *notes.findings,
        *_benchmark(book, show),
        *_closure(notes, book, setups, show),
        *([] if book.network is None else [network_finding(book.network, show, shared=book.shared != "no")]),
        *_booked(book, show),
        *_aside(notes, setups),
        *_odd_readings(notes, show),
    ]
    if asked_by_distance and book.shared == "setups":
        found.append(
            Finding(
                "legs-not-measured",
                "note",
                f"line {notes.rows[0].line}",
                None,
                None,
                "Not every leg has a distance, so the misclosure was shared equally per set-up.",
            )
        )
    return replace(book, findings=tuple(found))


def _benchmark(book: FieldBook, show: Display) -> Iterator[Finding]:
    if book.assumed:
        level = show.elevation(book.datum)
        yield Finding(
            "benchmark-assumed",
            "note",
            visible(book.benchmark),
            book.datum,
            None,
            f"{visible(book.benchmark)} was given no elevation and is taken as {level}: every elevation is "
            "above or below that mark, not above the sea. Keep the mark.",
        )


def _closure(notes: LevelNotes, book: FieldBook, setups: Sequence[Setup], show: Display) -> Iterator[Finding]:
    if not book.closures and book.network is None:
        yield Finding(
            "levels-not-closed",
            "warning",
            visible(book.benchmark),
            None,
            None,
            "The notes do not end on a known mark, so nothing shows whether the instrument moved or a "
            f"turning point was misread. Finish on {visible(book.benchmark)} again.",
        )
    for closure in book.closures:
        where = f"{visible(closure.station)}, line {closure.line}"
        miss = show.elevation(abs(closure.misclosure))
        high = "high" if closure.misclosure > 0 else "low"
        over = f"{closure.setups} set-up" + ("s" if closure.setups != 1 else "")
        if closure.within is False and closure.allowable is not None:
            slips = closing_slips(notes.rows, setups, closure, unit=notes.unit, reading_sd=CAREFUL_SD)
            hint = slip_words(slips, show, single=notes.single) or (
                f"Look for a misread {'rod on the mark' if notes.single else 'backsight or turning point'}."
            )
            yield Finding(
                "misclosure-too-large",
                "warning",
                where,
                closure.misclosure,
                closure.allowable,
                f"The levels come back {miss} {high} at {visible(closure.station)} over {over}; "
                f"{show.elevation(closure.allowable)} is allowed for {book.allowance.kind} work. It was not "
                f"shared out. {hint} Else level that stretch again.",
            )
        elif closure.within is None:
            yield Finding(
                "misclosure-without-rule",
                "warning",
                where,
                closure.misclosure,
                None,
                f"The levels come back {miss} {high} at {visible(closure.station)} over {over}. For "
                f"{book.allowance.kind} work only the length of the line says how far they may miss, and it "
                "was not measured: nothing was shared out. Note the distances, or name another kind of work.",
            )
        else:
            yield Finding(
                "misclosure",
                "note",
                where,
                closure.misclosure,
                closure.allowable,
                f"The levels come back {miss} {high} at {visible(closure.station)} over {over}."
                if abs(closure.misclosure) > 1e-9
                else f"The levels come back exactly at {visible(closure.station)} over {over}.",
            )


def _booked(book: FieldBook, show: Display) -> Iterator[Finding]:
    """Compare what was worked out by hand with the readings, step by step so that one slip is named once."""
    least = BOOKED_APART_METRIC if book.unit == "m" else BOOKED_APART_FEET
    for page in book.pages:
        lines = _booked_lines(book, page)
        if len(lines) < 2:
            continue
        slips = [(a, b, _step(a, b)) for a, b in itertools.pairwise(lines)]
        for before, line, slip in slips:
            if abs(slip) > least:
                yield _slip(before, line, slip, least, show)
        off = math.fsum(slip for _, _, slip in slips)
        if abs(off) > least:
            yield Finding(
                "page-check-fails",
                "warning",
                f"lines {lines[0].row.line} to {lines[-1].row.line}",
                off,
                least,
                f"Sum of backsights minus sum of foresights differs by {show.elevation(abs(off))} from last "
                "minus first elevation as booked: a reading was copied wrong, or the book was worked out "
                "wrong.",
            )


def _booked_lines(book: FieldBook, page: PageCheck) -> list[BookLine]:
    """The lines of one run with an elevation written by hand; the mark it begins on counts as one."""
    inside = [line for line in book.lines if page.first_line <= line.row.line <= page.last_line]
    if not page.first_line:
        inside = list(book.lines)
    start = inside[0]
    first = [replace(start, row=replace(start.row, booked=start.raw))] if start.row.booked is None else []
    return first + [line for line in inside if line.row.booked is not None]


def _step(before: BookLine, line: BookLine) -> float:
    """Rise from one booked line to the next by the readings, minus the rise as booked [m]."""
    assert before.row.booked is not None
    assert line.row.booked is not None
    return (line.raw - before.raw) - (line.row.booked - before.row.booked)


def _slip(before: BookLine, line: BookLine, slip: float, least: float, show: Display) -> Finding:
    name = visible(line.row.station)
    return Finding(
        "booked-elevation-differs",
        "warning",
        f"{name}, line {line.row.line}",
        slip,
        least,
        f"From {visible(before.row.station)} to {name} the readings rise {show.elevation(abs(slip))} "
        f"{'more' if slip > 0 else 'less'} than the elevations in the book. Check the readings on lines "
        f"{before.row.line} to {line.row.line} against the page.",
    )


def _aside(notes: LevelNotes, setups: Sequence[Setup]) -> Iterator[Finding]:
    rows = [notes.rows[index] for setup in setups for index in setup.aside]
    if rows:
        names = ", ".join(visible(r.station) for r in rows[:6]) + (" ..." if len(rows) > 6 else "")
        yield Finding(
            "foresight-not-turned-on",
            "note",
            f"line {rows[0].line}",
            float(len(rows)),
            None,
            f"Booked as foresight but no backsight follows: {names}. They were taken as intermediate sights.",
        )


def _odd_readings(notes: LevelNotes, show: Display) -> Iterator[Finding]:
    for row in notes.rows:
        for reading in (row.backsight, row.intermediate, row.foresight):
            if reading is None:
                continue
            where = f"{visible(row.station)}, line {row.line}"
            if reading < 0:
                yield Finding(
                    "rod-reading-negative",
                    "note",
                    where,
                    reading,
                    0.0,
                    "A reading below zero is a rod held upside down, to a point above the line of sight. If "
                    "this was not, take the minus away.",
                )
            elif reading > LONGEST_ROD:
                yield Finding(
                    "rod-reading-long",
                    "warning",
                    where,
                    reading,
                    LONGEST_ROD,
                    f"No rod is as long as {show.elevation(reading)}. Check the decimal point and the unit.",
                )
