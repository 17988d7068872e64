"""Random yards: how many have a foundation that can be built, by slope; what binds; who disagrees.

``python tests/bench buildable COUNT FIRST`` takes COUNT yards from number FIRST on (20 from 0), all firm
ground, falls of 0 to 15 %, each asking for pad, piers and slab. Every check of every option is made a second
time by ``tests/oracle/second_look.py``; what it sees otherwise is printed with the number of the yard."""

from __future__ import annotations

import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

COUNT, FIRST = 20, 0
KINDS = ("pad", "piers", "slab")


def _apart() -> tuple[Any, Any]:
    """The yards and the second look, which stand beside the tests."""
    sys.path.insert(0, str(Path(__file__).parent.parent / "oracle"))
    import second_look
    import yards

    return yards, second_look


def lines(count: int = COUNT, first: int = FIRST) -> Iterator[str]:
    """Shares by slope, what binds, and each disagreement."""
    yards, second_look = _apart()
    able: dict[str, Counter[str]] = defaultdict(Counter)
    binds: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    alone: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    parted, start = 0, time.process_time()
    for number in range(first, first + count):
        yard = yards.yard(number)
        record = yards.record_of(yard)
        able[yard.steepness]["yards"] += 1
        able[yard.steepness]["any"] += record["winner"] is not None
        for option in record["options"]:
            kind, false = option["foundation"], {c["check"] for c in option["checks"] if c["holds"] is False}
            able[yard.steepness][kind] += option["buildable"]
            binds[kind].update(false)
            alone[kind].update(false if len(false) == 1 else ())
        for one in second_look.second_look(yard.job, yard.notes, record):
            parted += 1
            where = f" {one.where}" if one.where else ""
            yield f"yard {number}: {one.foundation}, {one.check}{where}: told {one.told}; seen {one.seen}"
    yield f"yards {first} to {first + count - 1}, {(time.process_time() - start) / count:.1f} s each"
    yield f"{'slope':12} {'yards':>5} {'any':>6} " + " ".join(f"{kind:>6}" for kind in KINDS)
    for steep in sorted(able, key=lambda told: int(told.split("%")[0])):
        row = able[steep]
        shares = " ".join(f"{row[kind] / row['yards']:6.0%}" for kind in ("any", *KINDS))
        yield f"{steep:12} {row['yards']:5} {shares}"
    for kind in KINDS:
        told = ", ".join(f"{name} {n} ({alone[kind][name]} alone)" for name, n in binds[kind].most_common())
        yield f"{kind} is bound by: {told or 'nothing'}"
    yield f"disagreements: {parted}"
