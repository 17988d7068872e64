"""Where the building of a job may stand, and what its best place is the least of, by the ground alone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple, cast

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.nearby import ROUND
from gradework.earthwork.siting.allowed import Allowed, KeepOut, rings
from gradework.earthwork.siting.placements import LevelRule
from gradework.earthwork.siting.search import Aim, Search
from gradework.errors import InputError, fault
from gradework.foundations.checks.nearby import by_hand, walk
from gradework.project import specs
from gradework.project.placed import LEANS, leans_on, neighbour_of, placed_building
from gradework.units.lengths import METRES_PER, decimals_of

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Neighbour
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.project.job.site import What

Floats = NDArray[np.float64]

TIE = 0.01
"""Of places that need the same gravel that with less digging is better, and the other way round: each counts
this part of the other."""

HOLES = 0.3
"""[m] Holes of piers may reach so far beyond the walls: ground to be surveyed."""

LINE = 1e-5
"""[m] A line that parts ground is taken to be so wide, and nothing stands nearer: more than ``allowed`` takes
off for rounding."""

SAME_WAY = math.radians(0.1)
"""Sides that run along within so much have one direction."""


def search_of(job: Job, surface: Surface, kind: str, least: What) -> Search:
    """Give the search for the best place of one foundation. Raises ``InputError`` that points into the job:
    a building that is no rectangle."""
    if job.building.size is None:
        raise job.located(InputError([fault("place-rectangle")]), ("building", "outline"))
    building, _ = placed_building(job)
    here, spec = place_of(building), specs.pad_spec(job)
    margin = {"pad": spec.margin, "piers": HOLES}.get(kind, 0.0)
    allowed = _allowed(job, surface, building, margin)
    aim, rule = _aim(job, kind, least, allowed.built), _rule(job, kind)
    return Search(surface, allowed, rule, aim, here, _turns(job, here))


def place_of(building: Outline) -> Floats:
    """Middle [m] and turn [radians] of a rectangle, (3,)."""
    ring = building.rings[0]
    along = ring[1] - ring[0]
    return np.array([*ring.mean(axis=0), math.atan2(along[1], along[0])])


# What is the least.


def _aim(job: Job, kind: str, least: What, built: tuple[float, float]) -> Aim:
    """A pad is made up and dug by its rule; of piers and slabs counts what is made up to a level floor."""
    if least == "fall":
        return Aim(fall=1.0)
    if least == "highest":
        return Aim(low=1.0)
    spec, area = specs.pad_spec(job), built[0] * built[1]
    if kind != "pad":
        return Aim(fill=1.0)
    if least == "gravel":
        return Aim(fill=1.0, cut=TIE, base=spec.gravel * area)
    if least == "digging":
        return Aim(cut=1.0, fill=TIE, base=spec.strip * area)
    prices = specs.price_list(job).for_pad(spec.material)
    dug = (prices.dig or 0.0) + (prices.haul or 0.0) * spec.swell
    stone = (prices.gravel or 0.0) * spec.density
    return Aim(cut=dug, fill=stone, base=area * (dug * spec.strip + stone * spec.gravel))


def _rule(job: Job, kind: str) -> LevelRule:
    """The plain level that a pad is dug and filled like; piers and slabs stand clear of all ground."""
    if kind != "pad":
        return LevelRule(highest=0.0)
    spec = specs.pad_spec(job)
    shift = spec.strip - spec.gravel
    if spec.level is not None:
        return LevelRule(given=spec.level + shift)
    if spec.rule == "balanced":
        return LevelRule(mean=0.0)
    edge = -math.inf if spec.drain else spec.freeboard + shift
    return LevelRule(lowest=0.0, highest=spec.strip - spec.max_cut, edge=edge)


# Where it may stand.


def _allowed(job: Job, surface: Surface, building: Outline, margin: float) -> Allowed:
    assert job.building.size is not None
    leaned = leans_on(job)
    things = [neighbour_of(table, leaned=table.name in leaned) for table in job.site.near]
    keep_outs = tuple(_keep_outs(things, us=job.show.us))
    return Allowed(surface, job.building.size, margin, _ground(job, surface, building, things), keep_outs)


def _keep_outs(things: list[Neighbour], *, us: bool) -> Iterator[KeepOut]:
    """Keep the setback that the job gives; without one room to walk before walls, room to dig by a pipe."""
    for one in things:
        usual = walk(us=us) if one.bars else by_hand(us=us) if one.kind == "pipe" else 0.0
        far = one.setback if one.setback is not None else usual
        shape = one.shape.buffer(-LEANS) if one.leaned else one.shape  # it touches what it leans on
        if not shape.is_empty:  # nothing is inside a wall that was given as a line
            yield KeepOut(one.name, shape, LINE if one.leaned else max(far, LINE), not one.bars)


def _ground(job: Job, surface: Surface, building: Outline, things: list[Neighbour]) -> Any:
    """The ground inside the boundary, on this side of fences and lot lines; None where nothing bounds it."""
    ground: Any = None
    if job.site.boundary is not None:
        ground = shapely.Polygon(job.site.boundary).buffer(0.0)
        ground = ground.buffer(-(job.site.setback or 0.0), join_style="mitre")
    lines = [one.shape.buffer(LINE, cap_style="square") for one in things if one.kind in ROUND]
    if not lines:
        return ground
    whole = shapely.Polygon(surface.hull_xy) if ground is None else ground
    middle = shapely.Point(building.rings[0].mean(axis=0))
    parts = shapely.get_parts(whole.difference(shapely.union_all(lines)))
    own = [part for part in parts if part.covers(middle)]
    return own[0] if own else ground


def _turns(job: Job, here: Floats) -> tuple[float, ...] | None:
    """The turns that the job allows [radians], each with its half and quarter; None for all."""
    turns = job.place.turns or "free"
    if turns == "free":
        return None
    if turns == "given":
        return (float(here[2]),)
    named = next((one for one in job.site.near if one.name == job.place.square_to), None)
    ways = [float(here[2])]
    if named is not None:
        neighbour = neighbour_of(named)
        places = np.asarray(neighbour.places, dtype=np.float64)
        steps = np.diff(np.vstack((places, places[:1])) if neighbour.closed else places, axis=0)
        steps = steps[np.hypot(*steps.T) > LINE]
        ways = np.arctan2(steps[:, 1], steps[:, 0]).tolist() or ways  # one place has no side
    found: list[float] = []
    for way in (*ways, *(way + 0.5 * math.pi for way in ways)):
        if all(abs((way - other + 0.5 * math.pi) % math.pi - 0.5 * math.pi) > SAME_WAY for other in found):
            found.append(way)
    return tuple(found)


# A place as it is written: the corner to the last decimal of the unit, the turn to a hundredth.


def written(job: Job, places: Floats) -> tuple[Floats, Floats]:
    """Round places (n, 3) as a job writes them: first corner, x and y [m], and turn [degrees], (n, 3); and
    the places that these are, (n, 3)."""
    assert job.building.size is not None
    per, digits = float(METRES_PER[job.unit]), decimals_of(job.unit)
    degrees = np.round((np.degrees(places[:, 2]) + 180.0) % 360.0 - 180.0, 2)
    turned = np.column_stack((places[:, :2], np.radians(degrees)))
    corner = np.round(rings(turned, np.array(job.building.size))[:, 0] / per, digits) * per
    cos, sin = np.cos(turned[:, 2]), np.sin(turned[:, 2])
    a, b = 0.5 * job.building.size[0], 0.5 * job.building.size[1]
    middle = corner + np.column_stack((a * cos - b * sin, a * sin + b * cos))
    return np.column_stack((corner, degrees)), np.column_stack((middle, turned[:, 2]))


def as_turned(places: Floats, here: Floats) -> Floats:
    """Turn places by a half where that is nearer to ``here``: the rectangle stays where it is."""
    near = places.copy()
    near[:, 2] = here[2] + (places[:, 2] - here[2] + 0.5 * math.pi) % math.pi - 0.5 * math.pi
    return near


def job_at(job: Job, corner: Floats) -> Job:
    """The same job with its building at a corner (3,): x, y [m] and turn [degrees]."""
    x, y, turn = corner.tolist()
    change: dict[str, object] = {"corner": (x, y), "turn": turn + 0.0, "ties": None, "second_ties": None}
    return job.model_copy(update={"building": job.building.model_copy(update=change)})


def steps_of(job: Job) -> tuple[float, ...]:
    """Steps that a builder moves by [m], the coarsest first."""
    return (0.3048, 0.1524, 0.0254, 0.003) if job.show.us else (0.25, 0.1, 0.02, 0.002)


TURNS_BY = (5.0, 1.0, 1.0, 0.1)
"""The same of turns [degrees], one for each step."""


def least_of(job: Job, least: str | None) -> What:
    """What is to be the least: as asked, else by the job, else gravel."""
    return cast("What", least or job.place.least or "gravel")


# Is a better place near? A few steps to each side, by the ground alone.


class Better(NamedTuple):
    """A place near: how far the middle is moved (x, y) [m] and turned [degrees], and how much less is to be
    made up there [m³]."""

    shift: tuple[float, float]
    turn: float
    less: float


STEPS, TURNED = 3, (0.0, -15.0, 15.0, -30.0, 30.0)
"""So many steps of 2 ft (0.6 m) to each side, and these turns [degrees]."""

PART, LEAST_GAIN = 0.4, 0.5
"""A place is clearly better where this part less is to be made up, and at least so much [m³]."""


def better_near(job: Job, surface: Surface, kind: str) -> Better | None:
    """Look a few steps around the building for a place where clearly less is to be made up; the nearest to it
    of those within a tenth of the best. None for one that is no rectangle, or stands where it may not."""
    if job.building.size is None:
        return None
    search = search_of(job, surface, kind, "gravel")
    step = 2.0 * steps_of(job)[0] if job.show.us else 0.6
    ways = np.arange(-STEPS, STEPS + 1) * step
    turns = np.radians(TURNED if search.turns is None else TURNED[:1])
    moves = np.stack(np.meshgrid(ways, ways, turns, indexing="ij"), axis=-1).reshape(-1, 3)
    values = search.values_of(search.here + moves)
    own = float(search.values_of(search.here[None])[0])
    if math.isnan(own) or np.isnan(values).all():
        return None
    best = float(np.nanmin(values))
    if own - best < max(PART * own, LEAST_GAIN):
        return None
    good = np.flatnonzero(values <= best + 0.1 * (own - best))
    far = np.hypot(moves[good, 0], moves[good, 1]) + search.allowed.built[0] * np.abs(moves[good, 2])
    number = int(good[far.argmin()])
    x, y, turn = moves[number].tolist()
    return Better((x, y), math.degrees(turn), own - float(values[number]))
