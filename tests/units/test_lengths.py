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
        ("12 1/2 ft", "ft", Fraction(25, 2) * FOOT),
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


@pytest.mark.parametrize(
    "text", ["1 m 32 cm", "5.5' 3\"", "--4", "4,5' 3", ".", "5'-3\" 1/2", "5 ft 3 cm", "x", "5'5'", "'"]
)
def test_anything_else_is_refused(text):
    with pytest.raises(LengthError):
        parse_length(text, "ft")


def test_decimal_commas_only_where_the_file_uses_them():
    assert parse_length_exact("98,72", "m", decimal_comma=True) == Fraction(9872, 100)
    assert parse_length_exact("1.234,56", "m", decimal_comma=True) == Fraction(123456, 100)
    with pytest.raises(LengthError, match="1,234 or 1234"):
        parse_length("1.234", "m", decimal_comma=True)


def test_a_fraction_is_plain_in_a_column_of_inches_only():
    assert parse_length_exact("4 1/2", "in") == Fraction(9, 2) * INCH
    for unit in ("ft", "m", "mm", "ftUS"):
        with pytest.raises(LengthError, match="4 1/2 in"):
            parse_length_exact("4 1/2", unit)


def test_unit_words():
    assert [unit_named(w) for w in ("FT", "feet", "in.", "m", "Meters", "ft us", "ftUS", "rod", "")] == [
        "ft", "ft", "in", "m", "m", "ftUS", "ftUS", None, None,
    ]  # fmt: skip
