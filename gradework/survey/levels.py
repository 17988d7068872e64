"""Level notes to elevations: height of instrument, closure, sharing of the misclosure, standard errors.

HI = elevation + BS; elevation = HI - IS or HI - FS. A misclosure beyond its allowance is not shared: it is a
blunder to be found, and spreading it would only hide it. Nor is one that no rule allows.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from gradework.errors import Faults, visible
from gradework.survey.book_network import adjust_book, is_network
from gradework.survey.closure import KINDS_OF_WORK
from gradework.survey.field_book import BookLine, Closure, FieldBook, PageCheck
from gradework.survey.hanging import Hang, hang_runs
from gradework.survey.level_checks import Way, close_marks, page_check, runs
from gradework.survey.level_errors import standard_errors
from gradework.survey.level_findings import level_findings
from gradework.survey.rise_fall import rises
from gradework.survey.setups import Setup, split_setups
from gradework.survey.sharing import Share, Sharing, by_length, share_out

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
    """What is worked out on the way. ``raw``, ``way`` and ``shares`` by the row of every reading ahead and of
    the first backsight of each run, ``instrument`` by that of every backsight.

    ``bridged``: a run closes that hangs on another, so that what it misses is not its own alone.
    """

    setups: tuple[Setup, ...]
    known: dict[str, float]
    runs: list[list[Setup]]
    hangs: tuple[Hang, ...] = ()
    raw: dict[int, float] = field(default_factory=dict)
    instrument: dict[int, float] = field(default_factory=dict)
    way: dict[int, Way] = field(default_factory=dict)
    closures: list[Closure] = field(default_factory=list)
    pages: list[PageCheck] = field(default_factory=list)
    shares: dict[int, Share] = field(default_factory=dict)
    by: set[str] = field(default_factory=set)
    bridged: bool = False


def reduce_levels(
    notes: LevelNotes,
    *,
    work: str = "yard",
    share: Sharing = "setups",
    reading_sd: float = READING_SD,
) -> FieldBook:
    """Reduce a level book by height of instrument, check it by rise and fall, close and adjust it.

    ``work`` is a name in ``KINDS_OF_WORK``; ``share`` spreads the misclosure equally per set-up, or by the
    length of the legs where every leg of a run was measured (else per set-up, with a finding); ``reading_sd``
    [m] is the standard error of one reading. A first mark without an elevation is assumed at 100 ft or 30 m
    when no mark in the book has one. The runs of a book may stand in any order (see ``hanging``). Where more
    than one route leads to a point, or a line closes over several runs, all readings are adjusted together
    (see ``book_network``).

    Raises InputError with every fault (see ``split_setups`` and ``hang_runs``; also one mark with two
    elevations) and CheckError if the two ways of reducing disagree.
    Source of the procedure: Mahun, Open Access Surveying Library, Elevations, chapters C and E.
    """
    if work not in KINDS_OF_WORK:
        raise ValueError(f"work must be one of {', '.join(KINDS_OF_WORK)}, found {work!r}")
    if not (reading_sd > 0 and math.isfinite(reading_sd)):
        raise ValueError(f"reading_sd must be above 0 m, found {reading_sd!r}")
    faults = Faults(notes.file)
    known = _known_marks(notes, faults)
    setups = split_setups(notes, faults)
    done = _Reduction(setups, known, runs(setups))
    assumed = not done.known
    if assumed:
        first = notes.rows[setups[0].back.row].station
        done.known[first] = ASSUMED_METRES if notes.unit == "m" else ASSUMED_FEET
    done.hangs = hang_runs(notes.rows, done.runs, done.known, file=notes.file)
    allowance = KINDS_OF_WORK[work]
    for hang in done.hangs:
        _reduce_run(notes.rows, hang, done)
        _close_run(notes.rows, hang, done, allowance, share)
    done.pages.sort(key=lambda page: page.run)
    done.closures.sort(key=lambda closure: closure.line)
    network = None
    closed = bool(done.closures) and not done.bridged
    if is_network(notes.rows, setups, done.known, closed=closed):
        network = adjust_book(
            notes.rows,
            setups,
            done.known,
            reading_sd=reading_sd,
            by_length=share == "distance",
            single=notes.single,
        )
    shared = _way_of_sharing(done, network)
    benchmark = notes.rows[done.hangs[0].by].station
    book = FieldBook(
        lines=_lines_adjusted(_book_lines(notes, done, reading_sd), network if shared == "network" else None),
        closures=tuple(done.closures),
        pages=tuple(done.pages),
        setups=len(setups),
        shared=shared,
        allowance=allowance,
        benchmark=benchmark,
        datum=done.known[benchmark],
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
    done.shares.clear()
    sound = network.sound and all(c.within for c in done.closures)
    return "network" if sound else "no"


def _lines_adjusted(lines: tuple[BookLine, ...], network: BookNetwork | None) -> tuple[BookLine, ...]:
    if network is None:
        return lines
    at, sd = network.elevation, network.sd
    return tuple(line.moved(at[line.row.station], sd[line.row.station]) for line in lines)


def _known_marks(notes: LevelNotes, faults: Faults) -> dict[str, float]:
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
    return known


def _reduce_run(rows: Sequence[LevelRow], hang: Hang, done: _Reduction) -> None:
    """Heights of instrument and raw elevations of one run, from what it hangs on; and its page checked."""
    run = done.runs[hang.run]
    opening = run[0].back.row
    start = done.known[rows[hang.by].station] if hang.on is None else done.raw[hang.on]
    if hang.by != opening:
        start -= _elevations(run, 0.0)[0][hang.by]
    raw, instrument = _elevations(run, start)
    done.raw |= {opening: start, **raw}
    done.instrument |= instrument
    done.pages.append(page_check(rows, run, start, raw))


def _elevations(run: Sequence[Setup], start: float) -> tuple[dict[int, float], dict[int, float]]:
    """Elevations [m] of what a run reads ahead and of its lines of sight, by row, from that of its first
    point."""
    raw: dict[int, float] = {}
    instrument: dict[int, float] = {}
    at = start
    for setup in run:
        instrument[setup.back.row] = height = at + setup.back.reading
        for sight in setup.forward:
            raw[sight.row] = height - sight.reading
        at = raw[setup.turn.row]
    return raw, instrument


def _close_run(
    rows: Sequence[LevelRow], hang: Hang, done: _Reduction, allowance: Allowance, share: Sharing
) -> None:
    """Check one run against its known marks and share what it misses; one that hangs on another run moves
    with the point that it hangs on."""
    run = done.runs[hang.run]
    before = Way() if hang.on is None else done.way[hang.on]
    closures, way = close_marks(rows, run, done.raw, done.known, allowance, by=hang.by, before=before)
    done.closures += closures
    done.way |= way
    if hang.on is not None:
        done.bridged |= bool(closures)
        done.shares |= dict.fromkeys(way, done.shares.get(hang.on, ()))
    elif closures and all(c.within for c in closures):
        done.by.add("distance" if by_length(run, share) else "setups")
        done.shares |= share_out(rows, run, done.known, by=hang.by, share=share)


def _book_lines(notes: LevelNotes, done: _Reduction, reading_sd: float) -> tuple[BookLine, ...]:
    sd = standard_errors(done.runs, done.hangs, done.shares, reading_sd)
    change = rises(done.setups)
    reader = {x.row: s.number for s in done.setups for x in s.forward}
    opener = {s.back.row: s.number for s in done.setups}
    # A backsight on its own line stands on the turn before it.
    turned = {b.back.row: a.turn.row for run in done.runs for a, b in itertools.pairwise(run)}
    lines: list[BookLine] = []
    for index, row in enumerate(notes.rows):
        at = index if index in done.raw else turned.get(index)
        if at is None:  # a line that only gives a mark
            raw, fix, error = done.known[row.station], 0.0, 0.0
        else:
            raw, fix, error = done.raw[at], _correction(notes.rows, at, done), sd[at]
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


def _correction(rows: Sequence[LevelRow], at: int, done: _Reduction) -> float:
    """What sharing adds to the raw elevation on a row [m]."""
    share = done.shares.get(at, ())
    return 0.0 - math.fsum(w * (done.raw[row] - done.known[rows[row].station]) for row, w in share)
