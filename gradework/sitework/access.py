"""Getting in at the door: how far the floor stands above the ground there, and steps or a ramp up to it.

The rise is taken where a foot lands: at the end of the steps, on the finished ground. Ground that falls away
makes the last step lower, and may ask for one more, which then lands farther out; ground that rises takes
some away. So the steps and their foot are looked for together. Limits are of the IRC, which is written for
dwellings: for a shed they are a guide.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.checks.check import COMMON, Check
from gradework.units.amounts import M_PER_IN

Floats = NDArray[np.float64]
Use = Literal["hand", "mower", "wheelchair"]

MOST_RISER = 7.75 * M_PER_IN
LEAST_GOING = 10.0 * M_PER_IN
"""Rise of a step at the most, going of a tread at the least [m] (IRC R311.7.5; quoted)."""

LANDING = 36.0 * M_PER_IN
"""Depth of a landing [m], one riser or less below the floor (IRC R311.3; quoted)."""

NO_LANDING = 2
"""With so many risers or fewer no landing is asked for where the door swings in (IRC R311.3.2; quoted)."""

RAIL_FROM = 4
"""A handrail is asked for from so many risers (IRC R311.7.8; 29 CFR 1926.1052(c); quoted)."""

RAIL_SLOPE, RAIL_RISE = 12.0, 6.0 * M_PER_IN
"""A ramp that rises more than this [m] asks for a handrail (1991 ADA 4.8.5, for public places). One with less
run per rise [-] does at any height (IRC R311.8.3); both from memory. A lower one is only told: a rail beside
a ramp that is no higher than one step is in the way of what is wheeled up it (judgement)."""

GUARD_OVER = 30.0 * M_PER_IN
"""A guard is asked for where one may fall more than this [m] (IRC R312.1; quoted)."""

MOST_FLIGHT = 151.0 * M_PER_IN
"""One flight without a landing rises no more than this [m] (IRC R311.7.3; quoted)."""

RAMPS: dict[Use, float] = {"hand": 8.0, "mower": 6.0, "wheelchair": 12.0}
"""Run of a ramp per rise [-] by what it is for: 1:8 by hand (IRC 2015 on, R311.8; quoted), 1:6 for a mower
(common practice), 1:12 for a wheelchair (IRC R311.8 to the exit, ADA 4.8.2; quoted)."""

MOST_RAMP = 30.0 * M_PER_IN
"""Rise of one run of a ramp for a wheelchair [m] (1991 ADA 4.8.2; quoted)."""

BESIDE = 0.01
"""Ground is read so far beside a wall [m]: on the very edge of a slab or pad its own top would count."""

FARTHEST = 30.0
"""A foot is looked for no farther out than this [m]."""

MOST_STEPS = 40
_ACROSS = 5
_RAMP_STEP = 0.05
_SAME = 1e-6  # a foot is found by halving: a rise of 6 in comes out a hair above


class Flight(NamedTuple):
    """Steps of a whole ``rise`` [m]: the last tread is the floor itself, so there is one less than risers."""

    rise: float
    risers: int
    going: float = LEAST_GOING

    @property
    def riser(self) -> float:
        """Give the height of each [m]."""
        return self.rise / self.risers

    @property
    def treads(self) -> int:
        """Give the count of treads between ground and floor."""
        return self.risers - 1

    @property
    def out(self) -> float:
        """Give how far the treads reach out from the door [m], each of them a going deep."""
        return self.treads * self.going


def flight_of(rise: float) -> Flight:
    """Give the fewest equal steps for a rise [m] above zero.

    >>> flight_of(7.75 * 0.0254).risers, flight_of(7.76 * 0.0254).risers
    (1, 2)
    """
    return Flight(rise, max(1, math.ceil(rise / MOST_RISER - 1e-9)))


def ramp_run(rise: float, use: Use) -> float:
    """Give the length in plan [m] of a ramp on level ground.

    >>> [round(ramp_run(18 * 0.0254, use) / 0.3048, 6) for use in ("hand", "wheelchair")]
    [12.0, 18.0]
    """
    return RAMPS[use] * rise


class Door(NamedTuple):
    """A door in a wall: its ``wall`` by name, the ``middle`` of its threshold (x, y) [m], unit vectors
    ``along`` the wall and ``out`` of it, how wide it is [m]; ``ramp`` names what a ramp is for, None asks for
    steps; ``inward`` that it swings in. ``at`` [m] is its middle from the first corner of the wall."""

    wall: str
    at: float
    middle: tuple[float, float]
    along: tuple[float, float]
    out: tuple[float, float]
    width: float
    ramp: Use | None = None
    inward: bool = False

    def places(self, away: float, across: int = _ACROSS) -> Floats:
        """Give places (n, 2) [m] side by side over the width of the door, ``away`` [m] from the wall."""
        middle, along, out = (np.array(part) for part in (self.middle, self.along, self.out))
        sides = np.linspace(-0.5, 0.5, across)[:, None] * self.width
        found: Floats = middle + out * away + sides * along
        return found

    def ring(self, near: float, far: float) -> Floats:
        """Give the corners (4, 2) [m] of what lies in front of the door between two distances from it."""
        return np.vstack([self.places(near, 2), self.places(far, 2)[::-1]])


@dataclass(frozen=True, eq=False)
class Access:
    """How one gets in at a door.

    ``over`` [m]: the floor above the highest ground within a landing of the door, None where that was not
    surveyed. ``rise`` [m] from the lowest ground at the foot; None where no foot was found on the survey, or
    the floor lies below the ground. ``out`` [m]: from the wall to the foot; ``landing`` [m] of that is a
    landing, one riser below the floor; with a ramp it is level with the floor.
    """

    door: Door
    floor: float
    over: float | None
    rise: float | None = None
    risers: int = 0
    out: float = 0.0
    landing: float = 0.0

    @property
    def check(self) -> Check:
        """Hold the floor against the ground at the door: water runs in where it lies below."""
        return Check("door", self.over, 0.0, "m", COMMON, "least", where=self.door.wall)

    @property
    def ramp(self) -> bool:
        """Say whether it is a ramp."""
        return self.door.ramp is not None and self.rise is not None

    @property
    def flight(self) -> Flight | None:
        """Give the steps; None for a ramp, or where there are none."""
        return None if self.ramp or self.rise is None else Flight(self.rise, self.risers)

    @property
    def way(self) -> str:
        """Say what leads in: "steps", "ramp", "level" ground or one riser up, "none" known."""
        if self.rise is None:
            return "none"
        return "ramp" if self.ramp else "steps" if self.out else "level"

    @property
    def riser(self) -> float | None:
        """Give the height of each step [m]."""
        return self.flight.riser if self.flight else None

    @property
    def going(self) -> float | None:
        """Give the depth of each tread but a landing [m]."""
        return self.flight.going if self.flight and self.built else None

    @property
    def slope(self) -> float | None:
        """Give the run of a ramp per rise [-]."""
        return RAMPS[self.door.ramp] if self.rise is not None and self.door.ramp is not None else None

    @property
    def built(self) -> bool:
        """Say whether anything is built: a single step up from the ground needs nothing."""
        return self.rise is not None and self.out > 0.0

    @property
    def railed(self) -> bool:
        """Say whether a handrail is built."""
        if self.ramp:
            assert self.rise is not None
            return self.rise > RAIL_RISE + _SAME
        return self.risers >= RAIL_FROM

    @property
    def low(self) -> bool:
        """Say whether a ramp has no handrail for its height, though its slope asks for one."""
        return self.slope is not None and self.slope < RAIL_SLOPE and not self.railed

    @property
    def guarded(self) -> bool:
        """Say whether one may fall far enough to ask for a guard."""
        return self.rise is not None and self.rise > GUARD_OVER and self.built


Ground = Callable[[Floats], Floats]
"""Elevations (n,) [m] of the finished ground at places (n, 2) [m]; NaN where there is none."""


def get_in(door: Door, floor: float, ground: Ground) -> Access:
    """Find steps or ramp from the ground up to the ``floor`` [m] at a door."""
    away = np.linspace(BESIDE, LANDING, 7)
    near = np.array([ground(door.places(one)) for one in away])
    if not np.isfinite(near).all():
        return Access(door, floor, None)
    over = floor - float(near.max())
    if over < 0.0:
        return Access(door, floor, over)
    return _ramp(door, floor, over, ground) if door.ramp else _steps(door, floor, over, ground)


def _rise_at(door: Door, floor: float, away: float, ground: Ground) -> float:
    return floor - float(ground(door.places(max(away, BESIDE))).min())  # NaN stays NaN


def _steps(door: Door, floor: float, over: float, ground: Ground) -> Access:
    for risers in range(1, MOST_STEPS + 1):
        landing = LANDING if risers > (NO_LANDING if door.inward else 1) else 0.0
        out = landing + (risers - 1 - bool(landing)) * LEAST_GOING
        rise = _rise_at(door, floor, out, ground)
        if math.isnan(rise) or rise <= 0.0 or rise > MOST_FLIGHT:
            break
        if flight_of(rise).risers <= risers:
            return Access(door, floor, over, rise, risers, out, landing)
    return Access(door, floor, over)


def _ramp(door: Door, floor: float, over: float, ground: Ground) -> Access:
    assert door.ramp is not None
    landing, use = LANDING if door.ramp == "wheelchair" else 0.0, door.ramp

    def spare(run: float) -> float:
        """How much longer a ramp is than it needs to be [m] where it ends ``run`` out."""
        return run - ramp_run(_rise_at(door, floor, landing + run, ground), use)

    low, high = 0.0, _RAMP_STEP
    while not spare(high) >= 0.0:
        if math.isnan(spare(high)) or high > FARTHEST:
            return Access(door, floor, over)
        low, high = high, high + _RAMP_STEP
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if spare(middle) >= 0.0 else (middle, high)
    return Access(door, floor, over, high / RAMPS[use], 0, landing + high, landing)
