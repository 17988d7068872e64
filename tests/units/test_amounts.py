"""Angles, percentages, masses, volumes, densities, pressures; bulk factors."""

from __future__ import annotations

from fractions import Fraction

import pytest

from gradework.units.amounts import (
    KG_PER_LONG_TON,
    KG_PER_SHORT_TON,
    M2_PER_FT2,
    M3_PER_FT3,
    M3_PER_YD3,
    cubic_yards,
    parse_angle,
    parse_density,
    parse_mass,
    parse_percent,
    parse_pressure,
    parse_volume,
    pounds,
    short_tons,
    tonnes,
)
from gradework.units.numbers import QuantityError, parse_number


def test_numbers_are_exact():
    assert parse_number("98.72") == Fraction(9872, 100)
    assert parse_number("-1,234,567.8") == Fraction(-12345678, 10)
    assert parse_number("1,234,567") == 1234567
    assert parse_number("1,234", grouped=True) == 1234
    assert parse_number("\u22121,5", decimal_comma=True) == Fraction(-3, 2)


@pytest.mark.parametrize(
    "text", ["1_000", "nan", "inf", "٣", "1,23,4", "1 000", "", "0x10", "1e4000", "1.2.3", "12,34.5"]
)
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(QuantityError):
        parse_number(text)


def test_row_57_a_number_of_thousands_of_digits_is_refused():
    with pytest.raises(QuantityError, match="5000 characters"):
        parse_number("9" * 5000)


def test_angles():
    assert parse_angle("15") == parse_angle("15°") == parse_angle("15 deg") == 15.0
    assert parse_angle("-12° 30' 36\"") == -12.51
    for bad in ("15 rad", "15° 61'", "N 45 E", "nan", "1e9", "99999999"):
        with pytest.raises(QuantityError, match="angle"):
            parse_angle(bad)


def test_row_56_a_percentage_needs_its_sign():
    assert parse_percent("10 %") == parse_percent("10%") == parse_percent("10 percent") == 0.10
    assert parse_percent("½ %") == 0.005
    for bad in ("10", "0.10", "ten %", "10 %%"):
        with pytest.raises(QuantityError):
            parse_percent(bad)


def test_masses():
    assert parse_mass("50 lb") == 50 * 0.45359237
    assert parse_mass("½ ton") == parse_mass("0.5 tons") == parse_mass("0.5 short tons") == 453.59237
    assert parse_mass("1 tonne") == parse_mass("1 metric ton") == 1000.0
    assert parse_mass("1 1/2 tonnes") == 1500.0
    assert parse_mass("2,000 lb.".replace(",", "")) == pytest.approx(907.18474, rel=1e-15)


def test_row_55_a_bare_ton_is_short_in_a_us_job_and_refused_in_a_metric_one():
    assert parse_mass("1 ton") == 907.18474
    with pytest.raises(QuantityError, match="tonnes or short tons"):
        parse_mass("1 ton", us=False)


def test_volumes_densities_pressures():
    assert parse_volume("27 cu ft") == pytest.approx(parse_volume("1 yd³"), rel=1e-15)
    assert parse_volume("1000 litres") == 1.0
    assert parse_density("1.4 tons/yd3") == pytest.approx(
        1661.17, abs=0.01
    )  # 1.4 * 907.18474 / 0.764554857984
    assert parse_density("110 lb per cu ft") == parse_density("110 pcf")
    assert parse_pressure("1 psi") == pytest.approx(144 * parse_pressure("1 psf"))
    for bad in ("3", "3 bags", "yd3"):
        with pytest.raises(QuantityError):
            parse_volume(bad)


def test_factors_follow_from_the_exact_yard_and_pound():
    # NIST Handbook 44, appendix C: 1 yd = 0.9144 m, 1 lb = 0.45359237 kg, exact
    assert float(Fraction("0.9144") ** 3) == M3_PER_YD3
    assert float(Fraction("0.3048") ** 3) == M3_PER_FT3
    assert float(Fraction("0.3048") ** 2) == M2_PER_FT2
    assert float(2000 * Fraction("0.45359237")) == KG_PER_SHORT_TON
    assert float(2240 * Fraction("0.45359237")) == KG_PER_LONG_TON
    assert short_tons(KG_PER_SHORT_TON) == tonnes(1000) == cubic_yards(M3_PER_YD3) == 1.0
    assert pounds(KG_PER_SHORT_TON) == 2000.0
