"""The ``[[piers.measured]]`` tables: how high the blocks are that came, and how many of them.

Plants differ by more than a rod shows, and a dry stack adds every difference up. One that was measured takes
the height of its kind on the list; everything else of it stays as listed.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated

from pydantic import Field

from gradework.errors import Faults, visible
from gradework.foundations.piers.units import MEASURED, BlockUnit
from gradework.project.job.bounds import BLOCK, COUNT
from gradework.project.job.values import Table, Words, thick, whole
from gradework.units.amounts import M_PER_IN
from gradework.units.display import FEET, METRIC

FAR = 1.0 * M_PER_IN
"""A block that is this much higher or lower than its kind on the list is another kind [m] (judgement): plants
make 2 in solids from 1-1/2 to 2-1/4 in."""


class MeasuredTable(Table):
    """One kind of block as it was delivered: which it is ``of`` the list, how high, how many came.

    ``count`` is None where they were not counted.
    """

    of: Words = Field(examples=['"8 in hollow block"'])
    height: Annotated[float, thick(BLOCK)] = Field(examples=['"7 9/16 in"'])
    count: Annotated[int, whole(COUNT)] | None = None


def as_delivered(
    units: Sequence[BlockUnit], measured: Sequence[MeasuredTable], *, us: bool
) -> tuple[BlockUnit, ...]:
    """Give the units with the heights that were measured, and how many came of each.

    A kind may be named by the words that its name alone begins with. Raises ``InputError`` with every table
    that names no kind, one that another names, or a height far from that of its kind.
    """
    faults, found, show = Faults(), list(units), FEET if us else METRIC
    for number, table in enumerate(measured):
        own = _named(units, table.of)
        if own is None:
            names = [unit.name for unit in units]
            near = difflib.get_close_matches(table.of, names, n=1, cutoff=0.0)
            faults.note(
                "measured-unknown",
                about=("measured", number, "of"),
                name=repr(table.of),
                names=", ".join(visible(name) for name in names),
                near=visible(near[0]),
            )
        elif found[own].source == MEASURED:
            faults.note("measured-twice", about=("measured", number, "of"), name=repr(units[own].name))
        elif abs(table.height - units[own].thickness) > FAR:
            faults.note(
                "measured-far",
                about=("measured", number, "height"),
                name=visible(units[own].name),
                height=show.depth(table.height),
                listed=show.depth(units[own].thickness),
                most=show.depth(FAR),
            )
        else:
            found[own] = replace(
                units[own], thickness=table.height, delivered=table.count, source=MEASURED, status="seen"
            )
    faults.raise_if_any()
    return tuple(found)


def _named(units: Sequence[BlockUnit], name: str) -> int | None:
    """Give the number of the unit of that name, or of the only one whose name begins so; None without one."""
    names, asked = [_plain(unit.name) for unit in units], _plain(name)
    begun = [number for number, own in enumerate(names) if own.startswith(asked)]
    if asked in names:
        return names.index(asked)
    return begun[0] if len(begun) == 1 else None


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
