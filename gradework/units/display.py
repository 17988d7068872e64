"""How values are shown back: the user's own units, honest digits, never "-0.00".

Rounding is half away from zero on the decimal a person would see (a value within a millionth of the last
digit of a tie counts as the tie, so 101.245 ft, which no binary number holds, shows as 101.25). What is
written is read again before it is shown.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from gradework.errors import Dialect
from gradework.units.amounts import cubic_yards, pounds, short_tons, tonnes
from gradework.units.form import AS_THE_UNIT, FORMS, Form, form_of
from gradework.units.lengths import METRES_PER, METRIC_UNITS, Unit
from gradework.units.readback import proved_decimal, proved_inches

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

    Short tons are said as tons: each page says once that its ton is 2,000 lb.

    >>> counted(1, "rolls"), counted(2.5, "short tons"), counted(1, "bags of 50 lb"), counted(1103, "boards")
    ('1 roll', '2.5 tons', '1 bag of 50 lb', '1,103 boards')
    """
    said = things.removeprefix("short ")
    named = re.sub(r"s(?= of |$)", "", said, count=1) if count == 1 else said
    return f"{int(count) if count == int(count) else count:,} {named}"


def eighths(inches: float, parts: int = 8) -> str:
    """Write inches with a fraction to the nearest of ``parts`` of an inch (1/8), without a mark.

    >>> eighths(4.5), eighths(0.13), eighths(-2.0), eighths(0.01), eighths(0.0625, 16), eighths(2.4, 1)
    ('4 1/2', '1/8', '-2', '0', '1/16', '2')
    """
    if not math.isfinite(inches):
        return UNKNOWN
    count = round_half_away(inches * parts)
    return proved_inches(("-" if count < 0 else "") + _inches(abs(count), parts), inches, parts)


def _inches(count: int, parts: int) -> str:
    whole, part = divmod(count, parts)
    if not part:
        return str(whole)
    common = math.gcd(part, parts)
    fraction = f"{part // common}/{parts // common}"
    return f"{whole} {fraction}" if whole else fraction


def feet_inches(inches: float, parts: int = 8) -> str:
    """Write inches as feet and inches to the nearest of ``parts`` of an inch (1/8).

    >>> feet_inches(16.5), feet_inches(4.5), feet_inches(60), feet_inches(-60.5), feet_inches(0)
    ('1\\' 4 1/2"', '4 1/2"', '5\\' 0"', '-5\\' 0 1/2"', '0"')
    """
    if not math.isfinite(inches):
        return UNKNOWN
    count = round_half_away(inches * parts)
    sign, count = ("-", -count) if count < 0 else ("", count)
    feet, rest = divmod(count, 12 * parts)
    if not feet:
        return proved_inches(f'{sign}{_inches(rest, parts)}"', inches, parts)
    small = f"0 {_inches(rest, parts)}" if 0 < rest < parts else _inches(rest, parts)
    return proved_inches(f"{sign}{feet}' {small}\"", inches, parts)


_TENTHS_PLACES = 2  # a rod in decimals of feet is read to 0.01 ft
_METRE_PLACES = 3


@dataclass(frozen=True, slots=True)
class Display:
    """Shows metres, square metres, cubic metres and kilograms in the user's own form; nothing else does.

    ``unit``: the declared unit of the job, which decides what is sold and said (cubic yards, tons and US
    words for feet and inches; metric and British words for metres). ``form``: how lengths are said; without
    it tenths for feet, inches for inches, metres for metres. ``parts``: the finest fraction of an inch.
    ``sd`` [m]: standard error of what is shown, 0 for what is designed, read or set out; levels and depths
    have no finer a figure than it earns. What is not finite shows as "unknown". Each kind of quantity has
    one method, so that it has one form wherever it is shown:

    ================  ===================  =========  =======  =======
    kind              inches               tenths     m        mm
    ================  ===================  =========  =======  =======
    ``elevation``     101' 2 7/8"          101.24 ft  30.858 m  30.858 m
    ``rod``           4' 6 7/8"            4.57 ft    1.393 m  1393 mm
    ``cut_or_fill``   6 3/4 in             0.56 ft    0.171 m  171 mm
    ``depth``         6 3/4 in             6 3/4 in   171 mm   171 mm
    ``taped``         28' 7 1/2"           28.63 ft   8.725 m  8.725 m
    ``distance``      12' 6"               12.5 ft    3.81 m   3.81 m
    ``length``        1' 4 1/2"            1' 4 1/2"  0.419 m  419 mm
    ``error``         0.17 in              0.014 ft   4.2 mm   4.2 mm
    ================  ===================  =========  =======  =======

    >>> FEET.elevation(30.858), FEET.length(0.4191), FEET.depth(0.1143), METRIC.mass(6270.0)
    ('101.24 ft', '1\\' 4 1/2"', '4 1/2 in', '6.27 tonnes')
    >>> inches = Display("ft", "inches")
    >>> inches.elevation(30.858), inches.rod(1.3938), inches.cut_or_fill(0.1715)
    ('101\\' 2 7/8"', '4\\' 6 7/8"', '6 3/4 in')
    """

    unit: Unit
    form: Form = AS_THE_UNIT
    parts: int = 8
    sd: float = 0.0

    def __post_init__(self) -> None:
        if self.form not in FORMS:
            object.__setattr__(self, "form", form_of(self.unit))

    @property
    def us(self) -> bool:
        """True where things are sold and named as with feet and inches, False for metric."""
        return self.unit not in METRIC_UNITS

    @property
    def metric(self) -> bool:
        """True where lengths are said in metres or millimetres."""
        return self.form in ("m", "mm")

    @property
    def dialect(self) -> Dialect:
        """Whose trade words go with these units."""
        return "us" if self.us else "gb"

    @property
    def fine(self) -> Display:
        """The same with inches to 1/16, as what is built already is measured."""
        return replace(self, parts=16)

    # The unit that a scale, an axis or a column of bare figures is in: a foot or a metre.

    @property
    def length_unit(self) -> Unit:
        """The unit of elevations and distances: "ft", "ftUS" or "m"."""
        if self.metric:
            return "m"
        return "ftUS" if self.unit == "ftUS" else "ft"

    @property
    def unit_name(self) -> str:
        """The short name of the unit of elevations and distances: "ft" or "m"."""
        return "m" if self.metric else "ft"

    @property
    def unit_title(self) -> str:
        """The unit of elevations and distances in a legend: "feet", "feet and inches" or "metres"."""
        if self.form == "inches":
            return "US survey feet and inches" if self.unit == "ftUS" else "feet and inches"
        return {"m": "metres", "ftUS": "US survey feet"}.get(self.length_unit, "feet")

    @property
    def metres_per_unit(self) -> float:
        """Metres in one unit of elevations and distances (a foot or a metre)."""
        return float(METRES_PER[self.length_unit])

    def in_units(self, metres: float) -> float:
        """Turn metres into the unit of elevations and distances."""
        return metres / self.metres_per_unit

    @property
    def unit_mark(self) -> str:
        """What follows a bare elevation or a blank for one: "ft", "m", or nothing where marks say it."""
        return "" if self.form == "inches" else self.unit_name

    @property
    def written_unit(self) -> str:
        """The unit that readings are written down in by hand: "ft in", "ft", "m" or "mm"."""
        return {"inches": "ft in", "mm": "mm"}.get(self.form, self.unit_name)

    def heading(self, words: str) -> str:
        """Head a column of elevations: with its unit, but for inches, whose marks stand in each cell.

        >>> FEET.heading("level"), Display("ft", "inches").heading("level"), METRIC.heading("level")
        ('level (ft)', 'level', 'level (m)')
        """
        return f"{words} ({self.unit_mark})" if self.unit_mark else words

    def rod_heading(self, words: str) -> str:
        """Head a column of readings on a rod: ``heading``, or millimetres where those are said."""
        return f"{words} (mm)" if self.form == "mm" else self.heading(words)

    def _inches(self, metres: float) -> float:
        return metres / float(METRES_PER["ftUS" if self.unit == "ftUS" else "ft"]) * 12

    def _feet_inches(self, metres: float, parts: int | None = None) -> str:
        return feet_inches(self._inches(metres), parts or self.parts)

    # Levels: what a rod, a level and a stake tell.

    @property
    def step(self) -> float:
        """The last figure of a level, a rod reading, a cut or a fill [m]: 1/8 in, 0.01 ft or 1 mm."""
        if self.metric:
            return 0.001
        foot = float(METRES_PER[self.length_unit])
        return foot / 12 / self.parts if self.form == "inches" else foot / 100

    def is_rounding(self, difference: float) -> bool:
        """True for a difference of levels [m] that rounding alone can make: it is nothing to tell.

        >>> FEET.is_rounding(0.003), FEET.is_rounding(0.004), METRIC.is_rounding(0.002)
        (True, False, False)
        """
        return abs(difference) <= self.step * (1 + _NEAR_TIE)

    def known_to(self, sd: float) -> Display:
        """The same for measured ground of standard error ``sd`` [m]; NaN, not known, changes nothing.

        The last figure is the largest one of the form that the error still holds.

        >>> METRIC.known_to(0.02).elevation(30.43556), METRIC.known_to(0.02).depth(0.115)
        ('30.44 m', '120 mm')
        >>> FEET.known_to(0.004).elevation(30.43556), FEET.known_to(0.04).elevation(30.43556)
        ('99.85 ft', '99.9 ft')
        >>> inches = Display("ft", "inches")
        >>> inches.elevation(30.43556), inches.known_to(0.02).elevation(30.43556)
        ('99\\' 10 1/4"', '99\\' 10 1/2"')
        """
        return replace(self, sd=sd) if math.isfinite(sd) else self

    def _places(self, finest: int, unit: float) -> int:
        """Decimals of a level in ``unit`` [m]: ``finest``, or as many as its error earns."""
        if self.sd <= 0.0:
            return finest
        return min(finest, -math.floor(math.log10(self.sd / unit) + _NEAR_TIE))

    def _earned(self) -> int:
        """Parts of an inch of a level: the finest, or as many as its error earns."""
        parts = self.parts
        while parts > 1 and self._inches(self.sd) * parts >= 2.0:
            parts //= 2
        return parts

    def elevation_number(self, metres: float) -> str:
        """An elevation without its unit, to 1/8 in, 0.01 ft or 1 mm."""
        if self.form == "inches":
            return self._feet_inches(metres, self._earned())
        places = self._places(_METRE_PLACES if self.metric else _TENTHS_PLACES, self.metres_per_unit)
        return fixed(self.in_units(metres), max(0, places))

    def elevation(self, metres: float) -> str:
        """An elevation, or a difference of elevations, with its unit."""
        return _with(self.elevation_number(metres), self.unit_mark)

    def contour(self, metres: float, decimals: int) -> str:
        """A round level on a contour, with as many ``decimals`` as the interval needs."""
        return self._feet_inches(metres) if self.form == "inches" else fixed(self.in_units(metres), decimals)

    def rod_number(self, metres: float) -> str:
        """A reading on a rod or a tape held upright, a cut or a fill, without its unit."""
        return fixed(metres * 1000, 0) if self.form == "mm" else self.elevation_number(metres)

    def rod(self, metres: float) -> str:
        """A reading on a rod, or a height above or below a string, with its unit."""
        number = self.rod_number(metres)
        return _with(number, "mm" if self.form == "mm" else self.unit_mark)

    def cut_or_fill(self, metres: float) -> str:
        """A cut or a fill at a stake with its unit: inches up to three feet, else as on the rod."""
        if self.form == "inches" and abs(self._inches(metres)) < _LONGEST_DEPTH_IN_INCHES:
            return _with(eighths(self._inches(metres), self.parts), "in")
        return self.rod(metres)

    def stake(self, metres: float) -> str:
        """A cut or a fill as it is written on the stake: without its unit, but for inches.

        >>> FEET.stake(0.1715), Display("ft", "inches").stake(0.1715)
        ('0.56', '6 3/4 in')
        """
        return self.cut_or_fill(metres) if self.form == "inches" else self.rod_number(metres)

    def hung(self, metres: float) -> str:
        """A height above (+) or below a string, as it is measured: up or down from the string.

        >>> FEET.hung(-0.508), Display("ft", "inches").hung(-0.508), METRIC.hung(0.0)
        ('1.67 down', '1\\' 8" down', 'at the string')
        """
        number, way = self.rod_number(abs(metres)), "up" if metres > 0.0 else "down"
        return "at the string" if number == self.rod_number(0.0) else f"{number} {way}"

    @property
    def error_unit(self) -> str:
        """The unit of ``error``: "in", "ft" or "mm"."""
        return "mm" if self.metric else "in" if self.form == "inches" else "ft"

    def error_number(self, metres: float) -> str:
        """A standard error without its unit, to one place more than a level: 0.01 in, 0.001 ft, 0.1 mm."""
        if self.metric:
            return fixed(metres * 1000, 1)
        return fixed(self._inches(metres), 2) if self.form == "inches" else fixed(self.in_units(metres), 3)

    def error(self, metres: float) -> str:
        """A standard error with its unit."""
        return _with(self.error_number(metres), self.error_unit)

    # Distances and sizes: what a tape tells.

    def distance(self, metres: float) -> str:
        """A distance on plan with its unit, roughly: an inch, 0.1 ft or 0.01 m."""
        if self.form == "inches":
            return self._feet_inches(metres, 1)
        return _with(fixed(self.in_units(metres), 2 if self.metric else 1), self.unit_name)

    def taped_number(self, metres: float) -> str:
        """A place or length to be set out with a tape, without its unit, to 1/8 in, 0.01 ft or 1 mm."""
        return self.elevation_number(metres)

    def short_number(self, metres: float) -> str:
        """A place of a grid without its unit: ``taped_number`` without idle zeros.

        >>> FEET.short_number(3.81), METRIC.short_number(12.0), Display("ft", "inches").short_number(3.81)
        ('12.5', '12', '12\\' 6"')
        """
        number = self.taped_number(metres)
        return number.rstrip("0").rstrip(".") if "." in number else number

    def job_number(self, metres: float) -> str:
        """A bare length as the job file takes it, in the declared unit whatever form it is said in.

        >>> Display("ft", "m").job_number(3.81), Display("in").job_number(0.3048), METRIC.job_number(-1e-9)
        ('12.5', '12', '0')
        """
        return fixed(metres / float(METRES_PER[self.unit]), 3).rstrip("0").rstrip(".")

    def taped(self, metres: float) -> str:
        """A length to be set out with a tape, with its unit."""
        return self.elevation(metres)

    def length(self, metres: float) -> str:
        """The size of a thing: feet and inches to 1/8 in, or metres to 1 mm, or millimetres."""
        if self.metric:
            return self.rod(metres)
        return self._feet_inches(metres)

    def length_label(self, metres: float) -> str:
        """A dimension on a drawing: feet and inches to 1/8 in, or metres to 1 cm, or millimetres."""
        return _with(fixed(metres, 2), "m") if self.form == "m" else self.length(metres)

    def depth(self, metres: float) -> str:
        """A thickness or depth: inches to 1/8 in (feet and inches from 36 in on), or millimetres."""
        if self.metric:
            coarse = 0.001 * 10.0 ** -min(0, self._places(0, 0.001))
            return _with(fixed(coarse * round_half_away(metres / coarse) * 1000, 0), "mm")
        inches = self._inches(metres)
        if abs(inches) < _LONGEST_DEPTH_IN_INCHES:
            return _with(eighths(inches, self._earned()), "in")
        return self._feet_inches(metres, self._earned())

    def place(self, x: float, y: float) -> str:
        """A place on plan, from metres.

        >>> FEET.place(3.81, 2.4384), Display("ft", "inches").place(3.81, 2.4384)
        ('x 12.5 ft, y 8.0 ft', 'x 12\\' 6", y 8\\' 0"')
        """
        return f"x {self.distance(x)}, y {self.distance(y)}"

    @property
    def area_unit(self) -> str:
        """The unit of ``area``."""
        return "m²" if self.metric else "sq ft"

    def area(self, square_metres: float) -> str:
        """An area: square feet or square metres, three figures or whole units."""
        value = square_metres / self.metres_per_unit**2
        return _with(fixed(value, _digits(value, 2)), self.area_unit)

    # What is bought goes with the unit of the job, whatever form its lengths are said in.

    @property
    def volume_unit(self) -> str:
        """The unit of ``volume``."""
        return "yd³" if self.us else "m³"

    def volume_number(self, cubic_metres: float) -> str:
        """A volume without its unit, three figures or whole units; the caller says the state."""
        value = cubic_yards(cubic_metres) if self.us else cubic_metres
        return fixed(value, _digits(value, 2))

    def volume(self, cubic_metres: float) -> str:
        """A volume: cubic yards or cubic metres; the caller says in place, loose or compacted."""
        return _with(self.volume_number(cubic_metres), self.volume_unit)

    @property
    def mass_unit(self) -> str:
        """The unit of ``mass``, from a quarter of a ton on."""
        return "tons" if self.us else "tonnes"

    def mass(self, kilograms: float) -> str:
        """A mass: tons of 2,000 lb or tonnes; pounds or kilograms under a quarter of a tonne."""
        if abs(kilograms) < _SMALL_MASS_KG:
            value = pounds(kilograms) if self.us else kilograms
            return _with(fixed(value, 1 if 0 < abs(value) < 10 else 0), "lb" if self.us else "kg")
        tons = short_tons(kilograms) if self.us else tonnes(kilograms)
        return _with(fixed(tons, 2 if abs(tons) < 1 or not self.us else 1), self.mass_unit)

    def slope(self, fraction: float) -> str:
        """A slope (rise over run, [-]) in percent."""
        return _with(fixed(fraction * 100, 1), "%")


def _with(number: str, unit: str) -> str:
    return number if number == UNKNOWN or not unit else f"{number} {unit}"


def _digits(value: float, most: int) -> int:
    """Decimals that leave about three figures, at most ``most``."""
    size = abs(value)
    return most if size < 10 else (most - 1 if size < 100 else 0)


METRIC = Display("m")
FEET = Display("ft")
