"""Level notes to elevations: height of instrument, closure, sharing of the misclosure, standard errors.

HI = elevation + BS; elevation = HI - IS or HI - FS. A misclosure beyond its allowance is not shared: it is a
blunder to be found, and spreading it would only hide it. Nor is one that no rule allows.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import CheckError, Faults, visible
from gradework.survey.levelling.field_book import BookLine, Closure, FieldBook, PageCheck
from gradework.survey.levelling.findings import level_findings
from gradework.survey.levelling.network import adjust_book, is_network
from gradework.survey.levelling.setups import Anchor, Setup, order_runs, split_setups
from gradework.survey.levelling.sharing import (
    Share,
    Sharing,
    by_length,
    rise_fall_elevations,
    rise_fall_sums,
    rises,
    share_out,
    standard_errors,
)
from gradework.survey.levelling.tolerances import KINDS_OF_WORK
from gradework.survey.levelling.ways import assumed_level
from gradework.units.lengths import METRIC_UNITS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.levels import LevelNotes, LevelRow
    from gradework.survey.levelling.network import BookNetwork
    from gradework.survey.levelling.tolerances import Allowance


# Checks of a level line: what each known mark says, the foot of the page, and the second way of reducing.

AGREE = 1e-9
"""The two ways of reducing agree to a nanometre plus rounding; more is a fault of the arithmetic [m]."""


def runs(setups: Sequence[Setup]) -> list[list[Setup]]:
    """The set-ups of each unbroken run, in order."""
    return [list(group) for _, group in itertools.groupby(setups, key=lambda s: s.run)]


class Way(NamedTuple):
    """The way to a point since the last known mark: what that ``missed`` [m], and from there the set-ups and
    their length [m], None unless every leg is known."""

    missed: float = 0.0
    setups: int = 0
    length: float | None = 0.0

    def over(self, setup: Setup) -> Way:
        """The way and one more set-up."""
        length = None if self.length is None or setup.leg is None else self.length + setup.leg
        return Way(self.missed, self.setups + 1, length)


def close_marks(
    rows: Sequence[LevelRow],
    run: Sequence[Setup],
    raw: Mapping[int, float],
    known: Mapping[str, float],
    allowance: Allowance,
    *,
    by: int,
    before: Way,
) -> tuple[list[Closure], dict[int, Way]]:
    """What every forward reading on a known mark says, one closure each in the order of the notes; and the
    way to each point, by row.

    Each is measured from the last set-up before it that met a known mark, or from where the run is tied: the
    point of row ``by``, which was reached the way ``before``. The mark that it is tied to checks nothing.
    """
    found: list[Closure] = []
    anchored = next((i for i, s in enumerate(run) if any(x.row == by for x in s.forward)), 0)
    way = {by: before} if by == run[0].back.row else _way_back(run[: anchored + 1], before)
    here, begun = before, rows[by].station
    for setup in run[anchored:]:
        here = here.over(setup)
        missed: list[float] = []
        met = begun
        for sight in setup.forward:
            name = rows[sight.row].station
            if name not in known:
                continue
            total = raw[sight.row] - known[name]
            missed.append(total)
            if sight.row != by:
                loop = name == begun
                found.append(
                    _closure(rows[sight.row], raw[sight.row], known[name], here, allowance, loop=loop)
                )
            met = name
        if missed:
            begun = met
            here = Way(math.fsum(missed) / len(missed))
        way |= dict.fromkeys((x.row for x in setup.forward), here)
    return found, way


def _way_back(setups: Sequence[Setup], before: Way) -> dict[int, Way]:
    """The way to the points of ``setups`` from one that the last of them reads, against their order."""
    way: dict[int, Way] = {}
    for setup in reversed(setups):
        before = before.over(setup)
        way |= dict.fromkeys((x.row for x in setup.forward), before)
    return {setups[0].back.row: before, **way}


def _closure(
    row: LevelRow, computed: float, known: float, way: Way, allowance: Allowance, *, loop: bool
) -> Closure:
    total = computed - known
    limit = allowance.limit(setups=way.setups, distance=way.length, loop=loop)
    return Closure(row.station, row.line, way.setups, way.length, computed, known, total - way.missed, limit)


def page_check(
    rows: Sequence[LevelRow], run: Sequence[Setup], start: float, raw: Mapping[int, float]
) -> PageCheck:
    """The sums at the foot of the page for one run; CheckError when the two ways of reducing disagree."""
    up, down = rise_fall_sums(run)
    check = PageCheck(
        run=run[0].run,
        first_line=rows[run[0].back.row].line,
        last_line=rows[run[-1].turn.row].line,
        backsights=math.fsum(s.back.reading for s in run),
        foresights=math.fsum(s.turn.reading for s in run),
        rises=up,
        falls=down,
        first=start,
        last=raw[run[-1].turn.row],
    )
    sights = math.fsum(abs(s.reading) for setup in run for s in (setup.back, *setup.forward))
    bound = AGREE + 1e-12 * (abs(start) + sights)  # rounding grows with every reading on the way
    second = rise_fall_elevations(run, {run[0].run: start})
    apart = max(abs(second[s.row] - raw[s.row]) for setup in run for s in setup.forward)
    if max(abs(check.by_instrument), abs(check.by_rise_and_fall), apart) > bound:
        raise CheckError(
            f"height of instrument and rise and fall disagree by {apart:.3g} m "
            f"(page sums by {check.by_instrument:.3g} m and {check.by_rise_and_fall:.3g} m)"
        )
    return check


READING_SD = 0.003
"""Standard error of one reading with a builder's level on a yard [m]: ±1/4 in at 75-100 ft taken as two
standard errors (memory)."""


@dataclass
class _Reduction:
    """What is worked out on the way. ``raw``, ``way`` and ``shares`` by the row of every reading ahead and of
    the first backsight of each run, ``instrument`` by that of every backsight.

    ``bridged``: a run closes that is tied to another, so that what it misses is not its own alone.
    """

    setups: tuple[Setup, ...]
    known: dict[str, float]
    runs: list[list[Setup]]
    anchors: tuple[Anchor, ...] = ()
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
    when no mark in the book has one. The runs of a book may stand in any order (see ``order_runs``). Where
    more than one route leads to a point, or a line closes over several runs, all readings are adjusted
    together (see ``book_network``).

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
        done.known[first] = assumed_level(metric=notes.unit in METRIC_UNITS)
    done.anchors = order_runs(notes.rows, done.runs, done.known, file=notes.file)
    allowance = KINDS_OF_WORK[work]
    for anchor in done.anchors:
        _reduce_run(notes.rows, anchor, done)
        _close_run(notes.rows, anchor, done, allowance, share)
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
    benchmark = notes.rows[done.anchors[0].by].station
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
    return tuple(replace(line, elevation=at[line.row.station], sd=sd[line.row.station]) for line in lines)


def _known_marks(notes: LevelNotes, faults: Faults) -> dict[str, float]:
    known: dict[str, float] = {}
    first: dict[str, int] = {}
    for row in notes.rows:
        if row.known is None:
            continue
        if row.station in known and known[row.station] != row.known:
            before = first[row.station]
            faults.note("levels-mark-twice", line=row.line, name=visible(row.station), before=before)
        known.setdefault(row.station, row.known)
        first.setdefault(row.station, row.line)
    return known


def _reduce_run(rows: Sequence[LevelRow], anchor: Anchor, done: _Reduction) -> None:
    """Heights of instrument and raw elevations of one run, from what it is tied to; and its page checked."""
    run = done.runs[anchor.run]
    opening = run[0].back.row
    start = done.known[rows[anchor.by].station] if anchor.on is None else done.raw[anchor.on]
    if anchor.by != opening:
        start -= _elevations(run, 0.0)[0][anchor.by]
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
    rows: Sequence[LevelRow], anchor: Anchor, done: _Reduction, allowance: Allowance, share: Sharing
) -> None:
    """Check one run against its known marks and share what it misses; one that is tied to another run
    moves with the point that it is tied to."""
    run = done.runs[anchor.run]
    before = Way() if anchor.on is None else done.way[anchor.on]
    closures, way = close_marks(rows, run, done.raw, done.known, allowance, by=anchor.by, before=before)
    done.closures += closures
    done.way |= way
    if anchor.on is not None:
        done.bridged |= bool(closures)
        done.shares |= dict.fromkeys(way, done.shares.get(anchor.on, ()))
    elif closures and all(c.within for c in closures):
        done.by.add("distance" if by_length(run, share) else "setups")
        done.shares |= share_out(rows, run, done.known, by=anchor.by, share=share)


def _book_lines(notes: LevelNotes, done: _Reduction, reading_sd: float) -> tuple[BookLine, ...]:
    sd = standard_errors(done.runs, done.anchors, done.shares, reading_sd)
    change = rises(done.setups)
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
                height_of_instrument=done.instrument.get(index),
                rise=change.get(index),
                raw=raw,
                elevation=raw + fix,
                sd=error,
            )
        )
    return tuple(lines)


def _correction(rows: Sequence[LevelRow], at: int, done: _Reduction) -> float:
    """What sharing adds to the raw elevation on a row [m]."""
    share = done.shares.get(at, ())
    return 0.0 - math.fsum(w * (done.raw[row] - done.known[rows[row].station]) for row, w in share)
