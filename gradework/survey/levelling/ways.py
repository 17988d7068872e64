"""The ways of finding heights, in one table: what tells each, what goes with it, how far it may miss a mark.

Whatever else lists them reads this: the keys of a job, the options, the sheets to print, the faults.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, NamedTuple

from gradework.fieldnotes.headers import (
    BACKSIGHT,
    DROP,
    ELEVATION,
    FIRST,
    HIGHER_THAN_MARK,
    READING,
    RUN,
    Field,
)
from gradework.survey.levelling.tolerances import Allowance

Method = Literal["level", "laser", "water-level", "string", "steps", "spots"]

UNHEADED = ("elevations", "readings")
"""Words for what figures without a header are, beside the ways."""


class Way(NamedTuple):
    """One way: what its notes are called in a sentence, the columns of notes that tell it, and the keys of
    ``[survey]`` that belong to it and not to every way.

    ``missed``: how far a known mark that was read in passing may be missed, [m] for each hop, string or step;
    None where a level book closes by its own rules, or where there is nothing to close.
    """

    notes: str
    told_by: tuple[Field, ...] = ()
    keys: tuple[str, ...] = ()
    missed: Allowance | None = None


_BOOK = ("two_peg", "work", "share")

WAYS: Mapping[Method, Way] = MappingProxyType(
    {
        "level": Way("rod and level", (BACKSIGHT, READING), _BOOK),
        # read from one set-up, so it takes the allowance of the kind of work for that
        "laser": Way("a rod below a laser", (), ("hi", *_BOOK)),
        "water-level": Way(
            "a water level",
            (FIRST, HIGHER_THAN_MARK),
            ("benchmark",),
            # 1 cm over a hop of 10-15 m, FAO series (table not reached); root of the hops
            Allowance("a water level", 0.010, None),
        ),
        "string": Way(
            "drops below a string",
            (DROP,),
            ("string", "strings"),
            # the larger of 6-13 mm over a string of 8-9 m with a line level, memory
            Allowance("a string", 0.013, None),
        ),
        "steps": Way(
            "straightedge steps",
            (RUN,),
            ("benchmark",),
            # twice the error of a step, 1/16 in (common practice, no source); root of the steps
            Allowance("a straightedge", 0.003, None),
        ),
        "spots": Way("elevations", (ELEVATION,)),
    }
)
"""In the order in which they are offered, and in which the columns of notes are asked."""


def assumed_level(*, metric: bool) -> float:
    """Elevation given to a mark that has none, and to a plane without one [m]: 30 m, or 100 ft.

    >>> assumed_level(metric=True), round(assumed_level(metric=False), 3)
    (30.0, 30.48)
    """
    return 30.0 if metric else 100 * 0.3048


def allowance_of(method: Method) -> Allowance:
    """How far a mark read in passing may be missed. Raises ``ValueError`` for a way without such a rule."""
    missed = WAYS[method].missed
    if missed is None:
        raise ValueError(f"{method} has no allowance of its own")
    return missed
