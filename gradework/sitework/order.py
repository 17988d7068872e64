"""The order: one line for each thing to buy, rounded up to what is sold; stone, soil, stakes, the loads."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.conditions import BankVolume, CompactedVolume, LooseVolume
from gradework.earthwork.materials import Gravel, Soil
from gradework.errors import CheckError
from gradework.foundations.buying.money import SHOP_OF, Amount, Paid, summed
from gradework.sitework.supplier import Loads, Supplier, loads_of, whole_steps
from gradework.units.amounts import (
    KG_PER_LB,
    KG_PER_SHORT_TON,
    KG_PER_TONNE,
    M3_PER_YD3,
    M_PER_FT,
    cubic_yards,
    short_tons_per_cubic_yard,
)
from gradework.units.display import METRIC, Display, counted

if TYPE_CHECKING:
    from gradework.foundations.prices import PriceList


@dataclass(frozen=True, slots=True)
class Spoil:
    """Soil taken out: its volume in place and loose [m³], and how often each carrier goes."""

    bank: BankVolume
    loose: LooseVolume
    loads: tuple[Loads, ...]


def dig_out(bank: BankVolume, soil: Soil, supplier: Supplier) -> Spoil:
    """Follow a volume in place [m³] out of the ground into the truck, or the wheelbarrow.

    Loads count with the mass of wet ground, so that no truck is overloaded after rain.
    """
    loose, wet = soil.to_loose(bank), bank.m3 * soil.bank.high
    trucks = supplier.tipped(loose_m3=loose.m3, mass_kg=wet)
    return Spoil(bank, loose, (trucks, loads_of(supplier.barrow, loose_m3=loose.m3, mass_kg=wet)))


class Part(NamedTuple):
    """What of a line goes to one ``place``: bare and with its allowance, in the line's unit, and
    ``compacted`` [m³]."""

    place: str
    computed: float
    needed: float
    compacted: float


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One thing to buy.

    ``computed`` is the bare amount, ``needed`` the amount with its allowance, ``quantity`` what is bought:
    ``needed`` rounded up to the next whole ``step``, all in ``unit``. ``allowance`` says in words what was
    added and ``reason`` why; ``mass_kg`` [kg] is what the bought amount weighs on the way home; ``loose_m3``
    [m³] what stone takes up on the truck; ``longest`` [m] is what has to lie on it; ``by_itself`` marks what
    comes in a truck of its own; ``paid`` by which prices what is bought is paid; ``kind`` is that of stone or
    earth, ``place`` where it goes, ``compacted`` [m³] what stone makes there; of stone for several places
    ``parts`` tell what goes where, and it has no one place. ``chance`` [-] is how often ``needed`` suffices
    at least, where that was worked out. Raises
    ``CheckError`` when the bought amount is not at least the needed one and less than one step above it.
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
    loose_m3: float = 0.0
    by_itself: bool = False
    paid: tuple[Paid, ...] = ()
    longest: float = 0.0
    kind: str = ""
    place: str = ""
    compacted: float = 0.0
    chance: float | None = None
    parts: tuple[Part, ...] = ()

    def paid_by(self, key: str, amount: float, each: float | None = None) -> OrderLine:
        """Give the line with one more price that it is paid by."""
        return replace(self, paid=(*self.paid, Paid(key, amount, each)))

    @property
    def shop(self) -> str:
        """Who sells it, by what it is paid by; empty where it is paid by nothing."""
        return SHOP_OF[self.paid[0].key] if self.paid else ""

    @property
    def in_si(self) -> tuple[float, str]:
        """What is bought, in "kg" or "m³"; things that are counted as they are, with their own unit."""
        per, unit = self.si_unit
        return self.quantity * per, unit

    @property
    def si_unit(self) -> tuple[float, str]:
        """How much of which unit one ``unit`` is: of "kg" or "m³", or one of its own where it is counted."""
        return _SI.get(self.unit, (1.0, self.unit))

    def __post_init__(self) -> None:
        figures = (self.quantity, self.computed, self.needed, self.step, self.mass_kg)
        # bought in whole steps: enough, and less than one step too much
        slack = 1e-9 * max(1.0, abs(self.needed))
        short = self.quantity < self.needed - slack
        over = self.quantity >= self.needed + self.step
        if not all(math.isfinite(v) and v >= 0.0 for v in figures) or short or over:
            raise CheckError(
                f"order of {self.item}: bought {self.quantity} {self.unit} for {self.needed} needed "
                f"in steps of {self.step}"
            )


def whole_line(
    item: str, count: int, unit: str, *, allowance: str, reason: str, mass: float, note: str = "",
    computed: float | None = None,
) -> OrderLine:  # fmt: skip
    """Give the line for things sold whole: ``mass`` [kg] of all, ``computed`` where it is not the count."""
    bare = float(count if computed is None else computed)
    return OrderLine(item, float(count), unit, bare, float(count), 1.0, allowance, reason, mass, note)


_SI = {
    "short tons": (KG_PER_SHORT_TON, "kg"),
    "tons": (KG_PER_SHORT_TON, "kg"),
    "tonnes": (KG_PER_TONNE, "kg"),
    "lb": (KG_PER_LB, "kg"),
    "kg": (1.0, "kg"),
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
    what it is for, but for stone, which is bought together (``order_together.py``). ``floor`` [m²] is framed
    with what is bought.
    """

    lines: tuple[OrderLine, ...] = ()
    spoil: Spoil | None = None
    floor: float = 0.0

    def __repr__(self) -> str:
        return f"<Order: {counted(len(self.lines), 'lines')}, {METRIC.mass(self.mass_kg)}>"

    @property
    def mass_kg(self) -> float:
        """Mass of everything bought [kg]."""
        return math.fsum(line.mass_kg for line in self.lines)

    def plus(self, *lines: OrderLine) -> Order:
        """Give the order with more lines; a line that buys nothing is left out."""
        return replace(self, lines=(*self.lines, *(line for line in lines if line.quantity > 0.0)))


def paid_for(order: Order, dug: float, prices: PriceList) -> dict[str, Amount]:
    """Sum up what an order buys, ``dug`` [m³ in place] and what of it is hauled, by the keys of ``PAID_FOR``.

    Nothing else is money: what is compared is what is bought.
    """
    hauled = 0.0 if order.spoil is None else order.spoil.loose.m3
    bought = summed((paid for line in order.lines for paid in line.paid), prices)
    return {"dig": Amount(dug, prices.dig), "haul": Amount(hauled, prices.haul), **bought}


class More(NamedTuple):
    """Stone on top of what is planned, compacted [m³], and the chance [-] that the order then suffices."""

    m3: float
    sure: float


@dataclass(frozen=True, slots=True)
class GravelNeed:
    """What a compacted volume takes.

    ``dry_kg`` is the stone alone, ``wet_kg`` as the weighbridge sees it, ``needed_kg`` with what the survey
    leaves open and waste on top [kg]; ``loose`` is the volume off the truck without both [m³]. ``more`` [-]
    is what the survey leaves open, as a part of the stone, ``sure`` [-] the chance that it then suffices.
    """

    gravel: Gravel
    volume: CompactedVolume
    more: float
    sure: float
    moisture: float
    waste: float
    dry_kg: float
    wet_kg: float
    needed_kg: float
    loose: LooseVolume


def gravel_need(
    volume: CompactedVolume, gravel: Gravel, supplier: Supplier, more: More | None = None
) -> GravelNeed:
    """Work out the stone for a compacted volume [m³]; only the compacted density ever meets it.

    ``more``: what comes on top because the survey leaves it open.

    Raises ``TypeError`` for a volume in another condition, ``CheckError`` when the same reckoning in cubic
    yards and short tons disagrees.
    """
    moisture = gravel.moisture.value if supplier.moisture is None else supplier.moisture
    dry = gravel.compacted.mass(volume)
    wet = dry * (1.0 + moisture)
    part = more.m3 / volume.m3 if more is not None and volume.m3 > 0.0 else 0.0
    needed = wet * (1.0 + part) * (1.0 + supplier.waste)
    # worked out a second time in US units, where a confused density would show
    again = cubic_yards(volume.m3) * short_tons_per_cubic_yard(gravel.compacted.value)
    again *= (1.0 + part) * (1.0 + moisture) * (1.0 + supplier.waste) * KG_PER_SHORT_TON
    if abs(again - needed) > 1e-12 * needed:
        raise CheckError(f"{volume.m3} m³ of {gravel.name}: {needed} kg in metric, {again} kg in US units")
    sure = 0.0 if more is None or volume.m3 <= 0.0 else more.sure  # nothing is ordered of nothing
    loose = gravel.to_loose(volume)
    return GravelNeed(gravel, volume, part, sure, moisture, supplier.waste, dry, wet, needed, loose)


def layers_of(thickness: float, lift: float) -> tuple[int, float]:
    """Part a compacted thickness [m] into the fewest equal layers no thicker than ``lift``: count, each [m].

    >>> layers_of(0.3, 0.1016)
    (3, 0.09999999999999999)
    """
    count = whole_steps(thickness, lift)
    return count, thickness / count if count else 0.0


def gravel_line(
    need: GravelNeed,
    supplier: Supplier,
    show: Display,
    *,
    thickness: float | None = None,
    over_soil: bool = False,
    place: str = "base",
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
        allowance=_allowance(need),
        reason="the scale weighs the water too; some stone is lost at the edges and in the pile",
        mass_kg=mass,
        note=_note(need, supplier, show, thickness or 0.0, over_soil=over_soil),
        loose_m3=_loose_bought(need, mass),
        paid=(Paid("gravel", mass),),
        kind=need.gravel.name,
        compacted=need.volume.m3,
        place=place,
        chance=need.sure or None,
    )


def _loose_bought(need: GravelNeed, mass: float) -> float:
    """Give the loose volume [m³] of the mass bought [kg], which is more than what is needed."""
    return need.loose.m3 * mass / need.wet_kg if need.wet_kg else 0.0


def _note(need: GravelNeed, supplier: Supplier, show: Display, thickness: float, *, over_soil: bool) -> str:
    parts = [f"{show.volume(need.volume.m3)} compacted takes {show.volume(need.loose.m3)} loose"]
    if thickness:
        count, compacted = layers_of(thickness, supplier.lift)
        layers = f"{counted(count, 'layers')} of {show.depth(compacted)}"
        if over_soil:
            parts.append(f"compact in {layers}, the soil that goes back first included")
        else:
            parts.append(
                f"compact in {layers}, each spread {show.depth(compacted * need.gravel.settle)} deep"
            )
    return "; ".join(parts)


def _allowance(need: GravelNeed) -> str:
    told = f"{_percent(need.moisture)} water, {_percent(need.waste)} waste"
    if not need.sure:
        return told
    if need.more < 5e-4:
        return f"nothing more to suffice {often(need.sure)}, {told}"
    return f"{need.more * 100:.1f} % to suffice {often(need.sure)}, {told}"


def often(sure: float) -> str:
    """Say how often something suffices.

    >>> often(0.9), often(0.75)
    ('9 times in 10', '75 times in 100')
    """
    tenths = round(sure * 10.0, 6)
    return f"{tenths:.0f} times in 10" if tenths == round(tenths) else f"{sure * 100:.0f} times in 100"


def _percent(fraction: float) -> str:
    return f"{fraction * 100:.3g} %"


def loads_text(loads: Loads, show: Display, mass: float) -> str:
    """Say who goes how often, with how much at the most, and what fills it first.

    >>> from gradework.sitework.supplier import Carrier
    >>> loads_text(Loads(Carrier("tandem", 8.0, 11000.0), 2, "weight"), METRIC, 18000.0)
    '2 tandem loads of up to 11.00 tonnes, 9.00 tonnes each, limited by weight'
    """
    carrier = loads.carrier
    payload = f" of up to {show.mass(carrier.payload)}" if carrier.payload else ""
    limit = f", {show.mass(mass / loads.count)} each, limited by {loads.limit}" if loads.count > 1 else ""
    return f"{counted(loads.count, carrier.name + ' loads')}{payload}{limit}"


SEED = 6.0 * KG_PER_LB / (1000.0 * M_PER_FT**2)
"""Grass seed on bare ground [kg/m²]: 6 lb per 1,000 ft² (common practice, no source)."""


def seed_line(area: float, show: Display) -> OrderLine:
    """Give the grass seed for ground that was dug bare [m²], by the pound or half kilogram."""
    mass, per, step = area * SEED, KG_PER_LB if show.us else 1.0, 1.0 if show.us else 0.5
    bought = to_buy(mass / per, step)
    return OrderLine(
        item="grass seed", quantity=bought, unit="lb" if show.us else "kg", computed=mass / per,
        needed=mass / per, step=step, allowance=f"sold by the {'pound' if show.us else 'half kilogram'}",
        reason="rain washes bare ground out until grass holds it; stone or sod does at once",
        mass_kg=bought * per, note=f"for the {show.area(area)} that is laid bare; cover it with straw",
        paid=(Paid("seed", bought * per),),
    )  # fmt: skip
