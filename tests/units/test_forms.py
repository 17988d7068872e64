"""The four forms in which lengths are said, and that each kind of quantity has one in each."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradework.units.display import FEET, METRIC, Display
from gradework.units.form import FORMS, Form, saying
from gradework.units.lengths import Unit, parse_length

INCHES = Display("ft", "inches")
MM = Display("m", "mm")
ALL = [Display(unit, form) for unit in ("ft", "ftUS", "m") for form in FORMS]


@pytest.mark.parametrize(
    ("kind", "metres", "inches", "tenths", "m", "mm"),
    [
        ("elevation", 30.858, "101' 2 7/8\"", "101.24 ft", "30.858 m", "30.858 m"),
        ("rod", 1.3938, "4' 6 7/8\"", "4.57 ft", "1.394 m", "1394 mm"),
        ("cut_or_fill", 0.17145, "6 3/4 in", "0.56 ft", "0.171 m", "171 mm"),
        ("cut_or_fill", 0.508, "20 in", "1.67 ft", "0.508 m", "508 mm"),
        ("cut_or_fill", 1.016, "3' 4\"", "3.33 ft", "1.016 m", "1016 mm"),
        ("stake", 0.17145, "6 3/4 in", "0.56", "0.171", "171"),
        ("hung", -0.508, "1' 8\" down", "1.67 down", "0.508 down", "508 down"),
        ("hung", 0.0254, '1" up', "0.08 up", "0.025 up", "25 up"),
        ("depth", 0.17145, "6 3/4 in", "6 3/4 in", "171 mm", "171 mm"),
        ("taped", 8.725, "28' 7 1/2\"", "28.63 ft", "8.725 m", "8.725 m"),
        ("distance", 3.81, "12' 6\"", "12.5 ft", "3.81 m", "3.81 m"),
        ("length", 0.4191, "1' 4 1/2\"", "1' 4 1/2\"", "0.419 m", "419 mm"),
        ("error", 0.0042, "0.17 in", "0.014 ft", "4.2 mm", "4.2 mm"),
        ("area", 17.84, "192 sq ft", "192 sq ft", "17.8 m²", "17.8 m²"),
    ],
)
def test_each_kind_has_one_form(kind: str, metres: float, inches: str, tenths: str, m: str, mm: str) -> None:
    said = [getattr(Display("ft", form), kind)(metres) for form in FORMS]
    assert said == [inches, tenths, m, mm]


@pytest.mark.parametrize("form", FORMS)
def test_what_is_bought_goes_with_the_unit_of_the_job(form: Form) -> None:
    assert Display("ft", form).volume(3.25) == FEET.volume(3.25)
    assert Display("ft", form).mass(6270.0) == "6.9 tons"
    assert Display("m", form).mass(6270.0) == METRIC.mass(6270.0)
    assert [Display("ft", form).us, Display("m", form).us] == [True, False]


@pytest.mark.parametrize(
    ("unit", "form"),
    [("ft", "tenths"), ("ftUS", "tenths"), ("in", "inches"), ("m", "m")],
)
def test_without_a_word_the_form_goes_with_the_unit(unit: Unit, form: Form) -> None:
    assert Display(unit).form == form


def test_a_form_in_force_is_kept_by_what_is_made_inside_and_nowhere_else() -> None:
    with saying("inches"):
        inside = Display("ft")
        with saying(None):
            assert Display("ft").form == "inches"
        with saying("mm"):
            assert Display("ft").form == "mm"
    assert inside.form == "inches"
    assert Display("ft").form == "tenths"


@pytest.mark.parametrize("show", ALL, ids=lambda show: f"{show.unit}-{show.form}")
@given(metres=st.floats(-900, 900))
def test_levels_read_back_within_their_last_figure(show: Display, metres: float) -> None:
    for say in (show.elevation, show.rod, show.taped, show.cut_or_fill):
        assert abs(parse_length(say(metres), show.unit) - metres) <= show.step * 0.5001 + 1e-9


@given(st.floats(-900, 900), st.floats(1e-5, 3.0))
def test_measured_ground_is_within_its_error_and_never_finer_than_it_earns(metres: float, sd: float) -> None:
    for show in (INCHES, FEET, METRIC):
        text = show.known_to(sd).elevation(metres)
        # half the last figure, which is never more than the error, but for the finest and the coarsest
        assert abs(parse_length(text, show.unit) - metres) <= max(sd, show.step) * 0.5001 + 1e-9


@pytest.mark.parametrize(
    ("sd", "feet", "inches", "metres"),
    [
        (0.0, "99.85 ft", "99' 10 1/4\"", "30.436 m"),
        (math.nan, "99.85 ft", "99' 10 1/4\"", "30.436 m"),
        (0.0139 * 0.3048, "99.85 ft", "99' 10 1/4\"", "30.436 m"),
        (0.012, "99.85 ft", "99' 10 1/4\"", "30.44 m"),
        (0.05, "99.9 ft", "99' 10\"", "30.44 m"),
        (0.5, "100 ft", "99' 10\"", "30.4 m"),
    ],
)
def test_the_error_takes_figures_away(sd: float, feet: str, inches: str, metres: str) -> None:
    level = 99.8542 * 0.3048
    assert [show.known_to(sd).elevation(level) for show in (FEET, INCHES, METRIC)] == [feet, inches, metres]


def test_a_larger_error_never_gives_a_finer_figure() -> None:
    for show in (INCHES, FEET, METRIC):
        lengths = [len(show.known_to(sd).elevation_number(30.43521)) for sd in (0.001, 0.01, 0.1, 1.0)]
        assert all(first >= second for first, second in pairwise(lengths))


def test_what_was_built_is_measured_to_a_sixteenth() -> None:
    assert INCHES.fine.depth(0.0254 * 3 / 16) == "3/16 in"
    assert FEET.fine.depth(0.0254 * 3 / 16) == "3/16 in"
    assert INCHES.fine.elevation(30.48 + 0.0254 / 16) == "100' 0 1/16\""
    assert METRIC.fine.depth(0.0048) == METRIC.depth(0.0048) == "5 mm"


@pytest.mark.parametrize(("show", "inch"), [(INCHES, True), (FEET, False), (MM, False)])
def test_headings_name_the_unit_where_the_cells_do_not(show: Display, inch: bool) -> None:
    assert (show.heading("level") == "level") == inch
    assert show.rod_heading("rod") == {"inches": "rod", "tenths": "rod (ft)", "mm": "rod (mm)"}[show.form]
