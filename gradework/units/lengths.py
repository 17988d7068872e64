"""Lengths as builders write them, read by an exact grammar; metres come out.

The grammar, after ``numbers.plain`` (sign in front of the whole, any of the unit words in any case)::

    feet and inches   5' 3 1/2"   5'-3 1/2"   5' 3.5"   5 ft 3 in   5'   5' 1/2"
    dashed            5-3 1/2     5-3         (feet - whole inches [fraction]; not in a metric job)
    one unit          63 1/2 in   63.5"   1/2 in   4.62 ft   4 1/2 ft   2 yd   1.32 m   132 cm   1320 mm
    bare              12.5   1.5e-3                     (in the declared unit; without one refused)
                      12 1/2                            (in inches; in any other unit refused)

Inches after feet stay under 12. Everything else is refused with its likely reading, never guessed: a bare
``12 1/4`` among feet is inches to one builder, 12 feet and a quarter inch to the next.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import Any, Literal, get_args

from gradework.errors import InputError, fault, visible
from gradework.units.numbers import (
    LONGEST,
    LengthError,
    QuantityError,
    cause_of,
    parse_number,
    plain,
    refused,
)

Unit = Literal["ft", "in", "m", "cm", "mm", "ftUS"]
UNITS: tuple[Unit, ...] = get_args(Unit)

ColumnUnit = Literal["ft", "in", "m", "cm", "mm", "ftUS", "yd", "ft-in"]
"""A unit that one column of a table may be in; "ft-in": each cell in feet and inches, with its marks."""

METRIC_UNITS = frozenset({"m", "cm", "mm"})
"""Declared units whose user thinks in metres; those of all others think in feet and inches."""

METRES_PER: Mapping[str, Fraction] = MappingProxyType(
    {
        "ft": Fraction(3048, 10000),
        "in": Fraction(254, 10000),
        "m": Fraction(1),
        "ftUS": Fraction(1200, 3937),
        "yd": Fraction(9144, 10000),
        "cm": Fraction(1, 100),
        "mm": Fraction(1, 1000),
    }
)
"""Metres in one unit, exact: international foot, US survey foot (1200/3937 m) and their parts."""

LARGEST_METRES = 10**9
"""No yard is a million kilometres wide; a larger number is a slip."""

_WORDS: Mapping[str, str] = {
    **dict.fromkeys(("'", "ft", "foot", "feet"), "ft"),
    **dict.fromkeys(('"', "in", "inch", "inches"), "in"),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(
        ("ftus", "usft", "us-ft", "us ft", "ft us", "us survey ft", "us survey feet", "us survey foot"),
        "ftUS",
    ),
    **dict.fromkeys(("survey ft", "survey feet", "survey foot"), "ftUS"),
    **dict.fromkeys(("yd", "yds", "yard", "yards"), "yd"),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), "cm"),
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
}

_FEET_AND_INCHES = r"(?:ft|feet|foot|')\.?(?: ?(?:-|/|&|\+|,|and) ?| )?(?:in|ins|inch|inches|\")\.?"

_SIGN = r"(?P<sign>[-+]?) ?"
_FRACTION = r"(?:(?:[0-9]+ )?[0-9]+/[0-9]{1,3})"
_FEET_MARK = r"(?:'|ft\.?|foot|feet)"
_INCH_MARK = r"(?:\"|in\.?|inch|inches)"
_FEET_INCHES = (
    rf"(?i){_SIGN}(?P<feet>[0-9]+) ?{_FEET_MARK} ?-? ?"
    rf"(?P<inches>{_FRACTION}|[0-9]+(?:\.[0-9]*)?|\.[0-9]+) ?{_INCH_MARK}?"
)
_DASHED = rf"(?i){_SIGN}(?P<feet>[0-9]+) ?- ?(?P<inches>[0-9]+(?: [0-9]+/[0-9]{{1,3}})?) ?{_INCH_MARK}?"
_DASHED_FRACTION = rf"(?i)[-+]? ?([0-9]+) ?- ?([0-9]+/[0-9]{{1,3}}) ?{_INCH_MARK}?"
_ONE_UNIT = (
    rf"(?i){_SIGN}(?P<amount>{_FRACTION}|[0-9.,]+(?:e[-+]?[0-9]{{1,3}})?) ?"
    r"(?P<unit>['\"]|[a-z][a-z -]*)?\.?"
)


def in_metres(values: Any, unit: str) -> Any:
    """Turn a number, or an array of them, in one of ``UNITS`` into metres.

    Raises ``InputError`` (``array-unit``) for another unit.

    >>> in_metres(12.0, "ft")
    3.6576
    """
    if unit not in UNITS:
        raise InputError([fault("array-unit", unit=visible(str(unit)))])
    per = METRES_PER[unit]
    return values * per.numerator / per.denominator  # 12 * 0.3048 is not the float nearest to 3.6576


def unit_named(word: str) -> str | None:
    """Name the unit a word stands for, a ``ColumnUnit``, or None.

    >>> unit_named("Feet"), unit_named("US survey ft"), unit_named("ft & in"), unit_named("furlong")
    ('ft', 'ftUS', 'ft-in', None)
    """
    tidy = plain(word).lower()
    if re.fullmatch(_FEET_AND_INCHES, tidy):
        return "ft-in"
    return _WORDS.get(tidy.rstrip("."))


def base_unit(unit: ColumnUnit) -> Unit:
    """The unit that a user of ``unit`` thinks of a whole yard in: "ft", "ftUS" or "m".

    >>> base_unit("in"), base_unit("mm"), base_unit("ftUS")
    ('ft', 'm', 'ftUS')
    """
    if unit == "ftUS":
        return "ftUS"
    return "m" if unit in METRIC_UNITS else "ft"


def parse_length(
    text: str, unit: ColumnUnit | None, *, decimal_comma: bool = False, grouped: bool = False
) -> float:
    """Read a length and return it in metres, rounded once.

    ``unit`` is the declared unit of bare numbers; None refuses them, and so does "ft-in". In a job declared
    in US survey feet (``"ftUS"``) feet and inch marks mean that foot too.

    >>> parse_length("5' 3 1/2\\"", None)
    1.6129
    >>> parse_length("4.62", "ft")
    1.408176

    Raises
    ------
    LengthError
        for everything the grammar does not know (``found``, ``expected``, ``fix``).
    """
    return float(parse_length_exact(text, unit, decimal_comma=decimal_comma, grouped=grouped))


def parse_length_exact(
    text: str, unit: ColumnUnit | None, *, decimal_comma: bool = False, grouped: bool = False
) -> Fraction:
    """Read a length and return it in metres, exactly; see ``parse_length``.

    >>> parse_length_exact("1/8 in", None)
    Fraction(127, 40000)
    """
    return _exact(text, unit, decimal_comma, grouped)


@lru_cache(maxsize=1 << 14)  # the places of a grid are the same few lengths on every row
def _exact(text: str, unit: ColumnUnit | None, decimal_comma: bool, grouped: bool) -> Fraction:
    tidy = plain(text)
    if len(tidy) > LONGEST:
        raise _refused(unit, tidy, "long", count=len(tidy))
    metres = _feet_and_inches(tidy, unit)
    if metres is None:
        metres = _one_unit(tidy, unit, decimal_comma, grouped)
    if abs(metres) > LARGEST_METRES:
        raise _refused(unit, tidy, "large")
    return metres


def _feet_and_inches(tidy: str, unit: ColumnUnit | None) -> Fraction | None:
    if tidy.replace(".", "").isdecimal():
        return None  # a bare number has no mark; the patterns are slow to build for nothing
    match = re.fullmatch(_FEET_INCHES, tidy)
    if match is None:
        match = re.fullmatch(_DASHED, tidy)
        if match is None:
            return None
        if unit in METRIC_UNITS:
            raise _refused(unit, tidy, "dashed-metric", feet=match["feet"], inches=match["inches"])
    inches = _amount(match["inches"], tidy, unit)
    if inches >= 12:
        more = int(match["feet"]) + int(inches // 12)
        carried = f"{match['sign']}{more}' {_written(inches % 12)}\""
        raise _refused(unit, tidy, "inches", carried=carried)
    foot = METRES_PER["ftUS" if unit == "ftUS" else "ft"]
    metres = (int(match["feet"]) + inches / 12) * foot
    return -metres if match["sign"] == "-" else metres


def _written(inches: Fraction) -> str:
    """Inches with a fraction, or as a decimal where no rule has such parts."""
    whole, part = divmod(inches, 1)
    if not part:
        return str(whole)
    return f"{whole} {part}" if part.denominator in (2, 4, 8, 16, 32, 64) else f"{float(inches):g}"


def _one_unit(tidy: str, unit: ColumnUnit | None, decimal_comma: bool, grouped: bool) -> Fraction:
    match = re.fullmatch(_ONE_UNIT, tidy)
    word = match["unit"] if match else None
    name = _WORDS.get(word.lower().strip()) if word else unit
    if match is None or (word and name is None):
        raise _unreadable(tidy, unit, word if match else None)
    if "/" in match["amount"]:
        value = _amount(match["amount"], tidy, unit)
    else:
        try:
            value = parse_number(match["amount"], decimal_comma=decimal_comma, grouped=grouped)
        except QuantityError as error:
            raise _refused(unit, tidy, error.cause, **error.likely) from None
    if name is None:
        raise _refused(unit, tidy, "no-unit", number=tidy)
    if not word:
        _doubt_bare(tidy, match["sign"] + match["amount"], value, unit)
    metres = value * _metres_per(name, unit)
    return -metres if match["sign"] == "-" else metres


def _doubt_bare(tidy: str, amount: str, value: Fraction, unit: ColumnUnit | None) -> None:
    """Refuse a bare number whose unit only its writer knows: a fraction among feet or metres, and any
    number in a column of feet and inches, where 5.6 may be 5' 6"."""
    if unit == "ft-in" and value:
        raise _refused(unit, tidy, "bare-feet-inches", amount=amount)
    if "/" not in amount or unit == "in":
        return
    decimal = f"{'-' * amount.startswith('-')}{float(value):g}"
    whole, _, fraction = amount.rpartition(" ")
    if unit in METRIC_UNITS or not whole:
        raise _refused(unit, tidy, "bare-fraction", amount=amount, decimal=decimal)
    likely = {"amount": amount, "whole": whole, "fraction": fraction, "decimal": decimal}
    raise _refused(unit, tidy, "mixed-fraction", **likely)


def _metres_per(name: str, unit: ColumnUnit | None) -> Fraction:
    """In a job declared in US survey feet, feet, inches and yards are parts of that foot."""
    if name == "ft-in":
        return Fraction(0)  # only a bare 0 gets here
    if unit == "ftUS" and name in ("ft", "in", "yd"):
        return METRES_PER["ftUS"] * (METRES_PER[name] / METRES_PER["ft"])
    return METRES_PER[name]


def _amount(text: str, tidy: str, unit: ColumnUnit | None) -> Fraction:
    """A whole number, decimal, fraction or whole number with fraction; text is known to be shaped so."""
    if "/" not in text:
        return parse_number(text)
    whole, _, fraction = text.rpartition(" ")
    top, bottom = (int(part) for part in fraction.split("/"))
    if bottom == 0:
        raise _refused(unit, tidy, "zero-below")
    if whole and top >= bottom:
        raise _refused(unit, tidy, "whole-fraction")
    return (int(whole) if whole else 0) + Fraction(top, bottom)


def _unreadable(tidy: str, unit: ColumnUnit | None, word: str | None) -> LengthError:
    if match := re.fullmatch(_DASHED_FRACTION, tidy):
        return _refused(unit, tidy, "dashed-fraction", whole=match[1], fraction=match[2])
    cause, likely = cause_of(tidy)
    if cause != "other":
        return _refused(unit, tidy, cause, **likely)
    if word:
        return _refused(unit, tidy, "unknown-unit", word=visible(word))
    if match := re.fullmatch(r"([0-9]+) ([0-9]+ [0-9]+/[0-9]+)", tidy):
        return _refused(unit, tidy, "no-marks", feet=match[1], inches=match[2])
    return _refused(unit, tidy, "other")


def _refused(unit: ColumnUnit | None, tidy: str, cause: str, **likely: object) -> LengthError:
    asked = "length-metric" if unit in METRIC_UNITS else "length"
    if unit is None or unit == "ft-in":
        asked = "length-any" if unit is None else "length-feet-inches"
    error = refused(asked, tidy, cause, **{**likely, "unit": "inches" if unit == "in" else unit})
    return LengthError(error.found, error.expected, error.fix, error.cause)


def decimals_of(unit: Unit) -> int:
    """Say with how many decimals a place or a level is written in a job: to 3 mm or better.

    >>> decimals_of("ft"), decimals_of("mm")
    (2, 0)
    """
    return {"m": 3, "cm": 1, "mm": 0, "in": 1}.get(unit, 2)
