"""Whole columns of plain decimals to metres at the speed of C, with exactly the values of the careful way.

``float(text) * 0.3048`` would be wrong in the last place for about every second number. A decimal with k
places is n / 10^k, and n·381 / (1250·10^k) needs one rounding only, so both ways give the same double.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from fractions import Fraction
from functools import cache

from gradework.fieldnotes.text import has_long_line
from gradework.units import METRES_PER, Unit
from gradework.units.lengths import LARGEST_METRES
from gradework.units.numbers import LONGEST

_SEVEN_PLACES = r"\.[0-9]{7}"
_ELEVEN_PLACES = r"\.[0-9]{11}"
_HALF_STEPS = 1.5 * 2.0**52
"""Adding and subtracting it rounds a double below 2^51 to a whole number."""

_EXACT = 2.0**53
_FACTORS = {unit: METRES_PER[unit] for unit in ("ft", "in", "m", "ftUS")}


def metres_of(cells: Sequence[str], unit: Unit, *, decimal_comma: bool = False) -> list[float] | None:
    """Read cells that all hold plain decimals [unit]; None if any does not, then read them one by one.

    The values [m] are those of ``units.parse_length``, to the last bit.

    >>> metres_of(["98.72", "-3", "101.005"], "ft")
    [30.089856, -0.9144, 30.786324]
    >>> metres_of(["98.72", "n/a"], "ft") is None
    True
    """
    joined = "\n".join(cells)
    if not joined.isascii() or "_" in joined or has_long_line(joined, LONGEST):
        return None
    if decimal_comma:
        if "." in joined:
            return None
        joined = joined.replace(",", ".")
        cells = joined.split("\n")
    try:
        values = list(map(float, cells))
    except ValueError:
        return None
    return _metres(values, cells, joined, unit)


def _metres(values: list[float], cells: Sequence[str], joined: str, unit: Unit) -> list[float] | None:
    # The root of the sum of squares bounds every value, and is not finite if one of them is not.
    bound = math.hypot(*values)
    factor = _FACTORS[unit]
    if not bound * factor < LARGEST_METRES:
        bound = max(map(abs, values)) if math.isfinite(bound) else bound
        if not bound * factor <= LARGEST_METRES:
            return None
    if unit == "m":
        return [value + 0.0 for value in values] if "-" in joined else values
    if "e" in joined or "E" in joined:
        return None
    return _scaled(values, bound, factor, joined) or _place_by_place(cells, unit)


def _scaled(values: list[float], bound: float, factor: Fraction, joined: str) -> list[float] | None:
    """Round each value times 10^k to its integer and divide once; None where doubles would not hold it."""
    top = float(factor.numerator)
    if re.search(_SEVEN_PLACES, joined) is None:
        places = 6
    elif re.search(_ELEVEN_PLACES, joined) is None:
        places = 10
    else:
        return None
    power = 10.0**places
    bottom = factor.denominator * power
    if bottom >= _EXACT:
        return None
    if bound * power * top >= _EXACT / 2 and max(map(abs, values)) * power * top >= _EXACT / 2:
        return None
    near = _HALF_STEPS
    return [(value * power + near - near) * top / bottom for value in values]


def _place_by_place(cells: Sequence[str], unit: Unit) -> list[float] | None:
    """The integer n of each cell and the number of its decimal places, divided once."""
    top = _FACTORS[unit].numerator
    bottoms = _bottoms(unit)
    try:
        return [
            int(whole + part) * top / bottoms[len(part.rstrip())]
            for whole, _, part in (cell.partition(".") for cell in cells)
        ]
    except ValueError:
        return None


@cache
def _bottoms(unit: Unit) -> tuple[int, ...]:
    return tuple(_FACTORS[unit].denominator * 10**k for k in range(LONGEST + 1))
