"""Stone of one kind for several places is bought together: rounded up once, with what goes where told."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.foundations.buying.money import Paid
from gradework.sitework.order import Part, to_buy
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.sitework.order import Order, OrderLine

_WHERE = {"base": "for the base", "beds": "for the beds", "fill": "for the fill"}
"""Where stone goes whose line says no more than what it is."""


def together(order: Order) -> Order:
    """Give an order in which each kind of stone stands once for all its places, where the first stood."""
    lines: list[OrderLine] = []
    for line in order.lines:
        same = [one for one in order.lines if _goes_with(one, line)]
        if len(same) < 2:
            lines.append(line)
        elif same[0] is line:
            lines.append(_joined(same))
    return replace(order, lines=tuple(lines))


def _goes_with(one: OrderLine, other: OrderLine) -> bool:
    """Say whether two lines are of the same stone, sold and paid alike."""
    if not one.kind or one.compacted <= 0.0:
        return False
    keys = [(paid.key, paid.each) for paid in one.paid], [(paid.key, paid.each) for paid in other.paid]
    alike = (one.kind, one.unit, one.step, one.by_itself) == (
        other.kind,
        other.unit,
        other.step,
        other.by_itself,
    )
    return alike and keys[0] == keys[1] and len(one.paid) == 1


def _joined(lines: list[OrderLine]) -> OrderLine:
    """Give one line for all: what is needed is added up, then rounded up to the next step."""
    first = lines[0]
    needed = math.fsum(line.needed for line in lines)
    quantity = to_buy(needed, first.step)
    mass = quantity * first.mass_kg / first.quantity
    loose = math.fsum(line.loose_m3 * line.needed / line.quantity for line in lines)
    allowances = list(dict.fromkeys(line.allowance for line in lines))
    told = "; ".join(f"{_where(line)}: {line.allowance}" for line in lines)
    chances = [line.chance for line in lines if line.chance is not None]
    return replace(
        first,
        item=first.kind,
        quantity=quantity,
        computed=math.fsum(line.computed for line in lines),
        needed=needed,
        allowance=allowances[0] if len(allowances) == 1 else told,
        mass_kg=mass,
        note=". ".join(f"{_amount(line)} {_where(line)}: {line.note}" for line in lines),
        loose_m3=loose * quantity / needed,
        paid=(Paid(first.paid[0].key, mass, first.paid[0].each),),
        compacted=math.fsum(line.compacted for line in lines),
        chance=min(chances, default=None),
        place="",
        parts=tuple(Part(line.place, line.computed, line.needed, line.compacted) for line in lines),
    )


def _where(line: OrderLine) -> str:
    return line.item.removeprefix(line.kind).strip() or _WHERE.get(line.place, line.place)


def _amount(line: OrderLine) -> str:
    """What goes there, to the hundredth; of bags a part of one."""
    return counted(round(line.needed, 2), line.unit.partition(" of ")[0])
