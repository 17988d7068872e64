"""Stakes and string to set a foundation out with, as lines of the order."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.sitework.order import OrderLine, to_buy
from gradework.units import Display
from gradework.units.bulk import M_PER_FT

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline

SPARE_STAKES = 4
"""Stakes that split or are lost (common practice, no source)."""

STRING_ALLOWANCE = 0.10
"""String for knots and ties on top of what is stretched [-] (common practice, no source)."""

STRING_BEYOND = 4.0 * M_PER_FT
"""String runs on to the batter boards behind each corner [m] (common practice, no source)."""


def marking_lines(building: Outline, stakes: int, show: Display) -> tuple[OrderLine, ...]:
    """Give the stakes and the string for a building; ``stakes`` are those on the sheet for setting out.

    The string runs along each side and on to its batter boards, and once across from corner to corner both
    ways to check the square.
    """
    return _stakes(stakes), _string(_string_length(building), show)


def _string_length(building: Outline) -> float:
    """Give the string that is stretched [m]; ``bounds`` would change with the turn, so corners are used."""
    corners = building.rings[0]
    across = max(math.dist(a, b) for a in corners for b in corners)
    return building.perimeter + 2.0 * STRING_BEYOND * len(building.corners) + 2.0 * across


def _stakes(count: int) -> OrderLine:
    return OrderLine(
        item="stakes",
        quantity=float(count + SPARE_STAKES),
        unit="pieces",
        computed=float(count),
        needed=float(count + SPARE_STAKES),
        step=1.0,
        allowance=f"{SPARE_STAKES} spare",
        reason="one for each stake on the sheet for setting out, batter boards included; some split",
        mass_kg=0.5 * (count + SPARE_STAKES),
        note="and marking paint or flags",
    )


def _string(length: float, show: Display) -> OrderLine:
    roll = 250.0 * M_PER_FT if show.us else 50.0
    computed, needed = length / roll, length * (1.0 + STRING_ALLOWANCE) / roll
    rolls = to_buy(needed, 1.0)
    return OrderLine(
        item=f"mason's string, roll of {show.distance(roll)}",
        quantity=rolls,
        unit="rolls",
        computed=computed,
        needed=needed,
        step=1.0,
        allowance=f"{STRING_ALLOWANCE * 100:.0f} % for knots, whole rolls",
        reason="a string on batter boards is tied at both ends, and knots are cut off",
        mass_kg=0.15 * rolls,
        note=f"{show.distance(length)} along the sides to the batter boards and across both ways",
    )
