"""Every wording of a refusal has a text that leads to it, and says what that text calls for."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

import gradework
from gradework.units.amounts import (
    parse_angle,
    parse_density,
    parse_mass,
    parse_percent,
    parse_pressure,
    parse_speed,
    parse_volume,
)
from gradework.units.lengths import parse_length, parse_length_exact
from gradework.units.numbers import QuantityError, parse_number

TEMPLATES: dict[str, str] = tomllib.loads(
    Path(gradework.__file__).with_name("messages.toml").read_text("utf-8")
)["quantity-unreadable"]
Parse = Callable[[str], object]
feet, metres, bare = (partial(parse_length, unit=unit) for unit in ("ft", "m", None))
inches_and_feet = partial(parse_length, unit="ft-in")
with_commas = partial(parse_number, decimal_comma=True)

REFUSED: list[tuple[Parse, str, str, str, str]] = [
    # parser, text, cause, what is asked, what the advice must hold
    (feet, "", "nothing", "length", "fill it in"),
    (metres, "n/a", "no-value", "length-metric", "fill it in"),
    (feet, "#REF!", "sheet-error", "length", "formula"),
    (feet, "=A1+2", "formula", "length", "values"),
    (feet, "1/2/2026", "date", "length", "as text"),
    (feet, "2-Jan", "day-month", "length", "1/2 or 1-2"),
    (feet, "Mar-04", "day-month", "length", "3/4 or 3-4"),
    (metres, "-inf", "not-finite", "length-metric", "fill in"),
    (metres, "nan", "not-finite", "length-metric", "fill in"),
    (feet, "4-Mar-2026", "day-month", "length", "3/4 or 3-4"),
    (metres, "1e99999", "size", "length-metric", "digits"),
    (metres, "٣٤", "other-digits", "length-metric", "0 to 9"),
    (metres, "5²", "other-digits", "length-metric", "0 to 9"),
    (feet, "1_000", "underscore", "length", "underscore"),
    (parse_number, "1e9999", "size", "number", "digits"),
    (metres, "1e300", "large", "length-metric", "digits"),
    (parse_angle, "99999999", "large", "angle", "digits"),
    (parse_mass, "99999999999999999 kg", "large", "mass", "digits"),
    (metres, "9" * 301, "long", "length-metric", "check"),
    (feet, "(0.25)", "brackets", "length", "-0.25"),
    (feet, "1,234", "comma-or-thousands", "length", "1.234 or 1234"),
    (bare, "98,72 m", "comma", "length-any", "98.72"),
    (with_commas, "1.234", "point-or-thousands", "number-comma", "1,234 or 1234"),
    (with_commas, "98.7", "point", "number-comma", "98,7"),
    (feet, "98.7.2", "two-points", "length", "98.72 or 987.2"),
    (parse_angle, "15.2.3° 30'", "two-points", "angle", "15.23 or 152.3"),
    (feet, "9 8.72", "space", "length", "98.72"),
    (feet, "--4", "other", "length", "write"),
    (parse_speed, "115", "bare", "speed", "units"),
    (parse_pressure, "x", "other", "pressure", "write"),
    (metres, "5-3 1/2", "dashed-metric", "length-metric", "5' 3 1/2\""),
    (feet, "5-3/4", "dashed-fraction", "length", "5 3/4 in or 5' 0 3/4\""),
    (feet, "5 3 1/2", "no-marks", "length", "5' 3 1/2\""),
    (feet, "12 1/4", "mixed-fraction", "length", "12 1/4 in or 12' 0 1/4\" or 12.25 ft"),
    (feet, "-12 1/4", "mixed-fraction", "length", "-12 1/4 in or -12' 0 1/4\" or -12.25 ft"),
    (feet, "1/2", "bare-fraction", "length", "1/2 in or 0.5 ft"),
    (metres, "12 1/4", "bare-fraction", "length-metric", "12 1/4 in or 12.25 m"),
    (inches_and_feet, "5.6", "bare-feet-inches", "length-feet-inches", "5.6 ft or 5.6 in"),
    (feet, "5' 14\"", "inches", "length", "carry"),
    (feet, "3 7/4", "whole-fraction", "length", "fraction"),
    (feet, "3 1/0", "zero-below", "length", "fraction"),
    (bare, "12.5", "no-unit", "length-any", "12.5 ft, 12.5 in or 12.5 m"),
    (bare, "3 furlongs", "unknown-unit", "length-any", "mm"),
    (parse_volume, "3", "bare", "volume", "units"),
    (parse_density, "3 bags", "other-unit", "density", "units"),
    (partial(parse_mass, us=False), "1 ton", "unclear-ton", "mass", "tonnes"),
    (parse_percent, "0.10", "no-percent", "percentage", "%"),
    (parse_angle, "15° 61'", "sixty", "angle", "carry"),
    # the first that is too much, or the last that is not enough
    (parse_angle, "15° 60'", "sixty", "angle", "carry"),
    (parse_angle, "15° 30' 60\"", "sixty", "angle", "carry"),
    (parse_angle, "100001", "large", "angle", "digits"),
    (feet, "5' 12\"", "inches", "length", "6' 0\""),
    (metres, "1000000001", "large", "length-metric", "digits"),
    (metres, "-1000000001", "large", "length-metric", "digits"),
    (parse_mass, "1000000000000001 kg", "large", "mass", "digits"),
    (parse_mass, "-1000000000000001 kg", "large", "mass", "digits"),
    (partial(parse_length_exact, unit="ft"), "1,234", "comma-or-thousands", "length", "1.234 or 1234"),
]


@pytest.mark.parametrize(("parse", "text", "cause", "asked", "advice"), REFUSED)
def test_a_refusal_names_the_text_its_cause_and_the_fix(
    parse: Parse, text: str, cause: str, asked: str, advice: str
) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text)
    error = caught.value
    assert error.cause == cause
    assert cause == "nothing" or error.found.startswith(f"'{text}'"[:30])
    unit = "m" if asked == "length-metric" else "ft"
    assert error.expected == TEMPLATES[f"expected-{asked}"].replace("{unit}", unit)
    assert advice in error.fix


def test_the_last_that_is_not_too_much_is_read() -> None:
    assert parse_angle("15° 59' 59\"") == pytest.approx(15 + 59 / 60 + 59 / 3600)
    assert parse_angle("100000") == 100_000.0
    assert feet("5' 11 7/8\"") == pytest.approx(71.875 * 0.0254)
    assert metres("1000000000") == 1e9
    assert parse_mass("1000000000000000 kg") == 1e15


def test_every_wording_is_reached() -> None:
    said = {f"{part}-{row[2]}" for row in REFUSED for part in ("found", "do")}
    said |= {f"expected-{row[3]}" for row in REFUSED}
    assert said == set(TEMPLATES) - {"kind", "title", "why", "fix"}
