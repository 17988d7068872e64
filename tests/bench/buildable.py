"""Random yards: how many have a foundation that can be built, by slope; what binds; who disagrees.

``python tests/bench buildable COUNT FIRST`` takes COUNT yards from number FIRST on (20 from 0), all firm
ground, falls of 0 to 15 %, each asking for pad, piers and slab. Every check of every option is made a second
time by ``tests/oracle/second_look.py``; what it sees otherwise is printed with the number of the
yard. Ctrl-C ends a slice early and tells what it has.
"""

from __future__ import annotations

import time
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

from gradework.errors import CheckError, InputError

COUNT, FIRST = 20, 0
KINDS = ("pad", "piers", "slab")


def _apart() -> tuple[Any, Any]:
    """The yards and the second look, which stand beside the tests."""
    import second_look
    import yards

    return yards, second_look


class Tally:
    """What was counted: yards and options that can be built by slope, checks that fail, and those that fail
    alone."""

    def __init__(self) -> None:
        self.able: dict[str, Counter[str]] = defaultdict(Counter)
        self.binds: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
        self.alone: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}

    def add(self, steepness: str, record: Mapping[str, Any]) -> None:
        """Count one yard."""
        row = self.able[steepness]
        row.update(["yards"] + ["any"] * (record["winner"] is not None))
        for option in record["options"]:
            kind, false = option["foundation"], {c["check"] for c in option["checks"] if c["holds"] is False}
            row[kind] += option["buildable"]
            self.binds[kind].update(false)
            self.alone[kind].update(false if len(false) == 1 else ())

    def lines(self) -> Iterator[str]:
        """The shares by slope, then what binds."""
        yield f"{'slope':12} {'yards':>5} {'any':>6} " + " ".join(f"{kind:>6}" for kind in KINDS)
        for steep in sorted(self.able, key=lambda told: int(told.split("%")[0])):
            row = self.able[steep]
            shares = " ".join(f"{row[kind] / row['yards']:6.0%}" for kind in ("any", *KINDS))
            yield f"{steep:12} {row['yards']:5} {shares}"
        for kind in KINDS:
            every = self.binds[kind].most_common()
            told = ", ".join(f"{name} {n} ({self.alone[kind][name]} alone)" for name, n in every)
            yield f"{kind} is bound by: {told or 'nothing'}"


def lines(count: int = COUNT, first: int = FIRST) -> Iterator[str]:
    """Each disagreement as it is met, then shares by slope and what binds."""
    yards, second_look = _apart()
    tally, parted, refused, start, end = Tally(), 0, 0, time.process_time(), first
    try:
        for number in range(first, first + count):
            yard = yards.yard(number)
            try:
                record = yards.record_of(yard)
            except (CheckError, InputError) as problem:
                refused, end = refused + 1, number + 1
                yield f"yard {number}: refused: {problem}"
                continue
            looked = second_look.second_look(yard.job, yard.notes, record)
            tally.add(yard.steepness, record)
            end, parted = number + 1, parted + len(looked)
            for one in looked:
                where = f" {one.where}" if one.where else ""
                yield f"yard {number}: {one.foundation}, {one.check}{where}: told {one.told}; seen {one.seen}"
    except KeyboardInterrupt:
        yield "ended early"
    yield f"yards {first} to {end - 1}, {(time.process_time() - start) / max(end - first, 1):.1f} s each"
    yield from tally.lines()
    yield f"disagreements: {parted}; refused: {refused}"
