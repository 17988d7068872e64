"""Stakes and string to set a foundation out with, as lines of the order."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import BankVolume, CompactedVolume, LooseVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.errors import CheckError
from gradework.sitework.supplier import Carrier, Loads, Supplier, loads_of, whole_steps
from gradework.units.amounts import (
    KG_PER_SHORT_TON,
    KG_PER_TONNE,
    M3_PER_YD3,
    M_PER_FT,
    cubic_yards,
    short_tons_per_cubic_yard,
)
from gradework.units.display import METRIC, Display, counted

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline


# The soil that is dug: in place, loose on the heap, and how often the truck or the wheelbarrow goes.


@dataclass(frozen=True, slots=True)
class Spoil:
    """Soil taken out: its volume in place and loose [m³], loose range [m³], mass range [kg], loads.

    The range of the heap comes from the range of the swell; the mass from dry to wet ground. Loads count
    with the mass of wet ground, so that no truck is overloaded after rain.
    """

    soil: Soil
    bank: BankVolume
    loose: LooseVolume
    loose_range: tuple[float, float]
    mass_kg: float
    mass_range_kg: tuple[float, float]
    loads: tuple[Loads, ...]


def dig_out(bank: BankVolume, soil: Soil, *carriers: Carrier) -> Spoil:
    """Follow a volume in place [m³] out of the ground: heap, mass and loads for each carrier."""
    loose = soil.to_loose(bank)
    mass_high = bank.m3 * soil.bank.high
    return Spoil(
        soil=soil,
        bank=bank,
        loose=loose,
        loose_range=(bank.m3 * soil.swell.low, bank.m3 * soil.swell.high),
        mass_kg=soil.bank.mass(bank),
        mass_range_kg=(bank.m3 * soil.bank.low, mass_high),
        loads=tuple(loads_of(carrier, loose_m3=loose.m3, mass_kg=mass_high) for carrier in carriers),
    )


# The order: one line for each thing to buy, rounded up to what is sold, each line checked as it is made.


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One thing to buy.

    ``computed`` is the bare amount, ``needed`` the amount with its allowance, ``quantity`` what is bought:
    ``needed`` rounded up to the next whole ``step``, all in ``unit``. ``allowance`` says in words what was
    added and ``reason`` why; ``mass_kg`` [kg] is what the bought amount weighs on the way home; ``spread``
    holds the low and high end of ``computed`` where they are known. ``loose_m3`` [m³] is what stone takes up
    on the truck; ``by_itself`` marks what comes in a truck of its own. Raises ``CheckError`` when the bought
    amount is not at least the needed one and less than one step above it.
    """

    item: str
    quantity: float
    unit: str
    computed: float
    needed: float
    step: float
    allowance: str
    reason: str
    mass_kg: float
    note: str = ""
    spread: tuple[float, float] | None = None
    loose_m3: float = 0.0
    by_itself: bool = False

    @property
    def in_si(self) -> tuple[float, str]:
        """What is bought, in "kg" or "m³"; things that are counted as they are, with their own unit."""
        per, unit = _SI.get(self.unit, (1.0, self.unit))
        return self.quantity * per, unit

    def __post_init__(self) -> None:
        figures = (self.quantity, self.computed, self.needed, self.step, self.mass_kg)
        slack = 1e-9 * max(1.0, abs(self.needed))
        short = self.quantity < self.needed - slack
        over = self.quantity >= self.needed + self.step
        if not all(math.isfinite(v) and v >= 0.0 for v in figures) or short or over:
            raise CheckError(
                f"order of {self.item}: bought {self.quantity} {self.unit} for {self.needed} needed "
                f"in steps of {self.step}"
            )


_SI = {
    "short tons": (KG_PER_SHORT_TON, "kg"),
    "tons": (KG_PER_SHORT_TON, "kg"),
    "tonnes": (KG_PER_TONNE, "kg"),
    "yd³": (M3_PER_YD3, "m³"),
    "m³": (1.0, "m³"),
}
"""What things are sold by that are not counted, and how much of which SI unit that is."""


def to_buy(needed: float, step: float) -> float:
    """Round up to whole steps of what is sold, never down.

    >>> to_buy(7.6, 0.5), to_buy(7.5, 0.5), to_buy(0.0, 0.5)
    (8.0, 7.5, 0.0)
    """
    return whole_steps(needed, step) * step


@dataclass(frozen=True, slots=True)
class Order:
    """Everything for one trip: what to buy, and the soil that has to go somewhere.

    Foundations add their lines with ``plus``; lines of the same thing stay apart, so that each still says
    what it is for.
    """

    lines: tuple[OrderLine, ...] = ()
    spoil: Spoil | None = None

    def __repr__(self) -> str:
        return f"<Order: {counted(len(self.lines), 'lines')}, {METRIC.mass(self.mass_kg)}>"

    @property
    def mass_kg(self) -> float:
        """Mass of everything bought [kg]."""
        return math.fsum(line.mass_kg for line in self.lines)

    def plus(self, *lines: OrderLine) -> Order:
        """Give the order with more lines; a line that buys nothing is left out."""
        return replace(self, lines=(*self.lines, *(line for line in lines if line.quantity > 0.0)))


# Stone for a compacted volume: dry mass, water, waste, what to tip, loads, layers; its line on the order.


@dataclass(frozen=True, slots=True)
class GravelNeed:
    """What a compacted volume takes.

    ``dry_kg`` with its range is the stone alone, ``wet_kg`` as the weighbridge sees it, ``needed_kg`` with
    waste on top [kg]; ``loose`` is the volume to tip without waste [m³].
    """

    gravel: Gravel
    volume: CompactedVolume
    moisture: float
    waste: float
    dry_kg: float
    dry_range_kg: tuple[float, float]
    wet_kg: float
    needed_kg: float
    loose: LooseVolume


@dataclass(frozen=True, slots=True)
class Lifts:
    """Equal layers: how many, how thick each compacted and as spread loose [m]."""

    count: int
    compacted: float
    loose: float


def gravel_need(volume: CompactedVolume, gravel: Gravel, supplier: Supplier) -> GravelNeed:
    """Work out the stone for a compacted volume [m³]; only the compacted density ever meets it.

    Raises ``TypeError`` for a volume in another condition, ``CheckError`` when the same reckoning in cubic
    yards and short tons disagrees.
    """
    moisture = gravel.moisture.value if supplier.moisture is None else supplier.moisture
    dry = gravel.compacted.mass(volume)
    wet = dry * (1.0 + moisture)
    needed = wet * (1.0 + supplier.waste)
    again = cubic_yards(volume.m3) * short_tons_per_cubic_yard(gravel.compacted.value)
    again *= (1.0 + moisture) * (1.0 + supplier.waste) * KG_PER_SHORT_TON
    if abs(again - needed) > 1e-12 * needed:
        raise CheckError(f"{volume.m3} m³ of {gravel.name}: {needed} kg in metric, {again} kg in US units")
    return GravelNeed(
        gravel,
        volume,
        moisture,
        supplier.waste,
        dry,
        (volume.m3 * gravel.compacted.low, volume.m3 * gravel.compacted.high),
        wet,
        needed,
        gravel.to_loose(volume),
    )


def lifts_for(thickness: float, gravel: Gravel, lift: float) -> Lifts:
    """Part a compacted thickness [m] into the fewest equal layers no thicker than ``lift`` [m].

    >>> from gradework.earthwork.materials import DEFAULT_GRAVEL
    >>> lifts_for(0.3048, DEFAULT_GRAVEL, 0.1016).count
    3
    """
    count = whole_steps(thickness, lift)
    compacted = thickness / count if count else 0.0
    return Lifts(count, compacted, compacted * gravel.settle)


def gravel_line(
    need: GravelNeed,
    supplier: Supplier,
    show: Display,
    *,
    thickness: float | None = None,
    over_soil: bool = False,
) -> OrderLine:
    """Turn the need into a line in the supplier's steps; ``thickness`` [m] adds the layers to the note.

    ``over_soil``: how much of the thickness is gravel is not known, dug soil is the rest.
    """
    sold = supplier.stone
    needed = need.needed_kg / sold.mass_kg
    quantity = to_buy(needed, sold.step)
    mass = quantity * sold.mass_kg
    return OrderLine(
        item=need.gravel.name,
        quantity=quantity,
        unit=sold.unit,
        computed=need.dry_kg / sold.mass_kg,
        needed=needed,
        step=sold.step,
        allowance=f"{_percent(need.moisture)} water, {_percent(need.waste)} waste",
        reason="stone is weighed with its water; some is lost at the edges, in low spots and in the tipping",
        mass_kg=mass,
        note=_note(need, supplier, show, mass, thickness or 0.0, over_soil=over_soil),
        loose_m3=_loose_bought(need, mass),
        spread=(need.dry_range_kg[0] / sold.mass_kg, need.dry_range_kg[1] / sold.mass_kg),
    )


def _loose_bought(need: GravelNeed, mass: float) -> float:
    """Give the loose volume [m³] of the mass bought [kg], which is more than what is needed."""
    return need.loose.m3 * mass / need.wet_kg if need.wet_kg else 0.0


def _note(
    need: GravelNeed, supplier: Supplier, show: Display, mass: float, thickness: float, *, over_soil: bool
) -> str:
    loads = loads_of(supplier.truck, loose_m3=_loose_bought(need, mass), mass_kg=mass)
    payload = f" of up to {show.mass(supplier.truck.payload)}" if supplier.truck.payload else ""
    parts = [
        f"{show.volume(need.volume.m3)} compacted takes {show.volume(need.loose.m3)} loose",
        f"{_counted(loads.count, supplier.truck.name + ' load')}{payload}, limited by {loads.limit}",
    ]
    if thickness:
        lifts = lifts_for(thickness, need.gravel, supplier.lift)
        layers = f"{_counted(lifts.count, 'layer')} of {show.depth(lifts.compacted)}"
        if over_soil:
            parts.append(f"with the soil that is filled in first, compact in {layers}")
        else:
            parts.append(f"compact in {layers}, each spread {show.depth(lifts.loose)} deep")
    return "; ".join(parts)


def _counted(count: int, thing: str) -> str:
    return f"{count} {thing}" + ("" if count == 1 else "s")


def _percent(fraction: float) -> str:
    return f"{fraction * 100:.3g} %"


# What a whole order weighs, and how often a vehicle goes for it.


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


SPARE_STAKES = 4
"""Stakes that split or are lost (common practice, no source)."""

STRING_ALLOWANCE = 0.10
"""String for knots and ties on top of what is stretched [-] (common practice, no source)."""

STRING_BEYOND = 4.0 * M_PER_FT
"""String runs on to the batter boards behind each corner [m] (common practice, no source)."""


def marking_lines(building: Outline, stakes: int, show: Display) -> tuple[OrderLine, ...]:
    """Give the stakes and the string for a building; ``stakes`` are those on the sheet for setting out.

    The string runs along each side and on to its batter boards, and once across from corner to corner both
    ways to check the square.
    """
    return _stakes(stakes), _string(_string_length(building), show)


def _string_length(building: Outline) -> float:
    """Give the string that is stretched [m]; ``bounds`` would change with the turn, so corners are used."""
    corners = building.rings[0]
    across = max(math.dist(a, b) for a in corners for b in corners)
    return building.perimeter + 2.0 * STRING_BEYOND * len(building.corners) + 2.0 * across


def _stakes(count: int) -> OrderLine:
    return OrderLine(
        item="stakes",
        quantity=float(count + SPARE_STAKES),
        unit="pieces",
        computed=float(count),
        needed=float(count + SPARE_STAKES),
        step=1.0,
        allowance=f"{SPARE_STAKES} spare",
        reason="one for each stake on the sheet for setting out, batter boards included; some split",
        mass_kg=0.5 * (count + SPARE_STAKES),
        note="and marking paint or flags",
    )


def _string(length: float, show: Display) -> OrderLine:
    roll = 250.0 * M_PER_FT if show.us else 50.0
    computed, needed = length / roll, length * (1.0 + STRING_ALLOWANCE) / roll
    rolls = to_buy(needed, 1.0)
    return OrderLine(
        item=f"mason's string, roll of {show.distance(roll)}",
        quantity=rolls,
        unit="rolls",
        computed=computed,
        needed=needed,
        step=1.0,
        allowance=f"{STRING_ALLOWANCE * 100:.0f} % for knots, whole rolls",
        reason="a string on batter boards is tied at both ends, and knots are cut off",
        mass_kg=0.15 * rolls,
        note=f"{show.distance(length)} along the sides to the batter boards and across both ways",
    )
