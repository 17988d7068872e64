"""The frame of the floor in a job: ordered, paid and counted where it is asked for, at the same level."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from gradework.foundations.buying.rates import LABOUR
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.sitework.days import ORDER

ALL = '[pad]\nlevel = 19.6\nmargin = "300 mm"\n[piers]\n[slab]\n[soil]\nground = "firm"\n'
ORDERED = "[floor]\norder = true\n"


@cache
def planned(text: bytes, notes: bytes) -> Plan:
    return plan(read_job(text), notes, anyway=True)


@pytest.fixture
def plans(plane_job: bytes, plane_notes: bytes) -> tuple[Plan, Plan]:
    head = plane_job.decode().partition("[pad]")[0].replace("[survey]", 'build = "piers"\n[survey]', 1)
    without, framed = (planned((head + ALL + more).encode(), plane_notes) for more in ("", ORDERED))
    return without, framed


def test_it_is_ordered_on_piers_and_pad_and_never_on_a_slab(plans: tuple[Plan, Plan]) -> None:
    orders = [done.foundations.orders for done in plans]
    for kind in ("pad", "piers", "slab"):
        before, after = (
            Counter((line.item, line.quantity) for line in one[kind].lines if line.place != "floor")
            for one in orders
        )
        assert before == after
        framed = [line for line in orders[1][kind].lines if line.place == "floor"]
        assert bool(framed) is (kind != "slab")
        assert {line.shop for line in framed} <= {"timber yard"}
        assert not [line for line in orders[0][kind].lines if line.place == "floor"]


def test_its_money_and_hours_are_counted_and_the_level_stays(plans: tuple[Plan, Plan]) -> None:
    without, framed = (done.foundations.options for done in plans)
    prices = plans[1].foundations.prices
    for kind in ("pad", "piers"):
        lines = [line for line in plans[1].foundations.orders[kind].lines if line.place == "floor"]
        money = sum(prices.each(paid.key) * paid.amount for line in lines for paid in line.paid)
        assert framed[kind].money - without[kind].money == pytest.approx(money)
        assert framed[kind].takes["floor frame"] == pytest.approx(plans[1].building.area)
        more = [two - one for one, two in zip(without[kind].hours, framed[kind].hours, strict=True)]
        assert more == pytest.approx([each * plans[1].building.area for each in LABOUR["floor frame"]])
        assert (framed[kind].level, framed[kind].floor) == (without[kind].level, without[kind].floor)
    assert framed["slab"].hours == pytest.approx(without["slab"].hours)


def test_the_days_have_a_task_for_it(plans: tuple[Plan, Plan]) -> None:
    (name,) = (work.name for work in ORDER if work.kinds == ("floor frame",))
    for done, there in zip(plans, (False, True), strict=True):
        assert done.days is not None
        assert (name in {task.name for task in done.days.tasks}) is there
