"""Of equally good tops the best, the hole and the stack that each pier takes, and the check of both."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from gradework.errors import CheckError
from gradework.foundations.pier_envelope import Score
from gradework.foundations.pier_problem import (
    Bools,
    Goal,
    Levels,
    TopChoice,
    TopProblem,
    levels_of,
    scores_of,
)
from gradework.foundations.pier_stacks import Ints, StackTable, nanometres

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
