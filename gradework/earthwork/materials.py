"""What the ground and the pad are made of, by name: soils that swell when dug, stone that settles.

Figures are defaults with range, source and status (``docs/materials.md`` shows them all); a supplier's or a
laboratory's own figure is better. Nothing here orders anything.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import Literal, TypeVar

from gradework.earthwork.conditions import (
    BankDensity,
    BankVolume,
    CompactedDensity,
    CompactedVolume,
    Figure,
    LooseDensity,
    LooseVolume,
    Status,
)
from gradework.errors import visible
from gradework.units.numbers import QuantityError

# What a material is: stone that settles when compacted, soil that swells when dug.

OWN_FIGURE_SLACK = 0.05
"""A user's own figure may lie this far (as a fraction) outside every published figure, no further."""


class MaterialError(QuantityError):
    """A material nobody knows, or a figure that cannot belong to it: ``found``, ``expected``, ``fix``."""


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


# The stones and soils that are known, each figure with its range, its source and how sure it is.

_WSDOT = "WSDOT Design Manual M 22-01, Exhibit 620-1 (Nov 2015; same Oct 2023), dry"
_OHIO = "Ohio DOT 2013 C&MS, Item 411, Table 411.04-1"
_ARMY = "US Army TM 9-2320-366-10-1, Table 2-15"
_FM = "FM 5-434 (15 June 2000), Table 1-1"
_WET = Figure(0.05, 0.02, 0.06, "free water in crushed base as delivered, common practice", "memory")
_DRAINED = Figure(0.02, 0.01, 0.04, "clean stone drains; less than crushed base", "judgement")
_NO_RANGE = "; no range found"
_MEAN_SETTLE = "no loose figure published for it; compacted figure over 1.275, the middle of 1.25 to 1.30"

_Known = tuple[float, float, float, str, Status]
"""Value, low, high, source, status."""


def _stone(
    key: str,
    name: str,
    also: str,
    compacted: _Known,
    loose: _Known,
    settle: tuple[float, float] = (1.25, 1.30),
    moisture: Figure = _WET,
) -> Gravel:
    names = tuple(also.split(", "))
    return Gravel(key, name, names, CompactedDensity(*compacted), LooseDensity(*loose), *settle, moisture)


def _ground(key: str, name: str, also: str, swell: _Known, compaction: _Known, bank: _Known) -> Soil:
    names = tuple(also.split(", "))
    return Soil(key, name, names, Figure(*swell), Figure(*compaction), BankDensity(*bank))


_GRAVELS = (
    _stone(
        "dense-graded", "dense-graded crushed stone",
        "crushed base, base course, road base, crusher run, aggregate base, quarry process, dga",
        (2195, 2017, 2314, f"{_WSDOT}: 3 700 lb/yd³; range {_OHIO}, 3 400 to 3 900", "seen"),
        (1750, 1522, 1839, f"{_WSDOT}: 2 950 lb/yd³ in the truck; range Army and WSDOT", "seen"),
    ),
    _stone(
        "fine-graded", "fine dense-graded crushed stone", "crushed top course, top course, stone dust base",
        (2195, 2017, 2314, f"{_WSDOT}: 3 700 lb/yd³; range {_OHIO}, 3 400 to 3 900", "seen"),
        (1691, 1522, 1750, f"{_WSDOT}: 2 850 lb/yd³ in the truck", "seen"),
    ),
    _stone(
        "clean", "clean crushed stone",
        "clean stone, 57 stone, no. 57 stone, 67 stone, washed stone, drain rock, clear stone, 20 mm clean",
        (
            1630, 1540, 1720,
            "between Army, PCA and WSDOT permeable ballast; 2 600 to 2 900 lb/yd³", "judgement",
        ),
        (1522, 1522, 1661, f"{_ARMY}: crushed rock 95 lb/ft³; to WSDOT permeable ballast", "seen"),
        (1.05, 1.10), _DRAINED,
    ),
    _stone(
        "gravel-base", "gravel base", "bank-run gravel, pit-run gravel, natural gravel, gravel",
        (2195, 2017, 2254, f"{_WSDOT}: use 3 700, 3 400 to 3 800 lb/yd³", "seen"),
        (1762, 1522, 1762, f"{_ARMY}: gravel 110 lb/ft³; gravel and sand 95", "seen"),
    ),
    _stone(
        "ballast", "coarse graded ballast", "ballast, coarse crushed base",
        (2314, 2254, 2314, f"{_WSDOT}: 3 900 lb/yd³; low {_OHIO} crushed stone", "seen"),
        (1839, 1762, 1839, f"{_WSDOT}: 3 100 lb/yd³ in the truck", "seen"),
    ),
    _stone(
        "crushed-stone", "crushed stone for stabilized courses", "stabilized crushed stone",
        (2254, 2195, 2314, f"{_OHIO}: 3 800 lb/yd³", "seen"),
        (1768, 1734, 1803, _MEAN_SETTLE, "derived"),
    ),
    _stone(
        "crushed-gravel", "crushed gravel", "stabilized crushed gravel",
        (2314, 2195, 2314, f"{_OHIO}: 3 900 lb/yd³", "seen"),
        (1815, 1780, 1851, _MEAN_SETTLE, "derived"),
    ),
    _stone(
        "recycled-concrete", "recycled concrete", "crushed concrete, recycled concrete aggregate",
        (
            2017, 1900, 2195,
            f"{_OHIO}: 3 400 lb/yd³; range our judgement (lighter than stone: FHWA-RD-97-148)", "seen",
        ),
        (1582, 1552, 1614, _MEAN_SETTLE, "derived"),
    ),
    _stone(
        "recycled-asphalt", "recycled asphalt", "asphalt millings, millings, asphalt planings",
        (2373, 2195, 2373, f"{_OHIO}: 4 000 lb/yd³", "seen"),
        (1861, 1825, 1898, _MEAN_SETTLE, "derived"),
    ),
    _stone(
        "type-1", "type 1 sub-base", "type 1, mot type 1, sub-base",
        (2150, 2000, 2300, "UK trade practice", "memory"),
        (1700, 1600, 1800, "UK trade practice", "memory"),
    ),
)  # fmt: skip

_SOILS = (
    _ground(
        "sand", "sand", "sandy soil",
        (1.11, 1.10, 1.15, f"{_FM}: 111 loose; range from textbooks", "quoted"),
        (0.95, 0.95, 0.95, f"{_FM}: 95 compacted{_NO_RANGE}", "quoted"),
        (1689, 1602, 1922, f"{_ARMY}: 2 565 lb/yd³ dry loose x 1.11; to its wet figure", "derived"),
    ),
    _ground(
        "loam", "loam", "common earth, earth, topsoil, garden soil, soil, sandy loam, silt",
        (1.25, 1.20, 1.30, f"{_FM}; range from textbooks", "title seen"),
        (0.90, 0.90, 0.90, f"{_FM}{_NO_RANGE}", "title seen"),
        (1502, 1502, 1922, f"{_ARMY}: earth 2 025 lb/yd³ dry loose x 1.25; to mud, wet", "derived"),
    ),
    _ground(
        "clay", "clay", "heavy soil, clay soil",
        (1.43, 1.30, 1.43, f"{_FM}; 1.30 dense clay, estimating textbook Ex. 9-2", "title seen"),
        (0.90, 0.80, 0.90, f"{_FM}; 0.80 textbook problem (3 000 to 3 750 lb/yd³)", "title seen"),
        (1780, 1602, 2017, "textbook problems: 3 000 lb/yd³; 100 lb/ft³ to 3 400 lb/yd³", "seen"),
    ),
    _ground(
        "sand-and-gravel", "sand and gravel", "gravelly soil, gravel soil, sandy gravel",
        (1.15, 1.11, 1.15, "estimating textbook Ex. 9-3 (its Fig. 9.1)", "seen"),
        (0.95, 0.95, 0.95, f"estimating textbook Ex. 9-3{_NO_RANGE}", "seen"),
        (1750, 1602, 1922, f"{_ARMY}: 2 565 lb/yd³ dry loose x 1.15; to its wet figure", "derived"),
    ),
    _ground(
        "rock", "blasted rock", "rock, broken rock",
        (1.50, 1.50, 1.50, f"{_FM}{_NO_RANGE}", "title seen"),
        (1.30, 1.30, 1.30, f"{_FM}{_NO_RANGE}", "title seen"),
        (2403, 2403, 2700, "estimating textbook: rock 150 lb/ft³; high our judgement", "seen"),
    ),
)  # fmt: skip

GRAVELS: Mapping[str, Gravel] = MappingProxyType({g.key: g for g in _GRAVELS})
SOILS: Mapping[str, Soil] = MappingProxyType({s.key: s for s in _SOILS})

LAYBACK: Mapping[str, float] = MappingProxyType(
    {"sand": 1.5, "loam": 1.0, "clay": 1.0, "sand-and-gravel": 1.5, "rock": 1.0}
)
"""Run per rise of a face laid back, by soil [-]: loam, silt, broken rock are type B, sand and gravel type C
of 29 CFR 1926 subpart P, appendices A and B (seen). Clay counts as B: once disturbed it is never type A."""

DEFAULT_GRAVEL = GRAVELS["dense-graded"]
DEFAULT_SOIL = SOILS["loam"]
COVER_STONE = GRAVELS["clean"]

_Kind = TypeVar("_Kind", bound=Gravel | Soil)


def _plain(words: str) -> str:
    return " ".join(words.lower().replace("-", " ").replace("#", "no. ").split())


def _by_name(words: str, known: Mapping[str, _Kind], kind: str) -> _Kind:
    names: dict[str, _Kind] = {}
    for material in known.values():
        names.update({_plain(name): material for name in (material.key, material.name, *material.also)})
    wanted = _plain(words)
    if wanted in names:
        return names[wanted]
    near = difflib.get_close_matches(wanted, names, n=1, cutoff=0.5)
    fix = f"did you mean {names[near[0]].name!r}?" if near else "use one of these names"
    raise MaterialError(
        f"the {kind} {visible(words)!r}", "one of: " + ", ".join(m.name for m in known.values()), fix
    )


@cache
def find_gravel(words: str) -> Gravel:
    """Find a stone by its name in plain words, its key, or one of its other names; letter case is free.

    Raises ``MaterialError`` with the nearest name when nobody knows it.

    >>> find_gravel("Crusher run").name
    'dense-graded crushed stone'
    """
    return _by_name(words, GRAVELS, "gravel")


@cache
def find_soil(words: str) -> Soil:
    """Find a soil by its name in plain words, its key, or one of its other names; letter case is free.

    Raises ``MaterialError`` with the nearest name when nobody knows it.

    >>> find_soil("topsoil").swell.value
    1.25
    """
    return _by_name(words, SOILS, "soil")


def own_factor(name: Literal["swell", "compaction"], value: float) -> Figure:
    """Take a user's own soil factor [-]: a volume over the same soil's volume in place.

    A figure more than 5 % outside everything published for any soil raises ``MaterialError``: the usual cause
    is a change in per cent, or a shrinkage that was counted from the fill.
    """
    figures = [getattr(soil, name) for soil in SOILS.values()]
    least = min(figure.low for figure in figures) * (1.0 - OWN_FIGURE_SLACK)
    most = max(figure.high for figure in figures) * (1.0 + OWN_FIGURE_SLACK)
    if not least <= value <= most:
        state, example = ("loose", "1.25 for a quarter more") if name == "swell" else ("compacted", "0.9")
        raise MaterialError(
            f"{value:g} as the {name} of a soil",
            f"{least:.4g} to {most:.4g}",  # as exact as they are: what is told as allowed is allowed
            f"give the {state} volume over the volume in place, such as {example}",
        )
    return Figure(value, value, value, "given by the user", "judgement")


def with_factors(soil: Soil, swell: float | None = None, compaction: float | None = None) -> Soil:
    """Give the same soil with the user's own factors [-]; None keeps the default. See ``own_factor``.

    >>> with_factors(DEFAULT_SOIL, swell=1.3).swell.value
    1.3
    """
    if swell is not None:
        soil = replace(soil, swell=own_factor("swell", swell))
    if compaction is not None:
        soil = replace(soil, compaction=own_factor("compaction", compaction))
    return soil
