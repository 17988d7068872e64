"""Lengths as builders write them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from gradework.units.lengths import parse_length, parse_length_exact, unit_named
from gradework.units.numbers import LengthError

FOOT = Fraction(3048, 10000)  # the international foot, exact since 1959
INCH = FOOT / 12


@pytest.mark.parametrize(
    "text",
    [
        "5' 3 1/2\"",
        "5-3 1/2",
        "5'-3 1/2\"",
        "5'3 1/2''",
        "5’ 3½”",
        "5′ 3½″",
        "5′-3½″",
        "5' - 3 1/2\"",
        "5 ft 3 1/2 in",
        "5FT 3.5IN.",
        "5 feet 3 1/2 inches",
        "63 1/2 in",
        '63.5"',
        "63½ in",
        "5\u00a0ft 3\u202f½\u00a0in",
        "\ufeff5' 3\u200b 1/2\"",
        "5' 3 1⁄2\"",
    ],
)
def test_one_length_in_many_hands(text):
    assert (
        parse_length_exact(text, None if "'" in text or "in" in text.lower() else "ft")
        == Fraction(127, 2) * INCH
    )


@pytest.mark.parametrize(
    ("text", "unit", "metres"),
    [
        ("4.62 ft", None, Fraction(462, 100) * FOOT),
        ("1.32 m", None, Fraction(132, 100)),
        ("132 cm", None, Fraction(132, 100)),
        ("1320 mm", "ft", Fraction(132, 100)),
        ("2 yd", None, 6 * FOOT),
        ("12 1/2", "in", Fraction(25, 2) * INCH),
        ("12 1/2", "ft", Fraction(25, 2) * FOOT),
        ("1/8 in", None, INCH / 8),
        ('⅞"', None, INCH * 7 / 8),
        ("5'", "m", 5 * FOOT),
        ("5' 1/2\"", None, 5 * FOOT + INCH / 2),
        ("5-0 3/4", "ft", 5 * FOOT + INCH * 3 / 4),
        ("98.72", "ft", Fraction(9872, 100) * FOOT),
        ("98.", "m", Fraction(98)),
        (".5", "m", Fraction(1, 2)),
        ("+3", "m", Fraction(3)),
        ("1.5e-3", "m", Fraction(15, 10000)),
        ("1,234.56", "ft", Fraction(123456, 100) * FOOT),
        ("1 ft", "ftUS", Fraction(1200, 3937)),
        ("1", "ftUS", Fraction(1200, 3937)),
        ("12 in", "ftUS", Fraction(1200, 3937)),
        ("1 survey ft", "ft", Fraction(1200, 3937)),
        ("1 m", "ftUS", Fraction(1)),
    ],
)
def test_each_form_is_exact(text, unit, metres):
    assert parse_length_exact(text, unit) == metres
    assert parse_length(text, unit) == float(metres)


@pytest.mark.parametrize("minus", ["-", "–", "−", "‑", "- ", "\u200b-"])
def test_row_16_minus_as_dash_or_true_minus_and_hidden_spaces(minus):
    assert parse_length_exact(f"{minus}4.5", "ft") == Fraction(-45, 10) * FOOT
    assert parse_length_exact(f"{minus}4' 6\"", None) == Fraction(-45, 10) * FOOT


def test_row_47_a_bare_number_without_any_unit_is_refused():
    with pytest.raises(LengthError) as caught:
        parse_length("12.5", None)
    assert caught.value.found == "'12.5', a number without a unit"
    assert caught.value.fix == "write 12.5 ft, 12.5 in or 12.5 m, or declare units"


@pytest.mark.parametrize(
    ("text", "unit", "found", "fix"),
    [
        ("1_000", "ft", "underscore", "without the underscore"),
        ("nan", "m", "not a number", "fill in"),
        ("Infinity", "m", "not a number", "fill in"),
        ("-inf", "m", "not a number", "fill in"),
        ("1e400", "m", "too large", "digits"),
        ("1e300", "m", "too large", "digits"),
        ("1e99999", "m", "too large", "digits"),
        ("٣٤", "m", "digits other than 0 to 9", "0 to 9"),
        ("2-Jan", "ft", "a date", "likely 1/2 or 1-2"),
        ("Mar-04", "ft", "a date", "likely 3/4 or 3-4"),
        ("4-Mar-2026", "ft", "a date", "format the column as text"),
        ("1/2/2026", "ft", "a date", "format the column as text"),
        ("#REF!", "ft", "error of the spreadsheet", "fix the formula"),
        ("#N/A", "ft", "error of the spreadsheet", "fix the formula"),
        ("=A1+2", "ft", "a formula", "save the values"),
        ("98.7.2", "ft", "two decimal points", "98.72"),
        ("9 8.72", "ft", "a space inside", "98.72"),
        ("98,72", "ft", "a comma", "98.72"),
        ("98,72 m", None, "98,72 m", "98.72"),
        ("1,234", "ft", "may be 1.234 or 1234", "which decimal mark"),
        ('5-3/4"', "ft", "inches or feet and inches", "5 3/4 in or 5' 0 3/4\""),
        ("5-3 1/2", "m", "in a metric job", "5' 3 1/2\""),
        ("5 3 1/2", "ft", "5 3 1/2", "5' 3 1/2\""),
        ("5' 14\"", "ft", "12 or more inches", "carry"),
        ("3 7/4", "ft", "fraction is one or more", "check the fraction"),
        ("3 1/0", "ft", "divided by zero", "check the fraction"),
        ("3 furlongs", None, "unknown unit 'furlongs'", "use ft"),
        ("(0.25)", "ft", "in brackets", "-0.25"),
        ("", "ft", "nothing", "fill it in"),
        ("-", "ft", "no value", "fill it in"),
        ("n/a", "ft", "no value", "fill it in"),
        ("9" * 301, "m", "301 characters", "check this cell"),
    ],
)
def test_rows_11_to_19_what_is_refused_says_the_cause_and_the_mend(text, unit, found, fix):
    with pytest.raises(LengthError) as caught:
        parse_length(text, unit)
    assert found in caught.value.found
    assert fix in caught.value.fix
    assert caught.value.expected.startswith("a length")


@pytest.mark.parametrize(
    "text", ["1 m 32 cm", "5.5' 3\"", "--4", "4,5' 3", ".", "5'-3\" 1/2", "5 ft 3 cm", "x", "5'5'", "'"]
)
def test_anything_else_is_refused(text):
    with pytest.raises(LengthError):
        parse_length(text, "ft")


def test_decimal_commas_only_where_the_file_uses_them():
    assert parse_length_exact("98,72", "m", decimal_comma=True) == Fraction(9872, 100)
    assert parse_length_exact("1.234,56", "m", decimal_comma=True) == Fraction(123456, 100)
    with pytest.raises(LengthError, match="which may be 1,234 or 1234"):
        parse_length("1.234", "m", decimal_comma=True)


def test_unit_words():
    assert [unit_named(w) for w in ("FT", "feet", "in.", "m", "Meters", "ft us", "ftUS", "rod", "")] == [
        "ft", "ft", "in", "m", "m", "ftUS", "ftUS", None, None,
    ]  # fmt: skip
