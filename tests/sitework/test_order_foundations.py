"""Order lines of piers and slab: every amount traced to the plan, spares, steps, weights."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.materials import COVER_STONE, DEFAULT_GRAVEL, DEFAULT_SOIL
from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.slab.design import Slab, design_slab
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.ground.surface import Surface
from gradework.sitework.order import Order
from gradework.sitework.order_foundations import (
    FORM_DENSITY,
    FORM_THICKNESS,
    earth_line,
    form_lines,
    order_piers,
    order_slab,
)
from gradework.sitework.supplier import Supplier
from gradework.units.amounts import M3_PER_YD3
from gradework.units.display import FEET, METRIC, Display
from gradework.units.lengths import parse_length

Ground = Callable[..., Surface]
HUT = Outline.rectangle((2.0, 2.0), (4.8, 3.6))


def plane(rise: float = 0.05) -> np.ndarray:
    return np.array([(x, y, 100.0 + rise * x) for x in (0.0, 9.0) for y in (0.0, 8.0)])


def plan(ground: Ground, rise: float = 0.05) -> Piers:
    return design_piers(ground(plane(rise)), HUT, PierSpec(layout=RowLayout(rows=2)), PierPrices(), FEET)


def test_units_are_ordered_as_laid_with_spares(ground: Ground) -> None:
    piers = plan(ground)
    order = order_piers(piers, DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    counts = piers.units_by_kind()
    lines = {line.item: line for line in order.lines}
    for name, count in counts.items():
        line = lines[name]
        assert line.computed == count
        assert line.quantity >= count + 1
        assert line.quantity <= count + max(1, 0.05 * count + 1)
        (unit,) = (u for u in piers.spec.units if u.name == name)
        assert line.mass_kg == pytest.approx(line.quantity * unit.mass)
    stone = lines[DEFAULT_GRAVEL.name]
    bed = sum(pier.bed_volume for pier in piers.piers)
    assert stone.computed * 907.18474 == pytest.approx(bed * DEFAULT_GRAVEL.compacted.value)
    assert order.spoil is not None
    dug = sum(pier.dig for pier in piers.piers)
    assert bed < order.spoil.bank.m3 < dug
    assert order.mass_kg == pytest.approx(sum(line.mass_kg for line in order.lines))


def test_each_pier_has_a_pair_of_shims(ground: Ground) -> None:
    piers = plan(ground)
    lines = {
        line.item: line
        for line in order_piers(piers, DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET).lines
    }
    shims = lines["shims, hardwood or plastic"]
    assert (shims.quantity, shims.unit) == (len(piers.piers), "pairs")
    assert shims.mass_kg == pytest.approx(0.2 * len(piers.piers))  # 200 g a pair (common practice, no source)
    assert [(one.key, one.amount) for one in shims.paid] == [("shims", len(piers.piers))]


@pytest.mark.parametrize("show", [FEET, METRIC])
def test_the_cover_under_the_floor_is_ordered(ground: Ground, show: Display) -> None:
    piers = plan(ground)
    supplier = Supplier.us() if show is FEET else Supplier.metric()
    order = order_piers(piers, DEFAULT_GRAVEL, DEFAULT_SOIL, supplier, show)
    assert piers.cover is not None
    (stone,) = [line for line in order.lines if line.item == "clean crushed stone under the floor"]
    kilograms = piers.cover.stone * COVER_STONE.compacted.value
    assert stone.computed * stone.si_unit[0] == pytest.approx(kilograms)
    (fabric,) = [line for line in order.lines if line.item.startswith("nonwoven geotextile fabric")]
    (roll,) = supplier.fabrics
    assert fabric.quantity * roll.width * roll.length >= piers.cover.outline.area
    bare = replace(piers, cover=None)
    without = order_piers(bare, DEFAULT_GRAVEL, DEFAULT_SOIL, supplier, show)
    assert {line.item for line in order.lines} - {line.item for line in without.lines} == {
        stone.item,
        fabric.item,
    }


def test_ground_anchors_are_ordered(ground: Ground) -> None:
    piers = plan(ground)
    assert piers.anchors is not None
    order = order_piers(piers, DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    (line,) = [line for line in order.lines if line.item.startswith("ground anchor")]
    assert line.quantity == piers.anchors.count
    assert "3,150 lb" in line.item


def test_piers_without_a_plan_order_nothing(ground: Ground) -> None:
    assert order_piers(plan(ground, 0.5), DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET).lines == ()


@pytest.mark.parametrize("show", [FEET, METRIC])
def test_a_slab_orders_all_its_parts(ground: Ground, show: object) -> None:
    slab = design_slab(ground(plane()), HUT, SlabSpec(), SlabPrices(), FEET)
    supplier = Supplier.us() if show is FEET else Supplier.metric()
    order = order_slab(slab, DEFAULT_GRAVEL, DEFAULT_SOIL, supplier, show)  # type: ignore[arg-type]
    items = [line.item for line in order.lines]
    assert items[0] == "ready-mix concrete"
    concrete = order.lines[0]
    unit = M3_PER_YD3 if show is FEET else 1.0
    assert concrete.computed * unit == pytest.approx(slab.concrete.volume)
    assert concrete.quantity * unit == pytest.approx(slab.concrete.mix)
    boards = [line for line in order.lines if line.item.startswith("form board")]
    kinds = {line.item.split(" high")[0] for line in boards}
    assert len(kinds) == len({board.height for board in slab.form_boards})
    assert all("cut " in line.note for line in boards)
    assert any("poly" in item for item in items)
    assert any("mesh" in item for item in items)
    (stakes,) = [line for line in order.lines if line.item == "form stakes"]
    edge, apart = sum(form.length for form in slab.forms), 0.9144 if show is FEET else 1.0
    assert stakes.quantity == math.ceil(edge / apart) + 2 * 4
    assert ("3.0 ft" if show is FEET else "1.00 m") in stakes.allowance
    assert all(line.quantity >= line.computed - 1e-9 for line in order.lines)


def test_form_boards_are_cut_side_by_side_and_told_once(ground: Ground) -> None:
    slab = design_slab(ground(plane(0.08)), HUT, SlabSpec(), SlabPrices(), FEET)
    supplier = Supplier.us()
    lines = form_lines(slab, supplier, FEET)
    assert max(form.courses for form in slab.forms) == 2
    longest = max(side.length for side in slab.sides) + FORM_THICKNESS
    pieces = []
    for height in {board.height for board in slab.form_boards}:
        own = [line for line in lines if line.item.startswith(f"form board {FEET.depth(height)} high")]
        cuts = [cut for line in own for cut in re.findall(r"cut (.*?)(?:;(?! \d)|$)", line.note)]
        cut = [
            parse_length(piece, "ft")
            for text in cuts
            for board in text.split("; ")
            for piece in board.split(" + ")
        ]
        runs = [board for board in slab.form_boards if board.height == height]
        wanted = [run.length + (FORM_THICKNESS if run.at_end else 0.0) for run in runs]
        assert sum(cut) == pytest.approx(sum(wanted), abs=0.004 * len(cut))  # shown to 1/8 in
        assert all(piece <= longest + 0.004 for piece in cut)
        assert sum("offcuts" in line.note for line in own) <= 1
        # what is bought is what is cut, the saw's width and what is left over
        bought = sum(line.mass_kg for line in own) / (height * FORM_THICKNESS * FORM_DENSITY)
        assert bought >= sum(wanted) - 1e-6
        pieces += cut
    assert len(pieces) >= len(slab.form_boards)
    face = sum(form.height * form.length for form in slab.forms)
    assert face == pytest.approx(sum(board.height * board.length for board in slab.form_boards), rel=1e-3)


def test_a_side_longer_than_any_board_is_joined_on_the_side(ground: Ground) -> None:
    xyz = np.array([(x, y, 100.0) for x in (0.0, 16.0) for y in (0.0, 8.0)])
    long = Outline.rectangle((2.0, 2.0), (12.0, 3.0))
    slab = design_slab(ground(xyz), long, SlabSpec(), SlabPrices(), FEET)
    assert [board.length for board in slab.form_boards] == pytest.approx([12.0, 3.0, 12.0, 3.0])
    (line, *_) = form_lines(slab, Supplier.us(), FEET)
    # 12.038 m of 16 ft boards at the most: two whole ones and 7 ft 5 7/8 in, twice
    assert line.note.startswith("cut 4 times 16' 0\"")
    assert "7' 5 7/8\"" in " ".join(other.note for other in form_lines(slab, Supplier.us(), FEET))


def test_bags_are_ordered_where_they_are_cheaper(ground: Ground) -> None:
    dear = replace(SlabPrices(), concrete=replace(SlabPrices().concrete, mix_price=9000.0))
    slab = design_slab(ground(plane()), HUT, SlabSpec(film=None, mesh=None), dear, FEET)
    order = order_slab(slab, DEFAULT_GRAVEL, DEFAULT_SOIL, Supplier.us(), FEET)
    line = order.lines[0]
    assert line.item == "bagged concrete mix, 80-lb bags"
    assert line.quantity == slab.concrete.bags
    assert line.computed == pytest.approx(slab.concrete.bags / 1.1, rel=0.02)
    assert not any("film" in line.item for line in order.lines)


@pytest.mark.parametrize("show", [FEET, METRIC])
def test_earth_is_bought_in_clean_numbers(show: Display) -> None:
    """By halves of a yard or a metre: what is added up leaves no 3.0000000000000004."""
    supplier = Supplier.us() if show.us else Supplier.metric()
    for tenths in range(1, 300):
        line = earth_line(DEFAULT_SOIL, tenths / 10.0, tenths / 12.0, "", supplier, show)
        assert line.quantity * 2.0 == int(line.quantity * 2.0)


@pytest.mark.parametrize("show", [FEET, METRIC])
def test_earth_fill_has_a_line_of_its_own_and_is_no_stone(ground: Ground, show: object) -> None:
    supplier = Supplier.us() if show is FEET else Supplier.metric()

    def ordered(**given: object) -> tuple[Order, Slab]:
        spec = replace(SlabSpec(), film=None, mesh=None, **given)  # type: ignore[arg-type]
        slab = design_slab(ground(plane()), HUT, spec, SlabPrices(), FEET)
        return order_slab(slab, DEFAULT_GRAVEL, DEFAULT_SOIL, supplier, show), slab  # type: ignore[arg-type]

    (stone, _), (earth, slab) = ordered(), ordered(fill="earth")
    base = next(line for line in earth.lines if line.item == DEFAULT_GRAVEL.name)
    filled = next(line for line in stone.lines if line.item == DEFAULT_GRAVEL.name)
    assert filled.computed / base.computed == pytest.approx((slab.gravel + slab.fill) / slab.gravel)
    assert not any("earth" in line.item for line in stone.lines)
    (line,) = [line for line in earth.lines if line.item.startswith("earth fill")]
    unit = M3_PER_YD3 if show is FEET else 1.0
    assert line.computed * unit == pytest.approx(slab.earth_loose)
    assert line.quantity * 2 == pytest.approx(round(line.quantity * 2))
    assert stone.spoil is not None
    assert earth.spoil is not None
    assert stone.spoil.bank.m3 - earth.spoil.bank.m3 == pytest.approx(slab.reused)
    # deep in the ground the digging yields all of it
    deep, dug = ordered(fill="earth", freeboard=-0.05)
    assert dug.earth > 0.0
    assert dug.earth_loose == 0.0
    assert not any("earth" in line.item for line in deep.lines)
