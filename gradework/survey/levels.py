"""Level notes to elevations: height of instrument, closure, sharing of the misclosure, standard errors.

HI = elevation + BS; elevation = HI - IS or HI - FS. Each set-up's forward readings share one correction, that
of the place along the line where the set-up ends. A misclosure beyond its allowance is not shared: it is a
blunder to be found, and spreading it would only hide it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from gradework.errors import Faults, visible
from gradework.survey.book_network import adjust_book, is_network
from gradework.survey.closure import KINDS_OF_WORK, corrections
from gradework.survey.field_book import BookLine, Closure, FieldBook, PageCheck
from gradework.survey.level_checks import close_marks, page_check, runs
from gradework.survey.level_errors import Share, standard_errors
from gradework.survey.level_findings import level_findings
from gradework.survey.rise_fall import rises
from gradework.survey.setups import Setup, Sight, split_setups

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.level_notes import LevelNotes, LevelRow
    from gradework.survey.book_network import BookNetwork
    from gradework.survey.closure import Allowance

READING_SD = 0.003
"""Standard error of one reading with a builder's level on a yard [m]: ±1/4 in at 75-100 ft taken as two
standard errors (memory)."""

ASSUMED_FEET, ASSUMED_METRES = 100 * 0.3048, 30.0
"""Elevation given to a benchmark that has none: 100 ft, or 30 m in metric notes [m]."""


@dataclass
class _Reduction:
    """What is worked out on the way, by row of the notes."""

    setups: tuple[Setup, ...]
    known: dict[str, float]
    raw: dict[int, float] = field(default_factory=dict)
    instrument: dict[int, float] = field(default_factory=dict)
    opening: dict[int, float] = field(default_factory=dict)
    begins_on: dict[int, int | None] = field(default_factory=dict)
    closures: list[Closure] = field(default_factory=list)
    pages: list[PageCheck] = field(default_factory=list)
    correction: dict[int, float] = field(default_factory=dict)
    shares: dict[int, Share] = field(default_factory=dict)
    by: set[str] = field(default_factory=set)


def reduce_levels(
    notes: LevelNotes,
    *,
    work: str = "yard",
    share: Literal["setups", "distance"] = "setups",
    reading_sd: float = READING_SD,
) -> FieldBook:
    """Reduce a level book by height of instrument, check it by rise and fall, close and adjust it.

    ``work`` is a name in ``KINDS_OF_WORK``; ``share`` spreads the misclosure equally per set-up, or by the
    length of the legs where every leg of a run was measured (else per set-up, with a finding); ``reading_sd``
    [m] is the standard error of one reading. A first mark without an elevation is assumed at 100 ft or 30 m
    when no mark in the book has one. Where more than one route leads to a point, all readings are adjusted
    together (see ``book_network``).

    Raises InputError with every fault (see ``split_setups``; also a backsight on a point that nothing gives
    an elevation, and one mark with two elevations) and CheckError if the two ways of reducing disagree.
    Source of the procedure: Mahun, Open Access Surveying Library, Elevations, chapters C and E.
    """
    if work not in KINDS_OF_WORK:
        raise ValueError(f"work must be one of {', '.join(KINDS_OF_WORK)}, found {work!r}")
    if not (reading_sd > 0 and math.isfinite(reading_sd)):
        raise ValueError(f"reading_sd must be above 0 m, found {reading_sd!r}")
    setups = split_setups(notes)
    done = _Reduction(setups, _known_marks(notes))
    benchmark = notes.rows[setups[0].back.row].station
    assumed = not done.known
    if assumed:
        done.known[benchmark] = ASSUMED_METRES if notes.unit == "m" else ASSUMED_FEET
    _walk(notes, done)
    allowance = KINDS_OF_WORK[work]
    for run in runs(setups):
        _close_run(notes.rows, run, done, allowance, share)
    network = None
    if is_network(notes.rows, setups, done.known, closed=bool(done.closures)):
        network = adjust_book(
            notes.rows, setups, done.known, reading_sd=reading_sd, by_length=share == "distance"
        )
    shared = _way_of_sharing(done, network)
    book = FieldBook(
        lines=_lines_adjusted(_book_lines(notes, done, reading_sd), network if shared == "network" else None),
        closures=tuple(done.closures),
        pages=tuple(done.pages),
        setups=len(setups),
        shared=shared,
        allowance=allowance,
        benchmark=benchmark,
        assumed=assumed,
        file=notes.file,
        unit=notes.unit,
        findings=(),
        network=network,
    )
    return level_findings(notes, book, setups, asked_by_distance=share == "distance")


def _way_of_sharing(done: _Reduction, network: BookNetwork | None) -> str:
    """How the book is adjusted: several routes together, unless a mark misses by too much or a reading
    contradicts the others. Then nothing is, and what single runs shared is taken back, errors too."""
    if network is None:
        return "no" if not done.by else "setups" if "setups" in done.by else "distance"
    done.correction = dict.fromkeys(done.correction, 0.0)
    done.shares = {}
    sound = network.sound and all(c.within is not False for c in done.closures)
    return "network" if sound else "no"


def _lines_adjusted(lines: tuple[BookLine, ...], network: BookNetwork | None) -> tuple[BookLine, ...]:
    if network is None:
        return lines
    at, sd = network.elevation, network.sd
    return tuple(line.moved(at[line.row.station], sd[line.row.station]) for line in lines)


def _known_marks(notes: LevelNotes) -> dict[str, float]:
    faults = Faults(notes.file)
    known: dict[str, float] = {}
    first: dict[str, int] = {}
    for row in notes.rows:
        if row.known is None:
            continue
        if row.station in known and known[row.station] != row.known:
            faults.add(
                "levels-mark-twice",
                f"a second elevation for {visible(row.station)}, other than on line {first[row.station]}",
                "one known elevation for each mark",
                "delete the wrong one; a measured elevation does not belong in the known column",
                line=row.line,
            )
        known.setdefault(row.station, row.known)
        first.setdefault(row.station, row.line)
    faults.raise_if_any()
    return known


def _walk(notes: LevelNotes, done: _Reduction) -> None:
    """Heights of instrument and raw elevations, set-up by set-up."""
    faults = Faults(notes.file)
    last_row: dict[str, int] = {}
    run = -1
    at = math.nan
    for setup in done.setups:
        row = notes.rows[setup.back.row]
        if setup.run != run:
            run = setup.run
            at, done.begins_on[run] = _start(row, done, last_row, faults)
            done.opening[setup.back.row] = at
        done.instrument[setup.back.row] = height = at + setup.back.reading
        for sight in setup.forward:
            done.raw[sight.row] = height - sight.reading
            last_row[notes.rows[sight.row].station] = sight.row
        at = done.raw[setup.turn.row]
    faults.raise_if_any()


def _start(
    row: LevelRow, done: _Reduction, last_row: dict[str, int], faults: Faults
) -> tuple[float, int | None]:
    """Elevation [m] that a run begins on, and the row that gave it (None for a known mark)."""
    if row.station in done.known:
        return done.known[row.station], None
    if row.station in last_row:
        return done.raw[last_row[row.station]], last_row[row.station]
    faults.add(
        "levels-backsight-lost",
        f"a backsight on {visible(row.station)}, whose elevation nothing gives",
        "a backsight on a known mark, or on a point already shot",
        "check the station name, or give its elevation in the known column",
        line=row.line,
    )
    return math.nan, None


def _close_run(
    rows: Sequence[LevelRow], run: list[Setup], done: _Reduction, allowance: Allowance, share: str
) -> None:
    """Check one run against its known marks and share what it misses."""
    start = done.opening[run[0].back.row]
    done.pages.append(page_check(rows, run, start, done.raw))
    closures = close_marks(rows, run, done.raw, done.known, allowance)
    done.closures += closures
    begin = done.begins_on[run[0].run]
    base = done.correction.get(begin, 0.0) if begin is not None else 0.0
    base_share = done.shares[begin].weights if begin is not None and begin in done.shares else ()
    sharing = bool(closures) and all(c.within is not False for c in closures)
    checks = _checks(rows, run, done) if sharing else []
    if checks:
        done.by.add("distance" if share == "distance" and all(s.leg for s in run) else "setups")
    progress = _progress(run, share)
    at = [progress[s.number] for s, _ in checks]
    totals = [
        math.fsum(done.raw[x.row] - done.known[rows[x.row].station] for x in on) / len(on) for _, on in checks
    ]
    # Shared are the misses less what the start already lacks, then that lack itself.
    fixes = corrections([progress[s.number] for s in run], at, [t + base for t in totals]) + base
    for setup, fix in zip(run, fixes.tolist(), strict=True):
        weights = _weights(progress[setup.number], at, checks, base_share)
        for sight in setup.forward:
            mine = fix
            if checks and rows[sight.row].station in done.known:
                mine = done.known[rows[sight.row].station] - done.raw[sight.row]
                done.shares[sight.row] = Share(sight.row, ((sight.row, 1.0),))
            else:
                done.shares[sight.row] = Share(sight.row, weights)
            done.correction[sight.row] = mine


def _checks(rows: Sequence[LevelRow], run: list[Setup], done: _Reduction) -> list[tuple[Setup, list[Sight]]]:
    """The set-ups of a run that read known marks, each with those sights."""
    pairs = [(s, [x for x in s.forward if rows[x.row].station in done.known]) for s in run]
    return [(s, on) for s, on in pairs if on]


def _progress(run: list[Setup], share: str) -> dict[int, float]:
    """How far along the run each set-up ends: set-ups, or metres when asked for and every leg is known."""
    legs = [s.leg for s in run]
    by_distance = share == "distance" and all(legs)
    steps = [leg if by_distance and leg is not None else 1.0 for leg in legs]
    return dict(zip((s.number for s in run), np.cumsum(steps).tolist(), strict=True))


def _weights(
    along: float,
    at: list[float],
    checks: list[tuple[Setup, list[Sight]]],
    base: tuple[tuple[int, float], ...],
) -> tuple[tuple[int, float], ...]:
    """Weights at one place of the line on the misses of the closing marks and on those of the start."""
    if not checks:
        return base
    stops = [0.0, *at]
    found: dict[int, float] = {}
    for number in range(len(stops)):
        tent = np.zeros(len(stops))
        tent[number] = 1.0
        weight = float(np.interp(along, stops, tent))
        if weight == 0.0:
            continue
        if number == 0:
            shares = [(row, w * weight) for row, w in base]
        else:
            on = checks[number - 1][1]
            shares = [(x.row, weight / len(on)) for x in on]
        for row, w in shares:
            found[row] = found.get(row, 0.0) + w
    return tuple(found.items())


def _book_lines(notes: LevelNotes, done: _Reduction, reading_sd: float) -> tuple[BookLine, ...]:
    sd = standard_errors(done.setups, done.begins_on, done.shares, reading_sd)
    change = rises(done.setups)
    reader = {x.row: s.number for s in done.setups for x in s.forward}
    opener = {s.back.row: s.number for s in done.setups}
    lines: list[BookLine] = []
    for index, row in enumerate(notes.rows):
        if index in done.raw:
            raw, fix, error = done.raw[index], done.correction[index], sd[index]
        else:
            raw, fix, error = _standing(index, row, done, sd)
        lines.append(
            BookLine(
                row=row,
                setup=reader.get(index, opener.get(index, 0)),
                height_of_instrument=done.instrument.get(index),
                rise=change.get(index),
                raw=raw,
                correction=fix,
                elevation=raw + fix,
                sd=error,
            )
        )
    return tuple(lines)


def _standing(
    index: int, row: LevelRow, done: _Reduction, sd: dict[int, float]
) -> tuple[float, float, float]:
    """Raw elevation, correction and standard error [m] of a line that no forward reading reached.

    A backsight on its own line stands on the turn before it or on the point its run begins on; any other
    such line only gives a known mark.
    """
    for before, setup in zip((None, *done.setups), done.setups, strict=False):
        if setup.back.row != index:
            continue
        turned = before is not None and before.run == setup.run
        begin = before.turn.row if before is not None and turned else done.begins_on[setup.run]
        if begin is not None:
            return done.raw[begin], done.correction[begin], sd[begin]
    return done.known[row.station], 0.0, 0.0
