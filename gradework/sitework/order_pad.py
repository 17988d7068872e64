"""The order for a gravel pad: stone, fabric, edge boards, and the soil to haul, from its plain quantities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.sitework.boards import EdgeSide, board_plan
from gradework.sitework.fabric import fabric_plan, joined_ring
from gradework.sitework.order import Order
from gradework.sitework.order_edges import board_lines, fabric_line
from gradework.sitework.order_gravel import gravel_line, gravel_need
from gradework.sitework.soil import dig_out
from gradework.sitework.supplier import Supplier
from gradework.units import Display

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from gradework.earthwork.outline import Outline


NOTHING_REUSED = BankVolume(0.0)


@dataclass(frozen=True, slots=True)
class PadQuantities:
    """What a finished design hands to the order.

    ``thickness`` [m] is the deepest gravel, for the layers, with the soil below it where ``over_soil``;
    ``outline`` the plan of the pad; ``sides`` the edge boards to stand around it, none for a
    battered edge; ``slopes`` the rings (k, 2) [m] of a battered pad with its filled slopes; ``reused`` the
    part of the soil that stays as fill, in place.
    """

    gravel: CompactedVolume
    excavation: BankVolume
    thickness: float
    outline: Outline
    sides: tuple[EdgeSide, ...] = ()
    reused: BankVolume = NOTHING_REUSED
    slopes: tuple[NDArray[np.float64], ...] = ()
    over_soil: bool = False


def order_pad(
    pad: PadQuantities, gravel: Gravel, soil: Soil, supplier: Supplier, show: Display, *, fabric: bool = True
) -> Order:
    """Order everything for one pad in one trip; the soil left over goes by truck or wheelbarrow.

    Fabric lines the pad's outline, turned up all round, and the ground under filled slopes. Raises
    ``ValueError`` when more soil is reused than dug.
    """
    left = BankVolume(pad.excavation.m3 - pad.reused.m3)
    order = Order(spoil=dig_out(left, soil, supplier.truck, supplier.barrow))
    need = gravel_need(pad.gravel, gravel, supplier)
    order = order.plus(gravel_line(need, supplier, show, thickness=pad.thickness, over_soil=pad.over_soil))
    if fabric:
        ring = pad.outline.grown(supplier.turn_up).rings[0]
        lined = joined_ring(ring, pad.slopes) if pad.slopes else ring
        order = order.plus(fabric_line(fabric_plan(lined, supplier.fabric, pad.outline.rings[0]), show))
    return order.plus(*board_lines(board_plan(pad.sides, supplier.board), show))
