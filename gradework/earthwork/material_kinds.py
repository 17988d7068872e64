"""What a material is: stone that settles when compacted, soil that swells when dug."""

from __future__ import annotations

from dataclasses import dataclass, replace

from gradework.earthwork.conditions import (
    BankDensity,
    BankVolume,
    CompactedDensity,
    CompactedVolume,
    Figure,
    LooseDensity,
    LooseVolume,
)
from gradework.units import QuantityError

OWN_FIGURE_SLACK = 0.05
"""A user's own figure may lie this far (as a fraction) outside every published figure, no further."""


class MaterialError(QuantityError):
    """A material nobody knows, or a figure that cannot belong to it: ``found``, ``expected``, ``mend``."""


@dataclass(frozen=True, slots=True)
class Gravel:
    """Stone sold by weight for pads, beds and base courses.

    ``compacted`` and ``loose`` are dry densities [kg/m³], each for its own condition only; ``moisture`` is
    the water the load carries, as a fraction of the dry mass [-]; ``settle_low`` and ``settle_high`` enclose
    ``settle`` [-].
    """

    key: str
    name: str
    also: tuple[str, ...]
    compacted: CompactedDensity
    loose: LooseDensity
    settle_low: float
    settle_high: float
    moisture: Figure

    @property
    def settle(self) -> float:
        """Loose volume to tip per compacted volume wanted [-]; 1.25 means it settles by a fifth."""
        return self.compacted.value / self.loose.value

    def to_loose(self, volume: CompactedVolume) -> LooseVolume:
        """Give the loose volume [m³] to tip for a compacted volume [m³]; the dry mass stays the same."""
        return LooseVolume(self.compacted.mass(volume) / self.loose.value)

    def to_compacted(self, volume: LooseVolume) -> CompactedVolume:
        """Give the compacted volume [m³] that a loose volume [m³] settles to."""
        return CompactedVolume(self.loose.mass(volume) / self.compacted.value)

    def with_compacted(self, kg_per_m3: float, source: str = "given by the user") -> Gravel:
        """Give the same stone with the user's own compacted dry density [kg/m³].

        A figure more than 5 % outside everything published for this stone raises ``MaterialError``: the usual
        cause is a loose figure (1.4 to 1.5 tons per cubic yard) taken for a compacted one. The loose density
        moves with it, so that the settlement stays.
        """
        least = self.compacted.low * (1.0 - OWN_FIGURE_SLACK)
        most = self.compacted.high * (1.0 + OWN_FIGURE_SLACK)
        if not least <= kg_per_m3 <= most:
            raise MaterialError(
                f"{kg_per_m3:.0f} kg/m³ as the compacted density of {self.name}",
                f"{least:.0f} to {most:.0f} kg/m³",
                "ask the supplier for the compacted dry density; the weight per loose yard or metre in the "
                "truck is about a fifth lower and would order too little",
            )
        scale = kg_per_m3 / self.compacted.value
        loose = LooseDensity(
            self.loose.value * scale,
            self.loose.low * scale,
            self.loose.high * scale,
            f"moved with the compacted density: {self.loose.source}",
            "derived",
        )
        compacted = CompactedDensity(kg_per_m3, kg_per_m3, kg_per_m3, source, "judgement")
        return replace(self, compacted=compacted, loose=loose)


@dataclass(frozen=True, slots=True)
class Soil:
    """Ground that is dug: how it swells, what it makes when compacted again, what it weighs.

    ``swell`` is loose over bank volume [-], ``compaction`` compacted over bank volume [-] (above 1 for rock),
    ``bank`` the density in place [kg/m³]; wet ground stands at its high end.
    """

    key: str
    name: str
    also: tuple[str, ...]
    swell: Figure
    compaction: Figure
    bank: BankDensity

    def to_loose(self, volume: BankVolume) -> LooseVolume:
        """Give the loose heap [m³] dug from a volume in place [m³]."""
        return LooseVolume(volume_of(volume, BankVolume) * self.swell.value)

    def to_compacted(self, volume: BankVolume) -> CompactedVolume:
        """Give the compacted fill [m³] made from a volume in place [m³]."""
        return CompactedVolume(volume_of(volume, BankVolume) * self.compaction.value)

    def to_bank(self, volume: CompactedVolume | LooseVolume) -> BankVolume:
        """Give the volume in place [m³] to dig for a compacted fill, or the one a loose heap came from."""
        if isinstance(volume, CompactedVolume):
            return BankVolume(volume.m3 / self.compaction.value)
        return BankVolume(volume_of(volume, LooseVolume) / self.swell.value)


def volume_of(volume: BankVolume | LooseVolume | CompactedVolume, wanted: type) -> float:
    """Return the cubic metres of a volume that stands in the wanted condition; else raise ``TypeError``."""
    if type(volume) is not wanted:
        raise TypeError(f"needs a {wanted.__name__}, not {type(volume).__name__}")
    return volume.m3
