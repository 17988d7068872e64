"""Orders, loads and heaps against worked examples of handbooks and textbooks, each recomputed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from gradework.earthwork.conditions import BankDensity, BankVolume, CompactedVolume, Figure
from gradework.earthwork.materials import DEFAULT_GRAVEL, SOILS, Soil
from gradework.sitework.order import dig_out, gravel_line, gravel_need
from gradework.sitework.supplier import Carrier, Supplier
from gradework.units.display import FEET

YD3 = 0.9144**3
FT3 = 0.3048**3
LB = 0.45359237
SHORT_TON = 2000 * LB


def soil_with(swell: float, bank_lb_per_yd3: float = 3000.0) -> Soil:
    figure = Figure(swell, swell, swell, "the example", "seen")
    bank = bank_lb_per_yd3 * LB / YD3
    density = BankDensity(bank, bank, bank, "the example", "seen")
    return replace(SOILS["clay"], swell=figure, bank=density)


def by_truck(yards: float) -> Supplier:
    """A supplier whose truck holds so much and carries any weight."""
    return replace(Supplier.us(), truck=Carrier("truck", yards * YD3, None))


def test_dense_clay_of_the_estimating_textbook() -> None:
    """W1, Ex. 9-2: 1 000 bank yd³, 30 % swell, 7 yd³ trucks: 1 300 loose yd³, 186 loads."""
    spoil = dig_out(BankVolume(1000 * YD3), soil_with(1.30), by_truck(7))
    assert spoil.loose.m3 / YD3 == pytest.approx(1300)
    assert spoil.loads[0].count == 186


def test_sand_and_gravel_of_the_estimating_textbook() -> None:
    """W2, Ex. 9-3: 500 compacted yd³ at 95 % is 526 bank; at 15 % swell 605.3 loose, 87 loads (ours)."""
    ground = SOILS["sand-and-gravel"]
    bank = ground.to_bank(CompactedVolume(500 * YD3))
    spoil = dig_out(bank, ground, by_truck(7))
    assert bank.m3 / YD3 == pytest.approx(526.3, abs=0.05)
    assert spoil.loose.m3 / YD3 == pytest.approx(605.3, abs=0.05)
    assert spoil.loads[0].count == 87


def test_two_thousand_pounds_in_both_conditions() -> None:
    """W3: 2 000 lb at 3 400 bank and 2 700 loose lb/yd³ are 0.59 and 0.74 yd³; swell 26 %."""
    soil = soil_with(3400 / 2700, 3400)
    spoil = dig_out(BankVolume(2000 / 3400 * YD3), soil, Supplier.us())
    assert soil.bank.mass(spoil.bank) / LB == pytest.approx(2000)
    assert spoil.bank.m3 / YD3 == pytest.approx(0.59, abs=0.005)
    assert spoil.loose.m3 / YD3 == pytest.approx(0.74, abs=0.005)
    assert soil.swell.value - 1 == pytest.approx(0.26, abs=0.005)


def test_clay_from_its_three_densities() -> None:
    """W4: bank 3 000, loose 2 310, compact 3 750 lb/yd³: swell 29.9 %, shrink 20 %; 165 000 ft³ cut are
    6 111 bank yd³, 7 937 loose, 662 loads of 12 yd³ (inputs seen, answers ours)."""
    clay = soil_with(3000 / 2310)
    clay = replace(clay, compaction=Figure(3000 / 3750, 0.8, 0.8, "the example", "seen"))
    spoil = dig_out(BankVolume(165_000 * FT3), clay, by_truck(12))
    assert clay.swell.value == pytest.approx(1.299, abs=0.0005)
    assert clay.to_compacted(BankVolume(1.0)).m3 == pytest.approx(0.80)
    assert spoil.bank.m3 / YD3 == pytest.approx(6111, abs=0.5)
    assert spoil.loose.m3 / YD3 == pytest.approx(7937, abs=1.0)  # the example rounds the swell to 1.2987
    assert spoil.loads[0].count == 662


def test_swell_and_shrink_words_of_the_federal_manual() -> None:
    """FHWA Federal Lands PDDM 9.4.C (seen): swell 25 % makes 1.25; a shrink of 25 % there means 1/1.25."""
    loam = SOILS["loam"]
    assert loam.to_loose(BankVolume(100.0)).m3 == pytest.approx(100 * (1 + 25 / 100))
    shrinking = replace(loam, compaction=Figure(1 / (1 + 25 / 100), 0.8, 0.8, "the manual", "seen"))
    assert shrinking.to_compacted(BankVolume(100.0)).m3 == pytest.approx(80.0)


def test_pad_of_12_by_16_ft_6_in_compacted() -> None:
    """Own check case from published factors: 3.556 yd³ (2.718 m³); dry 6.58 tons (5.97 t), 6.04 to 6.93;
    4.46 yd³ to tip; 6.91 tons with 5 % water, 7.60 with 10 % waste; so 8 tons in half tons."""
    supplier = Supplier.us()
    volume = CompactedVolume(12 * 16 * 0.5 * FT3)
    need = gravel_need(volume, DEFAULT_GRAVEL, supplier)
    assert volume.m3 == pytest.approx(2.718, abs=0.0005)
    assert volume.m3 / YD3 == pytest.approx(3.556, abs=0.0005)
    assert need.dry_kg / SHORT_TON == pytest.approx(6.58, abs=0.005)
    assert need.dry_kg / 1000 == pytest.approx(5.97, abs=0.005)
    low, high = DEFAULT_GRAVEL.compacted.low, DEFAULT_GRAVEL.compacted.high
    assert [volume.m3 * density / SHORT_TON for density in (low, high)] == pytest.approx(
        [6.04, 6.93], abs=0.006
    )
    assert need.loose.m3 / YD3 == pytest.approx(4.46, abs=0.005)
    assert need.wet_kg / SHORT_TON == pytest.approx(6.91, abs=0.005)
    assert need.needed_kg / SHORT_TON == pytest.approx(7.60, abs=0.005)
    line = gravel_line(need, supplier, FEET)
    assert (line.quantity, line.unit) == (8.0, "short tons")


def test_strip_of_14_by_18_ft_5_in_in_truck_and_wheelbarrow() -> None:
    """Own check case: 3.89 bank yd³, 4.86 loose; with wet earth the heap goes in one truck of 5 yd³ by
    volume, and the wheelbarrow of 80 litres and 100 kg is limited by weight (counts ours)."""
    us = Supplier.us()
    spoil = dig_out(BankVolume(14 * 18 * 5 / 12 * FT3), SOILS["loam"], us)
    truck, barrow = spoil.loads
    assert spoil.loose.m3 / YD3 == pytest.approx(4.86, abs=0.005)
    assert (truck.count, truck.limit) == (1, "weight")
    assert (barrow.count, barrow.limit) == (58, "weight")


@pytest.mark.parametrize(
    ("inches", "square_feet"), [(2, 162), (3, 108), (4, 81), (5, 64.8), (6, 54), (8, 40.5)]
)
def test_area_that_one_cubic_yard_covers(inches: float, square_feet: float) -> None:
    """W11, coverage table of an estimating book: the compacted yard, not the loose one."""
    volume = CompactedVolume(square_feet * inches / 12 * FT3)
    need = gravel_need(volume, DEFAULT_GRAVEL, replace(Supplier.us(), moisture=0.0, waste=0.0))
    assert need.needed_kg / SHORT_TON == pytest.approx(1.85, abs=0.001)
