"""How values are shown back: the user's own units, honest digits, never "-0.00".

Rounding is half away from zero on the decimal a person would see (a value within a millionth of the last
digit of a tie counts as the tie, so 101.245 ft, which no binary number holds, shows as 101.25). What is
written is read again before it is shown.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal

from gradework.errors import CheckError, Dialect
from gradework.units.amounts import GAL_PER_M3, cubic_yards, pounds, short_tons, tonnes
from gradework.units.lengths import METRES_PER, Unit

# Each figure is read again by a second way, which shares nothing with the writing: it must say the value it
# was written from, within its last digit.

_HALF = 0.5 + 2e-6  # of the last digit; a value a millionth short of a tie still counts as the tie


def proved_decimal(text: str, value: float, digits: int) -> str:
    """Give ``text`` back; raise ``CheckError`` unless it says ``value`` to ``digits`` decimals.

    >>> proved_decimal("101.25", 101.245, 2)
    '101.25'
    """
    if abs(float(text) - value) > _HALF * 10.0**-digits + 4e-16 * abs(value):
        raise CheckError(f"{value!r} would be shown as {text}")
    return text


def proved_inches(text: str, inches: float) -> str:
    """Give ``text`` back; raise ``CheckError`` unless it says ``inches`` [in] to an eighth.

    >>> proved_inches("-5' 0 1/2\\"", -60.47)
    '-5\\' 0 1/2"'
    """
    if abs(_inches_in(text) - inches) > _HALF / 8 + 4e-16 * abs(inches):
        raise CheckError(f"{inches!r} in would be shown as {text}")
    return text


def _inches_in(text: str) -> float:
    feet, mark, rest = text.removeprefix("-").rpartition("'")
    total = 12.0 * int(feet) if mark else 0.0
    for part in rest.removesuffix('"').split():
        above, _, below = part.partition("/")
        total += int(above) / int(below or 1)
    return -total if text.startswith("-") else total


UNKNOWN = "unknown"
"""What is shown for a value that is not known (NaN)."""

_NEAR_TIE = 1e-6  # of the last digit: what binary fractions miss of a decimal tie, and far below what is read
_SMALL_MASS_KG = 250.0  # below a quarter of a ton a person thinks in bags, so in pounds or kilograms
_LONGEST_DEPTH_IN_INCHES = 36  # a deeper hole is said in feet and inches


def round_half_away(value: float, digits: int = 0) -> int:
    """Round ``value`` to ``digits`` decimals, half away from zero; returns the integer of last digits.

    >>> round_half_away(2.5), round_half_away(-2.5), round_half_away(101.245, 2)
    (3, -3, 10125)
    """
    count: int = math.floor(abs(value) * float(10**digits) + 0.5 + _NEAR_TIE)
    return -count if value < 0 else count


def fixed(value: float, digits: int) -> str:
    """Write ``value`` with ``digits`` decimals; NaN and infinity as "unknown".

    >>> fixed(-0.001, 2), fixed(101.245, 2), fixed(-0.5, 0), fixed(float("nan"), 2)
    ('0.00', '101.25', '-1', 'unknown')
    """
    if not math.isfinite(value):
        return UNKNOWN
    count = round_half_away(value, digits)
    figures = str(abs(count)).rjust(digits + 1, "0")
    sign = "-" if count < 0 else ""
    text = f"{sign}{figures[:-digits]}.{figures[-digits:]}" if digits else f"{sign}{figures}"
    return proved_decimal(text, value, digits)


def counted(count: float, things: str) -> str:
    """Write how many; ``things`` is a plural, whose first noun loses its s where the count is one.

    >>> counted(1, "rolls"), counted(2.5, "short tons"), counted(1, "bags of 50 lb"), counted(1103, "boards")
    ('1 roll', '2.5 short tons', '1 bag of 50 lb', '1103 boards')
    """
    named = re.sub(r"s(?= of |$)", "", things, count=1) if count == 1 else things
    return f"{int(count) if count == int(count) else count} {named}"


def eighths(inches: float) -> str:
    """Write inches to the nearest 1/8 with a fraction, without a mark.

    >>> eighths(4.5), eighths(0.13), eighths(-2.0), eighths(0.01)
    ('4 1/2', '1/8', '-2', '0')
    """
    if not math.isfinite(inches):
        return UNKNOWN
    count = round_half_away(inches * 8)
    return proved_inches(("-" if count < 0 else "") + _inches(abs(count)), inches)


def _inches(count: int) -> str:
    whole, part = divmod(count, 8)
    if not part:
        return str(whole)
    common = math.gcd(part, 8)
    fraction = f"{part // common}/{8 // common}"
    return f"{whole} {fraction}" if whole else fraction


def feet_inches(inches: float) -> str:
    """Write inches as feet and inches to the nearest 1/8.

    >>> feet_inches(16.5), feet_inches(4.5), feet_inches(60), feet_inches(-60.5), feet_inches(0)
    ('1\\' 4 1/2"', '4 1/2"', '5\\' 0"', '-5\\' 0 1/2"', '0"')
    """
    if not math.isfinite(inches):
        return UNKNOWN
    count = round_half_away(inches * 8)
    sign, count = ("-", -count) if count < 0 else ("", count)
    feet, rest = divmod(count, 96)
    if not feet:
        return proved_inches(f'{sign}{_inches(rest)}"', inches)
    small = f"0 {_inches(rest)}" if 0 < rest < 8 else _inches(rest)
    return proved_inches(f"{sign}{feet}' {small}\"", inches)


@dataclass(frozen=True, slots=True)
class Display:
    """Shows metres, square metres, cubic metres and kilograms in the user's units.

    ``unit`` is the declared unit of the job: "ft", "ftUS" and "in" show feet, inches, cubic yards and
    short tons; "m" shows metric. ``style`` "feet-inches" also writes elevations and distances so.
    A value that is not finite shows as "unknown".

    >>> show = Display("ft")
    >>> show.elevation(30.858), show.length(0.4191), show.depth(0.1143), show.mass(6270.0)
    ('101.24 ft', '1\\' 4 1/2"', '4 1/2 in', '6.9 short tons')
    >>> METRIC.elevation(30.858), METRIC.length(0.412), METRIC.depth(0.115), METRIC.mass(6270.0)
    ('30.858 m', '0.412 m', '115 mm', '6.27 tonnes')
    """

    unit: Unit
    style: Literal["decimal", "feet-inches"] = "decimal"

    @property
    def us(self) -> bool:
        """True for feet and inches, False for metric."""
        return self.unit != "m"

    @property
    def dialect(self) -> Dialect:
        """Whose trade words go with these units."""
        return "us" if self.us else "gb"

    @property
    def unit_name(self) -> str:
        """The short name of the unit of elevations and distances: "ft" or "m"."""
        return "ft" if self.us else "m"

    @property
    def unit_title(self) -> str:
        """The unit of elevations and distances in a legend: "feet", "US survey feet" or "metres"."""
        return {"m": "metres", "ftUS": "US survey feet"}.get(self.unit, "feet")

    @property
    def metres_per_unit(self) -> float:
        """Metres in one unit of elevations and distances (a foot or a metre)."""
        return float(METRES_PER[self.unit if self.unit in ("m", "ftUS") else "ft"])

    @property
    def area_unit(self) -> str:
        """The unit of ``area``."""
        return "sq ft" if self.us else "m²"

    @property
    def volume_unit(self) -> str:
        """The unit of ``volume``."""
        return "yd³" if self.us else "m³"

    def in_units(self, metres: float) -> float:
        """Turn metres into the unit of elevations and distances."""
        return metres / self.metres_per_unit

    def to_metres(self, value: float) -> float:
        """Turn a value in the unit of elevations and distances into metres."""
        return value * self.metres_per_unit

    def _inches(self, metres: float) -> float:
        return self.in_units(metres) * 12

    def elevation_number(self, metres: float) -> str:
        """An elevation without its unit: 0.01 ft or 0.001 m."""
        return fixed(self.in_units(metres), 2 if self.us else 3)

    def elevation(self, metres: float) -> str:
        """An elevation, or a difference of elevations, with its unit."""
        if self.us and self.style == "feet-inches":
            return feet_inches(self._inches(metres))
        return self._named(self.elevation_number(metres))

    def error(self, metres: float) -> str:
        """A standard error with its unit, to one place more than an elevation: 0.001 ft or 0.1 mm."""
        if not self.us:
            return _with(fixed(metres * 1000, 1), "mm")
        return self._named(fixed(self.in_units(metres), 3))

    def distance(self, metres: float) -> str:
        """A distance on plan with its unit: 0.1 ft or 0.01 m."""
        if self.us and self.style == "feet-inches":
            return feet_inches(self._inches(metres))
        return self._named(fixed(self.in_units(metres), 1 if self.us else 2))

    def length(self, metres: float) -> str:
        """A short length: feet and inches to 1/8 in, or metres to 1 mm."""
        return feet_inches(self._inches(metres)) if self.us else self._named(fixed(metres, 3))

    def length_label(self, metres: float) -> str:
        """A dimension on a drawing: feet and inches to 1/8 in, or metres to 1 cm."""
        return feet_inches(self._inches(metres)) if self.us else self._named(fixed(metres, 2))

    def depth(self, metres: float) -> str:
        """A thickness or depth: inches to 1/8 in (feet and inches from 36 in on), or millimetres."""
        if not self.us:
            return _with(fixed(metres * 1000, 0), "mm")
        inches = self._inches(metres)
        if abs(inches) < _LONGEST_DEPTH_IN_INCHES:
            return _with(eighths(inches), "in")
        return feet_inches(inches)

    def area(self, square_metres: float) -> str:
        """An area: square feet or square metres, three figures or whole units."""
        value = square_metres / self.metres_per_unit**2
        return _with(fixed(value, _digits(value, 2)), self.area_unit)

    def volume_number(self, cubic_metres: float) -> str:
        """A volume without its unit, three figures or whole units; the caller says the state."""
        value = cubic_yards(cubic_metres) if self.us else cubic_metres
        return fixed(value, _digits(value, 2))

    def volume(self, cubic_metres: float) -> str:
        """A volume: cubic yards or cubic metres; the caller says in place, loose or compacted."""
        return _with(self.volume_number(cubic_metres), self.volume_unit)

    def mass(self, kilograms: float) -> str:
        """A mass: short tons or tonnes; pounds or kilograms under a quarter of a tonne."""
        if abs(kilograms) < _SMALL_MASS_KG:
            value = pounds(kilograms) if self.us else kilograms
            return _with(fixed(value, 1 if 0 < abs(value) < 10 else 0), "lb" if self.us else "kg")
        if self.us:
            tons = short_tons(kilograms)
            return _with(fixed(tons, 2 if abs(tons) < 1 else 1), "short tons")
        return _with(fixed(tonnes(kilograms), 2), "tonnes")

    def flow(self, cubic_metres_per_second: float) -> str:
        """A flow of water: US gallons a minute or litres a second.

        >>> FEET.flow(0.0023), METRIC.flow(0.0023)
        ('36 gal/min', '2.3 l/s')
        """
        if self.us:
            return _with(fixed(cubic_metres_per_second * GAL_PER_M3 * 60.0, 0), "gal/min")
        return _with(fixed(cubic_metres_per_second * 1000.0, 1), "l/s")

    def slope(self, fraction: float) -> str:
        """A slope (rise over run, [-]) in percent."""
        return _with(fixed(fraction * 100, 1), "%")

    def place(self, x: float, y: float) -> str:
        """A place on plan, from metres.

        >>> FEET.place(3.81, 2.4384)
        'x 12.5 ft, y 8.0 ft'
        """
        return f"x {self.distance(x)}, y {self.distance(y)}"

    def _named(self, number: str) -> str:
        return _with(number, self.unit_name)


def _with(number: str, unit: str) -> str:
    return number if number == UNKNOWN else f"{number} {unit}"


def _digits(value: float, most: int) -> int:
    """Decimals that leave about three figures, at most ``most``."""
    size = abs(value)
    return most if size < 10 else (most - 1 if size < 100 else 0)


METRIC = Display("m")
FEET = Display("ft")
