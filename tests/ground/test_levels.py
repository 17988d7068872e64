"""Contour intervals: round in the user's unit, 5 to 15 lines, and none where there is nothing to draw."""

from __future__ import annotations

from fractions import Fraction

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from gradework.ground.levels import choose_interval, contour_levels, flat_site
from gradework.units.display import Display

FOOT = 0.3048
FEET, METRES = Display("ft"), Display("m")


@pytest.mark.parametrize(
    ("relief_ft", "interval_ft"),
    [
        (5.2, 0.5),
        (10.3, 1.0),
        (21.0, 2.0),
        (25.3, 2.5),
        (1.1, 1 / 12),
        (1.6, 2 / 12),
        (0.25, 0.025),
        (40.0, 5.0),
    ],
)
def test_intervals_in_feet(relief_ft, interval_ft):
    low = 100.03 * FOOT
    assert choose_interval(low, low + relief_ft * FOOT, FEET) == pytest.approx(interval_ft * FOOT)


@pytest.mark.parametrize(("relief", "interval"), [(1.7, 0.2), (0.9, 0.1), (4.4, 0.5), (0.03, 0.0025)])
def test_intervals_in_metres(relief, interval):
    assert choose_interval(30.001, 30.001 + relief, METRES) == pytest.approx(interval)


def test_levels_are_whole_multiples_and_print_round():
    levels = contour_levels(100.1 * FOOT, 104.4 * FOOT, FEET)
    assert [FEET.elevation(level) for level in levels] == [
        "100.50 ft", "101.00 ft", "101.50 ft", "102.00 ft",
        "102.50 ft", "103.00 ft", "103.50 ft", "104.00 ft",
    ]  # fmt: skip
    assert levels[1] == 101 * FOOT


def test_levels_lie_strictly_between():
    levels = contour_levels(100 * FOOT, 105 * FOOT, FEET)
    assert levels[0] == pytest.approx(100.5 * FOOT)
    assert levels[-1] == pytest.approx(104.5 * FOOT)


@pytest.mark.parametrize("relief", [0.0, 1e-9, 0.003])
def test_a_flat_site_has_no_contours_and_says_so(relief):
    low = 50.0
    assert choose_interval(low, low + relief, FEET) == 0.0
    assert contour_levels(low, low + relief, FEET).shape == (0,)
    finding = flat_site(low, low + relief, FEET)
    assert finding is not None
    assert (finding.code, finding.severity) == ("flat-site", "note")
    assert "flat within 0.01 ft" in finding.advice


def test_a_site_with_relief_is_not_flat():
    assert flat_site(50.0, 50.1, METRES) is None


@settings(max_examples=300, deadline=None)
@given(
    low=st.floats(-500, 9000),
    relief=st.floats(0.0031, 3000),
    unit=st.sampled_from(["ft", "ftUS", "in", "m"]),
)
def test_always_five_to_fifteen_lines_at_a_round_interval(low, relief, unit):
    show = Display(unit)
    high = low + relief
    interval = choose_interval(low, high, show)
    levels = contour_levels(low, high, show)
    assert 5 <= len(levels) <= 15
    assert low < levels[0]
    assert levels[-1] < high
    assert np.diff(levels) == pytest.approx(np.full(len(levels) - 1, interval), rel=1e-6)
    step = interval / show.metres_per_unit
    in_inches = Fraction(step * 12).limit_denominator(1000)
    power = 10.0 ** np.floor(np.log10(step * (1 + 1e-12)))
    round_number = any(step / power == pytest.approx(r, rel=1e-9) for r in (1, 2, 2.5, 5))
    assert round_number or (show.us and in_inches in (1, 2, 3, 6, 12))
