"""How small and how large each number of a job file may be: generous for a small building, closed to slips.

A bound stops a wrong unit or a wrong digit before anything is computed from it, and keeps the work small
whatever a job says. ``docs/job-file.md`` shows the same table to the user.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Literal, NamedTuple

from gradework.units.amounts import KG_PER_LB, KPA_PER_PSF, M3_PER_YD3, M_PER_FT, M_PER_IN, MPS_PER_MPH

Kind = Literal["length", "mass", "volume", "pressure", "speed", "number"]

_METRIC: Mapping[Kind, tuple[tuple[str, float], ...]] = {
    "length": (("mm", 0.001), ("m", 1.0)),
    "mass": (("kg", 1.0),),
    "volume": (("m³", 1.0),),
    "pressure": (("kPa", 1.0),),
    "speed": (("m/s", 1.0),),
    "number": (("", 1.0),),
}
_US: Mapping[Kind, tuple[tuple[str, float], ...]] = {
    "length": (("in", M_PER_IN), ("ft", M_PER_FT)),
    "mass": (("lb", KG_PER_LB),),
    "volume": (("yd³", M3_PER_YD3),),
    "pressure": (("psf", KPA_PER_PSF),),
    "speed": (("mph", MPS_PER_MPH),),
    "number": (("", 1.0),),
}
"""The units in which a bound is told, small to large, each with its size in SI."""

_DIGITS = 3
_SLACK = 1e-9
_ALMOST = 1.0 - 1e-9


class Bound(NamedTuple):
    """From ``least`` to ``most``, both allowed; SI by its ``kind``. A least of 0 may still mean above zero
    where the key says so."""

    least: float
    most: float
    kind: Kind = "length"

    def holds(self, value: float) -> bool:
        """Whether ``value`` lies within; never so for one that is no number."""
        return self.least <= value <= self.most

    def told(self, *, us: bool) -> tuple[str, str]:
        """Least and most in words, rounded inward, so that what is told is allowed."""
        units = (_US if us else _METRIC)[self.kind]
        return _words(self.least, units, math.ceil), _words(self.most, units, math.floor)

    def expected(self, *, us: bool) -> str:
        """What a fault says is expected."""
        least, most = self.told(us=us)
        return f"at most {most}" if self.least == 0 and self.kind == "length" else f"{least} to {most}"


def _words(value: float, units: tuple[tuple[str, float], ...], inward: Callable[[float], int]) -> str:
    if value == 0:
        return "0"
    unit, size = next((one for one in reversed(units) if abs(value) >= one[1] * _ALMOST), units[0])
    number = value / size
    power = 10.0 ** (math.floor(math.log10(abs(number)) + _SLACK) + 1 - _DIGITS)
    # a quotient that is whole but for its last bit is that whole number
    whole = round(number / power)
    steps = whole if abs(number / power - whole) < _SLACK else inward(number / power)
    rounded = steps * power
    digits = max(0, -math.floor(math.log10(power) + _SLACK))
    shown = f"{rounded:,.{digits}f}"
    shown = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return f"{shown} {unit}".rstrip()


PLACE = Bound(-20e6, 20e6)
ELEVATION = Bound(-10e3, 10e3)
BUILDING = Bound(0.0, 100.0)
SIDE = Bound(0.0, 200.0)
TAPED = Bound(0.0, 500.0)
ROD = Bound(0.0, 10.0)
SPREAD = Bound(0.0, 50.0)
LAYER = Bound(0.0, 2.0)
MARGIN = Bound(0.0, 5.0)
HEIGHT = Bound(0.0, 10.0)
CLEARANCE = Bound(-5.0, 5.0)
EAVE = Bound(0.0, 30.0)
OPENING = Bound(0.3, 10.0)
CARRIED = Bound(0.0, 500.0)
WORKDAY = Bound(1.0, 16.0, "number")
OFFSET = Bound(0.0, 20.0)
REACH = Bound(0.0, 100.0)
SETBACK = Bound(0.0, 100.0)
AIRBORNE = Bound(0.0, 1.0)
FILE_PLACE = Bound(-1e8, 1e8, "number")
SPACING = Bound(0.1, 20.0)
BLOCK = Bound(0.002, 2.0)
SHEET = Bound(0.3, 200.0)
BOARD = Bound(0.01, 1.0)
BOARD_LENGTH = Bound(0.3, 20.0)
TOLERANCE = Bound(0.0, 0.5)
TURN = Bound(-360.0, 360.0, "number")
BATTER = Bound(0.1, 20.0, "number")
COUNT = Bound(1, 1000, "number")
MONEY = Bound(0.0, 1e8, "number")
WEIGHT = Bound(0.01, 1000.0, "mass")
PAYLOAD = Bound(1.0, 100e3, "mass")
BAG = Bound(0.1, 5000.0, "mass")
CONCRETE_BAG = Bound(1.0, 100.0, "mass")
LOADED = Bound(0.001, 100.0, "volume")
LOAD = Bound(0.0, 100.0, "pressure")
BEARING = Bound(0.0, 10e3, "pressure")
STRESS = Bound(10.0, 30e6, "pressure")
WIND = Bound(10.0, 120.0, "speed")
ANCHOR = Bound(10.0, 20e3, "mass")

LEAST_FLOOR = 0.3
"""Floor of a building [m²], the least: bare sides that make less were meant in another unit."""

MOST_CORNERS = 40
"""Corners of a building with those of its holes: each wall has its falls, its boards and its stakes."""

MOST_PIERS = 300
"""Piers that are placed by name."""

MOST_MARKS = 40
"""Marks that stakes are taped from; each pair of them is looked at."""

MOST_NEAR = 40
"""Things that stand near the building; from each one all that is built, dug and staked is measured."""

MOST_KINDS = 50
"""Kinds of block, lengths of board."""

BOUNDS: Mapping[str, Bound] = {
    "places": PLACE,
    "elevations": ELEVATION,
    "sides of the building": BUILDING,
    "spacings and spans": SIDE,
    "taped distances": TAPED,
    "readings on a peg": ROD,
    "doubt of a receiver": SPREAD,
    "layers and thin parts": LAYER,
    "margins": MARGIN,
    "heights and depths": HEIGHT,
    "clearance": CLEARANCE,
    "eaves": EAVE,
    "width of a door": OPENING,
    "way of a barrow": CARRIED,
    "hours a day": WORKDAY,
    "batter boards": OFFSET,
    "reach of the fall": REACH,
    "setbacks": SETBACK,
    "doubt of airborne ground": AIRBORNE,
    "places in a file of airborne ground": FILE_PLACE,
    "spacing of piers": SPACING,
    "sizes of a block": BLOCK,
    "sheets and rolls": SHEET,
    "boards": BOARD,
    "lengths of boards": BOARD_LENGTH,
    "tolerance": TOLERANCE,
    "turns": TURN,
    "slope of the edge": BATTER,
    "counts": COUNT,
    "money": MONEY,
    "weight of a block": WEIGHT,
    "payload": PAYLOAD,
    "bags of stone": BAG,
    "bags of concrete": CONCRETE_BAG,
    "volume of a load": LOADED,
    "loads": LOAD,
    "bearing": BEARING,
    "strengths of wood": STRESS,
    "wind": WIND,
    "anchors": ANCHOR,
}
"""Every bound by the words of the page. Money is in the user's own, for the unit he wrote."""
