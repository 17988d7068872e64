"""Quantities other than lengths as people write them: angle, percent, mass, volume, density, pressure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from gradework.errors import visible
from gradework.units.numbers import QuantityError, explained, parse_number, plain, refused

# Bulk measures at the doors: cubic yards, pounds and tons, each factor exact by definition.
#
# A volume of soil or gravel always has a state (in place, loose, compacted); the caller says which. A
# bare "ton" is never shown: it is a short ton (2,000 lb), a long ton (2,240 lb) or a tonne (1,000 kg).
# Source: NIST Handbook 44, appendix C (the yard is 0.9144 m and the pound 0.45359237 kg, exactly).

M_PER_FT: Final = 0.3048
M_PER_IN: Final = 0.0254
M2_PER_FT2: Final = 0.09290304
M3_PER_FT3: Final = 0.028316846592
M3_PER_YD3: Final = 0.764554857984
GAL_PER_M3: Final = 1.0 / 0.003785411784
KG_PER_LB: Final = 0.45359237
MPS_PER_MPH: Final = 0.44704
KG_PER_SHORT_TON: Final = 907.18474
KG_PER_LONG_TON: Final = 1016.0469088
KG_PER_TONNE: Final = 1000.0
PA_PER_PSF: Final = 4.4482216152605 / 0.09290304
KPA_PER_PSF: Final = PA_PER_PSF / 1000.0
KPA_PER_PSI: Final = 144.0 * KPA_PER_PSF
KN_PER_LB: Final = 4.4482216152605e-3


def cubic_yards(cubic_metres: float) -> float:
    """Turn cubic metres into cubic yards [yd³]; the state of the soil does not change.

    >>> cubic_yards(0.764554857984)
    1.0
    """
    return cubic_metres / M3_PER_YD3


def flow_words(flow: float, *, us: bool) -> str:
    """Write a flow [m³/s] in US gallons a minute or in litres a second.

    >>> flow_words(0.0023, us=True), flow_words(0.0023, us=False)
    ('36 gal/min', '2.3 l/s')
    """
    return f"{flow * GAL_PER_M3 * 60.0:.0f} gal/min" if us else f"{flow * 1000.0:.1f} l/s"


def force_words(kilonewtons: float, *, us: bool) -> str:
    """Write a force in pounds, to ten of them, or in kilonewtons.

    >>> force_words(12.55, us=True), force_words(12.55, us=False)
    ('2,820 lb', '12.6 kN')
    """
    return f"{round(kilonewtons / KN_PER_LB, -1):,.0f} lb" if us else f"{kilonewtons:.1f} kN"


def stress_words(kilopascals: float, *, us: bool) -> str:
    """Write a stress in wood in pounds a square inch or in megapascals.

    >>> stress_words(7584.2, us=True), stress_words(7584.2, us=False)
    ('1,100 psi', '7.6 MPa')
    """
    return f"{kilopascals / KPA_PER_PSI:,.0f} psi" if us else f"{kilopascals / 1000.0:.1f} MPa"


def area_load_words(kilopascals: float, *, us: bool) -> str:
    """Write a load per area in pounds a square foot or in kilopascals.

    >>> area_load_words(1.915, us=True), area_load_words(1.915, us=False)
    ('40 psf', '1.92 kPa')
    """
    return f"{kilopascals / KPA_PER_PSF:.0f} psf" if us else f"{kilopascals:.2f} kPa"


def short_tons(kilograms: float) -> float:
    """Turn kilograms into short tons of 2,000 lb.

    >>> short_tons(907.18474)
    1.0
    """
    return kilograms / KG_PER_SHORT_TON


def tonnes(kilograms: float) -> float:
    """Turn kilograms into tonnes of 1,000 kg."""
    return kilograms / KG_PER_TONNE


def pounds(kilograms: float) -> float:
    """Turn kilograms into pounds [lb]."""
    return kilograms / KG_PER_LB


def short_tons_per_cubic_yard(density: float) -> float:
    """Turn a density [kg/m³] into short tons per cubic yard (the state goes with the volume).

    >>> round(short_tons_per_cubic_yard(1000.0), 4)
    0.8428
    """
    return density * M3_PER_YD3 / KG_PER_SHORT_TON


_AMOUNT = r"([-+]? ?(?:(?:[0-9]+ )?[0-9]+/[0-9]+|[0-9.,]+)) ?(.*)"
_ANGLE = r"(?i)([-+]?) ?([0-9.]+) ?(?:°|deg|degs|degree|degrees)?(?: ?([0-9.]+) ?'(?: ?([0-9.]+) ?\")?)?"

_MASS: Mapping[str, float] = {
    **dict.fromkeys(("kg", "kilogram", "kilograms", "kilo", "kilos"), 1.0),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), KG_PER_LB),
    **dict.fromkeys(("short ton", "short tons", "us ton", "us tons"), KG_PER_SHORT_TON),
    **dict.fromkeys(("long ton", "long tons"), KG_PER_LONG_TON),
    **dict.fromkeys(("t", "tonne", "tonnes", "metric ton", "metric tons"), KG_PER_TONNE),
}
_VOLUME: Mapping[str, float] = {
    **dict.fromkeys(("m3", "m³", "cubic metre", "cubic metres", "cubic meter", "cubic meters"), 1.0),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), 0.001),
    **dict.fromkeys(("yd3", "yd³", "cu yd", "cy", "cubic yard", "cubic yards"), M3_PER_YD3),
    **dict.fromkeys(("ft3", "ft³", "cu ft", "cf", "cubic foot", "cubic feet"), M3_PER_FT3),
}
_PRESSURE: Mapping[str, float] = {
    "kpa": 1.0,
    "pa": 0.001,
    "kn/m2": 1.0,
    "kn/m²": 1.0,
    "mpa": 1000.0,
    "gpa": 1e6,
    **dict.fromkeys(("psf", "lb/ft2", "lb/ft²", "lb/sq ft", "lbs per sq ft"), KPA_PER_PSF),
    **dict.fromkeys(("psi", "lb/in2", "lb/in²"), KPA_PER_PSI),
}


def parse_angle(text: str) -> float:
    """Read an angle in degrees: ``15``, ``15.5°``, ``15 deg``, ``15° 30' 20"``.

    >>> parse_angle("15° 30'")
    15.5
    """
    tidy = plain(text)
    match = re.fullmatch(_ANGLE, tidy)
    if match is None:
        raise explained("angle", tidy)
    sign, *parts = match.groups()
    try:
        degrees, minutes, seconds = (parse_number(part) if part else 0 for part in parts)
    except QuantityError as error:
        raise refused("angle", tidy, error.cause, **error.likely) from None
    if minutes >= 60 or seconds >= 60:
        raise refused("angle", tidy, "sixty")
    if degrees > 100_000:
        raise refused("angle", tidy, "large")
    size = float(degrees + minutes / 60 + seconds / 3600)
    return -size if sign == "-" and size else size


def parse_percent(text: str) -> float:
    """Read a percentage and return the fraction [-]: ``10 %`` is 0.10. The sign is needed.

    >>> parse_percent("10 %"), parse_percent("5 percent")
    (0.1, 0.05)
    """
    value, word, tidy = _split(text, "percentage")
    if word.lower() not in {"%", "percent", "per cent"}:
        raise refused("percentage", tidy, "no-percent")
    return value / 100


def parse_mass(text: str, *, us: bool = True) -> float:
    """Read a mass and return kilograms: ``50 lb``, ``0.5 tons``, ``25 kg``, ``1 tonne``, ``2 short tons``.

    A bare "ton" is a short ton in a US job (``us``) and refused in a metric one.

    >>> parse_mass("50 lb"), parse_mass("0.5 tons"), parse_mass("1 tonne")
    (22.6796185, 453.59237, 1000.0)
    """
    table = {**_MASS, **(dict.fromkeys(("ton", "tons"), KG_PER_SHORT_TON) if us else {})}
    return _quantity(text, table, "mass")


def parse_volume(text: str) -> float:
    """Read a volume and return cubic metres: ``0.5 cu ft``, ``1 yd3``, ``0.8 m³``, ``25 l``.

    >>> parse_volume("1 cu yd")
    0.764554857984
    """
    return _quantity(text, _VOLUME, "volume")


def parse_density(text: str, *, us: bool = True) -> float:
    """Read a density and return kg/m³: ``105 lb/ft3``, ``1.4 short tons/yd3``, ``1800 kg/m3``, ``110 pcf``.

    >>> parse_density("1800 kg/m3"), round(parse_density("100 pcf"), 3)
    (1800.0, 1601.846)
    """
    masses = {**_MASS, **(dict.fromkeys(("ton", "tons"), KG_PER_SHORT_TON) if us else {})}
    table = {
        f"{m}{per}{v}": kg / m3
        for m, kg in masses.items()
        for v, m3 in _VOLUME.items()
        for per in ("/", " per ")
    }
    table["pcf"] = KG_PER_LB / M3_PER_FT3
    return _quantity(text, table, "density")


_SPEED: Mapping[str, float] = {
    **dict.fromkeys(("m/s", "metres per second", "meters per second"), 1.0),
    **dict.fromkeys(("mph", "miles per hour", "mi/h"), MPS_PER_MPH),
    **dict.fromkeys(("km/h", "kph", "kilometres per hour", "kilometers per hour"), 1.0 / 3.6),
}


def parse_speed(text: str) -> float:
    """Read a speed and return metres per second: ``115 mph``, ``51 m/s``, ``185 km/h``.

    >>> round(parse_speed("115 mph"), 2), parse_speed("36 km/h")
    (51.41, 10.0)
    """
    return _quantity(text, _SPEED, "speed")


def speed_words(speed: float, *, us: bool) -> str:
    """Write a speed [m/s] in miles per hour or in metres per second.

    >>> speed_words(51.41, us=True), speed_words(51.41, us=False)
    ('115 mph', '51 m/s')
    """
    return f"{speed / MPS_PER_MPH:.0f} mph" if us else f"{speed:.0f} m/s"


def parse_pressure(text: str) -> float:
    """Read a pressure and return kilopascals: ``1500 psf``, ``72 kPa``, ``30 psi``.

    >>> parse_pressure("72 kPa"), round(parse_pressure("1500 psf"), 2)
    (72.0, 71.82)
    """
    return _quantity(text, _PRESSURE, "pressure")


def _quantity(text: str, table: Mapping[str, float], asked: str) -> float:
    value, word, tidy = _split(text, asked)
    factor = table.get(word.lower().rstrip("."))
    if factor is not None:
        return value * factor
    if word.lower() in {"ton", "tons"}:
        raise refused(asked, tidy, "unclear-ton")
    raise refused(asked, tidy, "other-unit", word=visible(word)) if word else refused(asked, tidy, "bare")


def _split(text: str, asked: str) -> tuple[float, str, str]:
    """The number before a unit, the unit as it is written, and the whole text tidied."""
    tidy = plain(text)
    match = re.fullmatch(_AMOUNT, tidy)
    if match is None:
        raise explained(asked, tidy)
    amount, word = match.groups()
    whole, _, fraction = amount.rpartition(" ") if "/" in amount else (amount, "", "")
    try:
        value = parse_number(whole) if whole else parse_number("0")
        if fraction:
            top, bottom = fraction.split("/")
            part = parse_number(top) / parse_number(bottom)
            value = value - part if whole.startswith("-") else value + part
    except (QuantityError, ZeroDivisionError):
        raise explained(asked, tidy) from None
    if abs(value) > 10**15:
        raise refused(asked, tidy, "large")
    return float(value), word.strip(), tidy
