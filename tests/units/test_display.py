"""How values are shown back."""

from __future__ import annotations

import pytest

from gradework.units.display import (
    FEET,
    METRIC,
    Display,
    counted,
    eighths,
    feet_inches,
    fixed,
    round_half_away,
)

INCH = 0.0254
FOOT = 0.3048


@pytest.mark.parametrize("show", [FEET, METRIC, Display("ftUS"), Display("in"), Display("ft", "inches")])
@pytest.mark.parametrize("value", [-0.0, -1e-9, -1e-5, 0.0])
def test_row_59_nothing_is_ever_minus_zero(show, value):
    for method in (
        show.elevation, show.length, show.distance, show.depth, show.area, show.volume, show.mass, show.slope,
        show.elevation_number, show.volume_number, show.length_label,
    ):  # fmt: skip
        assert not method(value).startswith("-"), method


def test_half_rounds_away_from_zero_on_the_decimal_a_person_sees():
    assert fixed(101.245, 2) == "101.25"
    assert fixed(-101.245, 2) == "-101.25"
    assert fixed(0.125, 2) == "0.13"
    assert fixed(101.2449, 2) == "101.24"
    assert round_half_away(-0.5) == -1
    assert FEET.elevation(101.245 * FOOT) == "101.25 ft"


def test_feet_and_inches():
    assert feet_inches(63.5) == "5' 3 1/2\""
    assert feet_inches(60.5) == "5' 0 1/2\""
    assert feet_inches(11.99) == "1' 0\""
    assert feet_inches(0.5) == '1/2"'
    assert eighths(18) == "18"
    assert eighths(-0.01) == "0"


def test_us_forms():
    assert FEET.elevation(101.24 * FOOT) == "101.24 ft"
    assert FEET.length(16.5 * INCH) == "1' 4 1/2\""
    assert FEET.distance(12.5 * FOOT) == "12.5 ft"
    assert FEET.depth(4.5 * INCH) == "4 1/2 in"
    assert FEET.depth(40 * INCH) == "3' 4\""
    assert FEET.area(192 * FOOT**2) == "192 sq ft"
    assert FEET.volume(4.25 * 0.764554857984) == "4.25 yd³"
    assert FEET.volume(42.25 * 0.764554857984) == "42.3 yd³"
    assert FEET.mass(6.9 * 907.18474) == "6.9 tons"
    assert FEET.mass(100 * 0.45359237) == "100 lb"
    assert FEET.slope(0.052) == "5.2 %"
    assert FEET.place(12.5 * FOOT, 8 * FOOT) == "x 12.5 ft, y 8.0 ft"
    assert Display("ft", "inches").elevation(98.625 * FOOT) == "98' 7 1/2\""


def test_metric_forms():
    assert METRIC.elevation(30.858) == "30.858 m"
    assert METRIC.length(0.412) == "0.412 m"
    assert METRIC.distance(3.81) == "3.81 m"
    assert METRIC.depth(0.115) == "115 mm"
    assert METRIC.area(17.84) == "17.8 m²"
    assert METRIC.volume(3.2) == "3.20 m³"
    assert METRIC.mass(6270) == "6.27 tonnes"
    assert METRIC.mass(25) == "25 kg"


def test_masses_keep_their_sign_and_two_places_under_a_ton():
    ton, pound = 907.18474, 0.45359237
    assert FEET.mass(0.94 * ton) == "0.94 tons"
    assert FEET.mass(1.54 * ton) == "1.5 tons"
    assert METRIC.mass(12_344) == "12.34 tonnes"
    assert FEET.mass(-1.54 * ton) == "-1.5 tons"
    assert METRIC.mass(-6270) == "-6.27 tonnes"
    assert FEET.mass(2.5 * pound) == "2.5 lb"
    assert METRIC.mass(-2.5) == "-2.5 kg"
    assert METRIC.mass(249.9) == "250 kg"
    assert METRIC.mass(250.0) == "0.25 tonnes"


def test_volumes_and_areas_are_shown_to_about_three_figures():
    # under ten two places, under a hundred one, from a hundred on none
    shown = [METRIC.volume(value) for value in (9.99, 10.0, 99.94, 100.0, 123.4)]
    assert shown == ["9.99 m³", "10.0 m³", "99.9 m³", "100 m³", "123 m³"]
    assert [FEET.area(value * FOOT**2) for value in (99.94, 1234.4)] == ["99.9 sq ft", "1234 sq ft"]


def test_one_thing_loses_the_s_of_its_first_noun_only():
    assert counted(1, "rolls of strips") == "1 roll of strips"
    assert counted(1.5, "rolls of strips") == "1.5 rolls of strips"


def test_a_legend_names_the_unit():
    titles = {
        ("ft", "tenths"): "feet", ("ft", "inches"): "feet and inches", ("m", "m"): "metres",
        ("ftUS", "tenths"): "US survey feet", ("ftUS", "inches"): "US survey feet and inches",
    }  # fmt: skip
    assert {shown: Display(*shown).unit_title for shown in titles} == titles


def test_survey_feet_use_their_own_foot():
    # NIST/NGS: 1 US survey foot = 1200/3937 m; 12.6 ft apart at an easting of 6.3 million
    easting = 6_300_000 * 1200 / 3937
    assert Display("ftUS").distance(easting) == "6300000.0 ft"
    assert FEET.distance(easting) == "6300012.6 ft"
    assert Display("ftUS").unit_title == "US survey feet"


def test_the_unknown_is_called_unknown():
    assert FEET.elevation(float("nan")) == METRIC.mass(float("inf")) == FEET.depth(float("nan")) == "unknown"
    assert FEET.length(float("nan")) == eighths(float("nan")) == "unknown"


def test_the_trade_words_go_with_the_units():
    assert [Display(unit).dialect for unit in ("ft", "in", "ftUS", "m")] == ["us", "us", "us", "gb"]
