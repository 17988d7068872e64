"""The one best top for all piers, and hole and stack of each: searched so that the answer is proved.

For one pier and one kind of hole write B for the highest bottom allowed (lowest ground in the hole less the
least dig), h for the height of a stack and g = T - h - B for what is left between the two. With g at or above
the least bed, the bed fills g and the hole stays at B. With g below it, the hole goes deeper by
(least bed - g) and the bed is the least one. Any other split only adds digging and gravel, so each hole and
stack costs a function of T with one kink, on one closed interval:

    cost(T) = stack + digging down to B
            + gravel x area x max(g, least bed) + digging x area x max(0, least bed - g)

Fix one hole and stack for each pier: the total is convex and piecewise linear in T, so it is least at a kink
or at an end of an interval. The best plan of all is the best of these, whatever its holes and stacks are.
Therefore the finite set of all kinks and ends, over all piers, holes and stacks, holds a best top; each is
evaluated with the cheapest hole and stack of every pier. Levels are whole nanometres and costs whole steps
of about 1e-13 of the total, so that "equal" and "fits" are exact. ``docs/piers.md`` has the argument in full.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gradework.foundations.pier_choice import check_choice, choose_stacks, settle_ties
from gradework.foundations.pier_envelope import Envelope, Score, envelope
from gradework.foundations.pier_problem import (
    GOALS,
    Bools,
    Floats,
    Goal,
    Hole,
    Levels,
    TopChoice,
    TopProblem,
    levels_of,
    scores_of,
)
from gradework.foundations.pier_stacks import NANOMETRES, Ints, nanometres

__all__ = ["GOALS", "Goal", "Hole", "TopChoice", "TopProblem", "best_top", "money_over_tops", "tops_that_fit"]

_CHUNK = 1 << 20  # so many pier-and-top pairs are evaluated at once: 8 MB each array
_NOT = np.int64(1 << 61)  # the score of what does not fit


def _envelopes(problem: TopProblem, levels: Levels, scores: Sequence[Score]) -> list[Envelope]:
    limits = levels.bed_least, levels.bed_most, levels.deeper
    return [
        envelope(problem.holes[kind].table.heights, score, *limits)
        for kind, score in zip(levels.kinds, scores, strict=True)
    ]


def _candidates(problem: TopProblem, levels: Levels, shapes: Sequence[Envelope]) -> Ints:
    """Give every top [nm] at which the total can be least and that all limits allow, lowest first."""
    ends = [(shape.events[0], shape.events[-1]) for shape in shapes]
    lows = np.array([b + first for b, (first, _) in zip(levels.bottoms, ends, strict=True)])
    highs = np.array([b + last for b, (_, last) in zip(levels.bottoms, ends, strict=True)])
    low = int(np.where(levels.able, lows, _NOT).min(axis=0).max())
    high = int(np.where(levels.able, highs, -_NOT).max(axis=0).min())
    if problem.lowest_top is not None:
        low = max(low, -nanometres(-problem.lowest_top))
    if problem.highest_top is not None:
        high = min(high, nanometres(problem.highest_top))
    if low > high:
        return np.empty(0, np.int64)
    found = [np.array([low, high], np.int64)]
    for bottoms, able, shape in zip(levels.bottoms, levels.able, shapes, strict=True):
        tops = (np.unique(bottoms[able])[:, None] + shape.events[None, :]).ravel()
        found.append(tops[(tops >= low) & (tops <= high)])
    return np.unique(np.concatenate(found))


def _totals(
    tops: Ints, levels: Levels, shapes: Sequence[Envelope], scores: Sequence[Score]
) -> tuple[Bools, Ints]:
    """Say for each top whether every pier can have it, and the total score where it can."""
    fits = np.zeros(len(tops), np.bool_)
    total = np.zeros(len(tops), np.int64)
    step = max(1, _CHUNK // len(levels.weight))
    for start in range(0, len(tops), step):
        part = slice(start, start + step)
        best = np.full((len(tops[part]), len(levels.weight)), _NOT)
        for number, (shape, score) in enumerate(zip(shapes, scores, strict=True)):
            able = levels.able[number]
            x = tops[part, None] - levels.bottoms[number, able][None, :]
            value, ok = shape.lowest(x, score)
            value = np.where(ok, value + score.hole[able], _NOT)
            best[:, able] = np.minimum(best[:, able], value)
        fits[part] = (best < _NOT).all(axis=1)
        total[part] = np.where(fits[part], np.where(best < _NOT, best, 0) @ levels.weight, 0)
    return fits, total


def best_top(problem: TopProblem, goal: Goal) -> TopChoice | None:
    """Find the best common top, holes and stacks for a goal; None when no top suits every pier.

    Ties go to fewer units, then to the lower top. Raises ``CheckError`` when the chosen stacks do not add up.
    """
    levels = levels_of(problem)
    if levels is None:
        return None
    scores = scores_of(problem, levels, goal)
    shapes = _envelopes(problem, levels, scores)
    tops = _candidates(problem, levels, shapes)
    if not len(tops):
        return None
    fits, total = _totals(tops, levels, shapes, scores)
    tops, total = tops[fits], total[fits]
    if not len(tops):
        return None
    best = settle_ties(problem, levels, scores, tops, total)
    choice = choose_stacks(problem, levels, scores, goal, int(tops[best]), len(tops))
    check_choice(problem, levels, choice, scores, int(total[best]))
    return choice


def tops_that_fit(problem: TopProblem) -> Ints:
    """Give the tops [nm], lowest first, at which the tops that suit every pier begin, bend or end."""
    levels = levels_of(problem)
    if levels is None:
        return np.empty(0, np.int64)
    scores = scores_of(problem, levels, "lowest floor")
    shapes = _envelopes(problem, levels, scores)
    tops = _candidates(problem, levels, shapes)
    fits, _ = _totals(tops, levels, shapes, scores)
    return tops[fits]


def money_over_tops(problem: TopProblem, tops: Floats) -> Floats:
    """Give the least money for stacks, beds and digging at each top [m]; NaN where no plan exists.

    Of the digging down to the highest bottoms, only what is beyond the smallest of each pier is counted.
    """
    levels = levels_of(problem)
    if levels is None:
        return np.full(len(tops), np.nan)
    scores = scores_of(problem, levels, "least money")
    shapes = _envelopes(problem, levels, scores)
    fits, total = _totals(np.rint(tops * NANOMETRES).astype(np.int64), levels, shapes, scores)
    return np.where(fits, (total >> scores[0].bits) * scores[0].quantum, np.nan)
