"""What the choice of a common top depends on, and what it gives: kinds of holes, limits, prices, goals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.foundations.piers.stacks import MONEY_STEPS, NANOMETRES, StackTable, nanometres

# The least score of one pier in one kind of hole, as a function of where the top lies above its bottom.
#
# All stacks share two slopes: with a bed to spare the score rises with the price of gravel, with a deeper
# hole it falls with the price of digging. So the least score at x is the least of two lines, one for each
# window of stack heights that fit; between two events (a stack begins or ceases to fit, or meets its
# kink) both windows stand still. The windows' least entries come from tables of least values over 1, 2, 4
# ... neighbours.

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

_KEY_BITS = 59  # a total stays below 2**59, so that sums and differences of two never overflow int64
_STEP_BITS = 51  # and its steps below 2**51: a float holds every whole number up to 2**53
_NONE = np.int64(1 << 61)


@dataclass(frozen=True)
class Score:
    """What is to be made least, in whole steps of ``quantum``; its lowest ``bits`` count the units.

    A stack whose top stands x above B scores ``spare`` + rise x with a bed to spare, ``deep`` - fall x with a
    deeper hole (``rise``, ``fall`` [steps/nm]), and ``hole`` (n,) of its pier besides. All are whole numbers,
    so scores compare exactly; each is within three steps of the true worth.
    """

    spare: Ints
    deep: Ints
    hole: Ints
    rise: float
    fall: float
    bits: int
    quantum: float

    def rising(self, x: Ints) -> Ints:
        """Give the part of a score that gravel adds up to ``x`` [nm]."""
        steps: Ints = np.rint(self.rise * x).astype(np.int64) << self.bits
        return steps

    def falling(self, x: Ints) -> Ints:
        """Give the part of a score that a top ``x`` [nm] higher saves in digging."""
        steps: Ints = np.rint(self.fall * x).astype(np.int64) << self.bits
        return steps

    def at(self, rows: Ints, x: Ints | int, is_deep: NDArray[np.bool_]) -> Ints:
        """Score rows of the stack table for a top ``x`` [nm] above B."""
        x = np.asarray(x, np.int64)
        return np.where(is_deep, self.deep[rows] - self.falling(x), self.spare[rows] + self.rising(x))


@dataclass(frozen=True)
class Worth:
    """What counts in one kind of hole: ``stack`` (m,) of each stack, ``hole`` (n,) of the hole of each pier,
    ``bed`` and ``deeper`` of a nanometre of gravel and of deeper hole; ``heights`` [nm], ``pieces`` (m,)."""

    stack: Floats
    heights: Ints
    pieces: Ints
    hole: Floats
    bed: float
    deeper: float


def score_stacks(worths: Sequence[Worth], *, bed_least: int, reach: int, piers: int) -> tuple[Score, ...]:
    """Score all stacks in the finest steps for which the total over all ``piers`` fits.

    The steps are the same for all kinds of holes. ``reach`` [nm]: no bed with extra digging and stack is
    longer.
    """
    bits = max(1, int(piers * max(int(w.pieces.max(initial=0)) for w in worths)).bit_length())
    most = piers * max(
        float(w.stack.max(initial=0.0)) + 2.0 * (w.bed + w.deeper) * reach + float(w.hole.max(initial=0.0))
        for w in worths
    )
    quantum = most / float(1 << min(_STEP_BITS, _KEY_BITS - bits)) if most > 0.0 else 1.0
    return tuple(_scored(worth, bed_least, bits, quantum) for worth in worths)


def _scored(worth: Worth, bed_least: int, bits: int, quantum: float) -> Score:
    bed, deeper = worth.bed / quantum, worth.deeper / quantum
    steps = np.rint(worth.stack / quantum).astype(np.int64)
    spare = steps - np.rint(bed * worth.heights).astype(np.int64)
    deep = steps + np.rint(bed * bed_least + deeper * (worth.heights + bed_least)).astype(np.int64)
    hole = np.rint(worth.hole / quantum).astype(np.int64) << bits
    keys = (spare << bits) + worth.pieces, (deep << bits) + worth.pieces
    return Score(*keys, hole, bed, deeper, bits, quantum)


@dataclass(frozen=True)
class Envelope:
    """The least scores in each cell: before ``events`` (e,) [nm] 0, at it, between 0 and 1, at 1, and so on.

    ``spare`` and ``deep`` (2e + 1,) are the least keys of ``Score``, a huge number where no stack fits.
    """

    events: Ints
    spare: Ints
    deep: Ints

    def lowest(self, x: Ints, score: Score) -> tuple[Ints, NDArray[np.bool_]]:
        """Give the least score for tops ``x`` (any shape) [nm] above B, and whether any stack fits there."""
        place = np.searchsorted(self.events, x, "left")
        at_event = self.events[np.minimum(place, len(self.events) - 1)] == x
        cell = 2 * place + at_event
        spare, deep = self.spare[cell], self.deep[cell]
        fits = (spare != _NONE) | (deep != _NONE)
        return np.minimum(spare + score.rising(x), deep - score.falling(x)), fits


def _least_tables(keys: Ints) -> list[Ints]:
    """Give for spans of 1, 2, 4 ... neighbours the place of the least key that starts at each place."""
    tables = [np.arange(len(keys))]
    span = 1
    while 2 * span <= len(keys):
        left, right = tables[-1][: len(keys) - 2 * span + 1], tables[-1][span : len(keys) - span + 1]
        tables.append(np.where(keys[right] < keys[left], right, left))
        span *= 2
    return tables


def _least_between(keys: Ints, tables: list[Ints], first: Ints, last: Ints) -> Ints:
    """Give the place of the least of keys[first:last] for each window; -1 for an empty one."""
    found = np.full(len(first), -1, np.int64)
    width = last - first
    for level, table in enumerate(tables):
        span = 1 << level
        here = (width >= span) & (width < 2 * span)
        left, right = table[first[here]], table[last[here] - span]
        found[here] = np.where(keys[right] < keys[left], right, left)
    return found


def envelope(heights: Ints, score: Score, bed_least: int, bed_most: int, deeper: int) -> Envelope:
    """Build the envelope of all stacks, then once more of those that are best somewhere.

    ``heights`` (m,) [nm] rise. Leaving out a stack that is best nowhere changes no value, and leaves fewer
    tops to look at.
    """
    if bed_most < bed_least or bed_least < 0 or deeper < 0:
        raise CheckError("bed and depth limits are out of order")
    limits = bed_least, bed_most, deeper
    _, spare, deep = _best_rows(heights, score.spare, score.deep, limits)
    best = np.union1d(spare, deep)
    best = best[best >= 0]
    heights, spare_keys, deep_keys = heights[best], score.spare[best], score.deep[best]
    events, spare, deep = _best_rows(heights, spare_keys, deep_keys, limits)
    return Envelope(
        events, np.where(spare >= 0, spare_keys[spare], _NONE), np.where(deep >= 0, deep_keys[deep], _NONE)
    )


def _best_rows(
    heights: Ints, spare_keys: Ints, deep_keys: Ints, limits: tuple[int, int, int]
) -> tuple[Ints, Ints, Ints]:
    """Give the events, and for each cell the best row of either kind, -1 where none fits."""
    bed_least, bed_most, deeper = limits
    ends = heights + bed_least - deeper, heights + bed_least, heights + bed_most
    events = np.unique(np.concatenate(ends))
    x = np.empty(2 * len(events) + 1, np.int64)
    x[0], x[1::2], x[2::2] = events[0] - 1, events, events + 1
    first = np.searchsorted(heights, x - bed_most, "left")
    middle = np.searchsorted(heights, x - bed_least, "right")
    last = np.searchsorted(heights, x - bed_least + deeper, "right")
    spare = _least_between(spare_keys, _least_tables(spare_keys), first, middle)
    deep = _least_between(deep_keys, _least_tables(deep_keys), middle, last)
    return events, spare, deep


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
