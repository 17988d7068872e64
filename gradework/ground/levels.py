"""Which contours to draw: a round interval in the user's unit, so that 5 to 15 lines cross the site."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding, finding
from gradework.units.display import Display
from gradework.units.lengths import METRES_PER

FLAT = 0.01 * 0.3048
"""[m] 0.01 ft, the last digit of a reading: a site with less relief has no contours worth drawing."""

INCH_RELIEF = 2.0 * 0.3048
"""[m] Below 2 ft of relief a builder who works in feet thinks in inches."""

APART = Fraction(1, 1_000_000)
"""[m] A level this close to the highest or lowest shot would draw a speck, or nothing."""

FEWEST, MOST = 5, 15

_WANTED = 9  # lines: the middle of the range on a scale of ratios
_ROUND = (Fraction(1), Fraction(2), Fraction(5, 2), Fraction(5))
_INCHES = (1, 2, 3, 6, 12)


def choose_interval(low: float, high: float, show: Display) -> float:
    """Contour interval [m] between the elevations ``low`` and ``high`` [m]; 0.0 for a flat site.

    From 1, 2, 2.5, 5 times a power of ten in the user's unit (in feet and inches, and in feet with under
    2 ft of relief: 1, 2, 3, 6 or 12 inches where they fit), so that 5 to 15 levels lie between, as near to 9
    as can be.

    >>> round(choose_interval(30.0, 33.2, Display("m")), 9)
    0.25
    """
    step = _step(low, high, show)
    return float(step * _unit(show)) if step is not None else 0.0


def contour_levels(low: float, high: float, show: Display) -> NDArray[np.float64]:
    """The levels (k,) [m] strictly between ``low`` and ``high`` [m]: whole multiples of the interval.

    Empty for a flat site; then `flat_site` says why.
    """
    step = _step(low, high, show)
    if step is None:
        return np.zeros(0)
    return np.array([float(k * step * _unit(show)) for k in _multiples(low, high, step * _unit(show))])


def flat_site(low: float, high: float, show: Display) -> Finding | None:
    """The note that a site is too flat for contours, or None."""
    if high - low >= FLAT:
        return None
    flat = show.elevation(FLAT)
    return finding("flat-site", "note", "the whole survey", high - low, FLAT, flat=flat)


def _unit(show: Display) -> Fraction:
    return METRES_PER[show.length_unit]


def _multiples(low: float, high: float, step: Fraction) -> range:
    """The numbers k for which k step lies between low and high, by more than `APART` from either."""
    first = math.floor((Fraction(low) + APART) / step) + 1
    last = math.ceil((Fraction(high) - APART) / step) - 1
    return range(first, last + 1)


def _step(low: float, high: float, show: Display) -> Fraction | None:
    """The interval in the user's unit, None for a flat site."""
    relief = high - low
    if not relief >= FLAT:
        return None
    unit = _unit(show)
    power = math.floor(math.log10(relief / float(unit)))
    rounds = [r * Fraction(10) ** k for k in range(power - 3, power + 2) for r in _ROUND]
    by_inches = show.form == "inches"
    inches = [Fraction(i, 12) for i in _INCHES if by_inches or (not show.metric and relief < INCH_RELIEF)]
    # a contour every 0.2 ft would be one every 2 3/8 in
    whole = [step for step in rounds if step >= 1] if by_inches else []
    for choices in (inches, whole, rounds):
        counts = {step: len(_multiples(low, high, step * unit)) for step in choices}
        fitting = [step for step in choices if FEWEST <= counts[step] <= MOST]
        if fitting:
            return min(fitting, key=lambda step: abs(math.log(counts[step] / _WANTED)))
    raise AssertionError("some round interval always fits: neighbouring ones differ at most by a factor of 2")
