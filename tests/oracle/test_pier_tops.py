"""The pier search against every combination in exact fractions, and against a mixed-integer program."""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any

import numpy as np
import pier_oracles as oracles
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from gradework.foundations.piers.bearing import Demand
from gradework.foundations.piers.best_top import best_top, stacks_that_fit
from gradework.foundations.piers.posing import Dug, holes_allowed
from gradework.foundations.piers.stacks import StackTable, nanometres, stack_tables
from gradework.foundations.piers.top_problem import GOALS, Goal, TopChoice, TopProblem
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND, BlockUnit
from gradework.units.amounts import M_PER_IN as INCH

EIGHTH = INCH / 8


BEDS: dict[str, float | None] = {
    "bed_least": 0.1, "bed_most": 0.15, "deeper": 0.1, "step": 4 * EIGHTH, "gravel": 40.0, "digging": 25.0,
}  # fmt: skip
PSF = 0.04788025898


def case_for(
    units: tuple[BlockUnit, ...], bottoms: list[float], tallest: dict[int, float], **given: object
) -> Any:
    """Ground for each plan of a hole the units ask for: wider ones reach lower and take more digging.

    ``seed`` says by how much, in whole eighths of an inch and 256ths of a m³, and which cannot be dug.
    ``loads`` [kN] and ``corners`` are those of each pier, nothing where not given.
    """
    random = np.random.default_rng(given.pop("seed", 0))
    lower, dug, ground = np.zeros(len(bottoms)), np.full(len(bottoms), 0.125), {}
    forms = [form for across in tallest for form in oracles.every_form(units, across)]
    for number, plan in enumerate(sorted({form.plan for form in forms}, key=lambda p: (p[0] * p[1], p))):
        missing = (random.random(len(bottoms)) < 0.1) & (number > 0)
        ground[plan] = oracles.Ground(
            np.where(missing, np.nan, np.array(bottoms) - lower),
            np.where(missing, np.nan, dug),
            0.3 + 0.0625 * number,
        )
        lower = lower + random.integers(0, 4, len(bottoms)) * EIGHTH
        dug = dug + random.integers(0, 9, len(bottoms)) / 256
    loads = given.pop("loads", [0.0] * len(bottoms))
    corners = given.pop("corners", [False] * len(bottoms))
    bearing = given.pop("bearing", 1500.0 * PSF)
    return oracles.Case(units, tallest, loads, corners, bearing, ground, {**BEDS, **given})


def problem_of(case: Any, goal: Goal) -> TopProblem:
    """Pose the same case as the plan of piers does."""
    first = "money" if goal == "least money" else "units"
    tables = [
        table
        for across, most in case.tallest.items()
        for table in stack_tables(case.units, tallest=most, across=across, first=first)
    ]

    def dug(table: StackTable) -> Dug:
        found = case.ground[tuple(nanometres(side) for side in table.plan)]
        return Dug(SimpleNamespace(area=found.area), found.bottoms, found.dug)  # type: ignore[arg-type]

    demand = Demand(np.array(case.loads), np.array(case.corners))
    holes = tuple(hole for hole, _ in holes_allowed(tables, dug, demand, case.bearing))
    return TopProblem(holes, **case.rules)


def worth(problem: TopProblem, choice: TopChoice, goal: Goal) -> float:
    """Add up what the goal makes least, straight from the chosen holes and stacks."""
    if goal == "lowest floor":
        return choice.top / 1e9
    total = 0.0
    for pier, (kind, row) in enumerate(zip(choice.kinds.tolist(), choice.rows.tolist(), strict=True)):
        hole = problem.holes[kind]
        dug = float(hole.dug[pier]) + hole.area * choice.extra[pier] / 1e9
        if goal == "least money":
            total += hole.table.price[row] / 1e6 + problem.digging * dug
            total += problem.gravel * hole.area * choice.beds[pier] / 1e9
        else:
            total += float(hole.table.pieces[row]) if goal == "fewest units" else dug
    return total


@st.composite
def small_jobs(draw: st.DrawFn) -> Any:
    places = {
        "hollow": {"hollow": True, "may_cap": False},
        "solid": {},
        "cap": {"may_carry": False},
        "base": {"only_base": True},
        "thin": {"may_cap": False},
        "few": {"most": 1},
    }
    units = tuple(
        BlockUnit(
            f"u{number}",
            draw(st.integers(10, 64)) * EIGHTH,
            *draw(st.sampled_from([(0.4, 0.2), (0.4, 0.2), (0.3, 0.3), (0.2, 0.45), (0.45, 0.45)])),
            draw(st.sampled_from([5.0, 10.0, 40.0])),
            draw(st.integers(0, 40)) / 4,
            **places[draw(st.sampled_from(sorted(places)))],  # type: ignore[arg-type]
        )
        for number in range(draw(st.integers(1, 3)))
    )
    bottoms = [100.0 - draw(st.integers(0, 40)) * EIGHTH for _ in range(draw(st.integers(1, 3)))]
    bed_least = draw(st.integers(0, 12)) * EIGHTH
    single = draw(st.integers(8, 80)) * EIGHTH
    each = st.sampled_from([0.0, 3.0, 5.0, 8.0, 14.0])
    return case_for(
        units,
        bottoms,
        draw(st.sampled_from([{1: single}, {1: single, 2: 1.5 * single}, {2: single}])),
        loads=[draw(each) for _ in bottoms],
        corners=[draw(st.booleans()) for _ in bottoms],
        bearing=draw(st.sampled_from([60.0, 72.0, 150.0])),
        bed_least=bed_least,
        bed_most=bed_least + draw(st.integers(0, 24)) * EIGHTH,
        deeper=draw(st.integers(0, 24)) * EIGHTH,
        step=draw(st.sampled_from([1, 4, 5, 8])) * EIGHTH,
        seed=draw(st.integers(0, 10**6)),
        gravel=draw(st.sampled_from([0.0, 20.0, 60.0])),
        digging=draw(st.sampled_from([0.0, 10.0, 80.0])),
        lowest_top=draw(st.none() | st.integers(0, 60).map(lambda n: 100.0 + n * EIGHTH)),
        highest_top=draw(st.none() | st.integers(30, 90).map(lambda n: 100.0 + n * EIGHTH)),
    )


@pytest.mark.parametrize("goal", GOALS)
@settings(max_examples=60, deadline=None)
@given(case=small_jobs())
def test_equals_every_combination_tried(goal: Goal, case: Any) -> None:
    every = [
        s for across, most in case.tallest.items() for s in oracles.every_stack(case.units, most, across)
    ]
    assume(math.prod(len(oracles.own_stacks(case, every, pier)) for pier in range(len(case.loads))) <= 1500)
    expected = oracles.best_by_trying(case, goal)
    problem = problem_of(case, goal)
    choice = best_top(problem, goal)
    assert (choice is None) == (expected is None)
    if choice is None:
        return
    units_laid, top = worth(problem, choice, "fewest units"), choice.top / 1e9
    money = worth(problem, choice, "least money")
    found = {
        "least money": (money, units_laid, top),
        "fewest units": (units_laid, top, money),
        "least digging": (worth(problem, choice, "least digging"), units_laid, top, money),
        "lowest floor": (top, units_laid, money),
    }[goal]
    assert found == pytest.approx(tuple(float(v) for v in expected), rel=1e-11, abs=1e-11)


@pytest.mark.parametrize("goal", GOALS)
@pytest.mark.parametrize(
    ("seed", "kind"), [(0, "blocks"), (1, "blocks"), (2, "pads"), (3, "wide"), (4, "pads")]
)
def test_equals_a_mixed_integer_program(goal: Goal, seed: int, kind: str) -> None:
    """Loads that ask for pads or double piers under some, corners where single stacks end at 26 1/2 in."""
    random = np.random.default_rng(seed)
    # Digging alone leaves the program little to bound with: two piers keep it quick.
    piers = 2 if goal == "least digging" else 4
    bottoms = list(100.0 - np.round(random.uniform(0.0, 0.4, piers), 3))
    brick = BlockUnit("brick", 2.25 * INCH, 0.2, 0.1, 2.0, 0.8, may_cap=False)
    slab = BlockUnit("slab", 2 * INCH, 0.45, 0.45, 20.0, 4.0)
    us = UNITS_ON_HAND["US"]
    units = {"blocks": (*us, brick), "pads": (*us, *BASE_PADS["US"]), "wide": (us[1], us[2], slab, brick)}[
        kind
    ]
    rules = {"lowest_top": 100.1 + 0.3 * (seed == 4), "deeper": 0.05, "bed_most": 0.1 + 0.01 * (seed % 3)}
    loads = np.round(random.uniform(1.0, 24.0 if kind == "pads" else 4.0, piers), 2)
    loads[0], bottoms[0] = 3.0, 99.6  # the corner, with a light load on a tall stack
    tallest = {1: 35.9 * INCH, 2: 40 * INCH} if kind == "pads" else {1: 36 * INCH}
    case = case_for(
        units,
        bottoms,
        tallest,
        seed=seed,
        loads=loads.tolist(),
        corners=[True, *[False] * (piers - 1)],
        **rules,
    )
    problem = problem_of(case, goal)
    choice = best_top(problem, goal)
    status, least = oracles.best_by_program(case, goal)
    assert status == ("no plan" if choice is None else "optimal")
    if choice is not None:
        assert worth(problem, choice, goal) == pytest.approx(least, rel=1e-6, abs=1e-6)


def test_no_other_top_is_cheaper() -> None:
    random = np.random.default_rng(5)
    bottoms = list(100.0 - np.round(random.uniform(0.0, 0.5, 12), 4))
    problem = problem_of(case_for(UNITS_ON_HAND["US"], bottoms, {1: 36 * INCH}, bed_most=0.2), "least money")
    choice = best_top(problem, "least money")
    assert choice is not None
    tops = [round(top * 1e9) for top in np.linspace(99.9, 101.0, 1201)]
    money = [_least_money(problem, top, len(bottoms)) for top in tops]
    assert np.isfinite(money).any()
    least = worth(problem, choice, "least money")
    assert min(money) >= least - 1e-9
    assert _least_money(problem, choice.top, len(bottoms)) == pytest.approx(least, rel=1e-11)


def _least_money(problem: TopProblem, top: int, piers: int) -> float:
    """The least money at one top, pier by pier from all stacks that fit; infinite where one has none."""
    every = [stacks_that_fit(problem, top, pier).money for pier in range(piers)]
    return sum(float(money.min()) if len(money) else np.inf for money in every)


def test_equal_money_goes_to_fewer_units_then_the_lower_top() -> None:
    free = [BlockUnit(f"u{n}", n * EIGHTH, 0.4, 0.2, 10.0, 0.0, only_base=True) for n in (10, 13)]
    rules = {"bed_least": EIGHTH, "bed_most": EIGHTH, "deeper": 0.0, "gravel": 20.0, "digging": 0.0}
    problem = problem_of(case_for(tuple(free), [100.0], {1: 13 * EIGHTH}, **rules), "least money")
    choice = best_top(problem, "least money")
    assert choice is not None
    assert choice.top == 100 * 10**9 + 11 * 3_175_000
