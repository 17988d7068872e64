"""Laws of the pier search: what must not change it, and how its answers move when a limit or a price does."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.foundations.piers.best_top import best_top, tops_that_fit
from gradework.foundations.piers.stacks import stack_tables
from gradework.foundations.piers.top_problem import GOALS, Goal, Hole, TopChoice, TopProblem
from gradework.foundations.piers.units import BASE_PAD, UNITS_ON_HAND
from gradework.units.amounts import M_PER_IN

# The pad is wider than the blocks, so a pier has one of two holes.
UNITS = (*UNITS_ON_HAND["US"], BASE_PAD)
TABLES = {
    goal: stack_tables(UNITS, tallest=35 * M_PER_IN, first="money" if goal == "least money" else "units")
    for goal in GOALS
}

bottoms = st.lists(st.integers(0, 6000), min_size=1, max_size=12).map(lambda v: np.array(v) / 1e4 + 99.0)


def problem(levels: np.ndarray, goal: Goal, shift: float = 0.0, **changed: object) -> TopProblem:
    holes = []
    for number, table in enumerate(TABLES[goal]):
        lower = number * np.round(levels * 1e4 % 7) / 1e3  # the wide hole reaches lower, by up to 6 mm
        holes.append(
            Hole(
                table, levels + shift - lower, np.full(len(levels), 0.05 + 0.03 * number), 0.3 + 0.1 * number
            )
        )
    given = TopProblem(tuple(holes), 0.1, 0.15, 0.05, 0.005, 60.0, 40.0, lowest_top=99.7)
    return replace(given, **changed)  # type: ignore[arg-type]


def money(case: TopProblem, choice: TopChoice) -> float:
    total = 0.0
    for pier, kind in enumerate(choice.kinds.tolist()):
        hole = case.holes[kind]
        lengths = case.gravel * choice.beds[pier] + case.digging * choice.extra[pier]
        total += hole.table.price[choice.rows[pier]] / 1e6 + hole.area * lengths / 1e9
        total += case.digging * float(hole.dug[pier])
    return total


@pytest.mark.parametrize("goal", GOALS)
@settings(max_examples=25, deadline=None)
@given(levels=bottoms, seed=st.integers(0, 99))
def test_order_of_piers_changes_nothing(goal: Goal, levels: np.ndarray, seed: int) -> None:
    order = np.random.default_rng(seed).permutation(len(levels))
    one, two = best_top(problem(levels, goal), goal), best_top(problem(levels[order], goal), goal)
    assert (one is None) == (two is None)
    if one is not None and two is not None:
        assert one.top == two.top
        assert (one.rows[order] == two.rows).all()
        assert (one.bottoms[order] == two.bottoms).all()


@pytest.mark.parametrize("goal", GOALS)
@settings(max_examples=25, deadline=None)
@given(levels=bottoms, shift=st.integers(-2000, 2000))
def test_shift_of_datum_shifts_the_top(goal: Goal, levels: np.ndarray, shift: int) -> None:
    one = best_top(problem(levels, goal), goal)
    moved = problem(levels, goal, shift, lowest_top=99.7 + shift)
    two = best_top(moved, goal)
    assert (one is None) == (two is None)
    if one is not None and two is not None:
        assert two.top - one.top == shift * 10**9
        assert (two.bottoms - one.bottoms == shift * 10**9).all()
        assert (two.rows == one.rows).all()


def test_the_last_bits_of_a_level_break_no_tie() -> None:
    """99.0801 + 925 falls just short of 1024.0801; a bed of 150 mm still ends on the lowest top allowed."""
    case = problem(np.array([99.0801]) + 925, "least digging", lowest_top=99.7 + 925)
    choice = best_top(case, "least digging")
    assert choice is not None
    assert choice.top == 1_024_700_000_000
    assert choice.beds.tolist() == [150_000_000]


@settings(max_examples=25, deadline=None)
@given(levels=bottoms)
def test_piers_on_one_bottom_are_planned_alike(levels: np.ndarray) -> None:
    doubled = best_top(problem(np.concatenate([levels, levels]), "least money"), "least money")
    if doubled is not None:
        n = len(levels)
        assert (doubled.rows[:n] == doubled.rows[n:]).all()
        single = best_top(problem(levels, "least money"), "least money")
        assert single is not None
        assert single.top == doubled.top


@settings(max_examples=25, deadline=None)
@given(levels=bottoms, wider=st.integers(1, 50))
def test_more_freedom_never_costs_more(levels: np.ndarray, wider: int) -> None:
    narrow = problem(levels, "least money")
    before = best_top(narrow, "least money")
    if before is None:
        return
    for free in (
        replace(narrow, bed_most=narrow.bed_most + wider / 1e3),
        replace(narrow, deeper=narrow.deeper + wider / 1e3),
        replace(narrow, lowest_top=99.7 - wider / 1e3),
    ):
        after = best_top(free, "least money")
        assert after is not None
        assert money(free, after) <= money(narrow, before) + 1e-9


@settings(max_examples=25, deadline=None)
@given(levels=bottoms, factor=st.floats(0.1, 20.0))
def test_money_in_another_currency_plans_the_same(levels: np.ndarray, factor: float) -> None:
    case = problem(levels, "least money")
    other = replace(
        case,
        gravel=case.gravel * factor,
        digging=case.digging * factor,
        holes=tuple(
            replace(
                hole, table=replace(hole.table, price=np.rint(hole.table.price * factor).astype(np.int64))
            )
            for hole in case.holes
        ),
    )
    one, two = best_top(case, "least money"), best_top(other, "least money")
    assert (one is None) == (two is None)
    if one is not None and two is not None:
        # Prices are whole millionths, so what costs the same to 1e-5 may change places.
        assert money(case, two) == pytest.approx(money(case, one), abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(levels=bottoms)
def test_the_best_top_is_among_those_that_fit(levels: np.ndarray) -> None:
    fit = tops_that_fit(problem(levels, "lowest floor"))
    choice = best_top(problem(levels, "lowest floor"), "lowest floor")
    assert (choice is None) == (len(fit) == 0)
    if choice is not None:
        assert choice.top == fit[0]
        assert choice.top >= 99.7e9
