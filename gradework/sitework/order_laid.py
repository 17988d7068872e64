"""What is laid in the ground by the roll and the length, as lines of the order: fabric, and drain pipe.

And all that is laid in what leads water past a pad: clean stone too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.conditions import CompactedVolume
from gradework.foundations.pad.quantities import PIPE
from gradework.sitework.cutting import FabricPlan, cheapest_fabric
from gradework.sitework.order import OrderLine, gravel_line, gravel_need, whole_line

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.sitework.supplier import Supplier
    from gradework.units.display import Display

PIPE_MASS = 1.5
"""Mass of a 4 in solid pipe [kg/m] (common practice, no source)."""

PIPE_METRIC = 3.0
"""[m] A length of pipe in metric jobs."""


def fabric_line(plan: FabricPlan, show: Display) -> OrderLine:
    """Give the line for fabric: rolls, with the strips to cut and the lap to keep."""
    roll, rolls = plan.roll, plan.rolls
    each = None if roll.price is None else roll.price / roll.area
    strips = ", ".join(show.distance(strip) for strip in plan.strips)
    lap = f", lapped {show.depth(plan.lap)}" if len(plan.strips) > 1 else ""
    return whole_line(
        f"geotextile fabric, roll {show.distance(roll.width)} x {show.distance(roll.length)}", rolls, "rolls",
        computed=plan.covered / roll.area, mass=rolls * roll.mass,
        allowance=f"laps of at least {show.depth(roll.overlap)}, whole rolls",
        reason="without laps stone sinks into the soil between the strips",
        note=f"{show.area(plan.covered)} to line, {show.area(plan.laid)} laid; strips {strips}{lap}",
    ).paid_by("fabric", rolls * roll.area, each)  # fmt: skip


def pipe_line(
    length: float,
    show: Display,
    *,
    kind: str = "solid",
    reason: str = "in clay the stone would hold water like a tub",
    where: str = "from the lowest corner, a grate on its end",
) -> OrderLine:
    """Give the line for ``length`` [m] of drain pipe; by default of what drains the stone of a pad."""
    each = PIPE if show.us else PIPE_METRIC
    size = "4 in" if show.us else "110 mm"
    count = math.ceil(length / each - 1e-9)
    fall = "1 in in 8 ft" if show.us else "1 in 100"
    return whole_line(
        f"{size} {kind} drain pipe, {show.distance(each)}", count, "pieces", computed=length / each,
        mass=count * each * PIPE_MASS, allowance="whole pipes, with their couplings", reason=reason,
        note=f"lay it at a fall of {fall} {where}",
    ).paid_by("pipe", count)  # fmt: skip


_LAID = {
    "swale": "under the stone along the bottom of the swale",
    "drain": "lapped over the stone under its last 2 in (50 mm)",
}


def strip_line(
    length: float, wide: float, supplier: Supplier, show: Display, *, reason: str, where: str
) -> OrderLine:
    """Give the line for fabric round stone in a trench, so ``length`` and ``wide`` [m]."""
    ring = np.array([(0.0, 0.0), (length, 0.0), (length, wide), (0.0, wide)])
    line = fabric_line(cheapest_fabric(ring, supplier.fabrics), show)
    note = f"{line.note}; {show.depth(wide)} wide, {where}"
    return replace(line, item=f"nonwoven {line.item}", reason=reason, note=note)


def led_lines(measures: Sequence[Led], supplier: Supplier, show: Display) -> Iterator[OrderLine]:
    """Give a line for each thing that is laid in what is dug; nothing for a swale in grass."""
    stone = sum(one.stone for one in measures)
    if stone > 0.0:
        need = gravel_need(CompactedVolume(stone), supplier.clean, supplier)
        where = " and ".join(dict.fromkeys(one.kind for one in measures if one.stone > 0.0))
        line = gravel_line(need, supplier, show, place=where)
        yield replace(line, item=f"{line.item} for the {where}", note=f"{line.note}; washed, no fines")
    for one in measures:
        if one.fabric <= 0.0:
            continue
        length = one.pipe or one.length
        reason = "soil that gets between the stones closes them, and water digs under them without it"
        where = _LAID["drain" if one.pipe else "swale"]
        yield strip_line(length, one.fabric / length, supplier, show, reason=reason, where=where)
    pierced, solid = sum(one.pipe for one in measures), sum(one.solid for one in measures)
    reason, where = "it takes the water out of the stone", "along the drain, holes down"
    yield pipe_line(pierced, show, kind="perforated", reason=reason, where=where)
    reason, where = "it carries the water on to daylight", "from the end of the stone, a grate on its end"
    yield pipe_line(solid, show, reason=reason, where=where)
