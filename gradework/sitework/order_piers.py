"""The order for block piers: units by kind with spares, gravel for the beds, shims."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.foundations.pier_stacks import pieces_in_course
from gradework.sitework.order import Order, OrderLine
from gradework.sitework.order_gravel import gravel_line, gravel_need
from gradework.sitework.soil import dig_out
from gradework.sitework.supplier import Supplier
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.foundations.piers import Pier, Piers

SPARE_PART = 0.05
"""Spare units for breakage [-], at least one of each kind (common practice, no source)."""


def order_piers(piers: Piers, gravel: Gravel, soil: Soil, supplier: Supplier, show: Display) -> Order:
    """Order everything for the piers in one trip, and say what soil is left over.

    The hole around a stack is filled with the soil that came out of it: what is left over is what bed and
    stack take up below the ground. Piers without a plan order nothing.
    """
    if not piers.piers:
        return Order()
    left = sum(left_over(pier, piers.spec.across) for pier in piers.piers)
    order = Order(spoil=dig_out(BankVolume(left), soil, supplier.truck, supplier.barrow))
    order = order.plus(*unit_lines(piers, show))
    beds = CompactedVolume(sum(pier.bed_volume for pier in piers.piers))
    order = order.plus(gravel_line(gravel_need(beds, gravel, supplier), supplier, show))
    return order.plus(_shims(len(piers.piers)))


def left_over(pier: Pier, across: int) -> float:
    """Give the soil of one hole that does not go back [m³ in place]: what bed and stack take up in it.

    Hollow blocks count as full, so this is a little too much rather than too little.
    """
    base = pier.laid[0]
    plan = base.length * base.width * pieces_in_course(base, across)
    depth = max(0.0, pier.dig / pier.hole.area - pier.bed)
    return min(pier.dig, pier.bed_volume + plan * min(depth, pier.height))


def unit_lines(piers: Piers, show: Display) -> tuple[OrderLine, ...]:
    """Give a line for each kind of unit laid, with spares."""
    kinds = {unit.name: unit for unit in piers.spec.units}
    lines = []
    for name, count in piers.units_by_kind().items():
        spare = max(1, math.ceil(SPARE_PART * count - 1e-9))
        lines.append(
            OrderLine(
                item=name,
                quantity=float(count + spare),
                unit="pieces",
                computed=float(count),
                needed=float(count + spare),
                step=1.0,
                allowance=f"{spare} spare",
                reason="a unit breaks on the way, or a pier needs one more than the ground promised",
                mass_kg=(count + spare) * kinds[name].mass,
                note=f"measure them before you lay: planned {show.depth(kinds[name].thickness)} thick",
            )
        )
    return tuple(lines)


def _shims(piers: int) -> OrderLine:
    pairs = math.ceil(piers / 2)
    return OrderLine(
        item="shims, hardwood or plastic",
        quantity=float(pairs),
        unit="pairs",
        computed=float(pairs),
        needed=float(pairs),
        step=1.0,
        allowance="one pair for every two piers",
        reason="the last quarter inch is shimmed, in pairs and within 1 in (24 CFR 3285.304, quoted)",
        mass_kg=0.2 * pairs,
    )
