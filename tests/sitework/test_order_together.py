"""Stone of one kind is rounded up once for all its places; against sums by hand on random orders."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import COVER_STONE, DEFAULT_GRAVEL
from gradework.sitework.order import More, Order, OrderLine, gravel_line, gravel_need, whole_line
from gradework.sitework.order_together import together
from gradework.sitework.supplier import Supplier, find_selling_unit
from gradework.units.display import FEET, METRIC

US = Supplier.us()
BAGS = replace(Supplier.metric(), stone=find_selling_unit("bulk bags"))


def stone(
    volume: float, place: str, supplier: Supplier = US, *, clean: bool = False, sure: bool = False
) -> OrderLine:
    more = More(0.05 * volume, 0.9) if sure else None
    need = gravel_need(CompactedVolume(volume), COVER_STONE if clean else DEFAULT_GRAVEL, supplier, more)
    return gravel_line(need, supplier, METRIC if supplier is BAGS else FEET, place=place)


BLOCKS = whole_line("block", 3, "pieces", allowance="", reason="", mass=30.0).paid_by("blocks", 3, 2.0)


def test_beds_and_steps_take_one_rounding() -> None:
    """0.47 tons under the steps were once a ton of their own."""
    steps = stone(0.2, "steps")
    steps = replace(steps, item=f"{steps.item} under the steps")
    beds = stone(0.42, "beds", sure=True)
    (one, blocks) = together(Order((beds, BLOCKS, steps))).lines
    assert blocks is BLOCKS
    assert one.item == DEFAULT_GRAVEL.name
    assert one.quantity == math.ceil(2.0 * (beds.needed + steps.needed)) / 2.0
    assert one.quantity < beds.quantity + steps.quantity
    assert one.place == ""
    assert [(part.place, part.needed) for part in one.parts] == [
        ("beds", beds.needed),
        ("steps", steps.needed),
    ]
    assert f"{round(beds.needed, 2)} tons for the beds: " in one.note
    assert f"{round(steps.needed, 2)} tons under the steps: " in one.note
    assert one.chance == 0.9
    assert one.allowance.startswith("for the beds: ")


@pytest.mark.parametrize("supplier", [US, BAGS], ids=["half tons", "bulk bags"])
@pytest.mark.parametrize("seed", range(25))
def test_never_more_than_each_alone_and_no_stone_is_lost(supplier: Supplier, seed: int) -> None:
    random = np.random.default_rng(seed)
    places = random.permutation(["beds", "steps", "drip strip", "swale", "cover"])[
        : int(random.integers(1, 6))
    ]
    lines = [
        stone(float(random.uniform(0.02, 2.5)), str(place), supplier, clean=bool(random.integers(2)))
        for place in places
    ]
    order = together(Order((*lines, BLOCKS)))
    for kind in {line.kind for line in lines}:
        own = [line for line in lines if line.kind == kind]
        (one,) = (line for line in order.lines if line.kind == kind)
        step = supplier.stone.step
        assert one.quantity == pytest.approx(step * math.ceil(sum(line.needed for line in own) / step - 1e-9))
        assert one.quantity <= sum(line.quantity for line in own)
        assert one.compacted == pytest.approx(sum(line.compacted for line in own))
        assert one.mass_kg == pytest.approx(one.quantity * supplier.stone.mass_kg)
        assert [paid.amount for paid in one.paid] == [one.mass_kg]
        assert one.loose_m3 / one.mass_kg == pytest.approx(own[0].loose_m3 / own[0].mass_kg)
        told = {part.place for part in one.parts} or {one.place}
        assert told == {line.place for line in own}
    assert BLOCKS in order.lines


def test_stone_of_one_place_alone_and_what_is_no_stone_stay_as_they_are() -> None:
    lines = (stone(1.0, "beds"), stone(1.0, "cover", clean=True), BLOCKS, BLOCKS)
    assert together(Order(lines)).lines == lines
