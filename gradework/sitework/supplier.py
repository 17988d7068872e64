"""What the supplier sells and in which steps, what carries it; docs/materials.md explains the defaults."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from gradework.earthwork.materials import COVER_STONE, Gravel
from gradework.errors import visible
from gradework.sitework.cutting import Board, FabricRoll
from gradework.units.amounts import (
    KG_PER_LB,
    KG_PER_SHORT_TON,
    KG_PER_TONNE,
    M3_PER_YD3,
    M_PER_FT,
    M_PER_IN,
    parse_mass,
)
from gradework.units.numbers import QuantityError


@dataclass(frozen=True, slots=True)
class SellingUnit:
    """How stone is sold: ``unit`` as it stands on the order, its mass [kg], the least step in that unit."""

    unit: str
    mass_kg: float
    step: float


SOLD_BY: Mapping[str, SellingUnit] = {
    "half short tons": SellingUnit("short tons", KG_PER_SHORT_TON, 0.5),
    "short tons": SellingUnit("short tons", KG_PER_SHORT_TON, 1.0),
    "half tonnes": SellingUnit("tonnes", KG_PER_TONNE, 0.5),
    "tonnes": SellingUnit("tonnes", KG_PER_TONNE, 1.0),
    "bulk bags": SellingUnit("bulk bags of 850 kg", 850.0, 1.0),
    "50 lb bags": SellingUnit("bags of 50 lb", 50 * KG_PER_LB, 1.0),
    "25 kg bags": SellingUnit("bags of 25 kg", 25.0, 1.0),
}

_BAGS = re.compile(r"(?:bags? of (?P<after>.+)|(?P<before>.+?) bags?)")
_HALF_TONS = {"half tons": "half short tons", "tons": "short tons"}


def find_selling_unit(words: str, *, us: bool = True) -> SellingUnit:
    """Find how stone is sold by plain words: ``half tons``, ``bulk bags``, ``40 lb bags`` of any mass.

    A bare "tons" means short tons in a US job (``us``) and is refused in a metric one. Raises
    ``QuantityError`` with the nearest words when nobody knows them.

    >>> find_selling_unit("40 lb bags").unit, find_selling_unit("half tons").step
    ('bags of 40 lb', 0.5)
    """
    wanted = " ".join(words.lower().replace("-", " ").split())
    wanted = _HALF_TONS.get(wanted, wanted) if us else wanted
    if wanted in SOLD_BY:
        return SOLD_BY[wanted]
    expected = "one of: " + ", ".join(SOLD_BY) + ", or bags of a mass such as 40 lb bags"
    match = _BAGS.fullmatch(wanted)
    if match:
        text = match["after"] or match["before"]
        try:
            mass = parse_mass(text, us=us)
        except QuantityError as error:
            raise QuantityError(f"stone sold by {visible(words)!r}", expected, error.fix) from None
        if mass > 0.0:
            return SellingUnit(f"bags of {text}", mass, 1.0)
    near = difflib.get_close_matches(wanted, SOLD_BY, n=1, cutoff=0.5)
    fix = f"did you mean {near[0]!r}?" if near else "use one of these"
    raise QuantityError(f"stone sold by {visible(words)!r}", expected, fix)


@dataclass(frozen=True, slots=True)
class Carrier:
    """A truck or a wheelbarrow: loose volume it holds [m³], mass it may carry [kg] or None.

    ``longest`` [m] is the longest board that lies on it; 0 for a dump truck, which brings stone alone.
    """

    name: str
    volume: float
    payload: float | None
    longest: float = 0.0


@dataclass(frozen=True, slots=True)
class Loads:
    """How often a carrier goes, and what fills it first."""

    carrier: Carrier
    count: int
    limit: Literal["weight", "volume"]


def loads_of(carrier: Carrier, *, loose_m3: float, mass_kg: float) -> Loads:
    """Count full loads, the last one perhaps not full: by weight or by volume, whichever needs more.

    >>> loads_of(Carrier("truck", 7.0, None), loose_m3=1300.0, mass_kg=2.0e6).count
    186
    """
    by_volume = whole_steps(loose_m3, carrier.volume)
    by_weight = whole_steps(mass_kg, carrier.payload) if carrier.payload else 0  # no payload: volume decides
    return Loads(carrier, max(by_volume, by_weight), "weight" if by_weight >= max(by_volume, 1) else "volume")


def whole_steps(amount: float, step: float) -> int:
    """Round up to whole steps; a last-digit error, or a billionth of a step, is no further step."""
    return max(0, math.ceil(amount / step * (1.0 - 1e-12) - 1e-9))


VEHICLES: Mapping[str, tuple[str, str, str]] = {
    "single axle": ("5 yd3", "7 short tons", ""),
    "tandem": ("10 yd3", "12 short tons", ""),
    "tri-axle": ("15 yd3", "18 short tons", ""),
    "dump trailer": ("4 yd3", "3 short tons", "14 ft"),
    "trailer": ("1 yd3", "2000 lb", "12 ft"),
    "half-ton pickup": ("2 yd3", "1500 lb", "12 ft"),
    "3/4-ton pickup": ("2 yd3", "2500 lb", "12 ft"),
    "1-ton pickup": ("2 yd3", "3500 lb", "12 ft"),
}
VEHICLES_METRIC: Mapping[str, tuple[str, str, str]] = {
    "small tipper": ("3 m3", "3.5 t", ""),
    "4-wheel tipper": ("6 m3", "9 t", ""),
    "6-wheel tipper": ("9 m3", "15 t", ""),
    "8-wheel tipper": ("12 m3", "19 t", ""),
    "trailer": ("0.7 m3", "500 kg", "3 m"),
    "pickup": ("1 m3", "1000 kg", "3 m"),
    "van": ("1 m3", "1000 kg", "3 m"),
}
"""Vehicles by name: loose volume, payload, longest board (none on a dump truck). Payloads are the least of a
usual range: a landscape yard for pickups (its door sticker rules), the rest common practice or memory."""


def find_vehicle(words: str, *, us: bool = True) -> tuple[str, tuple[str, str, str]]:
    """Find a vehicle by plain words. Raises ``QuantityError`` with the nearest words when nobody knows them.

    >>> find_vehicle("Tandem truck")
    ('tandem', ('10 yd3', '12 short tons', ''))
    """
    known = VEHICLES if us else VEHICLES_METRIC
    wanted = " ".join(words.lower().split()).removesuffix(" truck").removesuffix(" dump")
    if wanted in known:
        return wanted, known[wanted]
    near = difflib.get_close_matches(wanted, known, n=1, cutoff=0.5)
    own = '{ name = "my trailer", volume = "1 yd3", payload = "1800 lb" }'
    fix = f"did you mean {near[0]!r}?" if near else f"give its own figures: {own}"
    raise QuantityError(f"a vehicle {visible(words, 60)!r}", "one of: " + ", ".join(known), fix)


def fewest_loads(
    carriers: Sequence[Carrier], *, loose_m3: float, mass_kg: float, longest: float = 0.0
) -> Loads | None:
    """Choose who carries it in the fewest loads, the smallest of those; None where nothing is long enough.

    ``longest`` [m] is the longest thing among it.
    """
    able = [one for one in carriers if one.longest >= longest - 1e-9]
    ways = [loads_of(one, loose_m3=loose_m3, mass_kg=mass_kg) for one in able]
    return min(
        ways,
        key=lambda way: (way.count, way.carrier.payload or math.inf, way.carrier.volume),
        default=None,
    )


FRESH_TREATED = 800.0
"""Treated timber fresh from the yard [kg/m³]: 45 to 55 lb/ft³ (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Supplier:
    """What is sold and carried; ``us()`` and ``metric()`` give documented defaults.

    ``trucks`` are those that may come, ``truck`` alone where none are named; of ``fabrics`` the cheapest is
    bought. ``waste`` [-] goes on top of the stone's mass; ``moisture`` [-] replaces the stone's own default;
    ``clean`` is the stone of drains, covers and drip strips, as he has it;
    ``turn_up`` [m] is how far fabric goes up the sides of the dig; ``lift`` [m] the thickest compacted layer.
    """

    stone: SellingUnit
    truck: Carrier
    barrow: Carrier
    fabrics: tuple[FabricRoll, ...]
    board: Board
    timber: Board
    waste: float = 0.10
    moisture: float | None = None
    turn_up: float = 0.1524
    lift: float = 0.1016
    trucks: tuple[Carrier, ...] = ()
    clean: Gravel = COVER_STONE

    @property
    def carriers(self) -> tuple[Carrier, ...]:
        """All that may come."""
        return self.trucks or (self.truck,)

    def tipped(self, *, loose_m3: float, mass_kg: float) -> Loads:
        """Choose who brings so much stone or earth, or takes so much soil away."""
        loads = fewest_loads(self.carriers, loose_m3=loose_m3, mass_kg=mass_kg)
        assert loads is not None  # nothing is too short for what is tipped
        return loads

    @classmethod
    def us(cls) -> Supplier:
        """Half short tons, a 7-ton single-axle truck, fabric 6 ft wide, 2 x 6 boards of 8 to 16 ft."""
        return cls(
            stone=SOLD_BY["half short tons"],
            truck=Carrier("truck", 5.0 * M3_PER_YD3, 7.0 * KG_PER_SHORT_TON),
            barrow=Carrier("wheelbarrow", 0.08, 100.0),
            fabrics=(FabricRoll(6.0 * M_PER_FT, 50.0 * M_PER_FT, 1.0 * M_PER_FT),),
            board=Board(
                "2 x 6 treated board",
                1.5 * M_PER_IN,
                5.5 * M_PER_IN,
                tuple(ft * M_PER_FT for ft in (8.0, 10.0, 12.0, 16.0)),
            ),
            timber=Board(
                "6 x 6 treated timber",
                5.5 * M_PER_IN,
                5.5 * M_PER_IN,
                tuple(ft * M_PER_FT for ft in (8.0, 10.0, 12.0, 16.0)),
                density=FRESH_TREATED,
            ),
        )

    @classmethod
    def metric(cls) -> Supplier:
        """Half tonnes, a truck for 6 tonnes, fabric 2 m wide, 47 x 150 mm boards of 2.4 to 4.8 m."""
        return cls(
            stone=SOLD_BY["half tonnes"],
            truck=Carrier("truck", 4.0, 6000.0),
            barrow=Carrier("wheelbarrow", 0.08, 100.0),
            fabrics=(FabricRoll(2.0, 25.0, 0.3),),
            board=Board("47 x 150 mm treated board", 0.047, 0.150, (2.4, 3.0, 3.6, 4.8)),
            timber=Board("150 x 150 mm treated timber", 0.150, 0.150, (2.4, 3.0, 3.6), density=FRESH_TREATED),
            turn_up=0.15,
            lift=0.1,
        )
