"""What the ground says: its highest and lowest place, and how it falls under the building."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.lines import named

if TYPE_CHECKING:
    from gradework.earthwork.footprint import Line, Place
    from gradework.ground.shape import Spot
    from gradework.project.work import Plan
    from gradework.units import Display

_COMPASS = (
    "along x",
    "toward +x and +y",
    "along y",
    "toward -x and +y",
    "against x",
    "toward -x and -y",
    "against y",
    "toward +x and -y",
)

MOST_LINES = 8
"""Of an outline with more sides only the ones that fall or rise most are told."""


def ground_lines(plan: Plan) -> list[str]:
    """Tell the site's high and low spot, then the ground under the building: its ends, falls, slope."""
    show, shape, under = plan.job.show, plan.shape, plan.footprint
    slope = slope_words(under.slope, under.downhill_degrees, show)
    rows = [
        ("High spot", _spot(shape.high, show)),
        ("Low spot", _spot(shape.low, show)),
        ("Relief", show.elevation(shape.relief)),
        ("Building", f"{show.area(under.area)} of ground"),
        ("  highest", _place(under.high_at, show)),
        ("  lowest", _place(under.low_at, show)),
        ("  fall", f"{show.elevation(under.fall)} in all; {slope}"),
        ("  sides", falls(under.sides, show)),
        ("  across", falls(under.diagonals, show)),
    ]
    return [line for name, text in rows if text for line in named(name, text)]


def _spot(spot: Spot, show: Display) -> str:
    return f"{visible(spot.station)}, {show.elevation(spot.elevation)}, at {show.place(spot.x, spot.y)}"


def _place(place: Place, show: Display) -> str:
    return f"{show.elevation(place.elevation)}, at {show.place(place.x, place.y)}"


def falls(lines: Sequence[Line], show: Display) -> str:
    """Say how the ground falls along each line; of many lines only the steepest.

    >>> from gradework.earthwork.footprint import Line
    >>> from gradework.units import FEET
    >>> falls([Line("corner 1", "corner 2", 4.8, 0.4572), Line("corner 2", "corner 3", 3.6, 0.0)], FEET)
    'corner 1 to 2 falls 1.50 ft; corner 2 to 3 is level'
    """
    told = list(lines)
    more = ""
    if len(told) > MOST_LINES:
        told = sorted(told, key=lambda line: -abs(line.fall))[:MOST_LINES]
        more = f"; the other {len(lines) - MOST_LINES} fall or rise less"
    return "; ".join(_fall(line, show) for line in told) + more


def _fall(line: Line, show: Display) -> str:
    amount = show.elevation(abs(line.fall))
    way = "is level" if amount == show.elevation(0.0) else f"{'falls' if line.fall > 0 else 'rises'} {amount}"
    return f"{line.start} to {line.end.removeprefix('corner ')} {way}"


def slope_words(slope: float, downhill_degrees: float, show: Display) -> str:
    """Say how steep the ground is and which way it falls.

    >>> from gradework.units import FEET
    >>> slope_words(0.091, 2.0, FEET)
    'slope 9.1 %, downhill along x (2° from the x axis)'
    """
    if show.slope(slope) == show.slope(0.0) or math.isnan(downhill_degrees):
        return "no slope to speak of"
    degrees = round(downhill_degrees) % 360
    way = _COMPASS[round(degrees / 45) % 8]
    return f"slope {show.slope(slope)}, downhill {way} ({degrees}° from the x axis)"
