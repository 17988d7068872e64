"""Published pier rules: the load table's arithmetic, stack limits, and a joint rule on lifting."""

from __future__ import annotations

import pytest

from gradework.foundations.piers.limits import (
    HOLLOW_SLENDERNESS,
    LIFT_LIMIT,
    SOLID_SLENDERNESS,
    pier_load,
    stack_pressure,
)
from gradework.foundations.piers.spec import DOUBLE_STACK_LIMIT, SINGLE_STACK_LIMIT, PierLoads
from gradework.foundations.piers.units import BASE_PAD, UNITS_ON_HAND, solid_mass
from gradework.units.amounts import KG_PER_LB, KPA_PER_PSF, M2_PER_FT2, M_PER_FT, M_PER_IN

POUND_FORCE = 4.4482216152605e-3  # kN

# 24 CFR 3285.303, Table 1, frame-only support (seen): pier load in pounds by spacing [ft], roof load [psf].
PIER_LOADS = {(4, 20): 2900, (6, 20): 4200, (8, 20): 5500, (10, 20): 6800, (4, 30): 3300, (6, 30): 4700,
              (8, 30): 6200, (4, 40): 3600, (6, 40): 5200, (8, 40): 6900}  # fmt: skip


def test_the_smallest_published_pier_load_overloads_its_pad_on_1500_psf() -> None:
    """Derived from the table: 2 900 lb on a 16 x 16 in pad is 1 631 psf, above 1 500."""
    pressure = stack_pressure(2900 * POUND_FORCE, 0.0, (16 * M_PER_IN) ** 2)
    assert pressure / KPA_PER_PSF == pytest.approx(1631, abs=0.5)
    assert pressure > PierLoads().bearing


@pytest.mark.parametrize(("spacing", "roof"), sorted(PIER_LOADS))
def test_published_loads_grow_with_area_carried(spacing: int, roof: int) -> None:
    """The table is a fixed load and a load per foot of spacing, rounded to 100 lb: tributary arithmetic."""
    per_foot = {20: 650.0, 30: 725.0, 40: 825.0}[
        roof
    ]  # the table's own steps: 1300, 1450 and 1650 lb for 2 ft
    four = PIER_LOADS[4, roof]
    strip = 1.0 * M_PER_FT * M_PER_FT  # one foot of spacing, one foot of width
    added = pier_load((spacing - 4) * strip, per_foot / M2_PER_FT2 * POUND_FORCE)
    assert four + added / POUND_FORCE == pytest.approx(PIER_LOADS[spacing, roof], abs=100)


def test_presumptive_values_in_kilopascals() -> None:
    """IRC Table R401.4.1 / IBC 1806.2 (seen, quoted): 1 500 psf is 72 kPa; R301.5: 40 psf is 1.92 kPa."""
    assert PierLoads().bearing == pytest.approx(72, abs=0.5)
    assert PierLoads().floor == pytest.approx(1.92, abs=0.005)


def test_stack_limits() -> None:
    """24 CFR 3285.306 (seen in Maine Rule 890): 36 in single is 914 mm, 67 in double is 1.70 m."""
    assert pytest.approx(0.914, abs=0.001) == SINGLE_STACK_LIMIT
    assert pytest.approx(1.70, abs=0.005) == DOUBLE_STACK_LIMIT


def test_slenderness_of_an_eight_inch_pier() -> None:
    """IRC R606.7 (quoted): unfilled hollow 4 x least side, 30.5 in actual for an 8 in block; solid 10 x."""
    side = UNITS_ON_HAND["US"][0].least_side
    assert HOLLOW_SLENDERNESS * side / M_PER_IN == pytest.approx(30.5)
    assert SOLID_SLENDERNESS == 10


def test_what_one_person_should_not_lift() -> None:
    """NIOSH (seen): 51 lb is 23 kg; derived: 60 and 80 lb bags, solid 8 in blocks and 16 in pads are over."""
    assert pytest.approx(23, abs=0.2) == LIFT_LIMIT
    solid = solid_mass(7.625 * M_PER_IN, 15.625 * M_PER_IN, 7.625 * M_PER_IN)
    for mass in (60 * KG_PER_LB, 80 * KG_PER_LB, solid, BASE_PAD.mass):
        assert mass > LIFT_LIMIT
    assert all(unit.mass < LIFT_LIMIT for unit in UNITS_ON_HAND["US"])
