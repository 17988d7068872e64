"""Edge boards and fabric as lines of the order."""

from __future__ import annotations

from dataclasses import replace

from gradework.sitework.boards import BoardPlan
from gradework.sitework.fabric import FabricPlan
from gradework.sitework.order import OrderLine
from gradework.units import Display


def board_lines(plan: BoardPlan, show: Display) -> tuple[OrderLine, ...]:
    """Give one line for each stock length to buy, longest first, with what is cut from it."""
    kept = ", ".join(show.length(offcut) for offcut in plan.cutting.offcuts)
    proved = "" if plan.cutting.proved else "; good, but not proved least"
    lines = []
    for stock, count in plan.cutting.count().items():
        cuts = [bar.pieces for bar in plan.cutting.bars if bar.stock == stock]
        used = sum(sum(pieces) for pieces in cuts) / stock
        lines.append(
            OrderLine(
                item=f"{plan.board.name}, {show.length(stock)}",
                quantity=float(count),
                unit="boards",
                computed=used,
                needed=float(count),
                step=1.0,
                allowance="cut from stock lengths",
                reason="pieces cannot be glued from ends; the cuts are planned for the least length bought",
                mass_kg=count * plan.board.mass(stock),
                note="cut " + "; ".join(_cuts(pieces, show) for pieces in cuts) + proved,
            )
        )
    if kept and lines:
        lines[-1] = replace(lines[-1], note=f"{lines[-1].note}; offcuts of all boards: {kept}")
    return tuple(lines)


def _cuts(pieces: tuple[float, ...], show: Display) -> str:
    return " + ".join(show.length(piece) for piece in pieces)


def fabric_line(plan: FabricPlan, show: Display) -> OrderLine:
    """Give the line for fabric: rolls, with the strips to cut and the lap to keep."""
    roll, rolls = plan.roll, len(plan.cutting.bars)
    strips = ", ".join(show.distance(strip) for strip in plan.strips)
    lap = f", lapped {show.depth(plan.lap)}" if len(plan.strips) > 1 else ""
    return OrderLine(
        item=f"geotextile fabric, roll {show.distance(roll.width)} x {show.distance(roll.length)}",
        quantity=float(rolls),
        unit="rolls",
        computed=plan.covered / (roll.width * roll.length),
        needed=float(rolls),
        step=1.0,
        allowance=f"laps of at least {show.depth(roll.overlap)}, whole rolls",
        reason="strips must overlap, or stone sinks into the soil between them",
        mass_kg=rolls * roll.mass,
        note=f"{show.area(plan.covered)} to line, {show.area(plan.laid)} laid; strips {strips}{lap}",
    )
