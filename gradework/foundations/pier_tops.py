"""The one best top for all piers, and the stack of each: searched so that the answer is proved, not tried.

For one pier write B for the highest bottom allowed (lowest ground in its hole less the least dig), h for the
height of a stack and g = T - h - B for what is left between the two. With g at or above the least bed, the
bed fills g and the hole stays at B. With g below it, the hole goes deeper by (least bed - g) and the bed is
the least one. Any other split only adds digging and gravel, so each stack costs a function of T with one
kink, on one closed interval:

    cost(T) = stack + gravel x area x max(g, least bed) + digging x area x max(0, least bed - g)

Fix one stack for each pier: the total is convex and piecewise linear in T, so it is least at a kink or at an
end of an interval. The best plan of all is the best of these, whatever its stacks are. Therefore the finite
set of all kinks and ends, over all piers and stacks, holds a best top; each is evaluated with the cheapest
stack of every pier. Levels are whole nanometres and costs whole steps of about 1e-13 of the total, so that
"equal" and "fits" are exact. ``docs/piers.md`` carries the argument in full.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.foundations.pier_envelope import Envelope, Score, envelope, score_stacks
from gradework.foundations.pier_stacks import MONEY_STEPS, NANOMETRES, Ints, StackTable, nanometres

Floats = NDArray[np.float64]
Goal = Literal["least money", "fewest units", "least digging", "lowest floor"]
GOALS: tuple[Goal, ...] = ("least money", "fewest units", "least digging", "lowest floor")

_SLACK = 8  # steps: each pier's score is rounded in up to four places, by half a step or less in each

_BITS = 0.01  # nm: the last bits of a level below 40 km

_CHUNK = 1 << 20  # so many pier-and-top pairs are evaluated at once: 8 MB each array


@dataclass(frozen=True)
class TopProblem:
    """Everything the choice of a top depends on.

    ``bottoms`` (n,) [m]: the highest bottom each hole may have. ``bed_least``, ``bed_most`` [m] enclose the
    gravel bed; ``deeper`` [m] is how much deeper a hole may be dug by choice. ``lowest_top``, ``highest_top``
    [m] or None limit the common top. ``area`` [m²] is the plan of one hole, ``gravel`` and ``digging`` the
    price of 1 m³ in place (compacted bed; ground).
    """

    bottoms: Floats
    table: StackTable
    bed_least: float
    bed_most: float
    deeper: float
    area: float
    gravel: float
    digging: float
    lowest_top: float | None = None
    highest_top: float | None = None


@dataclass(frozen=True)
class TopChoice:
    """A top and the stack of each pier; levels in nanometres, exact: bottom + bed + stack = top.

    ``rows`` (n,) are rows of the stack table; ``bottoms``, ``beds``, ``extra`` (n,) [nm], ``extra`` being the
    digging beyond the least. ``tops_compared`` counts the candidate tops that all piers can have.
    """

    goal: Goal
    top: int
    rows: Ints
    bottoms: Ints
    beds: Ints
    extra: Ints
    tops_compared: int


@dataclass(frozen=True)
class _Levels:
    """The problem in nanometres; piers with the same bottom are one, ``weight`` of them."""

    bottoms: Ints
    weight: Ints
    which: Ints
    bed_least: int
    bed_most: int
    deeper: int


def _bottoms_nm(metres: Floats) -> Ints:
    """Round bottoms [m] down to nanometres: a hole may be one too deep, never too shallow.

    A bottom that lacks only the last bits of a float is the nanometre above, so that a shift of the datum
    does not break a tie.
    """
    return np.asarray(np.floor(metres * NANOMETRES + _BITS), np.int64)


def _levels(problem: TopProblem) -> _Levels:
    all_bottoms = _bottoms_nm(np.asarray(problem.bottoms, np.float64))
    bottoms, which, weight = np.unique(all_bottoms, return_inverse=True, return_counts=True)
    beds = nanometres(problem.bed_least), nanometres(problem.bed_most)
    return _Levels(bottoms, weight, which, *beds, nanometres(problem.deeper))


def _score(problem: TopProblem, levels: _Levels, goal: Goal) -> Score:
    """Turn the goal into steps: worth of a stack, of a nanometre of bed, of a nanometre of extra hole."""
    table = problem.table
    none = np.zeros(len(table.heights))
    per_nm = problem.area / NANOMETRES
    stack, bed, hole, pieces = none, 0.0, 0.0, table.pieces
    if goal == "least money":
        stack, bed, hole = table.price / MONEY_STEPS, per_nm * problem.gravel, per_nm * problem.digging
    elif goal == "least digging":
        hole = per_nm
    elif goal == "lowest floor":
        pieces = np.zeros_like(table.pieces)
    return score_stacks(
        stack,
        table.heights,
        pieces,
        bed=bed,
        hole=hole,
        bed_least=levels.bed_least,
        reach=int(table.heights[-1]) + levels.bed_most + levels.deeper,
        piers=int(levels.weight.sum()),
    )


def _envelope(problem: TopProblem, levels: _Levels, score: Score) -> Envelope:
    beds = levels.bed_least, levels.bed_most, levels.deeper
    return envelope(problem.table.heights, score, *beds)


def _candidates(problem: TopProblem, levels: _Levels, shape: Envelope) -> Ints:
    """Give every top [nm] at which the total can be least and that all limits allow, lowest first."""
    low = int(levels.bottoms[-1] + shape.events[0])
    high = int(levels.bottoms[0] + shape.events[-1])
    if problem.lowest_top is not None:
        low = max(low, -nanometres(-problem.lowest_top))
    if problem.highest_top is not None:
        high = min(high, nanometres(problem.highest_top))
    if low > high:
        return np.empty(0, np.int64)
    tops = (levels.bottoms[:, None] + shape.events[None, :]).ravel()
    ends = np.array([low, high], np.int64)
    return np.unique(np.concatenate([tops[(tops >= low) & (tops <= high)], ends]))


def _totals(tops: Ints, levels: _Levels, shape: Envelope, score: Score) -> tuple[NDArray[np.bool_], Ints]:
    """Say for each top whether every pier can have it, and the total score where it can."""
    fits = np.zeros(len(tops), np.bool_)
    total = np.zeros(len(tops), np.int64)
    step = max(1, _CHUNK // len(levels.bottoms))
    for start in range(0, len(tops), step):
        part = slice(start, start + step)
        x = tops[part, None] - levels.bottoms[None, :]
        value, ok = shape.lowest(x, score)
        fits[part] = ok.all(axis=1)
        total[part] = np.where(fits[part], value @ levels.weight, 0)
    return fits, total


def best_top(problem: TopProblem, goal: Goal) -> TopChoice | None:
    """Find the best common top and stacks for a goal; None when no top suits every pier.

    Ties go to fewer units, then to the lower top. Raises ``CheckError`` when the chosen stacks do not add up.
    """
    if not len(problem.table.heights):
        return None
    levels = _levels(problem)
    score = _score(problem, levels, goal)
    shape = _envelope(problem, levels, score)
    tops = _candidates(problem, levels, shape)
    if not len(tops):
        return None
    fits, total = _totals(tops, levels, shape, score)
    tops, total = tops[fits], total[fits]
    if not len(tops):
        return None
    best = _settle_ties(problem, levels, score, tops, total)
    choice = _choose_stacks(problem, levels, score, goal, int(tops[best]), len(tops))
    _check(problem, choice, score, int(total[best]))
    return choice


def _settle_ties(problem: TopProblem, levels: _Levels, score: Score, tops: Ints, total: Ints) -> int:
    """Give the place of the best top: the fewest units, then the lowest, of all that are equally good.

    Where gravel or digging counts, the last steps of a score are rounding, so equally good means equal
    within those steps, about 1e-12 of the total.
    """
    best = int(np.argmin(total))  # the first of equals: the lowest top
    if score.rise == 0.0 and (score.fall == 0.0 or total[best] >> score.bits == 0):
        return best
    piers = int(levels.weight.sum())
    near = np.flatnonzero((total >> score.bits) <= (total[best] >> score.bits) + piers * _SLACK)
    if len(near) == 1:
        return best
    pieces = np.zeros(len(near), np.int64)
    for bottom, weight in zip(levels.bottoms, levels.weight, strict=True):
        pieces += weight * _fewest_pieces(problem.table, levels, score, tops[near] - bottom)
    return int(near[np.argmin(pieces)])


def _fewest_pieces(table: StackTable, levels: _Levels, score: Score, x: Ints) -> Ints:
    """Give for each ``x`` (k,) [nm] the fewest units among the equally good stacks of one pier."""
    fewest = np.empty(len(x), np.int64)
    step = max(1, _CHUNK // len(table.heights))
    for start in range(0, len(x), step):
        part = x[start : start + step, None]
        gap = part - table.heights[None, :]
        fits = (gap >= levels.bed_least - levels.deeper) & (gap <= levels.bed_most)
        every = np.arange(len(table.heights))[None, :]
        steps = score.at(every, part, gap < levels.bed_least) >> score.bits
        least = np.where(fits, steps, np.iinfo(np.int64).max).min(axis=1, keepdims=True)
        equal = fits & (steps <= least + _SLACK)
        fewest[start : start + step] = np.where(equal, table.pieces[None, :], np.iinfo(np.int64).max).min(
            axis=1
        )
    return fewest


def _choose_stacks(
    problem: TopProblem, levels: _Levels, score: Score, goal: Goal, top: int, compared: int
) -> TopChoice:
    money = _score(problem, levels, "least money")
    rows = np.empty(len(levels.bottoms), np.int64)
    for pier, bottom in enumerate(levels.bottoms):
        x = top - int(bottom)
        fitting, gap = _fitting_rows(problem.table, levels, x)
        deep = gap < levels.bed_least
        steps = score.at(fitting, x, deep) >> score.bits
        equal = steps <= steps.min() + _SLACK
        fitting, gap, deep = fitting[equal], gap[equal], deep[equal]
        cost = money.at(fitting, x, deep) >> money.bits
        rank = np.lexsort((gap, deep * (levels.bed_least - gap), cost, problem.table.pieces[fitting]))
        rows[pier] = fitting[rank[0]]
    rows = rows[levels.which]
    bottoms = levels.bottoms[levels.which]
    gap = top - problem.table.heights[rows] - bottoms
    extra = np.maximum(0, levels.bed_least - gap)
    arrays = rows, bottoms - extra, gap + extra, extra
    for array in arrays:
        array.setflags(write=False)
    return TopChoice(goal, top, *arrays, compared)


def _fitting_rows(table: StackTable, levels: _Levels, x: int) -> tuple[Ints, Ints]:
    """Give the rows of the table that fit a pier whose top stands ``x`` [nm] above B, and their g [nm]."""
    first = int(np.searchsorted(table.heights, x - levels.bed_most, "left"))
    last = int(np.searchsorted(table.heights, x - levels.bed_least + levels.deeper, "right"))
    fitting = np.arange(first, last)
    return fitting, x - table.heights[fitting]


def stacks_that_fit(problem: TopProblem, top: int, bottom: float) -> tuple[Ints, Ints, Ints]:
    """Give every row of the table that one pier may have under ``top`` [nm], its bed and extra digging [nm].

    ``bottom`` [m] is the highest bottom of the pier.
    """
    levels = _levels(problem)
    x = top - int(_bottoms_nm(np.array(bottom, np.float64)))
    rows, gap = _fitting_rows(problem.table, levels, x)
    extra = np.maximum(0, levels.bed_least - gap)
    return rows, gap + extra, extra


def tops_that_fit(problem: TopProblem) -> Ints:
    """Give the tops [nm], lowest first, at which the tops that suit every pier begin, bend or end."""
    if not len(problem.table.heights):
        return np.empty(0, np.int64)
    levels = _levels(problem)
    score = _score(problem, levels, "lowest floor")
    shape = _envelope(problem, levels, score)
    tops = _candidates(problem, levels, shape)
    fits, _ = _totals(tops, levels, shape, score)
    return tops[fits]


def money_over_tops(problem: TopProblem, tops: Floats) -> Floats:
    """Give the least money for stacks, beds and extra digging at each top [m]; NaN where no plan exists."""
    if not len(problem.table.heights):
        return np.full(len(tops), np.nan)
    levels = _levels(problem)
    score = _score(problem, levels, "least money")
    shape = _envelope(problem, levels, score)
    fits, total = _totals(np.rint(tops * NANOMETRES).astype(np.int64), levels, shape, score)
    return np.where(fits, (total >> score.bits) * score.quantum, np.nan)


def _check(problem: TopProblem, choice: TopChoice, score: Score, total: int) -> None:
    heights = problem.table.heights[choice.rows]
    if not (choice.bottoms + choice.beds + heights == choice.top).all():
        raise CheckError("bottom + bed + stack is not the top of a pier")
    least, most = nanometres(problem.bed_least), nanometres(problem.bed_most)
    if not ((choice.beds >= least) & (choice.beds <= most) & (choice.extra >= 0)).all():
        raise CheckError("a gravel bed is outside its limits")
    if not (choice.extra <= nanometres(problem.deeper)).all():
        raise CheckError("a hole is deeper than allowed")
    again = score.at(choice.rows, choice.top - choice.bottoms - choice.extra, choice.extra > 0).sum()
    if abs((int(again) >> score.bits) - (total >> score.bits)) > len(choice.rows) * _SLACK:
        raise CheckError(f"the chosen stacks score {again}, the search found {total}")
