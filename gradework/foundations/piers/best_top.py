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
from typing import NamedTuple

import numpy as np

from gradework.errors import CheckError
from gradework.foundations.piers.stacks import NANOMETRES, Ints, StackTable, nanometres
from gradework.foundations.piers.top_scores import (
    Bools,
    Envelope,
    Floats,
    Goal,
    Levels,
    Score,
    TopChoice,
    TopProblem,
    envelope,
    levels_of,
    scores_of,
)

# Of equally good tops the best, the hole and the stack that each pier takes, and the check of both.

_SLACK = 10  # steps: each pier's score is rounded in up to five places, by half a step or less in each

_CHUNK = 1 << 20


class Fitting(NamedTuple):
    """What one pier may have under a top: holes by ``kinds``, ``rows`` of their tables, ``beds``, ``extra``
    digging and ``bottoms`` [nm]; all (k,)."""

    kinds: Ints
    rows: Ints
    beds: Ints
    extra: Ints
    bottoms: Ints


def settle_ties(problem: TopProblem, levels: Levels, scores: Sequence[Score], tops: Ints, total: Ints) -> int:
    """Give the place of the best top: the fewest units, then the lowest, of all that are equally good.

    Where gravel or digging counts, the last steps of a score are rounding, so equally good means equal
    within those steps, about 1e-12 of the total.
    """
    best = int(np.argmin(total))  # the first of equals: the lowest top
    bits = scores[0].bits
    free = all(score.fall == 0.0 for score in scores) or total[best] >> bits == 0
    if free and all(score.rise == 0.0 for score in scores):
        return best
    piers = int(levels.weight.sum())
    near = np.flatnonzero((total >> bits) <= (total[best] >> bits) + piers * _SLACK)
    if len(near) == 1:
        return best
    pieces = np.zeros(len(near), np.int64)
    for pier, weight in enumerate(levels.weight):
        pieces += weight * _fewest_pieces(problem, levels, scores, tops[near], pier)
    return int(near[np.argmin(pieces)])


def _fewest_pieces(
    problem: TopProblem, levels: Levels, scores: Sequence[Score], tops: Ints, pier: int
) -> Ints:
    """Give for each of the ``tops`` (k,) [nm] the fewest units among the equally good stacks of one pier."""
    able = [number for number in range(len(levels.kinds)) if levels.able[number, pier]]
    tables = [problem.holes[levels.kinds[number]].table for number in able]
    pieces = np.concatenate([table.pieces for table in tables])
    most = np.iinfo(np.int64).max
    fewest = np.empty(len(tops), np.int64)
    step = max(1, _CHUNK // len(pieces))
    for start in range(0, len(tops), step):
        part = slice(start, start + step)
        every = [
            _steps(table, levels, scores[number], tops[part, None], number, pier)
            for number, table in zip(able, tables, strict=True)
        ]
        steps = np.concatenate([np.where(fits, value, most - _SLACK) for value, fits in every], axis=1)
        fits = np.concatenate([ok for _, ok in every], axis=1)
        equal = fits & (steps <= steps.min(axis=1, keepdims=True) + _SLACK)
        fewest[part] = np.where(equal, pieces[None, :], most).min(axis=1)
    return fewest


def _steps(
    table: StackTable, levels: Levels, score: Score, tops: Ints, number: int, pier: int
) -> tuple[Ints, Bools]:
    """Score every stack of a table for one pier under each top (k, 1) [nm], and say which fit."""
    x = tops - levels.bottoms[number, pier]
    gap = x - table.heights[None, :]
    every = np.arange(len(table.heights))[None, :]
    keys = score.at(every, x, gap < levels.bed_least) + score.hole[pier]
    return keys >> score.bits, (gap >= levels.bed_least - levels.deeper) & (gap <= levels.bed_most)


def choose_stacks(
    problem: TopProblem, levels: Levels, scores: Sequence[Score], goal: Goal, top: int, compared: int
) -> TopChoice:
    """Take for each pier the hole and stack that score best under ``top`` [nm]; of equals the fewest units,
    then the least money, the least extra digging, the thinnest bed, the smallest hole."""
    money = scores_of(problem, levels, "least money")
    chosen = []
    for pier in range(len(levels.weight)):
        fitting = _fitting(problem, levels, top, pier)
        steps = _score_of(fitting, levels, scores, top, pier)
        equal = np.flatnonzero(steps <= steps.min() + _SLACK)
        own = Fitting(*(values[equal] for values in fitting))
        cost = _score_of(own, levels, money, top, pier)
        pieces = np.array(
            [problem.holes[kind].table.pieces[row] for kind, row in zip(own.kinds, own.rows, strict=True)]
        )
        rank = np.lexsort((own.kinds, own.beds, own.extra, cost, pieces))
        chosen.append([int(values[rank[0]]) for values in own])
    kinds, rows, beds, extra, bottoms = np.array(chosen, np.int64)[levels.which].T.copy()
    arrays = kinds, rows, bottoms, beds, extra
    for array in arrays:
        array.setflags(write=False)
    return TopChoice(goal, top, *arrays, compared)


def _fitting(problem: TopProblem, levels: Levels, top: int, pier: int) -> Fitting:
    """Give all that one (different) pier may have under ``top`` [nm]."""
    parts = []
    for number, kind in enumerate(levels.kinds):
        if not levels.able[number, pier]:
            continue
        heights = problem.holes[kind].table.heights
        bottom = int(levels.bottoms[number, pier])
        x = top - bottom
        first = int(np.searchsorted(heights, x - levels.bed_most, "left"))
        last = int(np.searchsorted(heights, x - levels.bed_least + levels.deeper, "right"))
        rows = np.arange(first, last)
        gap = x - heights[rows]
        extra = np.maximum(0, levels.bed_least - gap)
        parts.append((np.full(len(rows), kind), rows, gap + extra, extra, bottom - extra))
    return Fitting(*(np.concatenate(values) for values in zip(*parts, strict=True)))


def _score_of(fitting: Fitting, levels: Levels, scores: Sequence[Score], top: int, pier: int) -> Ints:
    steps = np.empty(len(fitting.rows), np.int64)
    for number, kind in enumerate(levels.kinds):
        own = fitting.kinds == kind
        score = scores[number]
        x = top - int(levels.bottoms[number, pier])
        keys = score.at(fitting.rows[own], x, fitting.extra[own] > 0) + score.hole[pier]
        steps[own] = keys >> score.bits
    return steps


def stacks_that_fit(problem: TopProblem, top: int, pier: int) -> Fitting:
    """Give every hole and stack that pier number ``pier`` may have under ``top`` [nm]."""
    levels = levels_of(problem)
    if levels is None:
        raise CheckError("no stacks, or a pier without a hole")
    return _fitting(problem, levels, top, int(levels.which[pier]))


def check_choice(
    problem: TopProblem, levels: Levels, choice: TopChoice, scores: Sequence[Score], total: int
) -> None:
    """Check that the piers add up, keep their limits, and score what the search found."""
    pairs = list(zip(choice.kinds.tolist(), choice.rows.tolist(), strict=True))
    heights = np.array([problem.holes[kind].table.heights[row] for kind, row in pairs])
    if not (choice.bottoms + choice.beds + heights == choice.top).all():
        raise CheckError("bottom + bed + stack is not the top of a pier")
    least, most = nanometres(problem.bed_least), nanometres(problem.bed_most)
    if not ((choice.beds >= least) & (choice.beds <= most) & (choice.extra >= 0)).all():
        raise CheckError("a gravel bed is outside its limits")
    if not (choice.extra <= nanometres(problem.deeper)).all():
        raise CheckError("a hole is deeper than allowed")
    again = 0
    for kind, row, bottom, extra, which in zip(
        *(a.tolist() for a in (choice.kinds, choice.rows, choice.bottoms, choice.extra, levels.which)),
        strict=True,
    ):
        score = scores[levels.kinds.index(kind)]
        key = score.at(np.array([row]), choice.top - bottom - extra, np.array([extra > 0]))
        again += int(key[0]) + int(score.hole[which])
    bits = scores[0].bits
    if abs((again >> bits) - (total >> bits)) > len(pairs) * _SLACK:
        raise CheckError(f"the chosen stacks score {again}, the search found {total}")


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
