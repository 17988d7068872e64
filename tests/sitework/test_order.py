"""The order: rounding up, its check, stone by weight, loads, layers, boards and fabric as lines."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.earthwork.conditions import BankVolume, CompactedVolume, LooseVolume
from gradework.earthwork.materials import DEFAULT_GRAVEL, GRAVELS, find_gravel
from gradework.errors import CheckError
from gradework.sitework.cutting import fabric_plan
from gradework.sitework.joints import cut_runs, frame_runs
from gradework.sitework.order import Order, OrderLine, gravel_line, gravel_need, layers_of, to_buy
from gradework.sitework.order_edge import board_lines
from gradework.sitework.order_laid import fabric_line
from gradework.sitework.supplier import SOLD_BY, Carrier, Supplier, find_selling_unit, loads_of
from gradework.units.display import FEET, METRIC
from gradework.units.numbers import QuantityError

FOOT = 0.3048


@settings(deadline=None, max_examples=200)
@given(st.floats(0.0, 1e6), st.sampled_from([0.25, 0.5, 1.0, 850.0]))
def test_bought_is_enough_and_less_than_one_step_too_much(needed: float, step: float) -> None:
    bought = to_buy(needed, step)
    assert bought >= needed * (1 - 1e-12) - 1e-9 * step
    assert bought < needed + step
    assert bought / step == round(bought / step)


def test_a_last_digit_error_buys_no_further_bag() -> None:
    assert to_buy(0.1 * 3 / 0.3 * 15, 1.0) == 15.0
    assert to_buy(math.nextafter(15.0, 16.0), 1.0) == 15.0
    assert to_buy(15.0001, 1.0) == 16.0


def line(quantity: float = 8.0, needed: float = 7.6, **other: float) -> OrderLine:
    figures = {"computed": 6.6, "step": 0.5, "mass_kg": 7257.0} | other
    return OrderLine("stone", quantity, "short tons", needed=needed, allowance="", reason="", **figures)


@pytest.mark.parametrize(
    "wrong",
    [
        {"quantity": 7.5},
        {"quantity": 8.5},
        {"quantity": 8.5, "needed": 8.0},
        {"quantity": float("nan")},
        {"mass_kg": float("inf")},
        {"computed": -1.0},
    ],
)
def test_a_line_that_buys_too_little_or_too_much_is_a_fault_of_ours(wrong: dict[str, float]) -> None:
    with pytest.raises(CheckError, match="order of stone"):
        line(**wrong)


def test_an_order_adds_lines_and_masses_and_leaves_out_nothing_bought() -> None:
    nothing = line(quantity=0.0, needed=0.0, computed=0.0, mass_kg=0.0)
    order = Order().plus(line(), nothing).plus(line())
    assert [entry.quantity for entry in order.lines] == [8.0, 8.0]
    assert order.mass_kg == pytest.approx(2 * 7257.0)


@settings(deadline=None, max_examples=60)
@given(st.floats(0.001, 500.0), st.sampled_from(sorted(GRAVELS)), st.sampled_from(sorted(SOLD_BY)))
def test_every_stone_in_every_selling_unit_covers_its_need(m3: float, stone: str, sold: str) -> None:
    supplier = replace(Supplier.us(), stone=SOLD_BY[sold])
    need = gravel_need(CompactedVolume(m3), GRAVELS[stone], supplier)
    entry = gravel_line(need, supplier, FEET)
    assert entry.mass_kg >= need.needed_kg * (1 - 1e-9)
    assert entry.mass_kg < need.needed_kg + supplier.stone.mass_kg * supplier.stone.step
    assert entry.computed * supplier.stone.mass_kg == pytest.approx(need.dry_kg)


@pytest.mark.parametrize("volume", [LooseVolume(2.0), BankVolume(2.0)])
def test_stone_is_ordered_for_compacted_volume_only(volume: LooseVolume | BankVolume) -> None:
    with pytest.raises(TypeError, match="CompactedVolume"):
        gravel_need(volume, DEFAULT_GRAVEL, Supplier.us())  # type: ignore[arg-type]


def test_the_trap_orders_a_fifth_too_little() -> None:
    """Loose figures of 1.4 and 1.5 tons per yd³ on the compacted volume, against what is ordered."""
    need = gravel_need(CompactedVolume(0.9144**3 * 10), DEFAULT_GRAVEL, Supplier.us())
    tons = need.dry_kg / 907.18474
    assert tons == pytest.approx(18.5, abs=0.01)
    assert [1 - loose * 10 / tons for loose in (1.4, 1.5)] == pytest.approx([0.243, 0.189], abs=0.001)


def test_the_suppliers_own_moisture_replaces_the_default() -> None:
    dry = gravel_need(
        CompactedVolume(1.0), DEFAULT_GRAVEL, replace(Supplier.metric(), moisture=0.0, waste=0.0)
    )
    assert dry.needed_kg == dry.dry_kg == 2195.0


def test_bags_and_bulk_bags() -> None:
    need = gravel_need(CompactedVolume(0.1), find_gravel("clean stone"), replace(Supplier.us(), waste=0.0))
    assert need.needed_kg == pytest.approx(163 * 1.02)  # 166.26 kg = 366.5 lb
    bags = gravel_line(need, replace(Supplier.us(), stone=find_selling_unit("50 lb bags")), FEET)
    assert (bags.quantity, bags.unit) == (8.0, "bags of 50 lb")
    bulk = gravel_line(need, replace(Supplier.us(), stone=find_selling_unit("bulk bags")), METRIC)
    assert (bulk.quantity, bulk.unit, bulk.mass_kg) == (1.0, "bulk bags of 850 kg", 850.0)


def test_weight_not_volume_limits_a_load_of_stone() -> None:
    # 12 yd³ of loose base at 1.48 tons/yd³ weigh 17.8 tons: a truck for 12 yd³ and 14 tons goes twice
    truck = Carrier("truck", 12 * 0.9144**3, 14 * 907.18474)
    twice = loads_of(truck, loose_m3=12 * 0.9144**3, mass_kg=17.8 * 907.18474)
    assert (twice.count, twice.limit) == (2, "weight")
    light = loads_of(truck, loose_m3=24 * 0.9144**3, mass_kg=10 * 907.18474)
    assert (light.count, light.limit) == (2, "volume")


@pytest.mark.parametrize(("inches", "layers"), [(4, 1), (4.1, 2), (6, 2), (8, 2), (12, 3), (0, 0)])
def test_layers_are_equal_and_no_thicker_than_a_light_plate_can_compact(inches: float, layers: int) -> None:
    count, compacted = layers_of(inches * 0.0254, Supplier.us().lift)
    assert count == layers
    assert count * compacted == pytest.approx(inches * 0.0254 if layers else 0.0)
    assert compacted <= Supplier.us().lift


def test_the_note_of_a_stone_line_tells_volumes_and_layers() -> None:
    supplier = Supplier.us()
    need = gravel_need(CompactedVolume(12 * 16 * 0.5 * FOOT**3), DEFAULT_GRAVEL, supplier)
    entry = gravel_line(need, supplier, FEET, thickness=0.1524)
    assert entry.allowance == "5 % water, 10 % waste"
    facts = (
        "3.56 yd³ compacted",
        "4.46 yd³ loose",
        "2 layers of 3 in",
    )
    assert all(fact in entry.note for fact in facts)
    assert "3 3/4 in deep" in entry.note  # loose


@pytest.mark.parametrize(
    ("words", "unit", "step"),
    [
        ("half tons", "short tons", 0.5),
        ("Half-tonnes", "tonnes", 0.5),
        ("tons", "short tons", 1.0),
        ("bags of 20 kg", "bags of 20 kg", 1.0),
        ("40 lb bag", "bags of 40 lb", 1.0),
    ],
)
def test_selling_units_in_plain_words(words: str, unit: str, step: float) -> None:
    found = find_selling_unit(words)
    assert (found.unit, found.step) == (unit, step)


@pytest.mark.parametrize(
    ("words", "us", "fix"),
    [
        ("half tonns", False, "did you mean 'half tonnes'?"),
        ("tons", False, "did you mean 'tonnes'?"),
        ("50 bags", True, "write it with one of these units"),
        ("\x1b[2Jqq", True, "use one of these"),
        ("0 lb bags", True, "did you mean '50 lb bags'?"),
    ],
)
def test_unknown_selling_units_get_the_nearest(words: str, us: bool, fix: str) -> None:
    with pytest.raises(QuantityError) as caught:
        find_selling_unit(words, us=us)
    assert caught.value.fix == fix
    assert "\x1b" not in str(caught.value)


def test_boards_become_one_line_per_stock_length_with_cuts_and_offcuts() -> None:
    board = Supplier.us().board
    runs = frame_runs([ft * FOOT for ft in (14, 10, 14, 10)], board)
    long, short = board_lines(board, cut_runs(runs, board.lengths, kerf=0.003), FEET, price="boards")
    assert (long.item, long.quantity, long.unit) == ("2 x 6 treated board, 16' 0\"", 2.0, "boards")
    assert long.note == "cut 2 times 14' 1 1/2\""
    assert short.note == (
        "cut 2 times 10' 1 1/2\"; offcuts of all boards: 1' 10 3/8\", 1' 10 3/8\", 1' 10 3/8\", 1' 10 3/8\""
    )
    assert short.mass_kg == pytest.approx(2 * board.mass(12 * FOOT))


def test_a_line_of_boards_tells_where_long_runs_are_joined() -> None:
    board = Supplier.us().board
    lines = board_lines(board, cut_runs([4.9149] * 2, board.lengths, kerf=0.003), FEET, price="boards")
    assert sum(line.quantity * float(line.item.split(", ")[1].split("'")[0]) for line in lines) == 34.0
    assert "; joined: 16' 1 1/2\" of " in lines[-1].note


def test_no_boards_no_lines() -> None:
    assert board_lines(Supplier.us().board, cut_runs([], [2.4]), FEET, price="boards") == ()


def test_fabric_line() -> None:
    corners = np.array([[0, 0], [19, 0], [19, 15], [0, 15]]) * FOOT
    entry = fabric_line(fabric_plan(corners, Supplier.us().fabrics[0]), FEET)
    assert (entry.quantity, entry.unit) == (2.0, "rolls")
    assert entry.item == "geotextile fabric, roll 6.0 ft x 50.0 ft"
    assert entry.computed == pytest.approx(285 / 300)
    assert entry.note == "285 sq ft to line, 342 sq ft laid; strips 19.0 ft, 19.0 ft, 19.0 ft, lapped 18 in"
