"""What the reduced level book says about itself: closure, the page as booked by hand, odd readings."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, finding, visible
from gradework.survey.levelling.tolerances import NO_MISS
from gradework.survey.misreadings import Misreading, explain
from gradework.survey.stations import located
from gradework.units.display import Display
from gradework.units.lengths import METRIC_UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gradework.fieldnotes.levels import LevelNotes
    from gradework.survey.levelling.field_book import BookLine, Closure, FieldBook, PageCheck
    from gradework.survey.levelling.network import BookNetwork
    from gradework.survey.levelling.setups import Setup, Sight


_MOST_SLIPS, _MOST_SUSPECTS = 3, 4

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
        *_closures(notes, book, setups, show),
        *([] if book.network is None else [_network(book.network, show, shared=book.shared != "no")]),
        *_booked(book, show),
        *_aside(notes, setups),
        *_odd_readings(notes, show),
    ]
    if asked_by_distance and book.shared == "setups":
        found.append(finding("legs-not-measured", "note", f"line {notes.rows[0].line}"))
    return replace(book, findings=tuple(found))


def _benchmark(book: FieldBook, show: Display) -> Iterator[Finding]:
    if book.assumed:
        name, level = visible(book.benchmark), show.elevation(book.datum)
        yield finding("benchmark-assumed", "note", name, book.datum, name=name, level=level)


def _closures(
    notes: LevelNotes, book: FieldBook, setups: Sequence[Setup], show: Display
) -> Iterator[Finding]:
    if not book.closures and book.network is None:
        name = visible(book.benchmark)
        yield finding("levels-not-closed", "warning", name, name=name)
    for closure in book.closures:
        yield _closure(closure, notes, setups, show, f"{book.allowance.kind} work")


def _closure(
    closure: Closure, notes: LevelNotes, setups: Sequence[Setup], show: Display, rule: str
) -> Finding:
    where, value, limit = located(closure.station, closure.line), closure.misclosure, closure.allowable
    name, miss = visible(closure.station), show.elevation(abs(value))
    side = "high" if value > 0 else "low"
    over = f"{closure.setups} set-up" + ("s" if closure.setups != 1 else "")
    if closure.within is False and limit is not None:
        slips = _closing_slips(notes, setups, closure, show)
        return finding(
            "misclosure-too-large",
            "warning",
            where,
            value,
            limit,
            variant="slips" if slips else "single" if notes.single else "",
            name=name,
            miss=miss,
            side=side,
            over=over,
            allowed=show.elevation(limit),
            rule=rule,
            slips=slips,
        )
    if closure.within is None:
        return finding(
            "misclosure-without-rule",
            "warning",
            where,
            value,
            name=name,
            miss=miss,
            side=side,
            over=over,
            rule=rule,
        )
    return finding(
        "misclosure",
        "note",
        where,
        value,
        limit,
        variant="exact" if abs(value) <= NO_MISS else "",
        name=name,
        miss=miss,
        side=side,
        over=over,
    )


def _closing_slips(notes: LevelNotes, setups: Sequence[Setup], closure: Closure, show: Display) -> str:
    """Which single misread backsight or turning foresight would explain a miss, likeliest first; or nothing.

    A backsight read too long lifts all that follows, a foresight read too long lowers it. Of a line over
    several runs only the readings of the one that closes are looked at. A whole foot could be any of them;
    swapped digits, tenths taken for inches or bars counted as hundredths point to few.
    """
    rows = notes.rows

    def closes(sight: Sight) -> bool:
        return (rows[sight.row].station, rows[sight.row].line) == (closure.station, closure.line)

    end = next(i for i, s in enumerate(setups) if any(map(closes, s.forward)))
    part = [s for s in setups[max(0, end - closure.setups + 1) : end + 1] if s.run == setups[end].run]
    sd = CAREFUL_SD * math.sqrt(
        2 * len(part)
    )  # the miss of sound readings grows with the root of their number
    found: list[tuple[Misreading, str, Sight]] = []
    for setup in part:
        last = next(filter(closes, setup.forward)) if setup is part[-1] else setup.turn
        for sight, column, sense in ((setup.back, "BS", 1), (last, "FS", -1)):
            slips = explain(sight.reading, sense * closure.misclosure, sd, notes.unit)
            found += [(slip, "reading" if notes.single else column, sight) for slip in slips]
    found.sort(key=lambda f: (-f[0].score, rows[f[2].row].line))
    whole = [slip for slip, _, _ in found if slip.kind.startswith("a whole")]
    places = "reading on the mark" if notes.single else "backsight or turning point"
    words = [f"{whole[0].kind} in any one {places}"] if whole else []
    pointed = [f for f in found if not f[0].kind.startswith("a whole")][:_MOST_SLIPS]
    for slip, column, sight in pointed:
        values = f"({show.rod(sight.reading)} for {show.rod(slip.likely)})"
        words.append(f"{slip.kind} in the {column} on line {rows[sight.row].line} {values}")
    return ", or ".join(words)


def _network(network: BookNetwork, show: Display, *, shared: bool) -> Finding:
    """What the adjustment says: a note where the routes agree, else a warning that names the reading."""
    worst = network.suspects[0]
    where, off = located(worst.station, worst.line), show.elevation(abs(worst.residual))
    if network.sound:
        return finding(
            "levels-adjusted",
            "note",
            where,
            abs(worst.standardised),
            network.limit,
            variant="" if shared else "compared",
            spare=network.surplus,
            variance=f"{network.reference_variance:.2f}",
            sight=worst.column,
            row=worst.line,
            off=off,
        )
    listed = [f"the {r.column} of {visible(r.station)} on line {r.line}" for r in network.suspects]
    more = f" or {len(listed) - _MOST_SUSPECTS} more" if len(listed) > _MOST_SUSPECTS else ""
    return finding(
        "routes-disagree",
        "warning",
        where,
        abs(worst.standardised),
        network.limit,
        variant="several" if len(listed) > 1 else "",
        readings=", ".join(listed[:_MOST_SUSPECTS]) + more,
        off=off,
    )


def _booked(book: FieldBook, show: Display) -> Iterator[Finding]:
    """Compare what was worked out by hand with the readings, step by step so that one slip is named once."""
    least = BOOKED_APART_METRIC if book.unit in METRIC_UNITS else BOOKED_APART_FEET
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
            where = f"lines {lines[0].row.line} to {lines[-1].row.line}"
            yield finding("page-check-fails", "warning", where, off, least, off=show.elevation(abs(off)))


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
    return finding(
        "booked-elevation-differs",
        "warning",
        located(line.row.station, line.row.line),
        slip,
        least,
        start=visible(before.row.station),
        name=visible(line.row.station),
        off=show.elevation(abs(slip)),
        more="more" if slip > 0 else "less",
        first=before.row.line,
        last=line.row.line,
    )


def _aside(notes: LevelNotes, setups: Sequence[Setup]) -> Iterator[Finding]:
    rows = [notes.rows[index] for setup in setups for index in setup.aside]
    if rows:
        names = ", ".join(visible(r.station) for r in rows[:6]) + (" ..." if len(rows) > 6 else "")
        where = f"line {rows[0].line}"
        yield finding("foresight-not-turned-on", "note", where, float(len(rows)), names=names)


def _odd_readings(notes: LevelNotes, show: Display) -> Iterator[Finding]:
    for row in notes.rows:
        for reading in (row.backsight, row.intermediate, row.foresight):
            if reading is None:
                continue
            where = located(row.station, row.line)
            if reading < 0:
                yield finding("rod-reading-negative", "note", where, reading, 0.0)
            elif reading > LONGEST_ROD:
                long = show.rod(reading)
                yield finding("rod-reading-long", "warning", where, reading, LONGEST_ROD, reading=long)
