"""What each unbroken run of a level book hangs on, and the order in which the runs can be worked out.

A run need not begin on a known mark: the point it begins on may be given by a later part of the book, or the
run may meet a mark only at its end. It then waits for that part, or hangs on that reading.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import Faults, visible

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from gradework.fieldnotes.level_notes import LevelRow
    from gradework.survey.setups import Setup

    Run = Sequence[Setup]
    Rows = Sequence[LevelRow]

_MOST_NAMED = 6


class Hang(NamedTuple):
    """How a run gets its elevation: by its reading on row ``by``, the first backsight or one ahead.

    That is of a known mark where ``on`` is None, else of the point on row ``on`` of a run hung before.
    """

    run: int
    by: int
    on: int | None


def hang_runs(rows: Rows, runs: Sequence[Run], known: Collection[str], *, file: str = "") -> tuple[Hang, ...]:
    """What each run hangs on, in an order in which each hangs on what is worked out already.

    A run hangs on the point that it begins on, where a mark or another run gives that; else on the first
    known mark that it reads; else on the first point that it shares with another run. Of several runs that
    can be hung the earliest in the book comes first. Raises InputError: runs that nothing joins to a mark.
    """
    begins, meets = _by_station(rows, runs)
    # Runs that can be hung by how, the best way first; each a heap of their numbers.
    ready: tuple[list[int], ...] = (
        [number for name in known for number in begins.get(name, ())],
        [number for name in known for number in meets.get(name, ())],
        [],
    )
    for heap in ready:
        heapq.heapify(heap)
    given: dict[str, int] = {}  # the latest row that gives each point
    hangs: dict[int, Hang] = {}
    while (number := _next(ready, hangs)) is not None:
        hangs[number] = _hang(rows, number, runs[number], known, given)
        for name, row in _gives(rows, runs[number]):
            if name not in given:
                for heap, waiting in ((ready[0], begins), (ready[2], meets)):
                    for other in waiting.get(name, ()):
                        heapq.heappush(heap, other)
            given[name] = row
    _refuse_loose(rows, [run for number, run in enumerate(runs) if number not in hangs], file)
    return tuple(hangs.values())


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
    """Every point whose elevation a run gives once it is hung, with its row: the first, then those ahead."""
    yield rows[run[0].back.row].station, run[0].back.row
    for setup in run:
        for sight in setup.forward:
            yield rows[sight.row].station, sight.row


def _next(ready: Sequence[list[int]], hung: Collection[int]) -> int | None:
    for heap in ready:
        while heap:
            number = heapq.heappop(heap)
            if number not in hung:
                return number
    return None


def _hang(rows: Rows, number: int, run: Run, known: Collection[str], given: Mapping[str, int]) -> Hang:
    (first, back), *ahead = _gives(rows, run)
    if first in known or first in given:
        return Hang(number, back, None if first in known else given[first])
    for name, row in ahead:
        if name in known:
            return Hang(number, row, None)
    return next(Hang(number, row, given[name]) for name, row in ahead if name in given)


def _refuse_loose(rows: Rows, runs: Sequence[Run], file: str) -> None:
    """One fault for each group of runs that hang together but on nothing."""
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
    faults.add(
        "levels-backsight-lost",
        f"levels {' and '.join(named)}{more} that hang in the air: nothing joins them to a mark",
        "a backsight on a known mark, or a point that the rest of the book reads too",
        "check the station names, or give the elevation of one of these points in the known column",
        line=rows[group[0][0].back.row].line,
    )
