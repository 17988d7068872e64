"""One list of prices and of hours for all foundations, so that a comparison compares like with like."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from gradework.earthwork.materials import COVER_STONE, DEFAULT_GRAVEL, DEFAULT_SOIL, Gravel, Soil
from gradework.foundations.buying.pad_prices import EdgePrices, PadPrices
from gradework.foundations.piers.spec import PierPrices
from gradework.foundations.slab.quantities import ConcreteSale
from gradework.foundations.slab.spec import SlabPrices
from gradework.units.amounts import KG_PER_SHORT_TON

LABOUR: Mapping[str, tuple[float, float]] = {
    "digging": (1.5, 3.0),
    "gravel": (1.0, 2.0),
    "earth fill": (1.0, 2.0),
    "blocks": (0.06, 0.15),
    "concrete from bags": (4.0, 7.0),
    "concrete from a truck": (1.5, 3.0),
    "form boards": (1.0, 2.0),
    "timber frame": (1.0, 2.0),
    "edge stakes": (0.1, 0.25),
    "edge timbers": (2.0, 4.0),
    "drain pipe": (0.2, 0.5),
    "drain stone": (1.0, 2.0),
    "gutter": (0.5, 1.0),
    "steps": (0.5, 1.0),
    "ramp": (0.6, 1.2),
    "ground cover": (0.06, 0.15),
    "ground anchors": (0.3, 0.8),
    "vapor barrier": (0.02, 0.05),
    "welded wire mesh": (0.03, 0.08),
}
"""Hours of one person by hand, least and most: per m³ of digging in place, of gravel, drain stone or earth
compacted and of concrete, per block laid, anchor set, stake driven or step built, per 10 ft of pipe or
gutter, per m² of ramp, board face, timber face (pins and screws too), ground cover, vapor barrier and mesh.
Common practice, no source; the range is honest."""


@dataclass(frozen=True, slots=True)
class PriceList:
    """Money: ``dig`` per m³ in place, ``haul`` per m³ loose, ``gravel`` per kg on the scale, the rest per m².

    ``earth`` is per m³ loose, delivered; ``boards`` and ``forms`` per m² of face; ``film``, ``mesh`` and
    ``fabric`` per m² of whole rolls and sheets; ``edge`` what holds a pad besides boards; ``anchor`` each,
    ``shims`` a pair, ``setout_stakes`` and ``string`` a piece and a roll, ``seed`` per kg, ``gutter`` per
    10 ft, ``downspout`` each with its elbows, ``lumber`` per m³ of nominal size. ``water`` replaces
    what stone holds of it by default [-]. ``date`` says from when the prices are; the defaults are invented,
    and ``invented`` says so wherever they are shown.
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
