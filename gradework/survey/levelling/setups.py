"""The set-ups of a level book, what each unbroken run of them is tied to, and the order of reducing them.

A run need not begin on a known mark: the point it begins on may be given by a later part of the book, or the
run may meet a mark only at its end. It then waits for that part, or takes its elevation from that reading.
"""

from __future__ import annotations

import heapq
import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import Faults, visible
from gradework.survey.stations import spaceless
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from gradework.fieldnotes.levels import LevelNotes, LevelRow

    Run = Sequence["Setup"]
    Rows = Sequence[LevelRow]


# What the distances of a level book are: the length of each sight, or of the leg between two turning
# points.
#
# Three ways of noting them are told apart. With a column for the backsights every sight has its own. With
# one column, a distance on a line that holds only a backsight can be nothing but a sight, so all are: a
# turning point then stands as far from the set-up behind it as from the one ahead. Without such a line
# the distances beside foresights are legs, as they are measured along the ground, and no sight is known.


class Lengths(NamedTuple):
    """Of one line of the book [m], None where not measured: the sight of its forward reading, the sight of
    its backsight, the leg from the turning point before."""

    ahead: float | None = None
    back: float | None = None
    leg: float | None = None


def sight_lengths(rows: Sequence[LevelRow]) -> tuple[Lengths, ...]:
    """The lengths on every line of a book. A distance of 0 is none.

    >>> from gradework.fieldnotes.levels import LevelRow
    >>> turn = LevelRow("T", backsight=1.4, foresight=1.2, distance=40.0)
    >>> sight_lengths([LevelRow("M", backsight=1.5, distance=40.0), turn])[1]
    Lengths(ahead=40.0, back=40.0, leg=None)
    >>> sight_lengths([LevelRow("M", backsight=1.5), turn])[1]
    Lengths(ahead=None, back=None, leg=40.0)
    """
    two_columns = any(row.back_distance for row in rows)
    sights = two_columns or any(
        row.distance for row in rows if row.backsight is not None and not _looks_ahead(row)
    )
    return tuple(_lengths(row, two_columns=two_columns, sights=sights) for row in rows)


def _lengths(row: LevelRow, *, two_columns: bool, sights: bool) -> Lengths:
    given = row.distance or None
    if not _looks_ahead(row):
        return Lengths(back=row.back_distance or given)
    if row.foresight is not None and not sights:
        return Lengths(leg=given)
    back = None if row.backsight is None else row.back_distance if two_columns else given
    return Lengths(ahead=given, back=back or None)


def _looks_ahead(row: LevelRow) -> bool:
    return row.foresight is not None or row.intermediate is not None


# The level book split into set-ups: which readings share one height of instrument, and how they chain.

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
    lengths = sight_lengths(notes.rows)
    groups: list[tuple[Sight, list[Sight]]] = []
    for index, (row, length) in enumerate(zip(notes.rows, lengths, strict=True)):
        ahead = row.foresight
        if ahead is None and row.backsight is None:
            ahead = row.intermediate
        if ahead is not None and groups:
            groups[-1][1].append(Sight(index, ahead, length.ahead))
        elif ahead is not None and begun:
            variant = "single" if notes.single else ""
            faults.note("levels-no-backsight", variant=variant, line=row.line, name=visible(row.station))
        if row.backsight is not None:
            groups.append((Sight(index, row.backsight, length.back), []))
    setups: list[Setup] = []
    for back, forward in groups:
        row = notes.rows[back.row]
        if forward:
            run = 0
            if setups:
                before = setups[-1]
                turned = notes.rows[before.turn.row].station == row.station
                run = before.run if turned else before.run + 1
            aside = tuple(s.row for s in forward[:-1] if notes.rows[s.row].foresight is not None)
            leg = lengths[forward[-1].row].leg
            setups.append(Setup(len(setups) + 1, run, back, tuple(forward), aside, leg))
        elif back.row + 1 not in spoilt:  # a reading that is lost in a spoilt row is told of there
            faults.note("levels-backsight-unused", line=row.line, name=visible(row.station))
    faults.raise_if_any()
    return tuple(setups)


def _check_rows(notes: LevelNotes, faults: Faults) -> frozenset[int]:
    """Look at every row by itself; gives the indexes of the rows with a fault."""
    if not any(r.backsight is not None for r in notes.rows):
        faults.note("levels-no-backsight", variant="single" if notes.single else "none")
    if len(notes.rows) > MOST_ROWS:
        faults.note("levels-too-long", count=len(notes.rows), most=MOST_ROWS)
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
            faults.note(
                "station-names-alike",
                line=row.line,
                name=visible(row.station),
                other=visible(before.station),
                before=before.line,
            )


def _check_row(row: LevelRow, faults: Faults, show: Display, *, single: bool) -> None:
    name, line = visible(row.station), row.line
    readings = (row.backsight, row.intermediate, row.foresight)
    lengths = (row.distance, row.back_distance)
    if any(v is not None and not math.isfinite(v) for v in (*readings, *lengths, row.known, row.booked)):
        faults.note("levels-not-finite", line=line, name=name)
    for reading in readings:
        if reading is not None and LONGEST_READING < abs(reading) < math.inf:
            faults.note(
                "rod-reading-impossible",
                line=line,
                name=name,
                reading=visible(show.rod(reading)),
                most=show.distance(LONGEST_READING),
            )
    if any(v is not None and v < 0 for v in lengths):
        faults.note("levels-distance-negative", line=line, name=name)
    if row.intermediate is not None and (row.foresight is not None or row.backsight is not None):
        faults.note("levels-two-readings", line=line, name=name)
    if all(v is None for v in (*readings, row.known)):
        faults.note("levels-no-reading", variant="single" if single else "", line=line, name=name)


_MOST_NAMED = 6


class Anchor(NamedTuple):
    """How a run gets its elevation: by its reading on row ``by``, the first backsight or one ahead.

    That is of a known mark where ``on`` is None, else of the point on row ``on`` of a run reduced before.
    """

    run: int
    by: int
    on: int | None


def order_runs(
    rows: Rows, runs: Sequence[Run], known: Collection[str], *, file: str = ""
) -> tuple[Anchor, ...]:
    """What each run takes its elevation from, in an order in which that is always worked out already.

    That is the point that it begins on, where a mark or another run gives that; else the first known mark
    that it reads; else the first point that it shares with another run. Of several runs that are ready the
    earliest in the book comes first. Raises InputError: runs that nothing ties to a mark.
    """
    begins, meets = _by_station(rows, runs)
    # Runs that are ready, by the way they are tied, the best way first; each a heap of their numbers.
    ready: tuple[list[int], ...] = (
        [number for name in known for number in begins.get(name, ())],
        [number for name in known for number in meets.get(name, ())],
        [],
    )
    for heap in ready:
        heapq.heapify(heap)
    given: dict[str, int] = {}  # the latest row that gives each point
    anchors: dict[int, Anchor] = {}
    while (number := _next(ready, anchors)) is not None:
        anchors[number] = _anchor(rows, number, runs[number], known, given)
        for name, row in _gives(rows, runs[number]):
            if name not in given:
                for heap, waiting in ((ready[0], begins), (ready[2], meets)):
                    for other in waiting.get(name, ()):
                        heapq.heappush(heap, other)
            given[name] = row
    _refuse_loose(rows, [run for number, run in enumerate(runs) if number not in anchors], file)
    return tuple(anchors.values())


def _by_station(rows: Rows, runs: Sequence[Run]) -> tuple[dict[str, list[int]], dict[str, list[int]]]:
    """The numbers of the runs that begin on each point, and of those that read it ahead."""
    begins: dict[str, list[int]] = defaultdict(list)
    meets: dict[str, list[int]] = defaultdict(list)
    for number, run in enumerate(runs):
        (first, _), *ahead = _gives(rows, run)
        begins[first].append(number)
        for name in dict(ahead):
            meets[name].append(number)
    return begins, meets


def _gives(rows: Rows, run: Run) -> Iterator[tuple[str, int]]:
    """Every point whose elevation a run gives once it is tied, with its row: the first, then those ahead."""
    yield rows[run[0].back.row].station, run[0].back.row
    for setup in run:
        for sight in setup.forward:
            yield rows[sight.row].station, sight.row


def _next(ready: Sequence[list[int]], anchored: Collection[int]) -> int | None:
    for heap in ready:
        while heap:
            number = heapq.heappop(heap)
            if number not in anchored:
                return number
    return None


def _anchor(rows: Rows, number: int, run: Run, known: Collection[str], given: Mapping[str, int]) -> Anchor:
    (first, back), *ahead = _gives(rows, run)
    if first in known or first in given:
        return Anchor(number, back, None if first in known else given[first])
    for name, row in ahead:
        if name in known:
            return Anchor(number, row, None)
    return next(Anchor(number, row, given[name]) for name, row in ahead if name in given)


def _refuse_loose(rows: Rows, runs: Sequence[Run], file: str) -> None:
    """One fault for each group of runs that are joined to each other but to no mark."""
    faults = Faults(file)
    begins, meets = _by_station(rows, runs)
    told: set[int] = set()
    for start in range(len(runs)):
        group, reached = [], [start]
        while reached:
            number = reached.pop()
            if number in told:
                continue
            told.add(number)
            group.append(number)
            for name, _ in _gives(rows, runs[number]):
                reached += begins.pop(name, []) + meets.pop(name, [])
        if group:
            _loose(rows, [runs[number] for number in sorted(group)], faults)
    faults.raise_if_any()


def _loose(rows: Rows, group: Sequence[Run], faults: Faults) -> None:
    named = []
    for run in group[:_MOST_NAMED]:
        first, last = rows[run[0].back.row], rows[run[-1].turn.row]
        named.append(f"from {visible(first.station)} (lines {first.line} to {last.line})")
    more = f" and {len(group) - _MOST_NAMED} more" if len(group) > _MOST_NAMED else ""
    faults.note(
        "levels-backsight-lost",
        variant="several" if len(group) > 1 else "",
        line=rows[group[0][0].back.row].line,
        runs=" and ".join(named) + more,
    )
