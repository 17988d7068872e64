"""The one best top for all piers, and hole and stack of each: searched so that the answer is proved.

For one pier and one kind of hole write B for the highest bottom allowed (lowest ground in the hole less the
least dig), h for the height of a stack and g = T - h - B for what is left between the two. Holes end at B
or a whole number k of steps below it, as a builder digs them. With g at or above the least bed, the bed
fills g and the hole stays at B. With g below it, the hole goes deeper by the fewest steps that leave the
least bed, and the bed fills the rest. Any more steps only add digging and gravel. A stack in a hole k steps
deeper does what one lower by k steps would do in the hole at B; so each hole, depth and stack costs a
rising line in T,

    cost(T) = stack + digging down to B and k steps + gravel x area x bed,   bed = g + k steps,

on one closed interval, from where the bed is the least one to where it is the greatest.

Fix hole, depth and stack of each pier: the total rises with T, so it is least where the last of the
intervals begins, or at the lowest top allowed. The best plan of all is the best of these, whatever its
holes, depths and stacks are. Therefore the finite set of all beginnings, over all piers, holes, depths and
stacks, holds a best top; each is evaluated with the cheapest of every pier. Levels are whole
nanometres, so that "fits" is exact; costs are equal where they differ by less than 1e-13 of the largest a
pier may have. ``docs/piers.md`` has the argument in full.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.foundations.piers.stacks import MONEY_STEPS, NANOMETRES, Ints, nanometres, pieces_in_course
from gradework.foundations.piers.top_problem import Floats, Goal, Hole, TopChoice, TopProblem

Bools = NDArray[np.bool_]

_SAME = 1e-13  # of the largest cost of one pier: far above what floats round away, far below any price
_BITS = 0.01  # nm: the last bits of a level below 40 km
_CHUNK = 1 << 20  # pairs of top and pier worked on at once
_FEW = 256  # tops looked at in one go where the first that fits is the answer


class _Kind(NamedTuple):
    """One kind of hole, ready for the least cost of every pier under any top; x = top less bottom [nm].

    ``bottoms`` (n,) [nm] and whether a pier is ``able`` to have the hole (n,). ``events`` (e,) [nm]: the x at
    which a stack at some depth begins or ceases to fit. Between two events the same is best, so there are
    cells: before event 0, at it, between 0 and 1, at 1 and so on, (2 e + 1,) each. ``cost``: that of the best
    at x = 0, infinite where none fits; it rises by ``rise`` per nm. ``pieces``: the blocks in it, (2 e + 1,);
    ``row`` of its table, and how much deeper its hole is, ``extra`` [nm], (2 e + 1,).
    ``starts`` are those of the events at which one begins to fit, with the least bed under it.
    ``dug`` (n,) is the cost of digging down to the bottoms, ``most`` what one pier can cost at the most.
    """

    bottoms: Ints
    able: Bools
    events: Ints
    starts: Ints
    cost: Floats
    pieces: Ints
    row: Ints
    extra: Ints
    rise: float
    dug: Floats
    most: float


def _kinds(problem: TopProblem, goal: Goal) -> list[_Kind]:
    """Get every kind of hole that some stack asks for ready; none where a pier has no hole at all."""
    kinds = [_kind(problem, hole, goal) for hole in problem.holes if len(hole.table.heights)]
    return kinds if kinds and np.any([kind.able for kind in kinds], axis=0).all() else []


def _kind(problem: TopProblem, hole: Hole, goal: Goal) -> _Kind:
    table, (least, most, deeper, step) = hole.table, _limits(problem)
    able = np.isfinite(hole.bottoms)
    volume = np.where(able, hole.dug, 0.0)
    stack, dug, rise, fall = np.zeros(len(table.heights)), np.zeros(len(able)), 0.0, 0.0
    if goal == "least money":
        stack, dug = table.price / MONEY_STEPS, problem.digging * volume
        rise, fall = (hole.area / NANOMETRES * price for price in (problem.gravel, problem.digging))
    elif goal == "fewest units":
        stack = table.pieces.astype(np.float64)
    elif goal == "least digging":
        dug, fall = volume, hole.area / NANOMETRES
    extra = np.arange(0, deeper + 1, step)
    lowered = np.subtract.outer(table.heights, extra).ravel()  # of a stack in a hole so much deeper
    costs = np.add.outer(stack, fall * extra).ravel() - rise * lowered
    highest = float(np.abs(costs).max() + dug.max() + (rise + fall) * (table.heights[-1] + most + deeper))
    # equal costs rank by blocks, so they are told apart in steps, not by what floats round away
    steps = np.rint(costs / (_SAME * highest or 1.0))
    # the lowest top wins whatever is laid
    laid = np.repeat(table.pieces * (goal != "lowest floor"), len(extra))
    order = np.lexsort((laid, steps, lowered))  # of those that are equally low the first is enough
    order = order[np.concatenate([[True], np.diff(lowered[order]) > 0])]
    lowered, costs, steps, laid = lowered[order], costs[order], steps[order], laid[order]
    rank = np.lexsort((laid, steps)).argsort()
    _, best = _best_in_cells(lowered, rank, least, most)
    rows = np.unique(best[best >= 0])  # those best nowhere change no least cost, they only add events
    events, best = _best_in_cells(lowered[rows], rank[rows], least, most)
    cost = np.where(best >= 0, costs[rows][best], np.inf)
    starts = np.unique(lowered[rows]) + least
    which = order[rows][best]
    return _Kind(
        _bottoms(hole.bottoms), able, events, starts, cost, laid[rows][best],
        which // len(extra), extra[which % len(extra)], rise, dug, highest,
    )  # fmt: skip


def _limits(problem: TopProblem) -> tuple[int, int, int, int]:
    """Least and greatest bed, how much deeper a hole may go, and in which steps [nm]."""
    lengths = (problem.bed_least, problem.bed_most, problem.deeper, problem.step)
    least, most, deeper, step = (nanometres(m) for m in lengths)
    if most < least or least < 0 or deeper < 0 or step < 1:
        raise CheckError("bed and depth limits are out of order")
    return least, most, deeper, step


def _bottoms(bottoms: Floats) -> Ints:
    """Round the highest bottoms down to nanometres (n,), 0 where there is none.

    A hole may be one nanometre too deep, never too shallow. A bottom that lacks only the last bits of a float
    is the nanometre above, so that a shift of the datum does not break a tie.
    """
    return np.floor(np.nan_to_num(bottoms) * NANOMETRES + _BITS).astype(np.int64)


def _best_in_cells(heights: Ints, rank: Ints, least: int, most: int) -> tuple[Ints, Ints]:
    """Give the events, and for each cell the row that ranks first, (2 e + 1,), -1 where none fits.

    ``heights`` (m,) [nm] rise, so the rows that fit are neighbours; ``rank`` (m,).
    """
    events = np.unique(np.concatenate([heights + least, heights + most]))
    x = np.empty(2 * len(events) + 1, np.int64)
    x[0], x[1::2], x[2::2] = events[0] - 1, events, events + 1
    first = np.searchsorted(heights, x - most, "left")
    last = np.searchsorted(heights, x - least, "right")
    return events, _first_between(rank, first, last)


def _first_between(rank: Ints, first: Ints, last: Ints) -> Ints:
    """Give the place of the least of rank[first:last] for each window, -1 for an empty one.

    Two spans of a power of two cover any window, so the least of all such spans is enough to know.
    """
    found, width = np.full(len(first), -1, np.int64), last - first
    least, span = np.arange(len(rank)), 1  # least[i]: the place of the least of rank[i : i + span]
    while len(least):
        here = (width >= span) & (width < 2 * span)
        left, right = least[first[here]], least[last[here] - span]
        found[here] = np.where(rank[right] < rank[left], right, left)
        left, right = least[:-span], least[span:]
        least = np.where(rank[right] < rank[left], right, left)
        span *= 2
    return found


def _candidates(problem: TopProblem, kinds: Sequence[_Kind], *, ends: bool = False) -> Ints:
    """Give every top [nm] at which the total can be least and that all limits allow, lowest first.

    The total is least where the best stack of some pier begins to fit; a stack that is not the best of its
    pier there is no reason to look. With ``ends`` those are looked at too where it ceases to fit.
    """
    far = np.iinfo(np.int64).max
    lows = [np.where(kind.able, kind.bottoms + kind.events[0], far) for kind in kinds]
    highs = [np.where(kind.able, kind.bottoms + kind.events[-1], -far) for kind in kinds]
    low, high = int(np.min(lows, axis=0).max()), int(np.max(highs, axis=0).min())
    if problem.lowest_top is not None:
        low = max(low, -nanometres(-problem.lowest_top))
    if problem.highest_top is not None:
        high = min(high, nanometres(problem.highest_top))
    if low > high:
        return np.empty(0, np.int64)
    found = [np.array([low, high], np.int64)]
    found += [_own_tops(kinds, pier, low, high, ends=ends) for pier in range(len(kinds[0].able))]
    return np.unique(np.concatenate(found))


def _own_tops(kinds: Sequence[_Kind], pier: int, low: int, high: int, *, ends: bool) -> Ints:
    """Give the tops from ``low`` to ``high`` [nm] where a best stack of one pier begins to fit, or ends."""
    own = [_for_pier(kind, pier) for kind in kinds if kind.able[pier]]
    tops = [kind.bottoms[0] + (kind.events if ends else kind.starts) for kind in own]
    tops = [each[(each >= low) & (each <= high)] for each in tops]
    least, _ = _least_of_piers(np.concatenate(tops), own)
    same = _SAME * max(kind.most for kind in own)
    found, start = [], 0
    for kind, each in zip(own, tops, strict=True):
        cost, _ = _least_of_piers(each, [kind])
        best = cost[:, 0] <= least[start : start + len(each), 0] + same
        found.append(each[best])
        start += len(each)
    return np.concatenate(found)


def _for_pier(kind: _Kind, pier: int) -> _Kind:
    only = slice(pier, pier + 1)
    return kind._replace(bottoms=kind.bottoms[only], able=kind.able[only], dug=kind.dug[only])


def _totals(tops: Ints, kinds: Sequence[_Kind], *, first: bool = False) -> tuple[Floats, Ints]:
    """Give for each top the least cost of all piers together, infinite where one cannot have it, and the
    fewest blocks at that cost; only up to where the ``first`` is that all can have, where that is asked."""
    total, pieces = np.full(len(tops), np.inf), np.zeros(len(tops), np.int64)
    step = _FEW if first else max(1, _CHUNK // len(kinds[0].able))
    for start in range(0, len(tops), step):
        part = slice(start, start + step)
        cost, count = _least_of_piers(tops[part], kinds)
        total[part], pieces[part] = cost.sum(axis=1), count.sum(axis=1)
        if first and np.isfinite(total[part]).any():
            break
    return total, pieces


def _least_of_piers(tops: Ints, kinds: Sequence[_Kind]) -> tuple[Floats, Ints]:
    """Give the least cost of every pier under every top (k, n), and the fewest blocks at that cost."""
    least = np.full((len(tops), len(kinds[0].able)), np.inf)
    pieces = np.zeros(least.shape, np.int64)
    for kind in kinds:
        own, _, cost, count, better = _bettered(tops, kind, kinds, least, pieces)
        least[:, own] = np.where(better, cost, least[:, own])
        pieces[:, own] = np.where(better, count, pieces[:, own])
    return least, pieces


def _bettered(
    tops: Ints, kind: _Kind, kinds: Sequence[_Kind], least: Floats, pieces: Ints
) -> tuple[Ints, Ints, Floats, Ints, Bools]:
    """Which piers can have a ``kind`` of hole (m,), and under every top the cell of the best in it, its cost,
    its blocks and whether it is better than what is ``least`` so far, in ``pieces``, (k, m) each."""
    own = np.flatnonzero(kind.able)  # few piers have a hole of a kind: base and limit hang on their loads
    x = tops[:, None] - kind.bottoms[own]
    place = np.searchsorted(kind.events, x, "left")
    cell = 2 * place + (kind.events.take(place, mode="clip") == x)
    same = _SAME * max(one.most for one in kinds)
    cost, count = kind.cost.take(cell) + kind.rise * x + kind.dug[own], kind.pieces.take(cell)
    best, fewest = least[:, own], pieces[:, own]
    better = (cost < best - same) | ((cost < best + same) & (count < fewest))
    return own, cell, cost, count, better


def best_top(problem: TopProblem, goal: Goal) -> TopChoice | None:
    """Find the best common top, holes and stacks for a goal; None when no top suits every pier.

    Ties go to fewer units, then to the lower top. Raises ``CheckError`` when the chosen stacks do not add up.
    """
    kinds = _kinds(problem, goal)
    tops = _candidates(problem, kinds) if kinds else np.empty(0, np.int64)
    if not len(tops):
        return None
    total, pieces = _totals(tops, kinds, first=goal == "lowest floor")
    fits = np.isfinite(total)
    if not fits.any():
        return None
    tops, total, pieces = tops[fits], total[fits], pieces[fits]
    same = _SAME * max(kind.most for kind in kinds) * len(kinds[0].able)
    equal = np.flatnonzero(total <= total.min() + same)
    best = int(equal[np.argmin(pieces[equal])])  # the first of equals: the lowest top
    choice, worth = _chosen(problem, goal, int(tops[best]), len(tops))
    if abs(worth - total[best]) > 1e-9 * (1.0 + abs(worth)):
        raise CheckError(f"the chosen stacks cost {worth}, the search found {total[best]}")
    return choice


class Taken(NamedTuple):
    """What the best plan takes under each of some ``tops`` (k,) [nm]: blocks ``laid`` by the name of the unit
    (k,) each, gravel compacted in the ``beds`` (k,) and what is ``dug`` in place (k,) [m³]."""

    tops: Ints
    laid: dict[str, Ints]
    beds: Floats
    dug: Floats


def taken_by_top(problem: TopProblem, goal: Goal) -> Taken:
    """Say what is taken under every top at which the total can be least.

    Raises CheckError where that is not what the search counts.
    """
    kinds = _kinds(problem, goal)
    tops = _candidates(problem, kinds) if kinds else np.empty(0, np.int64)
    shape = (len(tops), len(kinds[0].able) if kinds else 0)
    least, pieces = np.full(shape, np.inf), np.zeros(shape, np.int64)
    beds, dug = np.zeros(shape), np.zeros(shape)
    laid: dict[str, Ints] = {}
    for kind, hole in zip(kinds, [hole for hole in problem.holes if len(hole.table.heights)], strict=True):
        own, cell, cost, count, better = _bettered(tops, kind, kinds, least, pieces)
        row, extra = kind.row.take(cell), kind.extra.take(cell)
        bed = hole.area * (tops[:, None] - kind.bottoms[own] - hole.table.heights.take(row) + extra)
        for array, value in (
            (least, cost), (pieces, count), (beds, bed / NANOMETRES),
            (dug, hole.dug[own] + hole.area * extra / NANOMETRES),
        ):  # fmt: skip
            array[:, own] = np.where(better, value, array[:, own])
        for counts in laid.values():
            counts[:, own] = np.where(better, 0, counts[:, own])
        for unit, courses in zip(hole.table.units, hole.table.courses.T, strict=True):
            counts = laid.setdefault(unit.name, np.zeros(shape, np.int64))
            value = courses.take(row) * pieces_in_course(unit, hole.table.across)
            counts[:, own] = np.where(better, value, counts[:, own])
    fits = np.isfinite(least).all(axis=1)
    summed = {name: counts[fits].sum(axis=1) for name, counts in laid.items()}
    if (sum(summed.values(), np.zeros(int(fits.sum()), np.int64)) != pieces[fits].sum(axis=1)).any():
        raise CheckError("blocks by their kind are not as many as the search counts")
    return Taken(tops[fits], summed, beds[fits].sum(axis=1), dug[fits].sum(axis=1))


def choices_at(problem: TopProblem, goal: Goal, tops: Sequence[int]) -> list[TopChoice | None]:
    """Give the best holes and stacks under each of some ``tops`` [nm]; None where a pier cannot have it."""
    kinds = _kinds(problem, goal)
    if not kinds:
        return [None] * len(tops)
    least, most = problem.lowest_top, problem.highest_top
    low = -math.inf if least is None else -nanometres(-least)
    high = math.inf if most is None else nanometres(most)
    fits = np.isfinite(_totals(np.array(tops, np.int64), kinds)[0])
    return [
        _chosen(problem, goal, top, 1)[0] if fit and low <= top <= high else None
        for top, fit in zip(tops, fits.tolist(), strict=True)
    ]


def tops_that_fit(problem: TopProblem) -> Ints:
    """Give the tops [nm], lowest first, at which the tops that suit every pier begin or end."""
    kinds = _kinds(problem, "lowest floor")
    if not kinds:
        return np.empty(0, np.int64)
    tops = _candidates(problem, kinds, ends=True)
    return tops[np.isfinite(_totals(tops, kinds)[0])]


class Fitting(NamedTuple):
    """What one pier may have under a top, (k,) each: holes by ``kinds``, ``rows`` of their tables, ``beds``,
    ``extra`` digging and ``bottoms`` [nm], ``pieces`` laid, ``money`` for all of it, ``digging`` [m³]."""

    kinds: Ints
    rows: Ints
    beds: Ints
    extra: Ints
    bottoms: Ints
    pieces: Ints
    money: Floats
    digging: Floats


def stacks_that_fit(problem: TopProblem, top: int, pier: int) -> Fitting:
    """Give every hole and stack that pier number ``pier`` may have under ``top`` [nm]."""
    least, most, deeper, step = _limits(problem)
    parts = []
    for kind, hole in enumerate(problem.holes):
        if not math.isfinite(hole.bottoms[pier]):
            continue
        table, bottom = hole.table, int(_bottoms(hole.bottoms[pier]))
        gap = top - bottom - table.heights
        extra = np.maximum(0, -((gap - least) // step)) * step  # whole steps, as few as leave the least bed
        rows = np.flatnonzero((extra <= deeper) & (gap + extra <= most))
        extra, beds = extra[rows], (gap + extra)[rows]
        digging = hole.dug[pier] + hole.area * (extra / NANOMETRES)
        lengths = problem.gravel * beds + problem.digging * extra
        money = table.price[rows] / MONEY_STEPS + problem.digging * hole.dug[pier]
        money = money + hole.area / NANOMETRES * lengths
        place = np.full(len(rows), kind), rows, beds, extra, bottom - extra
        parts.append((*place, table.pieces[rows], money, digging))
    if not parts:
        raise CheckError("a pier without a hole")
    return Fitting(*(np.concatenate(values) for values in zip(*parts, strict=True)))


def _chosen(problem: TopProblem, goal: Goal, top: int, compared: int) -> tuple[TopChoice, float]:
    """Take for each pier the best hole and stack under ``top`` [nm], and add up what the goal makes least.

    Of equals the fewest blocks, then the least money, the least extra digging, the thinnest bed, the
    smallest hole.
    """
    chosen, worth = [], 0.0
    for pier in range(len(problem.holes[0].bottoms)):
        found = stacks_that_fit(problem, top, pier)
        cost = {
            "least money": found.money,
            "fewest units": found.pieces,
            "least digging": found.digging,
            "lowest floor": np.zeros(len(found.rows)),
        }[goal]
        equal = np.flatnonzero(cost <= cost.min() + 1e-12 * abs(cost).max())
        ties = (found.kinds, found.beds, found.extra, found.money, found.pieces)
        first = equal[np.lexsort([values[equal] for values in ties])[0]]
        worth += float(cost[first])
        chosen.append([int(values[first]) for values in found[:5]])
    kinds, rows, beds, extra, bottoms = np.array(chosen, np.int64).T.copy()
    _check(problem, top, kinds, rows, beds, extra, bottoms)
    arrays = kinds, rows, bottoms, beds, extra
    for array in arrays:
        array.setflags(write=False)
    return TopChoice(goal, top, *arrays, compared), worth


def _check(
    problem: TopProblem, top: int, kinds: Ints, rows: Ints, beds: Ints, extra: Ints, bottoms: Ints
) -> None:
    """Check that the piers add up and keep their limits."""
    heights = np.array(
        [problem.holes[kind].table.heights[row] for kind, row in zip(kinds, rows, strict=True)], np.int64
    )
    least, most, deeper, step = _limits(problem)
    if not (bottoms + beds + heights == top).all():
        raise CheckError("bottom + bed + stack is not the top of a pier")
    if not ((beds >= least) & (beds <= most)).all():
        raise CheckError("a gravel bed is outside its limits")
    if not ((extra >= 0) & (extra <= deeper)).all():
        raise CheckError("a hole is deeper than allowed")
    if (extra % step).any():
        raise CheckError("a hole is not deeper by whole steps")
