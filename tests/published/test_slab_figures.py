"""Published figures for concrete: bag yields, coverage, the 10 x 12 slab, a printed slip, joints, laps."""

from __future__ import annotations

import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.checks.limits import LEAST_SLAB, MOST_FILL
from gradework.foundations.slab.quantities import (
    FILM_US,
    MESH_US,
    MOST_SPACING,
    ConcreteSale,
    bag_yield,
    bags_for,
    buy_concrete,
    spacing_range,
)
from gradework.units.amounts import KG_PER_LB, M2_PER_FT2, M3_PER_FT3, M3_PER_YD3, M_PER_FT, M_PER_IN

# Premix of any maker, all sources agree (ASTM C387 family; quoted): pounds, ft³, litres, bags per yd³.
POUNDS = [
    (40, 0.30, 8.5, 90),
    (50, 0.375, 10.6, 72),
    (60, 0.45, 12.7, 60),
    (80, 0.60, 17.0, 45),
    (90, 0.675, 19.1, 40),
]


@pytest.mark.parametrize(("pounds", "cubic_feet", "litres", "per_yard"), POUNDS)
def test_bag_yields(pounds: int, cubic_feet: float, litres: float, per_yard: int) -> None:
    made = bag_yield(pounds * KG_PER_LB)
    assert made / M3_PER_FT3 == pytest.approx(cubic_feet)
    assert made * 1000 == pytest.approx(litres, abs=0.05)
    assert bags_for(M3_PER_YD3, pounds * KG_PER_LB) == per_yard


# The same sources: kilograms, ft³ (as printed, two or three digits), litres, bags per m³.
@pytest.mark.parametrize(
    ("kg", "cubic_feet", "litres", "per_metre"),
    [(20, 0.33, 9.3, 107), (25, 0.416, 11.8, 85), (30, 0.50, 14.2, 71), (40, 0.66, 18.7, 53)],
)
def test_metric_bag_yields(kg: int, cubic_feet: float, litres: float, per_metre: int) -> None:
    made = bag_yield(kg)
    assert made / M3_PER_FT3 == pytest.approx(cubic_feet, abs=0.005)
    assert made * 1000 == pytest.approx(litres, abs=0.16)  # printed from 0.50 ft³
    assert 1.0 / made == pytest.approx(per_metre, abs=0.7)  # printed to whole bags


# Coverage of 1 yd³ (2018 National Home Improvement Estimator; W11, recomputed): inches, ft² as printed.
COVERAGE = [(2, 162), (3, 108), (4, 81), (5, 64.8), (6, 54), (7, 46.2), (8, 40.5)]


@pytest.mark.parametrize(("inches", "square_feet"), COVERAGE)
def test_coverage_of_a_cubic_yard(inches: int, square_feet: float) -> None:
    found = M3_PER_YD3 / (inches * M_PER_IN) / M2_PER_FT2
    assert found == pytest.approx(square_feet, abs=0.1)  # 7 in is 46.29, printed 46.2
    side = (found * M2_PER_FT2) ** 0.5
    assert Outline.rectangle((0, 0), (side, side)).area * inches * M_PER_IN == pytest.approx(M3_PER_YD3)


def test_the_ten_by_twelve_slab() -> None:
    """Derived from the yields: 40 ft³ = 1.481 yd³; +10 % 1.63 yd³: 74 bags of 80 lb or 98 of 60 lb."""
    volume = Outline.rectangle((0, 0), (12 * M_PER_FT, 10 * M_PER_FT)).area * 4 * M_PER_IN
    assert volume / M3_PER_FT3 == pytest.approx(40.0)
    eighty = buy_concrete(volume, 0.10, ConcreteSale(bag=80 * KG_PER_LB))
    sixty = buy_concrete(volume, 0.10, ConcreteSale(bag=60 * KG_PER_LB))
    assert volume / M3_PER_YD3 == pytest.approx(1.481, abs=0.0005)
    assert volume == pytest.approx(1.133, abs=0.0005)
    assert eighty.needed / M3_PER_YD3 == pytest.approx(1.63, abs=0.005)
    assert (eighty.bags, sixty.bags) == (74, 98)
    assert eighty.mix / M3_PER_YD3 == pytest.approx(1.75)  # next quarter yard
    assert eighty.short


def test_a_printed_slip_is_not_copied() -> None:
    """W5, 2018 National Home Improvement Estimator p. 42: 30 ft drive, 22 tapering to 8 ft, 4 in. The book
    adds 20 + 8 (420 ft², 5.18 and 5.44 yd³ with 5 %); with its own 22 it is 450 ft², 5.56 and 5.83."""
    drive = Outline.polygon(
        [(0, 0), (22 * M_PER_FT, 0), (15 * M_PER_FT, 30 * M_PER_FT), (7 * M_PER_FT, 30 * M_PER_FT)]
    )
    as_printed = Outline.polygon(
        [(0, 0), (20 * M_PER_FT, 0), (14 * M_PER_FT, 30 * M_PER_FT), (6 * M_PER_FT, 30 * M_PER_FT)]
    )
    for outline, feet, yards, with_waste in ((drive, 450, 5.56, 5.83), (as_printed, 420, 5.19, 5.44)):
        assert outline.area / M2_PER_FT2 == pytest.approx(feet)
        bought = buy_concrete(outline.area * 4 * M_PER_IN, 0.05, ConcreteSale())
        assert bought.volume / M3_PER_YD3 == pytest.approx(yards, abs=0.006)
        assert bought.needed / M3_PER_YD3 == pytest.approx(with_waste, abs=0.006)


@pytest.mark.parametrize(
    ("size", "thickness", "cubic_feet", "bags"),
    [((48, 7), 10, 280, 467), ((40, 24), 1, 80, 134)],
)
def test_a_wall_and_a_topping(size: tuple[int, int], thickness: int, cubic_feet: int, bags: int) -> None:
    """W6 and W7, Griffith, Carpentry (chestofbooks.com; recomputed): a wall of 10 in x 7 x 48 ft, a topping
    of 1 in on 24 x 40 ft. The book goes on to barrels of cement, sand and stone by its own factors, which
    nothing here does; bags are 80 lb of premix at 0.6 ft³ (derived)."""
    area = Outline.rectangle((0, 0), (size[0] * M_PER_FT, size[1] * M_PER_FT)).area
    bought = buy_concrete(area * thickness * M_PER_IN, 0.0, ConcreteSale(bag=80 * KG_PER_LB))
    assert bought.volume / M3_PER_FT3 == pytest.approx(cubic_feet)
    assert bought.bags == bags


def test_quarter_yards_are_a_coarse_step() -> None:
    """W9, concreteconstruction.net (recomputed): 1/4 yd³ in 9 is 2.8 %."""
    nine = buy_concrete(8.76 * M3_PER_YD3, 0.0, ConcreteSale())
    assert nine.mix / M3_PER_YD3 == pytest.approx(9.0)
    assert pytest.approx(0.028, abs=0.0005) == 0.25 / 9


def test_joint_spacing_of_a_four_inch_slab() -> None:
    """W10, ACI 302.1R-96 in a trade magazine (quoted): 24 to 36 thicknesses, 8 to 12 ft for 4 in; 18 ft."""
    low, high = spacing_range(4 * M_PER_IN)
    assert (low / M_PER_FT, high / M_PER_FT) == pytest.approx((8.0, 12.0))
    assert spacing_range(8 * M_PER_IN)[1] == MOST_SPACING == 18 * M_PER_FT


def test_thickness_fill_and_laps() -> None:
    """IBC 1910.1 / IRC R506.1 (quoted), R506.2.1 (seen), IBC 1910.1 laps (quoted); mesh lap from memory."""
    assert pytest.approx(3.5) == LEAST_SLAB / M_PER_IN
    assert MOST_FILL["gravel"] == pytest.approx(0.610, abs=0.001)
    assert MOST_FILL["earth"] == pytest.approx(0.203, abs=0.001)
    assert FILM_US.lap == pytest.approx(0.152, abs=0.001)
    assert MESH_US.lap == pytest.approx(0.203, abs=0.001)
