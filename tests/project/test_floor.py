"""The frame of the floor in a job: ordered, paid and counted where it is asked for, at the same level."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from gradework.foundations.buying.rates import LABOUR
from gradework.library.results import table_files
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.plan import summary
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


def test_what_is_not_ordered_is_said_with_the_key_that_brings_it(plans: tuple[Plan, Plan]) -> None:
    without, framed = plans
    steps, frame = without.not_ordered("piers")
    highest = max(side.most for side in without.foundations.options["piers"].floor_heights)
    assert f"up to {without.job.show.depth(highest)} above the ground (write door under [building])" in steps
    assert frame == "the frame of the floor (write order = true under [floor])"
    assert framed.not_ordered("piers") == (steps,)
    assert all("frame" not in text for text in without.not_ordered("slab"))  # a slab is the floor
    flat = " ".join(summary(without).split())
    assert f"Not in it {steps} Not in it {frame}" in flat
    rows = table_files(without, {})["order.csv"].decode("utf-8-sig")
    assert f"not in this order: {frame}" in rows
    assert "call before digging: before a stake" in rows


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
