"""One trip: where each thing is bought, what each load weighs, and who carries it in how many loads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.foundations.buying.money import SHOPS
from gradework.foundations.piers.limits import LIFT_LIMIT
from gradework.sitework.order import loads_text
from gradework.sitework.supplier import fewest_loads
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.sitework.order import Order, OrderLine
    from gradework.sitework.supplier import Loads, Supplier
    from gradework.units.display import Display

_STOPS = (*SHOPS, "")


@dataclass(frozen=True, slots=True)
class Load:
    """What goes together: a kind of stone, or all that one shop hands over (``what`` is empty); its mass [kg]
    and the loads."""

    what: str
    mass: float
    loads: Loads

    @property
    def each(self) -> float:
        """What each load weighs where they are alike [kg]."""
        return self.mass / self.loads.count if self.loads.count else 0.0


@dataclass(frozen=True, slots=True)
class Stop:
    """One supplier: the lines bought there, their mass [kg], the loads, and what has to be delivered: it fits
    on nothing that comes, or comes in a truck of its own."""

    shop: str
    lines: tuple[OrderLine, ...]
    mass: float
    loads: tuple[Load, ...]
    delivered: tuple[OrderLine, ...]

    @property
    def count(self) -> int:
        """How many loads there are."""
        return sum(load.loads.count for load in self.loads)


def stops_of(order: Order, supplier: Supplier) -> tuple[Stop, ...]:
    """Part an order by who sells it, in the order of a trip. A load of stone is of one kind."""
    by_shop: dict[str, list[OrderLine]] = {}
    for line in sorted(order.lines, key=lambda line: _STOPS.index(line.shop)):
        by_shop.setdefault(line.shop, []).append(line)
    return tuple(_stop(shop, lines, supplier) for shop, lines in by_shop.items())


def _stop(shop: str, lines: list[OrderLine], supplier: Supplier) -> Stop:
    long = max((one.longest for one in supplier.carriers), default=0.0)
    delivered = [line for line in lines if line.by_itself or (supplier.trucks and line.longest > long + 1e-9)]
    carried = [line for line in lines if line not in delivered]
    kinds: dict[str, list[OrderLine]] = {}
    for line in carried:
        kinds.setdefault(line.kind, []).append(line)
    loads = (_load(kind, some, supplier) for kind, some in kinds.items())
    return Stop(
        shop,
        tuple(lines),
        math.fsum(line.mass_kg for line in lines),
        tuple(load for load in loads if load is not None),
        tuple(delivered),
    )


def _load(kind: str, lines: Sequence[OrderLine], supplier: Supplier) -> Load | None:
    """None where dump trucks are all that comes, which bring nothing but stone, and of short things that one
    person lifts in all: they ride along with whoever goes there."""
    mass = math.fsum(line.mass_kg for line in lines)
    loose = math.fsum(line.loose_m3 for line in lines)
    if kind:
        return Load(kind, mass, supplier.tipped(loose_m3=loose, mass_kg=mass))
    own = [one for one in supplier.carriers if one.longest > 0.0]
    longest = max(line.longest for line in lines)
    if mass <= LIFT_LIMIT and not longest:
        return None
    loads = fewest_loads(own, loose_m3=0.0, mass_kg=mass, longest=longest)
    return None if loads is None else Load("", mass, loads)


def stop_text(stop: Stop, show: Display) -> str:
    """Say what a supplier hands over: weight, loads, what is delivered."""
    parts = [show.mass(stop.mass)]
    for load in stop.loads:
        what = f"{load.what} {show.mass(load.mass)}: " if len(stop.loads) > 1 else ""
        parts.append(what + loads_text(load.loads, show, load.mass))
    if stop.delivered:
        names = " and ".join(dict.fromkeys(line.item for line in stop.delivered))
        parts.append(f"have {names} delivered" if stop.shop else names)
    return "; ".join(parts)


def total_text(stops: Sequence[Stop], show: Display) -> str:
    """Say what everything weighs, and in how many loads it comes."""
    text = show.mass(math.fsum(stop.mass for stop in stops))
    count = sum(stop.count for stop in stops)
    return f"{text}; {counted(count, 'loads')}" if count else text
