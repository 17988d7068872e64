"""How to find a place with tapes: from two known marks, along a baseline, by sides and diagonals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Literal

from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from collections.abc import Sequence


WEAK_ANGLE = 30.0
"""Two tapes that cross at less than this (or more than 150) [degrees] fix a place poorly (common practice, no
source)."""

DIAGONAL_TOLERANCE = 0.25 * M_PER_IN
"""Diagonals of a rectangle may differ by this [m] (common practice; 1/4 to 1/2 in, memory)."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark that stays in the yard: a corner of the house, a nail, a pin [m, site frame]."""

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class TapeTie:
    """Distances from two marks [m]; ``side`` says on which side of the line from the first to the second.

    ``angle`` [degrees] is the angle between the tapes; ``weak`` warns when it is too flat or too sharp.
    """

    first: str
    second: str
    from_first: float
    from_second: float
    side: Literal["left", "right", "on the line"]
    angle: float
    weak: bool


@dataclass(frozen=True, slots=True)
class BaselineTie:
    """Distance along the baseline from its first mark, and square to it, left positive [m]."""

    along: float
    offset: float


def tape_tie(x: float, y: float, first: Mark, second: Mark) -> TapeTie:
    """Tie a place to two marks by tape.

    Raises ``ValueError`` for two marks on one place.

    >>> tie = tape_tie(3.0, 4.0, Mark("A", 0.0, 0.0), Mark("B", 6.0, 0.0))
    >>> tie.from_first, tie.from_second, tie.side, tie.weak
    (5.0, 5.0, 'left', False)
    """
    base = _apart(first, second)
    one, two = math.hypot(x - first.x, y - first.y), math.hypot(x - second.x, y - second.y)
    offset = baseline_tie(x, y, first, second).offset
    side: Literal["left", "right", "on the line"] = "on the line"
    if abs(offset) > 1e-9 * base:
        side = "left" if offset > 0.0 else "right"
    angle = 0.0
    if one > 0.0 and two > 0.0:
        # cosine rule at the stake; rounding may carry it past 1 where the stake is on the line
        cosine = (one**2 + two**2 - base**2) / (2.0 * one * two)
        angle = math.degrees(math.acos(max(-1.0, min(1.0, cosine))))
    weak = not WEAK_ANGLE <= angle <= 180.0 - WEAK_ANGLE
    return TapeTie(first.name, second.name, one, two, side, angle, weak)


def baseline_tie(x: float, y: float, first: Mark, second: Mark) -> BaselineTie:
    """Tie a place to the baseline from the first mark to the second.

    >>> baseline_tie(3.0, 4.0, Mark("A", 0.0, 0.0), Mark("B", 6.0, 0.0))
    BaselineTie(along=3.0, offset=4.0)
    """
    base = _apart(first, second)
    dx, dy = (second.x - first.x) / base, (second.y - first.y) / base
    u, v = x - first.x, y - first.y
    return BaselineTie(u * dx + v * dy, v * dx - u * dy)


def best_two_marks(x: float, y: float, marks: Sequence[Mark]) -> tuple[Mark, Mark]:
    """Choose the two marks whose tapes cross nearest to square at a place; the shorter tapes of equals.

    Raises ``ValueError`` for fewer than two marks apart.
    """
    pairs = [(a, b) for a, b in combinations(marks, 2) if math.hypot(a.x - b.x, a.y - b.y) > 0.0]
    if not pairs:
        raise ValueError("two marks apart are needed")

    def badness(pair: tuple[Mark, Mark]) -> tuple[float, float]:
        tie = tape_tie(x, y, *pair)
        # a slip along one tape moves the place by slip / sin(angle), least at 90 degrees
        return round(abs(90.0 - tie.angle), 6), tie.from_first + tie.from_second

    return min(pairs, key=badness)


def _apart(first: Mark, second: Mark) -> float:
    base = math.hypot(second.x - first.x, second.y - first.y)
    if base == 0.0:
        raise ValueError(f"the marks {first.name} and {second.name} are on one place")
    return base


@dataclass(frozen=True, slots=True)
class Measure:
    """A length to measure between two stakes [m]: a side, or a diagonal that checks squareness."""

    kind: Literal["side", "diagonal"]
    first: str
    second: str
    length: float


def sides_and_diagonals(corners: Sequence[tuple[str, float, float]]) -> tuple[Measure, ...]:
    """Give the sides of a polygon in order, then all its diagonals: two for four corners.

    >>> feet = [("a", 0, 0), ("b", 20, 0), ("c", 20, 12), ("d", 0, 12)]
    >>> [round(m.length, 7) for m in sides_and_diagonals(feet)]
    [20.0, 12.0, 20.0, 12.0, 23.3238076, 23.3238076]
    """
    count = len(corners)

    def measure(kind: Literal["side", "diagonal"], a: int, b: int) -> Measure:
        (first, x, y), (second, u, v) = corners[a], corners[b]
        return Measure(kind, first, second, math.hypot(u - x, v - y))

    sides = [measure("side", k, (k + 1) % count) for k in range(count)]
    crossing = [(a, b) for a, b in combinations(range(count), 2) if b - a not in (1, count - 1)]
    return (*sides, *(measure("diagonal", a, b) for a, b in crossing))
