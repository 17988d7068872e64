"""What the choice of a common top depends on, and what it gives: kinds of holes, limits, prices, goals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.piers.stacks import Ints, StackTable

Floats = NDArray[np.float64]

Goal = Literal["least money", "fewest units", "least digging", "lowest floor"]
GOALS: tuple[Goal, ...] = ("least money", "fewest units", "least digging", "lowest floor")


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
    [m] is how much deeper a hole may be dug by choice, in whole steps of ``step`` [m]. ``lowest_top``,
    ``highest_top`` [m] or None limit the common top. ``gravel`` and ``digging`` are the price of 1 m³ in
    place (compacted bed; ground).
    """

    holes: tuple[Hole, ...]
    bed_least: float
    bed_most: float
    deeper: float
    step: float
    gravel: float
    digging: float
    lowest_top: float | None = None
    highest_top: float | None = None


@dataclass(frozen=True)
class TopChoice:
    """A top and the stack of each pier; levels in nanometres, exact: bottom + bed + stack = top.

    ``kinds`` (n,) are the holes chosen, ``rows`` (n,) rows of their stack tables; ``bottoms``, ``beds``,
    ``extra`` (n,) [nm], ``extra`` being the digging beyond the least. ``tops_compared`` counts the
    candidate tops that suit all piers and were compared: those where a stack that is best somewhere
    begins to fit. For the lowest floor the search ends with the first lot that holds one.
    """

    goal: Goal
    top: int
    kinds: Ints
    rows: Ints
    bottoms: Ints
    beds: Ints
    extra: Ints
    tops_compared: int
