"""Densities and soil factors against the tables they come from (restated in their own units)."""

from __future__ import annotations

import pytest

from gradework.earthwork.conditions import BankVolume, CompactedVolume, LooseVolume
from gradework.earthwork.materials import GRAVELS, SOILS

KG_PER_LB = 0.45359237
M3_PER_YD3 = 0.9144**3
M3_PER_FT3 = 0.3048**3
KEPT_TO_A_KILOGRAM = 0.5 / 1500  # densities are kept in whole kg/m³


def lb_per_yd3(density_kg_m3: float) -> float:
    return density_kg_m3 * M3_PER_YD3 / KG_PER_LB


@pytest.mark.parametrize(
    ("key", "lb", "tons"),
    [  # compacted, lb/yd³ and US tons/yd³
        ("dense-graded", 3700, 1.85),  # WSDOT M 22-01 Exhibit 620-1, crushed surfacing base course
        ("fine-graded", 3700, 1.85),  # the same, crushed surfacing top course
        ("ballast", 3900, 1.95),  # the same, ballast
        ("gravel-base", 3700, 1.85),  # the same, gravel base ("use 3 700")
        ("crushed-stone", 3800, 1.90),  # Ohio DOT 2013 C&MS Table 411.04-1
        ("crushed-gravel", 3900, 1.95),  # the same
        ("recycled-concrete", 3400, 1.70),  # the same
        ("recycled-asphalt", 4000, 2.00),  # the same
    ],
)
def test_compacted_tons_per_cubic_yard(key: str, lb: float, tons: float) -> None:
    mass = GRAVELS[key].compacted.mass(CompactedVolume(M3_PER_YD3))
    assert mass / KG_PER_LB == pytest.approx(lb, rel=KEPT_TO_A_KILOGRAM)
    assert mass / KG_PER_LB / 2000 == pytest.approx(tons, abs=0.001)


@pytest.mark.parametrize(
    ("key", "lb"),
    [  # in the truck or heap, lb/yd³
        ("dense-graded", 2950),  # WSDOT Exhibit 620-1, truck measure
        ("fine-graded", 2850),  # the same
        ("ballast", 3100),  # the same
        ("gravel-base", 2970),  # US Army TM 9-2320-366-10-1 Table 2-15, gravel, loose (110 lb/ft³)
        ("clean", 2565),  # the same, rock and stone, crushed (95 lb/ft³)
    ],
)
def test_loose_pounds_per_cubic_yard(key: str, lb: float) -> None:
    assert lb_per_yd3(GRAVELS[key].loose.value) == pytest.approx(lb, rel=KEPT_TO_A_KILOGRAM)


@pytest.mark.parametrize(
    ("key", "settle"),
    [("dense-graded", 1.254), ("fine-graded", 1.298), ("ballast", 1.258)],  # derived from WSDOT's pairs
)
def test_loose_over_compacted(key: str, settle: float) -> None:
    assert GRAVELS[key].settle == pytest.approx(settle, abs=0.001)


def test_range_of_dense_graded_stone() -> None:
    stone = GRAVELS["dense-graded"].compacted  # 1.70 to 1.95 tons/yd³, Ohio Table 411.04-1
    assert lb_per_yd3(stone.low) == pytest.approx(3400, rel=KEPT_TO_A_KILOGRAM)
    assert lb_per_yd3(stone.high) == pytest.approx(3900, rel=KEPT_TO_A_KILOGRAM)


@pytest.mark.parametrize(("bed_yd3", "lb"), [(5.19, 15414), (7.78, 23107)])
def test_truck_of_gravel(bed_yd3: float, lb: float) -> None:
    """W8, US Army TM 9-2320-366-10-1 Table 2-15: the 5-ton dump truck full of gravel, level and heaped."""
    gravel = GRAVELS["gravel-base"].loose.mass(LooseVolume(bed_yd3 * M3_PER_YD3))
    assert gravel / KG_PER_LB == pytest.approx(lb, rel=KEPT_TO_A_KILOGRAM)


FM_5_434 = {  # Table 1-1, memory: (from, to) per soil; sand, loam, clay, blasted rock
    "sand": (
        ("bank", "loose", 1.11),
        ("bank", "compacted", 0.95),
        ("loose", "bank", 0.90),
        ("loose", "compacted", 0.86),
        ("compacted", "bank", 1.05),
        ("compacted", "loose", 1.17),
    ),
    "loam": (
        ("bank", "loose", 1.25),
        ("bank", "compacted", 0.90),
        ("loose", "bank", 0.80),
        ("loose", "compacted", 0.72),
        ("compacted", "bank", 1.11),
        ("compacted", "loose", 1.39),
    ),
    "clay": (
        ("bank", "loose", 1.43),
        ("bank", "compacted", 0.90),
        ("loose", "bank", 0.70),
        ("loose", "compacted", 0.63),
        ("compacted", "bank", 1.11),
        ("compacted", "loose", 1.59),
    ),
    "rock": (
        ("bank", "loose", 1.50),
        ("bank", "compacted", 1.30),
        ("loose", "bank", 0.67),
        ("loose", "compacted", 0.87),
        ("compacted", "bank", 0.77),
        ("compacted", "loose", 1.15),
    ),
}
TABLE_IS_ROUNDED = 0.006  # its own reciprocals and ratios agree no better


@pytest.mark.parametrize(
    ("soil", "start", "end", "factor"), [(soil, *row) for soil, rows in FM_5_434.items() for row in rows]
)
def test_soil_conversion_table(soil: str, start: str, end: str, factor: float) -> None:
    ground = SOILS[soil]
    bank = {"bank": BankVolume(1.0), "loose": None, "compacted": None}[start]
    if bank is None:
        bank = ground.to_bank(LooseVolume(1.0) if start == "loose" else CompactedVolume(1.0))
    found = {"bank": bank, "loose": ground.to_loose(bank), "compacted": ground.to_compacted(bank)}[end]
    assert found.m3 == pytest.approx(factor, abs=TABLE_IS_ROUNDED)


def test_sand_and_gravel_of_the_estimating_textbook() -> None:
    """W2, Ex. 9-3: 500 compacted yd³ at 95 % take 526 in place; at 15 % swell 605 loose (last part ours)."""
    ground = SOILS["sand-and-gravel"]
    bank = ground.to_bank(CompactedVolume(500 * M3_PER_YD3))
    assert bank.m3 / M3_PER_YD3 == pytest.approx(526, abs=0.5)
    assert ground.to_loose(bank).m3 / M3_PER_YD3 == pytest.approx(605.3, abs=0.05)


def test_strip_of_topsoil_14_by_18_ft_5_in() -> None:
    """Own check case, published factors: 3.89 bank yd³, 4.86 loose, 4.9 tons (Army: 2 025 lb/yd³)."""
    bank = BankVolume(14 * 18 * 5 / 12 * M3_PER_FT3)
    loam = SOILS["loam"]
    assert bank.m3 / M3_PER_YD3 == pytest.approx(3.89, abs=0.005)
    assert loam.to_loose(bank).m3 / M3_PER_YD3 == pytest.approx(4.86, abs=0.005)
    assert loam.bank.mass(bank) / KG_PER_LB / 2000 == pytest.approx(4.9, abs=0.05)
