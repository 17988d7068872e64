"""The top at which piers buy least: against the orders of all tops there are, on random yards."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
import yards

from gradework.foundations.piers.design import piers_at, taken_by_tops
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.stacks import NANOMETRES
from gradework.project.buying import gravel_for, more_of
from gradework.project.cheapest_top import WORTH, cheapest_top
from gradework.project.designed import plan_piers
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.specs import soil, supplier
from gradework.sitework.order_foundations import order_piers

NUMBERS = (3, 7, 10, 12, 13)


@cache
def planned(number: int) -> tuple[Plan, Piers]:
    """A yard, and its piers at the top that is best at unit prices."""
    yard = yards.yard(number)
    done = plan(read_job(yard.job.encode()), yard.notes.encode())
    return done, plan_piers(done.job, done.surface, done.building)


def money(done: Plan, piers: Piers) -> float:
    """What is bought, dug and hauled for piers, line by line: each quantity of a line at its price."""
    prices, more = done.foundations.prices, more_of(done.job, done.surface, planned_of(done))
    order = order_piers(
        replace(piers, cover=None, anchors=None), gravel_for(done.job, "piers"), soil(done.job),
        supplier(done.job), done.job.show, more,
    )  # fmt: skip
    assert order.spoil is not None
    paid = [one for line in order.lines for one in line.paid]
    bought = sum(one.amount * (prices.each(one.key) if one.each is None else one.each) for one in paid)
    dug = sum(pier.dig for pier in piers.piers)
    return bought + prices.dig * dug + prices.haul * order.spoil.loose.m3


def planned_of(done: Plan) -> Piers:
    return next(piers for other, piers in map(planned, NUMBERS) if other is done)


def found_for(done: Plan, piers: Piers) -> float | None:
    more = more_of(done.job, done.surface, piers)
    return cheapest_top(done.job, done.surface, done.building, piers, gravel_for(done.job, "piers"), more)


@pytest.mark.parametrize("number", NUMBERS)
def test_no_top_buys_clearly_less_than_the_one_taken(number: int) -> None:
    done, first = planned(number)
    taken = taken_by_tops(done.surface, done.building, first, done.job.show)
    tops = (taken.tops / NANOMETRES).tolist()
    there = piers_at(done.surface, done.building, first, tops, done.job.show)
    every = [money(done, replace(first, top=top, piers=p)) for top, p in zip(tops, there, strict=True) if p]
    assert len(every) > 20
    own = money(done, first)
    assert min(every) <= own
    found = done.foundations.piers
    assert found is not None
    if found_for(done, first) is None:
        assert min(every) >= (1.0 - WORTH) * own - 1e-6
        assert found.top == first.top
    else:
        assert min(every) < (1.0 - WORTH) * own
        assert money(done, found) == pytest.approx(min(every), abs=1e-6)


def test_some_of_these_yards_buy_less_at_another_top() -> None:
    moved = [done.foundations.piers.top != first.top for done, first in map(planned, NUMBERS)]  # type: ignore[union-attr]
    assert 1 <= sum(moved) < len(NUMBERS)


@pytest.mark.parametrize("number", NUMBERS)
def test_what_each_top_takes_is_what_its_piers_take(number: int) -> None:
    done, first = planned(number)
    taken = taken_by_tops(done.surface, done.building, first, done.job.show)
    few = range(0, len(taken.tops), 7)
    tops = [taken.tops[k] / NANOMETRES for k in few]
    for k, piers in zip(few, piers_at(done.surface, done.building, first, tops, done.job.show), strict=True):
        assert piers is not None
        laid = {name: int(counts[k]) for name, counts in taken.laid.items() if counts[k]}
        assert replace(first, piers=piers).units_by_kind() == laid
        assert taken.beds[k] == pytest.approx(sum(pier.bed_volume for pier in piers), abs=1e-7)
        assert taken.dug[k] == pytest.approx(sum(pier.dig for pier in piers), abs=1e-7)


def test_a_top_that_is_given_and_another_goal_stay() -> None:
    done, first = planned(7)
    assert found_for(done, first) is not None
    assert found_for(done, replace(first, goal="fewest units")) is None
    assert found_for(done, replace(first, spec=replace(first.spec, top=first.top))) is None
