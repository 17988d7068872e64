"""Does the ground fall away from each wall as the rule asks: one answer per wall, exact over its strip.

The fall is judged from the finished ground at the outer edge of what is built level: of the ground and the
level the lower one. Only on a side where no ground rises from that edge does the edge left showing count as
fall (common practice for small freestanding buildings).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.apron import PUDDLE
from gradework.foundations.checks.check import CLOSE, ONE_READING, Check
from gradework.foundations.checks.strip_ground import BayGround, GroundNear, Line, Rise
from gradework.foundations.checks.wall_strips import End, PadTop, Wall, bays_of, walls_of

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.drainage_rules import DrainageRule
    from gradework.ground.surface import Surface
    from gradework.survey.stations import Stations

Floats = NDArray[np.float64]
Verdict = Literal["away", "too little", "toward", "survey too short"]
Places = tuple[tuple[float, float], tuple[float, float]]

MOST_WALLS = 200
"""An outline of more walls is a curve: walls are passed over evenly until so many are left."""


@dataclass(frozen=True, slots=True)
class WallFall:
    """One wall's answer, with the look square to it that binds; site frame [m].

    ``start`` and ``end`` of that look, ``length`` of it from the wall; ``known`` how far the survey goes
    (where it stops short, at its shortest); ``fall`` to the end on the look that lacks most, positive away
    from the building, NaN where no look is known to its end; ``rise`` how much the highest ground in the
    strip stands above the beginning of its look, ``rise_at`` how far out; ``needed`` the least fall over
    ``length``; ``ends_at`` why it ends there. ``error``: no smaller difference counts. ``shown``: the edge
    left showing is counted as fall; ``slants``: the ground beside it rises by more than ``error`` all the
    same, so that what runs along the wall may come to it.
    ``missing``: where strips end that the survey does not reach, the first and last place of each stretch.
    """

    wall: str
    start: tuple[float, float]
    end: tuple[float, float]
    length: float
    known: float
    fall: float
    rise: float
    rise_at: float
    needed: float
    verdict: Verdict
    ends_at: End
    error: float
    shown: bool
    missing: tuple[Places, ...]
    slants: bool = False

    def check(self, rule: DrainageRule) -> Check:
        """Give this as a named check: the fall [m], or the rise as one below zero, and the least it may be.

        Without a value where the survey ends before the strip does and nothing known is wrong.
        """
        fall = -self.rise if self.verdict == "toward" else self.fall
        value = None if self.verdict == "survey too short" else fall
        source = rule.source_at(self.ends_at)
        return Check("water", value, self.needed, "m", source, "least", self.wall, self.error)


def height_error(stations: Stations) -> float:
    """What two heights of a survey may differ by for its own error [m]: of the middle station's, twice over.

    Without standard errors one reading.
    """
    known = np.sort(stations.sd[np.isfinite(stations.sd) & (stations.sd > 0.0)])
    return math.sqrt(2.0) * float(known[len(known) // 2]) if len(known) else ONE_READING


def wall_falls(
    surface: Surface,
    building: Outline,
    rule: DrainageRule,
    *,
    pad: PadTop | None = None,
    inverts: Floats | None = None,
    barriers: Floats | None = None,
) -> tuple[WallFall, ...]:
    """Judge the ground before each outside wall, in the order of the corners.

    ``surface``: the ground as surveyed, or as it will be; ``pad`` is what is built level, boards at its edge:
    beyond it the ground counts as ``surface`` has it. ``inverts`` and ``barriers`` as ``bays_of`` takes them.
    """
    ground = GroundNear.of(surface, building, rule.reach)
    error = height_error(surface.stations)
    walls = walls_of(building)
    falls = []
    for wall in walls[:: math.ceil(len(walls) / MOST_WALLS)]:
        own = ground.before(wall, rule.reach)
        bays = bays_of(wall, building, rule.reach, pad=pad, inverts=inverts, barriers=barriers)
        open_ones = [BayGround.of(own, bay) for bay in bays if not bay.covered]
        falls.append(_judged(wall, open_ones, rule, pad, error))
    return tuple(falls)


def _judged(
    wall: Wall, bays: Sequence[BayGround], rule: DrainageRule, pad: PadTop | None, error: float
) -> WallFall:
    if not bays:  # what is built level covers the strip from end to end: nothing falls
        length, needed = rule.reach, rule.fall * rule.reach
        look = wall.place(0.5 * wall.length, 0.0), wall.place(0.5 * wall.length, length)
        flat = 0.0, 0.0, 0.0, needed
        return WallFall(
            wall.name, *look, length, length, *flat, "too little", "reach", error, shown=False, missing=()
        )
    bases = [one.begin.capped(math.inf if pad is None else pad.level) for one in bays]
    shown, slants, rise = False, False, _highest(bays, bases)
    if pad is not None and rise.height <= max(PUDDLE, error):
        slants = rise.height > error + CLOSE
        lowest = min((float(base.heights.min(initial=math.inf)) for base in bases), default=math.inf)
        shown = lowest < pad.level - error
        bases = [one.begin.raised(pad.level) for one in bays]
        rise = _highest(bays, bases)
    return replace(_told(wall, bays, bases, rise, rule, error, shown=shown), slants=slants)


def _highest(bays: Sequence[BayGround], bases: Sequence[Line]) -> Rise:
    rises = (one.rise(base) for one, base in zip(bays, bases, strict=True))
    return max(rises, key=lambda rise: rise.height)


def _told(
    wall: Wall,
    bays: Sequence[BayGround],
    bases: Sequence[Line],
    rise: Rise,
    rule: DrainageRule,
    error: float,
    *,
    shown: bool,
) -> WallFall:
    """Put the worst of all bays in the site frame; what is known of a part holds for the whole."""
    falls = (one.fall(base, rule) for one, base in zip(bays, bases, strict=True))
    worst = min((fall for fall in falls if fall is not None), key=lambda fall: fall.spare, default=None)
    shorts = [(one.short, one) for one in bays if one.short is not None]
    verdict: Verdict = "survey too short" if shorts else "away"
    at = min(((short.known, short.u) for short, _ in shorts), default=(0.0, bays[0].bay.u[0]))[1]
    if rise.height > error + CLOSE:  # as a check holds
        verdict, at = "toward", rise.u
    elif worst is not None and worst.spare < -error - CLOSE:
        verdict = "too little"
    length, end = _ending(bays, at)
    needed = float(rule.needed(end, np.array([length]))[0])
    if worst is not None and verdict in ("too little", "away"):
        at, length, end, needed = worst.u, worst.t, worst.end, worst.needed
    return WallFall(
        wall=wall.name,
        start=wall.place(at, 0.0),
        end=wall.place(at, length),
        length=length,
        known=min((short.known for short, _ in shorts), default=length),
        fall=math.nan if worst is None else worst.height,
        rise=max(rise.height, 0.0),
        rise_at=rise.t,
        needed=needed,
        verdict=verdict,
        ends_at=end,
        error=error,
        shown=shown,
        missing=tuple(_missing(wall, one, (short.first, short.last)) for short, one in shorts),
    )


def _ending(bays: Sequence[BayGround], u: float) -> tuple[float, End]:
    """How far out the strip ends at u, and why; where it ends in two ways, the farther."""
    return max((one.end_at(u), one.bay.end) for one in bays if one.bay.u[0] <= u <= one.bay.u[1])


def _missing(wall: Wall, one: BayGround, ends: tuple[float, float]) -> Places:
    first, last = (wall.place(u, one.end_at(u)) for u in ends)
    return first, last
