"""How much ground drains to a wall, to what is built or to what is dug beside it, and what of it is told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.grading.led import NAMES

if TYPE_CHECKING:
    from gradework.units.display import Display

INFLOW = 0.3048
"""[m] A rim over which water comes in along less than a foot counts for nothing (judgement)."""

LITTLE = 1.0
"""[m²] Less ground that drains to a wall is next to nothing (judgement)."""


class Catchment(NamedTuple):
    """What drains to a wall, to all of a pad or slab, or to what is dug beside it.

    ``kind``: "wall", "pad", "slab", or as what is dug; ``where``: its walls in words, "" of all; ``area``
    [m²]; ``rim`` [m]: over so much of the edge of what is known more may drain to it; ``beyond`` [m²]: how
    much more it is than by the survey alone.
    """

    kind: str
    where: str
    area: float
    rim: float
    beyond: float = 0.0

    @property
    def counts(self) -> bool:
        """Whether it is worth telling."""
        return self.area >= LITTLE or self.least

    @property
    def farther(self) -> bool:
        """Whether some of it lies beyond the survey."""
        return self.beyond >= LITTLE

    @property
    def surveyed(self) -> float:
        """How much it is by the survey alone [m²]."""
        return self.area - self.beyond

    @property
    def least(self) -> bool:
        """Whether the area is only the least that it may be."""
        return self.rim > INFLOW

    def words(self, show: Display) -> str:
        """Say how much."""
        if not self.counts:
            return "next to nothing"
        beyond = f" ({show.area(self.beyond)} of it beyond your survey)" if self.farther else ""
        return f"{'at least ' if self.least else ''}{show.area(self.area)}{beyond}"


def together(own: Sequence[Catchment]) -> Catchment:
    """All of some as one: no drop counts twice."""
    kind = own[0].kind if own else ""
    parts = [(one.area, one.rim, one.beyond) for one in own]
    return Catchment(kind, "", *(math.fsum(part[k] for part in parts) for k in range(3)))


class Drains(NamedTuple):
    """What drains to ``where``, in words, as surveyed (``now``) and once it is built (``then``): None of
    what is not there."""

    where: str
    now: Catchment | None
    then: Catchment | None

    @property
    def least(self) -> bool:
        """Whether one of both is told as the least that it may be."""
        return any(one is not None and one.least for one in (self.now, self.then))

    @property
    def farther(self) -> bool:
        """Whether some of one of both lies beyond the survey."""
        return any(one is not None and one.farther for one in (self.now, self.then))


def drains_told(now: Sequence[Catchment], then: Sequence[Catchment]) -> list[Drains]:
    """What is worth telling: of each wall that ground drains to now or then, and of what is dug."""
    built = {one.where: one for one in then if one.kind == "wall"}
    walls = [Drains(one.where, one, built.get(one.where)) for one in now]
    led = [Drains(f"{NAMES[one.kind]} past the {one.where}", None, one) for one in then if one.kind in NAMES]
    return [one for one in (*walls, *led) if any(has is not None and has.counts for has in one[1:])]
