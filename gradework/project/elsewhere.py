"""Where could it stand instead? Asked only where nothing can be built: a few feet off, or turned about its
middle.

Many places are looked at by the fall of the ground under the building alone, and by how near they come to
what is in the way; the whole gate is asked at the best few.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import describe_footprint
from gradework.earthwork.nearby import polygon_of
from gradework.errors import CheckError, InputError
from gradework.project.designed import Foundation, Yard, fit, judged_at, looked_at, plan_one
from gradework.project.levels import NEAR, STEP, Found
from gradework.project.nearby import nearby_of
from gradework.project.placed import placed_building
from gradework.units.amounts import M_PER_FT
from gradework.units.lengths import METRES_PER, decimals_of

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.gate import Judged
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job

Floats = NDArray[np.float64]
Way = Literal["move", "turn"]

MOVES = {True: tuple(feet * M_PER_FT for feet in (2.0, 4.0, 6.0)), False: (0.6, 1.2, 1.8)}
"""[m] How far it is moved, in jobs in feet and in metres: what a builder does without asking anybody."""

DIRECTIONS = 8
LEAST_TURN = 3.0
"""[degrees] A smaller turn changes nothing that can be told."""

GAIN = 0.9
"""[-] The whole gate is asked only where the ground falls by so much less, or where it is farther from what
was too near."""

KEEP_OFF = 0.6
"""[m] No place is looked at nearer to a wall or line than this, unless the building stands nearer already."""

OF_THE_PLACE = frozenset(
    {
        "water", "water carried", "water stays away", "outlet runs clear", "stone drained", "siding",
        "floor above ground", "held edge", "stake depth", "gravel depth", "earth fill", "slab fill",
        "slab edge", "dug face", "common top", "stack height", "corner stack", "basin under the floor",
        "setback", "own side", "room to walk", "dug or staked near", "digging below 1:1",
        "gathered flow",
    }
)  # fmt: skip
"""Checks that may hold at another place; wood that is too weak is as weak there."""


class Elsewhere(NamedTuple):
    """A place at which it can be built: ``way`` it gets there, ``shift`` (x, y) [m] of its first corner,
    ``turn`` [degrees] anticlockwise; the ``job`` that stands there, and what the gate says of it."""

    way: Way
    shift: tuple[float, float]
    turn: float
    job: Job
    judged: Judged

    @property
    def corners(self) -> Floats:
        """The corners of the building there (k, 2), site [m]."""
        return placed_building(self.job)[0].rings[0]


def elsewhere(job: Job, surface: Surface, nearby: Nearby, judged: Sequence[Judged]) -> tuple[Elsewhere, ...]:
    """Give the least move and the least turn after which one of the foundations asked for can be built, of
    the few places that the gate is asked at; nothing where what fails would fail anywhere."""
    kinds = [one.foundation for one in judged if set(one.failing) <= OF_THE_PLACE]
    kinds = [kind for kind in ("piers", "slab", "pad") if kind in kinds and job.build in (None, kind)]
    if not kinds or job.building.holes:
        return ()
    ways = (_moves(job, surface, nearby, judged), _turns(job, surface, nearby))
    found = (_first(surface, nearby.building, kinds, places) for places in ways)
    return tuple(one for one in found if one is not None)


class Candidate(NamedTuple):
    """A place to ask at."""

    way: Way
    job: Job
    turn: float


def _first(
    surface: Surface, building: Outline, kinds: Sequence[str], candidates: Iterator[Candidate]
) -> Elsewhere | None:
    """Ask the whole gate at one place after the other; give the first where something can be built."""
    for spot in candidates:
        for kind in kinds:
            judged = _judged_there(spot.job, surface, kind)
            if judged is not None and judged.buildable:
                there, _ = placed_building(spot.job)
                x, y = (there.rings[0][0] - building.rings[0][0]).tolist()
                return Elsewhere(spot.way, (x, y), spot.turn, spot.job, judged)
    return None


def _judged_there(job: Job, surface: Surface, kind: str) -> Judged | None:
    """Ask the gate of one foundation at its place, at its own level and where need be at others; None where
    it leaves the survey."""
    stood = stand(job, surface, kind, rough=True)
    return None if stood is None else replace(stood.found.judged, cost=None)


class Stood(NamedTuple):
    """A foundation planned where a job puts it, and what the gate says of it; ``under``: the ground of the
    building."""

    planned: Foundation
    found: Found
    under: Pieces


def stand(job: Job, surface: Surface, kind: str, *, rough: bool = False) -> Stood | None:
    """Plan one foundation where the job puts it, at its own level and where need be at another; None where it
    leaves the survey. ``rough``: its level may be found less closely, and what cannot be built has no cost.
    """
    building, _ = placed_building(job)
    try:
        yard = Yard(job, surface, nearby_of(job, building), clip(surface, building))
        planned = plan_one(kind, job, surface, building, in_full=False)
        own = judged_at(yard, planned, priced=not rough)
        better = fit(yard, kind, planned, own, near=STEP if rough else NEAR)
        if better.planned is not None:
            return Stood(better.planned, better.found or looked_at(yard, better.planned), yard.under)
        if rough and own.judged.buildable:
            own = looked_at(yard, planned, around=own.around)
    except (InputError, CheckError):
        return None
    return Stood(planned, own, yard.under)


# The places, the nearest first: by the fall of the ground under the building.


def _moves(job: Job, surface: Surface, nearby: Nearby, judged: Sequence[Judged]) -> Iterator[Candidate]:
    """Give the best place of each distance, if it is better than where it stands."""
    away, here = _wanted(nearby, judged), _fall(surface, nearby.building)
    for far in MOVES[job.show.us]:
        best, least = None, math.inf
        for step in range(DIRECTIONS):
            angle = 2.0 * math.pi * step / DIRECTIONS
            moved = placed(job, nearby.building, (far * math.cos(angle), far * math.sin(angle)), 0.0)
            there, _ = placed_building(moved)
            if _clear(there, nearby, away) and (fall := _fall(surface, there)) < least:
                best, least = moved, fall
        if best is not None and (away or least <= GAIN * here):
            yield Candidate("move", best, 0.0)


def _turns(job: Job, surface: Surface, nearby: Nearby) -> Iterator[Candidate]:
    """Give it turned so that its long side runs along the slope's level line, then by a quarter."""
    building = nearby.building
    ring = building.rings[0]
    sides = np.roll(ring, -1, axis=0) - ring
    along = sides[int(np.hypot(*sides.T).argmax())]
    downhill = describe_footprint(surface, building).downhill_degrees
    turns = [90.0]
    if math.isfinite(downhill):
        level = downhill + 90.0 - math.degrees(math.atan2(along[1], along[0]))
        turns.insert(0, float(round((level + 90.0) % 180.0 - 90.0)))
    for turn in dict.fromkeys(turns):
        turned = placed(job, building, (0.0, 0.0), turn)
        there, _ = placed_building(turned)
        if abs(turn) >= LEAST_TURN and _clear(there, nearby, {}) and math.isfinite(_fall(surface, there)):
            yield Candidate("turn", turned, turn)


def _fall(surface: Surface, building: Outline) -> float:
    """Highest less lowest ground under the building [m]; infinite where it leaves the survey."""
    try:
        under = clip(surface, building)
    except (InputError, CheckError):
        return math.inf
    return under.highest - under.lowest


def _wanted(nearby: Nearby, judged: Sequence[Judged]) -> dict[str, float]:
    """Give how far walls must stand from what they are too near to [m], by its name."""
    house, wanted = polygon_of(nearby.building), {}
    for one in nearby.neighbours:
        short = [
            (check.limit or 0.0) - (check.value or 0.0)
            for check in (check for own in judged for check in own.false)
            if check.where == one.name
            and check.bound == "least"
            and check.check in ("setback", "room to walk")
        ]
        if short:
            wanted[one.name] = float(one.shape.distance(house)) + max(short)
    return wanted


def _clear(there: Outline, nearby: Nearby, away: dict[str, float]) -> bool:
    """Say whether a place keeps off what stands near, as far as is asked; not nearer than it is already."""
    house, old = polygon_of(there), polygon_of(nearby.building)
    for one in nearby.neighbours:
        least = min(one.setback or KEEP_OFF, float(one.shape.distance(old))) if one.bars else 0.0
        if one.shape.distance(house) < max(least, away.get(one.name, 0.0)) - 1e-6:
            return False
    return True


# The building at another place, as the job writes it.


def placed(job: Job, building: Outline, shift: tuple[float, float], turn: float) -> Job:
    """Put the building elsewhere: turned [degrees] about its middle, then moved by ``shift`` [m], its place
    rounded as it is written."""
    ring, per = building.rings[0], float(METRES_PER[job.unit])
    angle, middle = math.radians(turn), 0.5 * (ring.min(axis=0) + ring.max(axis=0))
    spin = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    moved = np.round(((ring - middle) @ spin + middle + shift) / per, decimals_of(job.unit)) * per
    table = job.building
    if table.outline is not None:
        change: dict[str, object] = {"outline": tuple((float(x), float(y)) for x, y in moved)}
    else:
        first = ring[1] - ring[0]
        own = table.turn if table.corner is not None else math.degrees(math.atan2(first[1], first[0]))
        corner = float(moved[0, 0]), float(moved[0, 1])
        change = {"corner": corner, "turn": _even(own + turn), "ties": None, "second_ties": None}
    return job.model_copy(update={"building": table.model_copy(update=change)})


def _even(degrees: float) -> float:
    """Bring a turn between -180 and 180 degrees, to a hundredth."""
    return round((degrees + 180.0) % 360.0 - 180.0, 2)
