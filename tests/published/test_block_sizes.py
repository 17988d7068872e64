"""Published block sizes, weights and dry-stack heights against the default units."""

from __future__ import annotations

import pytest

from gradework.foundations.piers.units import BASE_PAD, UNITS_ON_HAND, actual_size, solid_mass
from gradework.units.amounts import M_PER_IN as INCH

POUND = 0.45359237
EIGHT, FOUR, TWO = (unit.thickness for unit in UNITS_ON_HAND["US"])


def test_nominal_eight_by_eight_by_sixteen() -> None:
    """ASTM C90 / NCMA TEK 2, quoted by several: 7-5/8 x 7-5/8 x 15-5/8 in actual."""
    block = UNITS_ON_HAND["US"][0]
    assert (block.thickness, block.width, block.length) == pytest.approx(
        (7.625 * INCH, 7.625 * INCH, 15.625 * INCH), abs=1e-12
    )
    assert actual_size(4 * INCH) == pytest.approx(3.625 * INCH)  # half height, same rule (quoted)
    assert actual_size(2 * INCH) == pytest.approx(
        1.625 * INCH
    )  # same rule (derived); plants make 1-1/2 to 2-1/4


# Dry stacks in inches, derived from the C90 sizes: blocks, plain, + one 4 in solid, + one 2 in solid.
STACKS = [
    (1, 7.625, 11.25, 9.25),
    (2, 15.25, 18.875, 16.875),
    (3, 22.875, 26.5, 24.5),
    (4, 30.5, 34.125, 32.125),
]


@pytest.mark.parametrize(("blocks", "plain", "with_four", "with_two"), STACKS)
def test_dry_stack_heights(blocks: int, plain: float, with_four: float, with_two: float) -> None:
    stack = blocks * EIGHT
    assert (stack, stack + FOUR, stack + TWO) == pytest.approx(
        (plain * INCH, with_four * INCH, with_two * INCH), abs=1e-9
    )


def test_nominal_heights_overstate_four_blocks_by_an_inch_and_a_half() -> None:
    """Derived: counting 8 in a course overstates by 3/8 in each, 1.5 in over four."""
    assert pytest.approx(1.5 * INCH) == 4 * (8 * INCH - EIGHT)


# Weights in pounds, derived at 125 to 135 lb/ft³ from the actual sizes.
WEIGHTS = [("8 in hollow block", 33, 38), ("4 in solid block", 31, 34), ("2 in solid block", 14, 15)]


@pytest.mark.parametrize(("name", "least", "most"), WEIGHTS)
def test_default_weights_lie_in_the_calculated_range(name: str, least: float, most: float) -> None:
    (unit,) = (unit for unit in UNITS_ON_HAND["US"] if unit.name == name)
    assert least <= unit.mass / POUND <= most


def test_heavy_units_lie_in_the_calculated_range() -> None:
    """Derived: fully solid 8 in block 66 to 71 lb; 16 x 16 x 4 in pad 64 to 69 lb."""
    assert 66 <= solid_mass(7.625 * INCH, 15.625 * INCH, 7.625 * INCH) / POUND <= 71
    assert 64 <= BASE_PAD.mass / POUND <= 69
