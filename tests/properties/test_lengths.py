"""Laws of reading and showing lengths."""

from __future__ import annotations

import math
from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.fieldnotes.columns import metres_of
from gradework.units.display import Display, fixed
from gradework.units.lengths import parse_length, parse_length_exact
from gradework.units.numbers import LengthError

UNITS = ("ft", "in", "m", "ftUS")
LAW = settings(deadline=None, max_examples=60)
decimals = st.builds(
    lambda n, k, sign: f"{sign}{n // 10**k}" + (f".{n % 10**k:0{k}d}" if k else ""),
    st.integers(0, 10**9),
    st.integers(0, 18),
    st.sampled_from(["", "-", "+"]),
)
nasty = st.text(alphabet="0123456789.,-+'\"/ eE_ftinmyd½⅛’″–−\u00a0\u200b٣#:()", max_size=14)


@LAW
@given(st.lists(decimals, min_size=1, max_size=20), st.sampled_from(UNITS))
def test_columns_at_once_equal_cell_by_cell_to_the_last_bit(cells, unit):
    assert metres_of(cells, unit) == [parse_length(cell, unit) for cell in cells]


@LAW
@given(st.lists(nasty, min_size=1, max_size=4), st.sampled_from(UNITS))
def test_columns_at_once_never_take_what_the_grammar_refuses(cells, unit):
    values = metres_of(cells, unit)
    if values is not None:
        assert values == [parse_length(cell, unit) for cell in cells]


@settings(deadline=None, max_examples=400)
@given(nasty, st.sampled_from([*UNITS, None]))
def test_any_text_is_a_finite_length_or_refused_with_a_mend(text, unit):
    try:
        metres, refusal = parse_length(text, unit), None
    except LengthError as error:
        metres, refusal = math.nan, error
    assert math.isfinite(metres) if refusal is None else all((refusal.found, refusal.expected, refusal.fix))


@LAW
@given(st.integers(0, 300), st.integers(0, 95), st.sampled_from(["", "-"]))
def test_feet_and_inches_in_every_hand_mean_the_same(feet, eighths, sign):
    whole, part = divmod(eighths, 8)
    inches = f"{whole} {part}/8" if part else f"{whole}"
    exact = (feet + Fraction(eighths, 96)) * Fraction(3048, 10000) * (-1 if sign else 1)
    for rest in (f"' {inches}\"", f"'-{inches}''", f" ft {inches} in", f"-{inches}"):
        assert parse_length_exact(f"{sign}{feet}{rest}", "ft") == exact


@LAW
@given(st.floats(-3000, 3000), st.sampled_from([Display("ft"), Display("ft", "inches"), Display("m")]))
def test_what_is_shown_can_be_read_back_within_its_last_digit(metres, show):
    half_eighth, half_hundredth_foot = 0.0254 / 16, 0.01 * 0.3048 / 2
    slack = 1.001  # the decimal near a tie may round either way
    assert (
        abs(parse_length(show.length(metres), None) - metres) <= (half_eighth if show.us else 0.0005) * slack
    )
    limit = {"inches": half_eighth, "tenths": half_hundredth_foot, "m": 0.0005}[show.form]
    assert abs(parse_length(show.elevation(metres), None) - metres) <= limit * slack
    assert (
        abs(parse_length(show.depth(metres), None) - metres) <= (half_eighth if show.us else 0.0005) * slack
    )


@LAW
@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_rounding_is_symmetric_and_never_minus_zero(value, digits):
    shown = fixed(value, digits)
    assert fixed(-value, digits) in (shown.removeprefix("-"), "-" + shown, shown if float(shown) == 0 else "")
    assert not (shown.startswith("-") and float(shown) == 0)
    assert abs(float(shown) - value) <= 0.5 * 10**-digits * 1.00001 + abs(value) * 1e-15
