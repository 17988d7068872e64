"""Every price moves its sum by its quantity: what is bought is the one source of money."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

import pytest

from gradework.foundations.buying.money import PAID_FOR, SHOP_OF, SHOPS
from gradework.project.buying import hired_for
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.specs import PRICED, supplier
from gradework.sitework.trip import stops_of

PRICES = {
    "gravel": (40.0, " per tonne", 1000.0),
    "dig": (50.0, " per m3", 1.0),
    "haul": (20.0, " per m3", 1.0),
    "earth": (25.0, " per m3", 1.0),
    "boards": (30.0, " per m2", 1.0),
    "stakes": (3.0, "", 1.0),
    "screws": (0.1, "", 1.0),
    "timbers": (70.0, " per m2", 1.0),
    "pins": (4.0, "", 1.0),
    "timber_screws": (2.0, "", 1.0),
    "pipe": (15.0, "", 1.0),
    "forms": (20.0, " per m2", 1.0),
    "film": (1.0, " per m2", 1.0),
    "mesh": (4.0, " per m2", 1.0),
    "fabric": (1.5, " per m2", 1.0),
    "concrete": (250.0, " per m3", 1.0),
    "short_load": (100.0, "", 1.0),
    "concrete_bag": (7.0, " per 25 kg", 1.0),
    "shims": (2.0, "", 1.0),
    "anchor": (30.0, "", 1.0),
    "setout_stakes": (1.2, "", 1.0),
    "string": (9.0, "", 1.0),
    "seed": (10.0, " per kg", 1.0),
    "gutter": (15.0, "", 1.0),
    "downspout": (24.0, "", 1.0),
    "lumber": (500.0, " per m3", 1.0),
    "floor_sheets": (17.0, " per m2", 1.0),
    "hour": (25.0, "", 1.0),
    "plate_day": (60.0, "", 1.0),
    "laser_day": (45.0, "", 1.0),
    "excavator_day": (250.0, "", 1.0),
}
"""Money, the words after it, and how many of the SI unit that is."""

RISES = {key: 1.0 + 1e-6 * (1.0 + 0.618 * number) for number, key in enumerate(PRICES)}
"""Each price is raised by a part of its own, so small that level, top and way of buying concrete stay."""


def price_of(case: str, key: str) -> float:
    """The money for one in a case: ready-mix is dear where bags are to be bought."""
    return 2500.0 if key == "concrete" and "bags" in case else PRICES[key][0]


def job_text(body: str, case: str, *, raised: bool) -> bytes:
    lines = []
    for key, (_, per, _) in PRICES.items():
        value = f"{price_of(case, key) * (RISES[key] if raised else 1.0):.12f}"
        lines.append(f'{key} = "{value}{per}"' if per else f"{key} = {value}")
    return f"{body}\n[prices]\n{chr(10).join(lines)}\n".encode()


def body(plane_job: bytes, pad: str, more: str) -> str:
    head = plane_job.decode().partition("[pad]")[0]
    head = head.replace("[building]", '[building]\ndoor = { side = "2-3" }')
    return f"{head}\n[pad]\n{pad}\n{more}"


CASES = {
    "boards, bags": (
        'level = 19.4\nmargin = "300 mm"',
        '[piers]\n[slab]\nlevel = 20.0\nfill = "earth"\n[soil]\nspread = false\n[floor]\norder = true\n',
    ),
    "timbers, pipe, ready-mix": (
        'level = 19.6\nmargin = "300 mm"\ntimber_edge = true',
        '[piers]\n[slab]\n[soil]\nkind = "clay"\nspread = false\n[drainage]\nroof_water = "gutter"\n',
    ),
}


@cache
def planned(text: bytes, notes: bytes) -> Plan:
    return plan(read_job(text), notes)


Plans = Callable[[str, bool], Plan]


@pytest.fixture
def plans(plane_job: bytes, plane_notes: bytes) -> Plans:
    return lambda case, raised: planned(
        job_text(body(plane_job, *CASES[case]), case, raised=raised), plane_notes
    )


def test_every_key_of_the_prices_is_tried() -> None:
    assert set(PRICES) == set(PRICED) == set(PAID_FOR) - {"blocks"}


@pytest.mark.parametrize("case", CASES)
def test_every_price_moves_the_money_by_what_is_bought(plans: Plans, case: str) -> None:
    """All prices raised, each by a part of its own: each foundation's money rises by what its order buys."""
    before, after = plans(case, False), plans(case, True)
    for kind, order in before.foundations.orders.items():
        option, raised = before.foundations.options[kind], after.foundations.options[kind]
        assert [line.quantity for line in after.foundations.orders[kind].lines] == [
            line.quantity for line in order.lines
        ]
        amounts = {"dig": option.digging, "haul": order.spoil.loose.m3 if order.spoil else 0.0}
        amounts["hour"] = sum(option.hours) / 2.0
        amounts |= {one.key: one.days for one in hired_for(before.job, option, order)}
        for paid in (paid for line in order.lines for paid in line.paid):
            amounts[paid.key] = amounts.get(paid.key, 0.0) + paid.amount
        rise = sum(
            (RISES[key] - 1.0) * amounts.get(key, 0.0) * price_of(case, key) / PRICES[key][2]
            for key in PRICED
        )
        assert raised.money - option.money == pytest.approx(rise, rel=1e-6)
        for key, amount in option.paid.items():  # and each by its own
            if key != "blocks" and amount.money:
                assert raised.paid[key].money / amount.money - RISES[key] == pytest.approx(0.0, abs=1e-9)


def test_between_them_the_cases_buy_by_every_price(plans: Plans) -> None:
    """A price that nothing is bought by in any of them would not be tried; grass seed needs a swale."""
    bought = {
        key
        for case in CASES
        for option in plans(case, False).foundations.options.values()
        for key, amount in option.paid.items()
        if amount.money > 0.0
    }
    assert set(PAID_FOR) - bought <= {"seed"}


def test_every_line_of_every_order_is_paid(plans: Plans) -> None:
    for case in CASES:
        for order in plans(case, False).foundations.orders.values():
            assert [line.item for line in order.lines if not line.paid] == []
            keys = {paid.key for line in order.lines for paid in line.paid}
            assert keys <= set(PAID_FOR)


def test_what_is_paid_is_what_is_counted(plans: Plans) -> None:
    """Each line by hand: the pieces, kilograms or square metres that its own words buy."""
    for case in CASES:
        for order in plans(case, False).foundations.orders.values():
            for line in order.lines:
                (paid, *more) = line.paid
                assert [one.key for one in more] in ([], ["short_load"])
                if paid.key in ("gravel", "seed"):
                    assert paid.amount == pytest.approx(line.mass_kg)
                elif paid.key in ("fabric", "film", "mesh"):
                    wide, long = map(float, re.findall(r"([0-9.]+) m\b", line.item)[-2:])
                    assert paid.amount == pytest.approx(line.quantity * wide * long)
                elif paid.key == "floor_sheets":
                    wide, long = map(float, re.findall(r"([0-9.]+) m\b", line.item))
                    assert paid.amount == pytest.approx(line.quantity * wide * long)
                elif paid.key == "lumber":
                    wide, deep, long = map(float, re.findall(r"([0-9.]+) (?:x|mm|m)\b", line.item))
                    assert paid.amount == pytest.approx(line.quantity * wide * deep / 1e6 * long, rel=6e-3)
                elif paid.key in ("boards", "timbers", "forms"):
                    (long,) = re.findall(r", ([0-9.]+) m$", line.item)
                    (high,) = re.findall(r"([0-9]+) mm (?:treated|high)", line.item)
                    face = line.quantity * float(long) * float(high) / 1000.0
                    assert paid.amount == pytest.approx(face, rel=6e-3)
                else:
                    assert paid.amount == pytest.approx(line.quantity)


def test_each_supplier_hands_over_its_part_of_the_weight(plans: Plans) -> None:
    """Every line is sold by one of them, and their parts make up all of it, in the order of a trip."""
    for case in CASES:
        done = plans(case, False)
        for order in done.foundations.orders.values():
            stops, shops = stops_of(order, supplier(done.job)), list(SHOPS)
            visited = [shops.index(stop.shop) for stop in stops]
            assert visited == sorted(set(visited))
            assert sum(stop.mass for stop in stops) == pytest.approx(order.mass_kg)
            stone = sum(line.mass_kg for line in order.lines if "stone" in line.item)
            earth = sum(line.mass_kg for line in order.lines if "earth fill" in line.item)
            quarry = [stop for stop in stops if stop.shop == "quarry"]
            assert sum(stop.mass for stop in quarry) == pytest.approx(stone + earth)
            # each kind of stone in loads of its own
            kinds = {line.kind for line in order.lines if line.kind}
            assert {load.what for stop in quarry for load in stop.loads} == kinds


def test_every_price_has_a_shop() -> None:
    assert set(SHOP_OF) | {"dig", "haul", "hour"} == set(PAID_FOR)
    assert sum(map(len, SHOPS.values())) == len(SHOP_OF)
