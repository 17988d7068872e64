"""Each line that piers and slabs of random yards order, worked out a second, naive way: by counting up."""

from __future__ import annotations

import math
from collections import Counter
from functools import cache

import numpy as np
import pytest
import shapely
from yards import yard

from gradework.earthwork.materials import COVER_STONE, Gravel
from gradework.foundations.buying.money import Paid
from gradework.project import specs
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.sitework.order import Order, OrderLine
from gradework.sitework.order_foundations import order_piers, order_slab
from gradework.sitework.supplier import Supplier

YARDS = (3, 8, 11, 17)
FOOT, YD3 = 0.3048, 0.9144**3


@cache
def planned(number: int) -> Plan:
    drawn = yard(number)
    return plan(read_job(drawn.job.encode()), drawn.notes.encode())


def counted_up(needed: float, step: float) -> float:
    bought = 0
    while bought * step < needed * (1.0 - 1e-12) - 1e-9 * step:
        bought += 1
    return bought * step


def stone(volume: float, gravel: Gravel, sold: Supplier) -> float:
    """How much to buy of what compacts to ``volume`` [m³], in what it is sold by: dry, wet, with waste."""
    wet = 1.0 + (gravel.moisture.value if sold.moisture is None else sold.moisture)
    mass = volume * gravel.compacted.value * wet * (1.0 + sold.waste)
    return counted_up(mass / sold.stone.mass_kg, sold.stone.step)


def one(order: Order, words: str) -> OrderLine:
    (line,) = [line for line in order.lines if words in line.item]
    return line


@pytest.mark.parametrize("number", YARDS)
def test_every_line_of_piers(number: int) -> None:
    done = planned(number)
    piers, job = done.foundations.piers, done.job
    assert piers is not None
    assert piers.piers
    sold, bed = specs.supplier(job), specs.stone(job, job.piers.material)
    order = order_piers(piers, bed, specs.soil(job), sold, job.show)
    laid: Counter[str] = Counter()
    for pier in piers.piers:
        for unit in pier.laid:
            wide = min(unit.length, unit.width) >= 14.9 * 0.0254  # one is a course by itself
            laid[unit.name] += 1 if wide else pier.across
    left = [line.item for line in order.lines]
    for name, count in laid.items():
        spare = 1
        while spare < 0.05 * count - 1e-9:
            spare += 1
        assert one(order, name).quantity == count + spare, name
        left.remove(name)
    beds = sum(pier.hole_size[0] * pier.hole_size[1] * pier.bed for pier in piers.piers)
    line = next(line for line in order.lines if line.place == "beds")
    assert line.quantity == pytest.approx(stone(beds, bed, sold))
    left.remove(line.item)
    assert piers.cover is not None
    floor = shapely.Polygon(piers.cover.outline.rings[0]).area * piers.cover.depth
    line = next(line for line in order.lines if line.place == "cover")
    assert line.quantity == pytest.approx(
        stone(floor, bed if bed.key == COVER_STONE.key else COVER_STONE, sold)
    )
    left.remove(line.item)
    assert piers.anchors is not None
    assert one(order, "ground anchor").quantity == len(piers.anchors.spots)
    assert one(order, "shims").quantity == len(piers.piers)
    assert sum(paid.amount for paid in one(order, "fabric").paid) >= piers.cover.outline.area
    assert sorted(left) == sorted(one(order, words).item for words in ("ground anchor", "shims", "fabric"))


@pytest.mark.parametrize("number", YARDS)
def test_every_line_of_a_slab(number: int) -> None:
    done = planned(number)
    slab, job = done.foundations.slab, done.job
    assert slab is not None
    sold, base = specs.supplier(job), specs.stone(job, job.slab.material)
    order = order_slab(slab, base, specs.soil(job), sold, job.show)
    seen = {line.item for line in order.lines}

    def had(line: OrderLine) -> OrderLine:
        seen.discard(line.item)
        return line

    sale, needed = slab.prices.concrete, slab.concrete.volume * (1.0 + slab.spec.waste)
    pounds = sale.bag / 0.45359237
    bags = counted_up(needed / (pounds * 0.0075 * FOOT**3), 1.0)  # ASTM C387: 0.0075 ft³ a pound, quoted
    mix = counted_up(needed, sale.mix_step)
    by_truck = mix * sale.mix_price + (sale.short_charge if mix < sale.short_load - 1e-9 else 0.0)
    line = had(one(order, "concrete"))
    if bags * sale.bag_price <= by_truck:
        assert line.quantity == bags
    else:
        assert line.quantity == pytest.approx(mix / YD3 if job.show.us else mix)
    assert line.mass_kg > 0.0
    if slab.gravel > 0.0:
        line = had(next(line for line in order.lines if line.kind == base.name))
        assert line.quantity == pytest.approx(stone(slab.gravel, base, sold))
    if slab.earth_loose > 0.0:
        step = 0.5 * (YD3 if job.show.us else 1.0)
        line = had(one(order, "earth fill"))
        wanted = Paid("earth", counted_up(slab.earth_loose * (1.0 + sold.waste), step))
        assert (line.paid[0].key, line.paid[0].amount) == (wanted.key, pytest.approx(wanted.amount))
    apart = 3 * FOOT if job.show.us else 1.0
    ring = np.vstack([slab.outline.rings[0], slab.outline.rings[0][:1]])
    around = float(np.hypot(*np.diff(ring, axis=0).T).sum())
    assert had(one(order, "form stakes")).quantity == counted_up(around / apart, 1.0) + 2 * (len(ring) - 1)
    for line in [line for line in order.lines if line.item.startswith("form board")]:
        assert any(math.isclose(had(line).longest, length) for length in sold.board.lengths)
    for sheet in (slab.film, slab.mesh):
        if sheet is not None:
            line = had(one(order, sheet.kind.name))
            assert line.quantity * sheet.kind.width * sheet.kind.length >= slab.area
            assert line.quantity <= sum(math.ceil(run / sheet.kind.length) + 1 for run in sheet.runs)
    assert not seen


def test_form_boards_reach_round_the_slab() -> None:
    """What is bought of each height is at least what stands there, and less than a longest board too much
    for each run."""
    for number in YARDS:
        done = planned(number)
        slab, job = done.foundations.slab, done.job
        assert slab is not None
        order = order_slab(slab, specs.stone(job, None), specs.soil(job), specs.supplier(job), job.show)
        for height in {run.height for run in slab.form_boards}:
            words = f"form board {job.show.depth(height)} high"
            bought = sum(line.quantity * line.longest for line in order.lines if line.item.startswith(words))
            runs = [run.length for run in slab.form_boards if run.height == height]
            longest = max(specs.supplier(job).board.lengths)
            assert sum(runs) <= bought <= sum(runs) + longest * len(runs), number
