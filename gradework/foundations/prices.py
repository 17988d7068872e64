"""One list of prices and of hours for all foundations, so that a comparison compares like with like."""

from __future__ import annotations

from dataclasses import dataclass, field

from gradework.earthwork.materials import COVER_STONE, DEFAULT_GRAVEL, DEFAULT_SOIL, Gravel, Soil
from gradework.foundations.buying.pad_prices import EdgePrices, PadPrices
from gradework.foundations.piers.spec import PierPrices
from gradework.foundations.slab.quantities import ConcreteSale
from gradework.foundations.slab.spec import SlabPrices
from gradework.units.amounts import KG_PER_SHORT_TON

NOT_COUNTED = ("hour", "plate_day", "laser_day", "excavator_day")
"""The prices that are no money where the job does not give them, in place of one that is made up."""


@dataclass(frozen=True, slots=True)
class PriceList:
    """Money: ``dig`` per m³ in place, ``haul`` per m³ loose, ``gravel`` per kg on the scale, the rest per m².

    ``earth`` is per m³ loose, delivered; ``boards`` and ``forms`` per m² of face; ``film``, ``mesh``,
    ``fabric`` and ``floor_sheets`` per m² of whole rolls and sheets; ``edge`` what holds a pad besides
    boards; ``anchor`` each, ``shims`` a pair, ``setout_stakes`` and ``string`` a piece and a roll,
    ``seed`` per kg, ``gutter`` per 10 ft, ``downspout`` each with its elbows, ``lumber`` per m³ of
    nominal size; ``hour`` of one person's work, and a day of what is hired: None is not counted. ``water``
    replaces what stone holds of it by default [-]. ``date`` says from when the prices are; the defaults are
    invented, and ``invented`` says so wherever they are shown.
    """

    dig: float = 30.0
    haul: float = 12.0
    gravel: float = 38.0 / KG_PER_SHORT_TON
    earth: float = 22.0
    boards: float = 38.0
    forms: float = 24.0
    film: float = 1.3
    mesh: float = 4.5
    fabric: float = 1.2
    anchor: float = 28.0
    shims: float = 1.5
    setout_stakes: float = 1.0
    string: float = 8.0
    seed: float = 9.0
    gutter: float = 14.0
    downspout: float = 22.0
    lumber: float = 530.0
    floor_sheets: float = 16.0
    hour: float | None = None
    plate_day: float | None = None
    laser_day: float | None = None
    excavator_day: float | None = None
    concrete: ConcreteSale = field(default_factory=ConcreteSale)
    edge: EdgePrices = field(default_factory=EdgePrices)
    water: float | None = None
    date: str = "January 2026"
    invented: bool = True

    def each(self, key: str) -> float:
        """Give the money for one of what is paid by a key of ``PAID_FOR``: kg, m³, m² or piece.

        >>> PriceList().each("pins"), PriceList().each("concrete")
        (4.0, 235.0)
        """
        sale = self.concrete
        of_concrete = {"concrete": sale.mix_price, "short_load": sale.short_charge}
        of_concrete["concrete_bag"] = sale.bag_price
        if key in of_concrete:
            return of_concrete[key]
        if key in NOT_COUNTED:
            return float(getattr(self, key) or 0.0)
        found = getattr(self, key, None)
        return float(getattr(self.edge, key) if found is None else found)

    def dry(self, gravel: Gravel = DEFAULT_GRAVEL) -> float:
        """Give the money for 1 kg of dry gravel: the scale weighs its water, too."""
        water = gravel.moisture.value if self.water is None else self.water
        return self.gravel * (1.0 + water)

    def gravel_in_place(self, gravel: Gravel = DEFAULT_GRAVEL) -> float:
        """Give the money for 1 m³ of gravel as compacted."""
        return self.dry(gravel) * gravel.compacted.value

    def digging(self, soil: Soil = DEFAULT_SOIL) -> float:
        """Give the money for 1 m³ dug in place and hauled away as it swells."""
        return self.dig + self.haul * soil.swell.value

    def for_pad(self, gravel: Gravel = DEFAULT_GRAVEL) -> PadPrices:
        """Give the prices a gravel pad needs."""
        return PadPrices(self.dig, self.haul, self.dry(gravel), self.boards, self.edge)

    def for_piers(self, gravel: Gravel = DEFAULT_GRAVEL, soil: Soil = DEFAULT_SOIL) -> PierPrices:
        """Give the prices piers need; units carry their own."""
        stone = self.gravel_in_place(COVER_STONE)
        return PierPrices(
            self.gravel_in_place(gravel), self.digging(soil), self.invented, stone, self.fabric, self.anchor
        )

    def for_slab(self, gravel: Gravel = DEFAULT_GRAVEL, soil: Soil = DEFAULT_SOIL) -> SlabPrices:
        """Give the prices a slab needs."""
        return SlabPrices(
            self.gravel_in_place(gravel),
            self.digging(soil),
            self.film,
            self.mesh,
            self.forms,
            self.haul * soil.swell.value,
            self.earth,
            self.concrete,
            self.invented,
        )
