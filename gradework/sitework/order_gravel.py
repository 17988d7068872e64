"""Stone for a compacted volume: dry mass, water, waste, what to tip, loads, layers; its line on the order."""

from __future__ import annotations

from dataclasses import dataclass

from gradework.earthwork.conditions import CompactedVolume, LooseVolume
from gradework.earthwork.materials import Gravel
from gradework.errors import CheckError
from gradework.sitework.order import OrderLine, to_buy
from gradework.sitework.supplier import Supplier, loads_of, whole_steps
from gradework.units import Display
from gradework.units.bulk import KG_PER_SHORT_TON, cubic_yards, short_tons_per_cubic_yard


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
