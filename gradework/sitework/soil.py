"""The soil that is dug: in place, loose on the heap, and how often the truck or the wheelbarrow goes."""

from __future__ import annotations

from dataclasses import dataclass

from gradework.earthwork.conditions import BankVolume, LooseVolume
from gradework.earthwork.materials import Soil
from gradework.sitework.supplier import Carrier, Loads, loads_of


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
