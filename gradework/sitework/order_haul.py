"""What a whole order weighs, and how often a vehicle goes for it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gradework.sitework.order import Order
from gradework.sitework.supplier import Carrier, Loads, loads_of


@dataclass(frozen=True, slots=True)
class Haul:
    """A whole order on its way: everything [kg], what the vehicle carries of it [kg], how often it goes.

    ``by_itself`` names what comes in a truck of its own, such as ready-mix concrete.
    """

    mass: float
    carried: float
    loads: Loads
    by_itself: tuple[str, ...]


def haul_of(order: Order, carrier: Carrier) -> Haul:
    """Weigh an order and count the loads of ``carrier`` for it; an order of nothing takes none.

    Only stone is reckoned by its loose volume too: what else is bought fits beside it. Something that weighs
    far less than a load still takes one.
    """
    own = tuple(line for line in order.lines if line.by_itself)
    rest = tuple(line for line in order.lines if not line.by_itself)
    carried = math.fsum(line.mass_kg for line in rest)
    loads = loads_of(carrier, loose_m3=math.fsum(line.loose_m3 for line in rest), mass_kg=carried)
    if rest and loads.count == 0:
        loads = replace(loads, count=1)
    return Haul(order.mass_kg, carried, loads, tuple(line.item for line in own))
