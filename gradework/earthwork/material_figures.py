"""The stones and soils that are known, each figure with its range, its source and how sure it is."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from gradework.earthwork.conditions import BankDensity, CompactedDensity, Figure, LooseDensity
from gradework.earthwork.material_kinds import Gravel, Soil

_WSDOT = "WSDOT Design Manual M 22-01, Exhibit 620-1 (Nov 2015; same Oct 2023), dry"
_OHIO = "Ohio DOT 2013 C&MS, Item 411, Table 411.04-1"
_ARMY = "US Army TM 9-2320-366-10-1, Table 2-15"
_FM = "FM 5-434 (15 June 2000), Table 1-1"
_WET = Figure(0.05, 0.02, 0.06, "free water in crushed base as delivered, common practice", "memory")
_DRAINED = Figure(0.02, 0.01, 0.04, "clean stone drains; less than crushed base", "judgement")
_NO_RANGE = "; no range found"
_MEAN_SETTLE = "no loose figure published for it; compacted figure over 1.275, the middle of 1.25 to 1.30"

_GRAVELS = (
    Gravel(
        "dense-graded",
        "dense-graded crushed stone",
        (
            "crushed base",
            "base course",
            "road base",
            "crusher run",
            "aggregate base",
            "quarry process",
            "dga",
        ),
        CompactedDensity(2195, 2017, 2314, f"{_WSDOT}: 3 700 lb/yd³; range {_OHIO}, 3 400 to 3 900", "seen"),
        LooseDensity(1750, 1522, 1839, f"{_WSDOT}: 2 950 lb/yd³ in the truck; range Army and WSDOT", "seen"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "fine-graded",
        "fine dense-graded crushed stone",
        ("crushed top course", "top course", "stone dust base"),
        CompactedDensity(2195, 2017, 2314, f"{_WSDOT}: 3 700 lb/yd³; range {_OHIO}, 3 400 to 3 900", "seen"),
        LooseDensity(1691, 1522, 1750, f"{_WSDOT}: 2 850 lb/yd³ in the truck", "seen"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "clean",
        "clean crushed stone",
        (
            "clean stone",
            "57 stone",
            "no. 57 stone",
            "67 stone",
            "washed stone",
            "drain rock",
            "clear stone",
            "20 mm clean",
        ),
        CompactedDensity(
            1630,
            1540,
            1720,
            "between Army, PCA and WSDOT permeable ballast; 2 600 to 2 900 lb/yd³",
            "judgement",
        ),
        LooseDensity(
            1522, 1522, 1661, f"{_ARMY}: crushed rock 95 lb/ft³; to WSDOT permeable ballast", "seen"
        ),
        1.05,
        1.10,
        _DRAINED,
    ),
    Gravel(
        "gravel-base",
        "gravel base",
        ("bank-run gravel", "pit-run gravel", "natural gravel", "gravel"),
        CompactedDensity(2195, 2017, 2254, f"{_WSDOT}: use 3 700, 3 400 to 3 800 lb/yd³", "seen"),
        LooseDensity(1762, 1522, 1762, f"{_ARMY}: gravel 110 lb/ft³; gravel and sand 95", "seen"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "ballast",
        "coarse graded ballast",
        ("ballast", "coarse crushed base"),
        CompactedDensity(2314, 2254, 2314, f"{_WSDOT}: 3 900 lb/yd³; low {_OHIO} crushed stone", "seen"),
        LooseDensity(1839, 1762, 1839, f"{_WSDOT}: 3 100 lb/yd³ in the truck", "seen"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "crushed-stone",
        "crushed stone for stabilized courses",
        ("stabilized crushed stone",),
        CompactedDensity(2254, 2195, 2314, f"{_OHIO}: 3 800 lb/yd³", "seen"),
        LooseDensity(1768, 1734, 1803, _MEAN_SETTLE, "derived"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "crushed-gravel",
        "crushed gravel",
        ("stabilized crushed gravel",),
        CompactedDensity(2314, 2195, 2314, f"{_OHIO}: 3 900 lb/yd³", "seen"),
        LooseDensity(1815, 1780, 1851, _MEAN_SETTLE, "derived"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "recycled-concrete",
        "recycled concrete",
        ("crushed concrete", "recycled concrete aggregate"),
        CompactedDensity(
            2017,
            1900,
            2195,
            f"{_OHIO}: 3 400 lb/yd³; range our judgement (lighter than stone: FHWA-RD-97-148)",
            "seen",
        ),
        LooseDensity(1582, 1552, 1614, _MEAN_SETTLE, "derived"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "recycled-asphalt",
        "recycled asphalt",
        ("asphalt millings", "millings", "asphalt planings"),
        CompactedDensity(2373, 2195, 2373, f"{_OHIO}: 4 000 lb/yd³", "seen"),
        LooseDensity(1861, 1825, 1898, _MEAN_SETTLE, "derived"),
        1.25,
        1.30,
        _WET,
    ),
    Gravel(
        "type-1",
        "type 1 sub-base",
        ("type 1", "mot type 1", "sub-base"),
        CompactedDensity(2150, 2000, 2300, "UK trade practice", "memory"),
        LooseDensity(1700, 1600, 1800, "UK trade practice", "memory"),
        1.25,
        1.30,
        _WET,
    ),
)

_SOILS = (
    Soil(
        "sand",
        "sand",
        ("sandy soil",),
        Figure(1.11, 1.10, 1.15, f"{_FM}: 111 loose; range from textbooks", "quoted"),
        Figure(0.95, 0.95, 0.95, f"{_FM}: 95 compacted{_NO_RANGE}", "quoted"),
        BankDensity(
            1689, 1602, 1922, f"{_ARMY}: 2 565 lb/yd³ dry loose x 1.11; to its wet figure", "derived"
        ),
    ),
    Soil(
        "loam",
        "loam",
        ("common earth", "earth", "topsoil", "garden soil", "soil", "sandy loam", "silt"),
        Figure(1.25, 1.20, 1.30, f"{_FM}; range from textbooks", "title seen"),
        Figure(0.90, 0.90, 0.90, f"{_FM}{_NO_RANGE}", "title seen"),
        BankDensity(
            1502, 1502, 1922, f"{_ARMY}: earth 2 025 lb/yd³ dry loose x 1.25; to mud, wet", "derived"
        ),
    ),
    Soil(
        "clay",
        "clay",
        ("heavy soil", "clay soil"),
        Figure(1.43, 1.30, 1.43, f"{_FM}; 1.30 dense clay, estimating textbook Ex. 9-2", "title seen"),
        Figure(0.90, 0.80, 0.90, f"{_FM}; 0.80 textbook problem (3 000 to 3 750 lb/yd³)", "title seen"),
        BankDensity(1780, 1602, 2017, "textbook problems: 3 000 lb/yd³; 100 lb/ft³ to 3 400 lb/yd³", "seen"),
    ),
    Soil(
        "sand-and-gravel",
        "sand and gravel",
        ("gravelly soil", "gravel soil", "sandy gravel"),
        Figure(1.15, 1.11, 1.15, "estimating textbook Ex. 9-3 (its Fig. 9.1)", "seen"),
        Figure(0.95, 0.95, 0.95, f"estimating textbook Ex. 9-3{_NO_RANGE}", "seen"),
        BankDensity(
            1750, 1602, 1922, f"{_ARMY}: 2 565 lb/yd³ dry loose x 1.15; to its wet figure", "derived"
        ),
    ),
    Soil(
        "rock",
        "blasted rock",
        ("rock", "broken rock"),
        Figure(1.50, 1.50, 1.50, f"{_FM}{_NO_RANGE}", "title seen"),
        Figure(1.30, 1.30, 1.30, f"{_FM}{_NO_RANGE}", "title seen"),
        BankDensity(2403, 2403, 2700, "estimating textbook: rock 150 lb/ft³; high our judgement", "seen"),
    ),
)

GRAVELS: Mapping[str, Gravel] = MappingProxyType({g.key: g for g in _GRAVELS})
SOILS: Mapping[str, Soil] = MappingProxyType({s.key: s for s in _SOILS})
