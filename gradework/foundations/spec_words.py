"""A length in a fault about what was asked for, in both systems: whose job it is, is not known here."""

from __future__ import annotations

from gradework.units import FEET


def both_units(metres: float) -> str:
    """Write a length in metres, and in feet and inches.

    >>> both_units(0.1016)
    '0.1016 m (4")'
    """
    return f"{metres:g} m ({FEET.length(metres)})"
