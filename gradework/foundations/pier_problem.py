"""What the choice of a common top depends on, and what it gives: kinds of holes, limits, prices, goals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.pier_envelope import Score, Worth, score_stacks
from gradework.foundations.pier_stacks import MONEY_STEPS, NANOMETRES, Ints, StackTable, nanometres

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Goal = Literal["least money", "fewest units", "least digging", "lowest floor"]
GOALS: tuple[Goal, ...] = ("least money", "fewest units", "least digging", "lowest floor")

_BITS = 0.01  # nm: the last bits of a level below 40 km


@dataclass(frozen=True)
class Hole:
    """One kind of hole that piers may have: its plan fits the stacks of ``table``.

    ``bottoms`` (n,) [m]: the highest bottom it may have at each pier, NaN where it cannot be dug. ``dug``
    (n,) [m³ in place]: the digging down to that bottom; ``area`` [m²] of its plan.
    """

    table: StackTable
    bottoms: Floats
    dug: Floats
    area: float


@dataclass(frozen=True)
class TopProblem:
    """Everything the choice of a top depends on.

    Each pier takes one of the ``holes``. ``bed_least``, ``bed_most`` [m] enclose the gravel bed; ``deeper``
    [m] is how much deeper a hole may be dug by choice. ``lowest_top``, ``highest_top`` [m] or None limit the
    common top. ``gravel`` and ``digging`` are the price of 1 m³ in place (compacted bed; ground).
    """

    holes: tuple[Hole, ...]
    bed_least: float
    bed_most: float
    deeper: float
    gravel: float
    digging: float
    lowest_top: float | None = None
    highest_top: float | None = None


@dataclass(frozen=True)
class TopChoice:
    """A top and the stack of each pier; levels in nanometres, exact: bottom + bed + stack = top.

    ``kinds`` (n,) are the holes chosen, ``rows`` (n,) rows of their stack tables; ``bottoms``, ``beds``,
    ``extra`` (n,) [nm], ``extra`` being the digging beyond the least. ``tops_compared`` counts the candidate
    tops that all piers can have.
    """

    goal: Goal
    top: int
    kinds: Ints
    rows: Ints
    bottoms: Ints
    beds: Ints
    extra: Ints
    tops_compared: int


@dataclass(frozen=True)
class Levels:
    """The problem in nanometres, without holes that no stack asks for; piers that are alike are one.

    For each of the ``kinds`` (h,) of holes and each of the p different piers: ``bottoms`` (h, p) [nm] and
    whether it is ``able`` to be dug there, ``dug`` (h, p) [m³] beyond the hole of that pier that takes least.
    ``weight`` (p,) counts the piers that are alike, ``which`` (n,) tells which each pier is like.
    """

    kinds: tuple[int, ...]
    bottoms: Ints
    able: Bools
    dug: Floats
    weight: Ints
    which: Ints
    bed_least: int
    bed_most: int
    deeper: int


def levels_of(problem: TopProblem) -> Levels | None:
    """Turn a problem into nanometres; None when there are no stacks, or a pier without any hole."""
    kinds = tuple(k for k, hole in enumerate(problem.holes) if len(hole.table.heights))
    if not kinds:
        return None
    metres = np.array([problem.holes[k].bottoms for k in kinds], np.float64)
    able = np.isfinite(metres)
    if not able.any(axis=0).all():
        return None
    # A bottom is rounded down: a hole may be one nanometre too deep, never too shallow. One that lacks only
    # the last bits of a float is the nanometre above, so that a shift of the datum does not break a tie.
    bottoms = np.floor(np.where(able, metres, 0.0) * NANOMETRES + _BITS)
    dug = np.where(able, np.array([problem.holes[k].dug for k in kinds], np.float64), np.inf)
    beyond = np.where(able, dug - dug.min(axis=0), 0.0)
    alike = np.vstack([bottoms, able, beyond])  # whole numbers below 2**53 are exact as floats
    _, first, which, weight = np.unique(
        alike, axis=1, return_index=True, return_inverse=True, return_counts=True
    )
    arrays = bottoms[:, first].astype(np.int64), able[:, first], beyond[:, first], weight, which.ravel()
    beds = nanometres(problem.bed_least), nanometres(problem.bed_most)
    return Levels(kinds, *arrays, *beds, nanometres(problem.deeper))


def scores_of(problem: TopProblem, levels: Levels, goal: Goal) -> tuple[Score, ...]:
    """Turn the goal into steps for each kind of hole: stacks, the hole, a nanometre of bed and of depth."""
    worths = []
    reach = 0
    for number, kind in enumerate(levels.kinds):
        hole = problem.holes[kind]
        table = hole.table
        reach = max(reach, int(table.heights[-1]) + levels.bed_most + levels.deeper)
        stack, dug = np.zeros(len(table.heights)), np.zeros(len(levels.weight))
        bed = deeper = 0.0
        pieces, per_nm = table.pieces, hole.area / NANOMETRES
        if goal == "least money":
            stack, dug = table.price / MONEY_STEPS, problem.digging * levels.dug[number]
            bed, deeper = per_nm * problem.gravel, per_nm * problem.digging
        elif goal == "least digging":
            dug, deeper = levels.dug[number], per_nm
        elif goal == "lowest floor":
            pieces = np.zeros_like(table.pieces)
        worths.append(Worth(stack, table.heights, pieces, dug, bed, deeper))
    piers = int(levels.weight.sum())
    return score_stacks(worths, bed_least=levels.bed_least, reach=reach, piers=piers)
