"""Two independent ways to plan piers: every combination in exact fractions, and a mixed-integer program."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from gradework.foundations.pier_tops import Goal, TopProblem
from gradework.foundations.units_on_hand import BlockUnit

NM = 10**9


def exact(metres: float) -> Fraction:
    return Fraction(round(metres * NM), NM)


def every_stack(units: Sequence[BlockUnit], tallest: float) -> Iterator[tuple[Fraction, Fraction, int]]:
    """Give (height, price, units) of every stack that may be built, by trying all counts."""
    counts = [
        range(min(int(exact(tallest) / exact(u.thickness)), u.most_in_stack or 10**6) + 1) for u in units
    ]
    for laid in itertools.product(*counts):
        height = sum((n * exact(u.thickness) for n, u in zip(laid, units, strict=True)), Fraction(0))
        if not any(laid) or height > exact(tallest):
            continue
        pairs = [(n, u) for n, u in zip(laid, units, strict=True) if n]
        if sum(n for n, u in pairs if u.only_base) > 1 or sum(n for n, u in pairs if not u.may_carry) > 1:
            continue
        if any(u.hollow for _, u in pairs) and not any(u.may_cap and not u.only_base for _, u in pairs):
            continue
        price = sum((n * Fraction(round(u.price * 10**6), 10**6) for n, u in pairs), Fraction(0))
        yield height, price, sum(laid)


def best_by_trying(
    problem: TopProblem, units: Sequence[BlockUnit], tallest: float, goal: Goal
) -> tuple[Fraction, ...] | None:
    """Give the best plan as a tuple that compares in the order of the goal; None when there is none.

    For every choice of stacks the common top is tried at each place where a bed or a hole meets a limit.
    """
    stacks = list(every_stack(units, tallest))
    bottoms = [Fraction(int(np.floor(b * NM)), NM) for b in problem.bottoms]
    least, most, deeper = (exact(v) for v in (problem.bed_least, problem.bed_most, problem.deeper))
    low = None if problem.lowest_top is None else exact(problem.lowest_top)
    high = None if problem.highest_top is None else exact(problem.highest_top)
    area, gravel, digging = (Fraction(v) for v in (problem.area, problem.gravel, problem.digging))
    best: tuple[Fraction, ...] | None = None
    for chosen in itertools.product(stacks, repeat=len(bottoms)):
        feet = [b + s[0] for b, s in zip(bottoms, chosen, strict=True)]
        tops = {f + v for f in feet for v in (least - deeper, least, most)} | {
            t for t in (low, high) if t is not None
        }
        for top in tops:
            gaps = [top - f for f in feet]
            if any(not least - deeper <= g <= most for g in gaps):
                continue
            if (low is not None and top < low) or (high is not None and top > high):
                continue
            extra = sum((max(Fraction(0), least - g) for g in gaps), Fraction(0)) * area
            beds = sum((max(least, g) for g in gaps), Fraction(0)) * area
            money = sum((s[1] for s in chosen), Fraction(0)) + gravel * beds + digging * extra
            pieces = Fraction(sum(s[2] for s in chosen))
            plan = {
                "least money": (money, pieces, top),
                "fewest units": (pieces, top, money),
                "least digging": (extra, pieces, top, money),
                "lowest floor": (top, pieces, money),
            }[goal]
            best = plan if best is None else min(best, plan)
    return best


def best_by_program(
    problem: TopProblem, units: Sequence[BlockUnit], tallest: float, goal: Goal, *, seconds: float = 60.0
) -> tuple[str, float]:
    """Solve the choice as a mixed-integer linear program; give ("optimal" or what else) and the least value.

    For each pier: the courses of each unit, bed, extra digging, and whether it holds open cells; one top.
    """
    n, k = len(problem.bottoms), len(units)
    base = float(np.min(problem.bottoms))  # measured from the lowest bottom, so that numbers stay near 1
    width = k + 3
    size = n * width + 1
    cost = np.zeros(size)
    upper = np.zeros(size)
    whole = np.zeros(size)
    rows, low, high = [], [], []
    for pier in range(n):
        at = pier * width
        bed, extra, hollow = at + k, at + k + 1, at + k + 2
        thickness = np.array([u.thickness for u in units])
        counts = np.array([min(u.most_in_stack or 10**6, int(tallest / u.thickness + 1e-9)) for u in units])
        upper[at : at + k], whole[at : at + k] = counts, 1
        upper[bed], upper[extra], upper[hollow], whole[hollow] = problem.bed_most, problem.deeper, 1, 1
        if goal == "least money":
            cost[at : at + k] = [u.price for u in units]
            cost[bed], cost[extra] = problem.gravel * problem.area, problem.digging * problem.area
        elif goal == "fewest units":
            cost[at : at + k] = 1
        elif goal == "least digging":
            cost[extra] = 1.0
        for values, least, most in _pier_rules(units, thickness, counts, tallest):
            row = np.zeros(size)
            row[at : at + k], row[hollow] = values
            rows.append(row)
            low.append(least)
            high.append(most)
        row = np.zeros(size)
        row[at : at + k], row[bed], row[extra], row[-1] = thickness, 1, -1, -1
        rows.append(row)
        low.append(base - problem.bottoms[pier])
        high.append(base - problem.bottoms[pier])
    lower = np.zeros(size)
    lower[[pier * width + k for pier in range(n)]] = problem.bed_least
    lower[-1] = -10.0 if problem.lowest_top is None else problem.lowest_top - base
    upper[-1] = 50.0 if problem.highest_top is None else problem.highest_top - base
    if goal == "lowest floor":
        cost[-1] = 1.0
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(lower, upper),
        constraints=LinearConstraint(np.array(rows), low, high),
        options={"time_limit": seconds, "mip_rel_gap": 1e-9},
    )
    if found.status == 0:
        scale = problem.area if goal == "least digging" else 1.0
        return "optimal", float(found.fun) * scale + (base if goal == "lowest floor" else 0.0)
    return {1: "out of time", 2: "no plan"}.get(found.status, found.message), float("nan")


def _pier_rules(
    units: Sequence[BlockUnit], thickness: np.ndarray, counts: np.ndarray, tallest: float
) -> Iterator[tuple[tuple[np.ndarray, float], float, float]]:
    """Give ((coefficients of the courses, of "open cells"), least, most) for the rules on one stack."""
    hollow = np.array([float(u.hollow) for u in units])
    cap = np.array([float(u.may_cap and not u.only_base) for u in units])
    yield (thickness, 0.0), 0.0, tallest + 1e-9
    yield (np.ones(len(units)), 0.0), 1.0, np.inf
    yield (hollow, -float(counts.sum())), -np.inf, 0.0
    yield (cap, -1.0), 0.0, np.inf
    yield (np.array([float(u.only_base) for u in units]), 0.0), 0.0, 1.0
    yield (np.array([float(not u.may_carry) for u in units]), 0.0), 0.0, 1.0
