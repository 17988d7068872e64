"""Many yards in order, and their orders added up; on the screen they take 24 lines at the most."""

from __future__ import annotations

import itertools

import pytest

from gradework.exchange.batch import PLANT, POUR, yard_of
from gradework.foundations.buying.money import SHOPS
from gradework.project.batch import Bought, Yard, added_up, in_order
from gradework.project.job.read import read_job
from gradework.report.batch import batch_text
from gradework.sitework.days import ORDER

YARDS = [
    Yard("a", "A", "buildable", cost=900.0, mass=5.0),
    Yard("b", "B", "buildable", cost=None, mass=4.0),
    Yard("c", "C", "not buildable", stops=("water",), cost=10.0),
    Yard("d", "D", "buildable", cost=100.0, mass=6.0),
    Yard("e", "", "fault", faults=("e: error: no [x]",)),
    Yard("f", "F", "not buildable", stops=("pier load",), cost=20.0),
    Yard("g", "", "not done"),
    Yard("h", "H", "not buildable", stops=("water",), cost=5.0),
]


@pytest.mark.parametrize("first", range(len(YARDS)))
def test_the_order_does_not_hang_on_who_was_done_first(first: int) -> None:
    turned = YARDS[first:] + YARDS[:first]
    assert "".join(yard.job for yard in in_order(turned)) == "dabfhceg"
    assert "".join(yard.job for yard in in_order(turned, "stops")) == "gefhcdab"


def test_the_same_thing_is_added_up_by_supplier_and_day() -> None:
    parts = [
        Bought("quarry", "2027-04-12", "stone", "tonnes", 2.0, 2000.0, 50.0, "EUR", loads=1),
        Bought("quarry", "2027-04-12", "stone", "tonnes", 3.0, 3000.0, 75.0, "EUR", loads=2),
        Bought("quarry", "", "stone", "tonnes", 1.0, 1000.0, 25.0, "EUR"),
        Bought("quarry", "2027-04-12", "stone", "short tons", 1.0, 907.0, None, "EUR"),
    ]
    for turned in itertools.permutations(parts):
        short, long, undated = added_up(turned)
        assert (long.quantity, long.mass, long.cost, long.loads, long.jobs) == (5.0, 5000.0, 125.0, 3, 2)
        assert (short.unit, short.cost, short.jobs) == ("short tons", None, 1)
        assert (undated.day, undated.quantity) == ("", 1.0)
    unknown = added_up([parts[0], Bought("quarry", "2027-04-12", "stone", "tonnes", 1.0, 1.0, None, "EUR")])
    assert unknown[0].cost is None  # a sum that leaves one out would be too little


@pytest.mark.parametrize(
    ("count", "orders"), [(1, 0), (1, 60), (5, 12), (21, 1), (22, 0), (200, 0), (200, 60)]
)
def test_the_screen_holds_24_lines_of_80_letters(count: int, orders: int) -> None:
    yards = [
        Yard(f"{'deep/' * 20}{n}", "Y", "fault", faults=("x: error: " + "long " * 50,)) for n in range(count)
    ]
    bought = [
        Bought("concrete plant", "2027-04-12", "", "", 0.0, 1e5, 1e9, "a long currency", loads=n)
        for n in range(orders)
    ]
    lines = batch_text(
        yards, bought, "All of it: batch.csv, batch-order.csv and batch.json in " + "f" * 30
    ).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 86  # a path is not broken
    shown = sum("long" in line and "deep" in line for line in lines)
    left = sum(int(line.split()[1]) for line in lines if line.startswith("and ") and line.endswith(" more"))
    assert shown + left == count
    delivered = sum("concrete plant" in line for line in lines)
    unsaid = sum(int(line.split()[1]) for line in lines if "more deliver" in line)
    assert delivered + unsaid == orders


def test_concrete_comes_on_the_day_of_the_pour_all_else_on_the_first() -> None:
    assert POUR in {work.name for work in ORDER}
    assert PLANT in SHOPS
    line = {"item": "x", "unit": "m³", "quantity": 1.0, "mass_kg": 100.0, "cost": 7.0}
    tasks = [
        {"work": "dig", "dates": ["2027-04-12", "2027-04-13"]},
        {"work": POUR, "dates": ["2027-04-15"] * 2},
    ]
    stops = [{"from": shop, "loads": [{"loads": 1}]} for shop in (PLANT, "quarry")]
    record = {
        "job": {"name": "Slab"}, "chosen": "slab", "blocked_by": [], "findings": [],
        "options": [{"foundation": "slab", "level_m": 1.0, "cost": 9.0}],
        "order_total": {"mass_kg": 200.0, "loads": 2, "stops": stops},
        "days": {"tasks": tasks, "call_by": None, "working_days": 4},
        "order": [{**line, "from": PLANT}, {**line, "from": "quarry"}],
    }  # fmt: skip
    job = read_job(
        b'name="S"\nunits="m"\n[survey]\nnotes="y.csv"\n[building]\nsize=[4,3]\ncorner=[0,0]\n', "job.toml"
    )
    yard = yard_of("s/job.toml", job, record, new=True)
    assert {(one.shop, one.day, one.loads) for one in yard.deliveries} == {
        (PLANT, "2027-04-15", 1),
        ("quarry", "2027-04-12", 1),
    }
