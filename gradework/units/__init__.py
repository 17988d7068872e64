"""Lengths, bulk measures and other quantities as people write them and like to read them back.

The only room (with the doors that use it) where feet, inches, fractions, yards and tons exist; everything
above works in metres, square metres, cubic metres, kilograms and kilopascals. It never guesses a unit or a
digit, never reads a file, and never prints.
"""

from gradework.units.amounts import (
    parse_angle,
    parse_density,
    parse_mass,
    parse_percent,
    parse_pressure,
    parse_volume,
)
from gradework.units.display import FEET, METRIC, Display, counted
from gradework.units.lengths import METRES_PER, Unit, parse_length, parse_length_exact, unit_named
from gradework.units.numbers import parse_number
from gradework.units.refusal import LengthError, QuantityError

__all__ = [
    "FEET",
    "METRES_PER",
    "METRIC",
    "Display",
    "LengthError",
    "QuantityError",
    "Unit",
    "counted",
    "parse_angle",
    "parse_density",
    "parse_length",
    "parse_length_exact",
    "parse_mass",
    "parse_number",
    "parse_percent",
    "parse_pressure",
    "parse_volume",
    "unit_named",
]
