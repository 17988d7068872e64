"""What the rod must read, and what a stake is marked: height of instrument less level, cut, fill, string."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from gradework.units.bulk import M_PER_FT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.units import Display

ROD_LENGTH = 13.10 * M_PER_FT
"""A Philadelphia rod drawn out [m] (constructionmanuals.tpub.com/14043; seen)."""

ON_GRADE = 0.005 * M_PER_FT
"""Nearer than half a hundredth of a foot [m] a stake is marked GRADE: rods are read to 0.01 ft."""


def height_of_instrument(benchmark: float, backsight: float) -> float:
    """Give the level of the line of sight [m] from a benchmark and the reading on it [m].

    >>> height_of_instrument(100.0, 5.5)
    105.5
    """
    return benchmark + backsight


@dataclass(frozen=True, slots=True)
class RodReading:
    """What the rod reads when its foot is at ``level`` [m]; ``reach``: whether the rod shows that reading."""

    what: str
    level: float
    reading: float
    reach: Literal["yes", "line of sight is too low", "rod is too short"]


def rod_reading(what: str, level: float, instrument: float, *, rod: float = ROD_LENGTH) -> RodReading:
    """Give the reading that means "on grade" for a level under a line of sight at ``instrument`` [m].

    >>> rod_reading("formation", 103.2, 105.5).reading == 105.5 - 103.2
    True
    """
    reading = instrument - level
    reach: Literal["yes", "line of sight is too low", "rod is too short"] = "yes"
    if reading < 0.0:
        reach = "line of sight is too low"
    elif reading > rod:
        reach = "rod is too short"
    return RodReading(what, level, reading, reach)


@dataclass(frozen=True, slots=True)
class StakeMark:
    """The trade's mark on a stake: ``cut`` C, ``fill`` F or GRADE, and how much [m], never negative."""

    kind: Literal["C", "F", "GRADE"]
    amount: float

    def text(self, show: Display) -> str:
        """Write it as on a stake.

        >>> from gradework.units import FEET
        >>> StakeMark("F", 6.5 * 0.3048).text(FEET)
        'F 6.50'
        """
        return "GRADE" if self.kind == "GRADE" else f"{self.kind} {show.elevation_number(self.amount)}"


def stake_mark(ground: float, grade: float) -> StakeMark:
    """Mark a stake whose top or ground is at ``ground`` [m] for a ``grade`` [m]: cut lowers, fill raises.

    >>> stake_mark(233.0, 240.0).kind
    'F'
    """
    difference = ground - grade
    if abs(difference) < ON_GRADE:
        return StakeMark("GRADE", 0.0)
    return StakeMark("C" if difference > 0.0 else "F", abs(difference))


def from_string(level: float, string: float) -> float:
    """Give how far a level is above (+) or below (-) a level string [m].

    >>> from_string(99.5, 100.0)
    -0.5
    """
    return level - string


def straight_grades(distances: Sequence[float], controls: Sequence[tuple[int, float]]) -> tuple[float, ...]:
    """Give the level of a line at each stake: straight between control stakes.

    ``distances`` [m] are those from the stake before (the first is 0), ``controls`` (stake number, level [m])
    in order; NaN outside the first and last of them. Two controls on one place raise ``ValueError``.

    >>> straight_grades([0.0, 10.0, 30.0], [(0, 5.0), (2, 3.0)])
    (5.0, 4.5, 3.0)
    """
    along = [math.fsum(distances[: k + 1]) for k in range(len(distances))]
    grades = [math.nan] * len(along)
    for (first, start), (last, end) in pairwise(controls):
        if not along[last] > along[first]:
            raise ValueError(f"control stakes {first} and {last} must be apart and in order")
        for k in range(first, last + 1):
            part = (along[k] - along[first]) / (along[last] - along[first])
            grades[k] = start + part * (end - start)
    return tuple(grades)
