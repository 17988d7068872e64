"""What ties a floor on dry stacks down: how wind pushes and lifts, how many ground anchors hold it, where.

Dry blocks hold nothing down. Wind pushes on the face of the building and lifts the roof; its own weight and
the friction under it hold part of that, anchors the rest, with straps at about 45 degrees from the skids.
Wind comes from any side: anchors of the windward side alone are counted. Its pressures and what may resist
them are those of published rules for transportable homes (24 CFR 3280.305, 3280.306).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.foundations.checks.check import Check, cited
from gradework.foundations.piers.bearing import GRAVITY
from gradework.foundations.piers.layout import spans
from gradework.foundations.timber.load_path import AreaLoads, loads_on_piers
from gradework.units.amounts import (
    KG_PER_LB,
    KPA_PER_PSF,
    M_PER_FT,
    MPS_PER_MPH,
    area_load_words,
    speed_words,
)

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.carrying import Carried
    from gradework.foundations.piers.spec import PierSpec

ZONE_I = "24 CFR 3280.305(c)(1)(i), 3280.306(a) (2015), zone I"
ASCE = "ASCE 7, simplified (memory)"

EXPOSED = 0.85
"""How much of the wind's full pressure reaches a low building in open country [-]: Kz to 15 ft, exposure C
(ASCE 7; memory). Among trees and houses 0.70."""

LISTED = 3150.0 * KG_PER_LB * GRAVITY / 1000.0
"""Working load [kN] of an anchor with its strap, where it is listed for the soil that it is screwed into
(24 CFR 3285.402(c), 2015; seen)."""

SAME_ROW = 1e-6
"""[m] Piers this close across the rows stand in one."""

FRICTION = 0.4
"""Wood on blocks, blocks on stone [-] (judgement)."""

CORNER = 2.0 * M_PER_FT
"""The first tie stands at most so far from each end [m] (24 CFR 3280.306(c)(2), 2015; seen)."""

MOST_BETWEEN, LEAST_BETWEEN = 12.0 * M_PER_FT, 4.0 * M_PER_FT
"""Anchors of a long side stand at most 8 to 12 ft apart (common practice), and no nearer than 4 ft: soil
that one pulls on cannot hold another (common practice, no source) [m]."""

_SLANT = math.sqrt(0.5)  # of the pull of a strap at 45 degrees, sideways and down alike


class Wind(NamedTuple):
    """Pressure of the wind [kPa]: sideways on the faces, up on the roof; how much of its own weight counts as
    holding the building down [-]; the ``speed`` it comes from [m/s], None for the zone's figures."""

    side: float
    up: float
    weight: float
    source: str
    speed: float | None = None


USUAL_WIND = Wind(15.0 * 1.5 * KPA_PER_PSF, 9.0 * 1.5 * KPA_PER_PSF, 1.0, ZONE_I)
"""15 psf sideways and 9 psf net up, both times 1.5 for anchoring; the whole dead load may resist (seen)."""


def velocity_pressure(speed: float, exposed: float = EXPOSED) -> float:
    """Give the pressure [kPa] of wind at ``speed`` [m/s] on a low building: q = 0.00256 Kz Kd V², Kd 0.85.

    >>> round(velocity_pressure(115 * 0.44704) / 0.04788026, 2)
    24.46
    """
    miles_per_hour = speed / MPS_PER_MPH
    return 0.00256 * exposed * 0.85 * miles_per_hour**2 * KPA_PER_PSF


def wind_of(speed: float | None) -> Wind:
    """Give the wind to hold against: from its design ``speed`` [m/s], else the figures of zone I.

    Of a design speed 0.6 counts beside 0.6 of the dead load; 1.3 on faces, front and back together, and 0.9
    net on the roof, all from memory.
    """
    if speed is None:
        return USUAL_WIND
    pressure = 0.6 * velocity_pressure(speed)
    return Wind(1.3 * pressure, 0.9 * pressure, 0.6, ASCE, speed)


def wind_words(wind: Wind, *, us: bool) -> str:
    """Say which wind was taken, and that it was not given where it was not."""
    if wind.speed is not None:
        return f"wind of {speed_words(wind.speed, us=us)}, {wind.source}"
    side, up = (area_load_words(pressure, us=us) for pressure in (wind.side, wind.up))
    return f"wind of {side} sideways and {up} up (no wind given; {cited(wind.source, us=us)})"


class Pull(NamedTuple):
    """What the ties of the windward side hold [kN]: ``sliding`` sideways, ``lift`` upward; ``side`` and
    ``up`` are the whole push and lift of the wind, ``dead`` the weight that counts."""

    side: float
    up: float
    dead: float
    sliding: float
    lift: float

    def anchors(self, working: float) -> int:
        """Count the anchors that hold it, each good for ``working`` [kN] along a strap at 45 degrees."""
        return max(0, math.ceil(max(self.sliding, self.lift) / (working * _SLANT) - 1e-9))


def pull_of(wind: Wind, face: float, roof: float, arm: float, base: float, dead: float) -> Pull:
    """Give what wind square to one side asks of its ties.

    ``face`` and ``roof`` [m²] are what it pushes and lifts, ``arm`` [m] the height of its push, ``base`` [m]
    the depth of the building in its direction, ``dead`` [kN] the weight.
    """
    side, up, held = wind.side * face, wind.up * roof, wind.weight * dead
    sliding = max(0.0, side - FRICTION * max(0.0, held - up))
    lift = max(0.0, (side * arm + (up - held) * base / 2.0) / base)
    return Pull(side, up, held, sliding, lift)


@dataclass(frozen=True, eq=False)
class Anchors:
    """Anchors as they stand: ``places`` (n, 2) site [m], ``working`` [kN] each.

    ``pulls`` are for wind on a long side and on an end; ``sides`` how many anchors hold against each.
    """

    wind: Wind
    working: float
    places: NDArray[np.float64]
    pulls: tuple[Pull, Pull]
    sides: tuple[int, int]

    @property
    def count(self) -> int:
        """Give how many there are."""
        return len(self.places)

    @property
    def spots(self) -> tuple[tuple[float, float], ...]:
        """Give where they stand, site x, y [m]."""
        return tuple((float(x), float(y)) for x, y in self.places)

    @property
    def least_working(self) -> float:
        """Give the working load [kN] with which as many anchors as there are would hold."""
        pairs = zip(self.pulls, self.sides, strict=True)
        return max(max(pull.sliding, pull.lift) / (count * _SLANT) for pull, count in pairs)

    def checks(self, *, us: bool) -> Iterator[Check]:
        """Hold sliding and uplift of the side that is worse off against what its anchors carry."""
        pairs = list(zip(self.pulls, self.sides, strict=True))
        source = cited(self.wind.source, us=us) if self.wind.speed is None else self.wind.source
        for check, part in (("sliding", "sliding"), ("uplift", "lift")):
            asked, count = max(((getattr(pull, part), count) for pull, count in pairs), key=_per_anchor)
            yield Check(check, asked, count * self.working * _SLANT, "kN", source)


def _per_anchor(pair: tuple[float, int]) -> float:
    return pair[0] / pair[1]


def anchors_of(
    spec: PierSpec,
    carried: Carried,
    building: Outline,
    top: float,
    ground: float,
    hole: tuple[float, float],
) -> Anchors:
    """Count and place the anchors of a building on piers with their ``top`` [m] over lowest ``ground`` [m].

    Two stand near the ends of each skid along the outer rows, so that each is held by itself, more where
    these are over 12 ft apart or where wind asks for them, as many as have room 4 ft apart; those at the
    corners hold the ends too, with a second strap. They stand clear of holes of the size of ``hole``, the
    largest along and across [m].
    """
    rings = [carried.frame.to_local(ring) for ring in building.rings]
    low, high = rings[0].min(axis=0), rings[0].max(axis=0)
    wind, working = wind_of(spec.wind), LISTED if spec.anchor is None else spec.anchor
    pulls = _pulls(spec, carried, building, wind, top - ground)
    outer = float(carried.local[:, 1].min()), float(carried.local[:, 1].max())
    needed, beyond = pulls[0].anchors(working), hole[1] / 2.0 + CLEAR
    placed = []
    for row, side in zip(outer, (outer[0] - beyond, outer[1] + beyond), strict=True):
        skids = _skids_of(carried, row, (low[0], high[0]))
        whole = math.fsum(end - start for start, end in skids)
        counts = [_count(needed * (end - start) / whole, end - start, MOST_BETWEEN) for start, end in skids]
        placed.append(
            [(u, side) for span, n in zip(skids, counts, strict=True) for u in np.linspace(*_ends(*span), n)]
        )
    sides = min(map(len, placed)), _count(pulls[1].anchors(working), float((high - low)[1]), math.inf)
    places = [*placed[0], *placed[1]]
    for v in np.linspace(*_ends(low[1], high[1]), sides[1])[1:-1]:
        places += [(u, v) for u in _at_ends(carried, rings, float(v), hole)]
    return Anchors(wind, working, carried.frame.to_site(np.array(places)), pulls, sides)


CLEAR = 0.5 * M_PER_FT
"""Anchors stand so far from holes and walls [m] (judgement)."""


def _skids_of(carried: Carried, row: float, whole: tuple[float, float]) -> list[tuple[float, float]]:
    """Give where each skid of one row begins and ends along it [m]: two where a notch parts them."""
    own = [skid for skid in carried.skids if abs(carried.local[skid.piers[0], 1] - row) < SAME_ROW]
    return sorted((one.start, one.end) for one in own) or [whole]


def _at_ends(
    carried: Carried, rings: Sequence[NDArray[np.float64]], v: float, hole: tuple[float, float]
) -> tuple[float, float]:
    """Give where anchors stand beyond both ends of the building at ``v`` across it [m]: clear of the walls
    there, and of holes that reach beyond them."""
    inside = spans(rings, v)
    beside = carried.local[np.abs(carried.local[:, 1] - v) < hole[1] / 2.0 + CLEAR, 0]
    first = min([inside[0][0], *(beside - hole[0] / 2.0).tolist()])
    last = max([inside[-1][1], *(beside + hole[0] / 2.0).tolist()])
    return first - CLEAR, last + CLEAR


def _ends(low: float, high: float) -> tuple[float, float]:
    inset = min(CORNER, (high - low) / 4.0)
    return low + inset, high - inset


def _count(needed: float, length: float, most: float) -> int:
    """Give how many stand along a side: at both ends, close enough, as many as hold but none too near."""
    start, end = _ends(0.0, length)
    room = max(2, 1 + math.floor((end - start) / LEAST_BETWEEN + 1e-9))
    return min(room, max(2, 1 + math.ceil((end - start) / most - 1e-9), math.ceil(needed - 1e-9)))


def _pulls(
    spec: PierSpec, carried: Carried, building: Outline, wind: Wind, above: float
) -> tuple[Pull, Pull]:
    """Give what wind across the rows and wind along them ask for.

    It turns the building about the ground, which the skids stand ``above`` [m].
    """
    shell = carried.shell
    own = spec.loads.areas
    dead = AreaLoads(0.0, own.floor_dead, 0.0, own.roof_dead, own.wall)
    floor = np.array([place.tributary for place in carried.places])
    rings = [carried.frame.to_local(ring) for ring in building.rings]
    weight = float(loads_on_piers(rings, carried.local, floor, dead, shell).total.sum())
    long, short = np.ptp(np.vstack(rings), axis=0).tolist()
    span, bearing = (short, long) if shell.ridge_along else (long, short)
    rise = shell.pitch * span / 2.0
    roof = building.area + 2.0 * shell.overhang * bearing
    walls = spec.floor.thickness + shell.wall_height

    def pull(face: float, height: float, base: float) -> Pull:
        return pull_of(wind, face * height, roof, above + height / 2.0, base, weight)

    eaves, gables = walls + rise, walls + rise / 2.0
    across, ends = (eaves, gables) if shell.ridge_along else (gables, eaves)
    return pull(long, across, short), pull(short, ends, long)
