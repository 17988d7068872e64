"""Two independent ways to plan piers: every combination in exact fractions, and a mixed-integer program."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from gradework.foundations.piers.top_problem import Goal, Hole, TopProblem
from gradework.foundations.piers.units import BlockUnit

NM = 10**9


def exact(metres: float) -> Fraction:
    return Fraction(round(metres * NM), NM)


Stack = tuple[Fraction, Fraction, int, tuple[int, int]]


def plan_of(units: Sequence[BlockUnit]) -> tuple[int, int]:
    """Give the plan of a single stack of these units, along and across the beams, in nanometres."""
    sides = [sorted((round(u.length * NM), round(u.width * NM))) for u in units]
    return max(side[0] for side in sides), max(side[1] for side in sides)


def plan_of_hole(hole: Hole) -> tuple[int, int]:
    return round(hole.table.plan[0] * NM), round(hole.table.plan[1] * NM)


def every_stack(units: Sequence[BlockUnit], tallest: float) -> Iterator[Stack]:
    """Give (height, price, units, plan) of every stack that may be built, by trying all counts."""
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
        yield height, price, sum(laid), plan_of([u for _, u in pairs])


def best_by_trying(
    problem: TopProblem, units: Sequence[BlockUnit], tallest: float, goal: Goal
) -> tuple[Fraction, ...] | None:
    """Give the best plan as a tuple that compares in the order of the goal; None when there is none.

    For every choice of stacks the common top is tried at each place where a bed or a hole meets a limit.
    """
    stacks = list(every_stack(units, tallest))
    kinds = {plan_of_hole(hole): hole for hole in problem.holes}
    least, most, deeper = (exact(v) for v in (problem.bed_least, problem.bed_most, problem.deeper))
    low = None if problem.lowest_top is None else exact(problem.lowest_top)
    high = None if problem.highest_top is None else exact(problem.highest_top)
    gravel, digging = Fraction(problem.gravel), Fraction(problem.digging)
    best: tuple[Fraction, ...] | None = None
    for chosen in itertools.product(stacks, repeat=len(problem.holes[0].bottoms)):
        holes = [kinds[stack[3]] for stack in chosen]
        if any(np.isnan(hole.bottoms[pier]) for pier, hole in enumerate(holes)):
            continue
        bottoms = [Fraction(int(np.floor(h.bottoms[pier] * NM + 0.01)), NM) for pier, h in enumerate(holes)]
        areas = [Fraction(hole.area) for hole in holes]
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
            extra = sum(
                (a * max(Fraction(0), least - g) for a, g in zip(areas, gaps, strict=True)), Fraction(0)
            )
            extra += sum((Fraction(float(hole.dug[pier])) for pier, hole in enumerate(holes)), Fraction(0))
            beds = sum((a * max(least, g) for a, g in zip(areas, gaps, strict=True)), Fraction(0))
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

    For each pier: the courses of each unit, whether it holds open cells, and for each kind of hole whether it
    is taken, its bed and its extra digging, both nothing where it is not; one top for all.
    """
    bottoms = np.array([hole.bottoms for hole in problem.holes])
    base = float(np.nanmin(bottoms))  # measured from the lowest bottom, so that numbers stay near 1
    counts = np.array([min(u.most_in_stack or 10**6, int(tallest / u.thickness + 1e-9)) for u in units])
    program = _Program(bottoms.shape[1] * (len(units) + 1 + 3 * len(problem.holes)) + 1)
    for pier in range(bottoms.shape[1]):
        _add_stack(program, problem, units, counts, tallest, goal, pier)
        _add_holes(program, problem, units, counts, goal, pier)
        _meet_top(program, problem, units, bottoms[:, pier] - base, pier)
    program.lower[-1] = -10.0 if problem.lowest_top is None else problem.lowest_top - base
    program.upper[-1] = 50.0 if problem.highest_top is None else problem.highest_top - base
    if goal == "lowest floor":
        program.cost[-1] = 1.0
    status, least = program.solve(seconds)
    return status, least + (base if goal == "lowest floor" else 0.0)


class _Program:
    """A program as it is written down: costs, bounds, which are whole, and rules row by row."""

    def __init__(self, size: int) -> None:
        self.cost, self.upper, self.lower, self.whole = (np.zeros(size) for _ in range(4))
        self.rows: list[np.ndarray] = []
        self.ends: list[tuple[float, float]] = []

    def rule(self, values: dict[int, float], least: float, most: float) -> None:
        row = np.zeros(len(self.cost))
        for place, value in values.items():
            row[place] += value
        self.rows.append(row)
        self.ends.append((least, most))

    def solve(self, seconds: float) -> tuple[str, float]:
        found = milp(
            self.cost,
            integrality=self.whole,
            bounds=Bounds(self.lower, self.upper),
            constraints=LinearConstraint(np.array(self.rows), *np.array(self.ends).T),
            options={"time_limit": seconds, "mip_rel_gap": 1e-9},
        )
        if found.status == 0:
            return "optimal", float(found.fun)
        return {1: "out of time", 2: "no plan"}.get(found.status, found.message), float("nan")


def _places(problem: TopProblem, units: Sequence[BlockUnit], pier: int) -> tuple[int, int, list[int]]:
    """Give where the courses of a pier begin, its "open cells", and each hole: taken, bed, extra digging."""
    at = pier * (len(units) + 1 + 3 * len(problem.holes))
    cells = at + len(units)
    return at, cells, [cells + 1 + 3 * kind for kind in range(len(problem.holes))]


def _add_stack(
    program: _Program,
    problem: TopProblem,
    units: Sequence[BlockUnit],
    counts: np.ndarray,
    tallest: float,
    goal: Goal,
    pier: int,
) -> None:
    at, cells, _ = _places(problem, units, pier)
    own = slice(at, at + len(units))
    program.upper[own], program.whole[own] = counts, 1
    program.upper[cells] = program.whole[cells] = 1
    if goal == "least money":
        program.cost[own] = [u.price for u in units]
    elif goal == "fewest units":
        program.cost[own] = 1
    thickness = np.array([u.thickness for u in units])
    for (courses, open_cells), least, most in _pier_rules(units, thickness, counts, tallest):
        program.rule({at + k: float(v) for k, v in enumerate(courses)} | {cells: open_cells}, least, most)


def _add_holes(
    program: _Program,
    problem: TopProblem,
    units: Sequence[BlockUnit],
    counts: np.ndarray,
    goal: Goal,
    pier: int,
) -> None:
    """One hole is taken: no unit is larger, and some unit is as wide, and some as long."""
    at, _, taken = _places(problem, units, pier)
    for place, hole in zip(taken, problem.holes, strict=True):
        able = bool(np.isfinite(hole.bottoms[pier]))
        program.upper[place : place + 3] = able, able * problem.bed_most, able * problem.deeper
        program.whole[place] = 1
        program.rule({place + 1: 1.0, place: -problem.bed_most}, -np.inf, 0.0)
        program.rule({place + 1: 1.0, place: -problem.bed_least}, 0.0, np.inf)
        program.rule({place + 2: 1.0, place: -problem.deeper}, -np.inf, 0.0)
        dug = float(hole.dug[pier]) if able else 0.0
        if goal == "least money":
            depth = problem.digging * hole.area
            program.cost[place : place + 3] = problem.digging * dug, problem.gravel * hole.area, depth
        elif goal == "least digging":
            program.cost[place], program.cost[place + 2] = dug, hole.area
        for side in (0, 1):
            own = [k for k, u in enumerate(units) if plan_of([u])[side] == plan_of_hole(hole)[side]]
            program.rule({at + k: 1.0 for k in own} | {place: -1.0}, 0.0, np.inf)
    program.rule(dict.fromkeys(taken, 1.0), 1.0, 1.0)
    for k, u in enumerate(units):
        fits = [
            place
            for place, hole in zip(taken, problem.holes, strict=True)
            if all(own <= room for own, room in zip(plan_of([u]), plan_of_hole(hole), strict=True))
        ]
        program.rule({at + k: 1.0} | dict.fromkeys(fits, -float(counts[k])), -np.inf, 0.0)


def _meet_top(
    program: _Program, problem: TopProblem, units: Sequence[BlockUnit], bottoms: np.ndarray, pier: int
) -> None:
    """Bottom of the hole taken, less extra digging, plus bed and stack, is the top."""
    at, _, taken = _places(problem, units, pier)
    sum_of = {at + k: u.thickness for k, u in enumerate(units)}
    for bottom, place in zip(np.nan_to_num(bottoms).tolist(), taken, strict=True):
        sum_of |= {place: bottom, place + 1: 1.0, place + 2: -1.0}
    program.rule(sum_of | {len(program.cost) - 1: -1.0}, 0.0, 0.0)


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
