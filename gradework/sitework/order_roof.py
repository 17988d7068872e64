"""What takes the rain of a roof, as lines of the order: gutters with their pipes, stone of drip strips."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import COVER_STONE
from gradework.errors import words
from gradework.foundations.pad.quantities import PIPE
from gradework.sitework.order import Order, OrderLine, dig_out, gravel_line, gravel_need, whole_line
from gradework.sitework.order_laid import PIPE_METRIC, pipe_line, strip_line

if TYPE_CHECKING:
    from gradework.earthwork.materials import Soil
    from gradework.sitework.roof_water import EaveWater, RoofWater
    from gradework.sitework.supplier import Supplier
    from gradework.units.display import Display

GUTTER_MASS = 0.6
"""[kg/m] Of a 5 in gutter of sheet metal or plastic with its hangers (common practice, no source)."""

SPOUT_MASS = 3.0
"""[kg] Of a downspout with its elbows (common practice, no source)."""


def gutter_lines(roof: RoofWater, show: Display) -> Iterator[OrderLine]:
    """Give the lines for gutters, downspouts and the pipe that carries their water on."""
    each = PIPE if show.us else PIPE_METRIC
    own = [math.ceil(one.eave.length / each - 1e-9) for one in roof.of("gutter")]
    size, fall = ("5 in", "1 in in 20 ft") if show.us else ("125 mm", "1 in 240")
    name = words(show.dialect)["downspout"]
    yield whole_line(
        f"{size} gutter with hangers, {show.distance(each)}", sum(own), "pieces",
        computed=roof.gutter / each, mass=sum(own) * each * GUTTER_MASS,
        allowance="whole lengths for each eave, with end caps",
        reason="cut ends of one eave are too short for the next",
        note=f"{show.distance(roof.gutter)} in all; fall {fall} to the {name}",
    ).paid_by("gutter", sum(own))  # fmt: skip
    yield whole_line(
        f"{name} with elbows and an adapter to the drain pipe", roof.spouts, "pieces",
        mass=roof.spouts * SPOUT_MASS, allowance="one at the low end of each gutter",
        reason="it takes the rain down to the pipe",
    ).paid_by("downspout", roof.spouts)  # fmt: skip
    where = f"from the {name}, a grate on its end"
    yield pipe_line(roof.pipe, show, reason="it carries roof water off to daylight", where=where)


def strip_lines(roof: RoofWater, supplier: Supplier, show: Display) -> Iterator[OrderLine]:
    """Give the lines for the stone of drip strips, and the fabric under it."""
    strips = roof.of("drip strip")
    if not strips:
        return
    need = gravel_need(CompactedVolume(roof.stone), supplier.clean, supplier)
    line = gravel_line(need, supplier, show, place="drip strip")
    deep = show.depth(roof.deep)
    yield replace(
        line,
        item=f"{line.item} for the drip strip",
        note=f"{line.note}; {deep} deep over {show.area(roof.area)}, washed, no fines",
    )
    # strips are narrower than a roll: one after the other, as from one long piece
    length, wide = sum(one.eave.length for one in strips), max(girth(one, roof.deep) for one in strips)
    reason, where = (
        "soil that gets between the stones closes them",
        "under the drip strip and up both its sides",
    )
    yield strip_line(length, wide, supplier, show, reason=reason, where=where)


def girth(one: EaveWater, deep: float) -> float:
    """How wide the fabric of a strip ``deep`` [m] lies [m]: under its stone and up both sides."""
    return float(one.strip.area) / one.eave.length + 2.0 * deep


def with_roof(order: Order, roof: RoofWater, soil: Soil, supplier: Supplier, show: Display) -> Order:
    """Give an order with what takes the rain of the roof; soil that stone takes the place of goes with the
    rest."""
    order = order.plus(*gutter_lines(roof, show), *strip_lines(roof, supplier, show))
    if roof.stone <= 0.0 or order.spoil is None:
        return order
    left = BankVolume(order.spoil.bank.m3 + roof.stone)
    return replace(order, spoil=dig_out(left, soil, supplier))


class RoofPrices(NamedTuple):
    """Money: per m³ in place to ``dig`` and to ``haul`` away, ``stone`` per kg, ``fabric`` per m², ``pipe``
    per m, ``gutter`` per 10 ft, each ``downspout``."""

    dig: float
    haul: float
    stone: float
    fabric: float
    pipe: float
    gutter: float
    downspout: float


def money_of_strip(one: EaveWater, deep: float, prices: RoofPrices) -> float:
    """What a drip strip costs to build, without what is bought over."""
    stone = float(one.strip.area) * deep
    earth = stone * (prices.dig + prices.haul)
    fabric = one.eave.length * girth(one, deep) * prices.fabric
    return earth + fabric + stone * COVER_STONE.compacted.value * prices.stone


def money_of_gutter(one: EaveWater, prices: RoofPrices) -> float:
    """What a gutter costs with its downspouts and pipes, without what is bought over."""
    hung = one.eave.length / PIPE * prices.gutter + len(one.spouts) * prices.downspout
    return hung + one.pipe * prices.pipe + one.cut * prices.dig
