"""Stakes, string, and the weight and loads of a whole order."""

from __future__ import annotations

import math

import pytest

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL
from gradework.earthwork.outline import Outline
from gradework.sitework.order import Order, OrderLine, gravel_line, gravel_need, haul_of, marking_lines
from gradework.sitework.supplier import Carrier, Supplier
from gradework.units.display import FEET, METRIC

HUT = Outline.rectangle((2.0, 2.0), (4.0, 3.0))


def line(mass: float, *, by_itself: bool = False, loose: float = 0.0) -> OrderLine:
    return OrderLine("thing", 1.0, "pieces", 1.0, 1.0, 1.0, "", "", mass, loose_m3=loose, by_itself=by_itself)


def test_stakes_and_string_by_hand() -> None:
    stakes, string = marking_lines(HUT, 20, METRIC)
    assert (stakes.computed, stakes.quantity) == (20.0, 24.0)  # those on the sheet and 4 spare
    stretched = 14.0 + 4 * 2 * 1.2192 + 2 * 5.0  # sides, 4 ft beyond each end of each, both diagonals
    assert string.computed * 50.0 == pytest.approx(stretched)
    assert string.quantity == math.ceil(1.1 * stretched / 50.0)


@pytest.mark.parametrize("turn", [30.0, 90.0, 211.0])
def test_a_turned_building_takes_the_same(turn: float) -> None:
    turned = Outline.rectangle((-3.0, 8.0), (4.0, 3.0), turn)
    for line_here, line_there in zip(
        marking_lines(HUT, 0, FEET), marking_lines(turned, 0, FEET), strict=True
    ):
        assert line_here.computed == pytest.approx(line_there.computed)


def test_loads_by_weight_and_by_volume() -> None:
    truck = Carrier("truck", 4.0, 1000.0)
    order = Order().plus(line(900.0), line(1200.0))
    haul = haul_of(order, truck)
    assert (haul.mass, haul.carried, haul.loads.count, haul.loads.limit) == (2100.0, 2100.0, 3, "weight")
    bulky = haul_of(order.plus(line(10.0, loose=20.0)), truck)
    assert (bulky.loads.count, bulky.loads.limit) == (5, "volume")


def test_what_comes_by_itself_is_weighed_but_not_carried() -> None:
    haul = haul_of(Order().plus(line(9000.0, by_itself=True), line(10.0)), Carrier("truck", 4.0, 1000.0))
    assert (haul.mass, haul.carried, haul.loads.count) == (9010.0, 10.0, 1)
    assert haul.by_itself == ("thing",)


def test_an_order_of_nothing_takes_no_load_and_a_light_one_takes_one() -> None:
    truck = Carrier("truck", 4.0, None)
    assert haul_of(Order(), truck).loads.count == 0
    assert haul_of(Order().plus(line(3.0)), truck).loads.count == 1


def test_stone_alone_takes_the_loads_of_its_own_line() -> None:
    supplier = Supplier.us()
    stone = gravel_line(gravel_need(CompactedVolume(20.0), DEFAULT_GRAVEL, supplier), supplier, FEET)
    haul = haul_of(Order().plus(stone), supplier.truck)
    assert f"{haul.loads.count} truck loads" in stone.note
