"""The order for a gravel pad: stone, fabric, edge boards, and the soil to haul, from its plain quantities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.sitework.boards import EdgeSide, board_plan
from gradework.sitework.fabric import fabric_plan
from gradework.sitework.order import Order
from gradework.sitework.order_edges import board_lines, fabric_line
from gradework.sitework.order_gravel import gravel_line, gravel_need
from gradework.sitework.soil import dig_out
from gradework.sitework.supplier import Supplier
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline


NOTHING_REUSED = BankVolume(0.0)


@dataclass(frozen=True, slots=True)
class PadQuantities:
    """What a finished design hands to the order.

    ``thickness`` [m] is the deepest gravel, for the layers; ``outline`` the plan of the gravel; ``sides`` the
    edge boards to stand around it, none for a battered edge; ``reused`` the part of the soil that stays as
    fill, in place.
    """

    gravel: CompactedVolume
    excavation: BankVolume
    thickness: float
    outline: Outline
    sides: tuple[EdgeSide, ...] = ()
    reused: BankVolume = NOTHING_REUSED


def order_pad(
    pad: PadQuantities, gravel: Gravel, soil: Soil, supplier: Supplier, show: Display, *, fabric: bool = True
) -> Order:
    """Order everything for one pad in one trip; the soil left over goes by truck or wheelbarrow.

    Fabric lines the pad's outline and is turned up all round. Raises ``ValueError`` when more soil is reused
    than dug.
    """
    left = BankVolume(pad.excavation.m3 - pad.reused.m3)
    order = Order(spoil=dig_out(left, soil, supplier.truck, supplier.barrow))
    need = gravel_need(pad.gravel, gravel, supplier)
    order = order.plus(gravel_line(need, supplier, show, thickness=pad.thickness))
    if fabric:
        lined = pad.outline.grown(supplier.turn_up).rings[0]
        order = order.plus(fabric_line(fabric_plan(lined, supplier.fabric), show))
    return order.plus(*board_lines(board_plan(pad.sides, supplier.board), show))
