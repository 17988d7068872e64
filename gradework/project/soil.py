"""Where the soil of a foundation goes on its yard, and the ground once it lies there.

What is spread becomes part of the finished ground, and that is looked at once more: soil with which a wall
loses its fall, or with which water would stand, is hauled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.ponded import SOAKS
from gradework.earthwork.grading.spread import Patch, held_back, spread_on
from gradework.earthwork.nearby import polygon_of
from gradework.foundations.checks.check import ONE_READING
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.foundations.piers.plan import Piers
from gradework.project import specs
from gradework.project.access import way_in
from gradework.project.buying import dug_beside
from gradework.project.finished import covering, finished_with
from gradework.sitework.catchment import finished_water
from gradework.sitework.drainage import BAD
from gradework.sitework.order_access import framed
from gradework.sitework.soil import Held, SoilPlan, dug_for, placed, spread_and_hauled
from gradework.sitework.spreading import (
    BELOW,
    BOARDS,
    CELL,
    CELL_METRIC,
    LITTLE,
    OVER_ROOTS,
    RIM,
    THICK,
    THICK_METRIC,
    Site,
    filled,
    kept_clear,
    patches_for,
    roots_of,
)

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.nearby import Nearby
    from gradework.foundations.slab.design import Slab
    from gradework.ground.surface import Surface
    from gradework.project.gate import Around
    from gradework.project.job.model import Job

Floats = NDArray[np.float64]

ENOUGH = 1.0 - 1e-9
"""[-] Patches that take this part of the soil take all of it."""


class Laid(NamedTuple):
    """Where soil goes, and the finished ground with what is spread on it."""

    soil: SoilPlan
    ground: Surface


def lay_soil(
    job: Job,
    surface: Surface,
    nearby: Nearby,
    under: Pieces,
    built: Pad | Piers | Slab,
    around: Around | None,
) -> Laid:
    """Give each kind of soil that a foundation digs its place; ``under``: the ground of the building.

    Raises ``CheckError`` where what was dug and what became of it do not agree.
    """
    soil, measures = specs.soil(job), dug_beside(around)
    roof = None if around is None else around.roof
    done = placed(dug_for(built, measures, roof, _bed(around, us=job.show.us)), soil, us=job.show.us)
    ground = finished_with(surface, built, measures)
    loose, haul = done.left * soil.swell.value, job.soil.haul
    if job.soil.spread is False or around is None:
        return Laid(spread_and_hauled(done, soil, (), haul=haul, held="not asked"), ground)
    sites, layers = _sites(job, ground, nearby, under, built, around), THICK if job.show.us else THICK_METRIC
    held: Held = "no room"
    tries: Iterable[tuple[Patch, ...]]
    if not isinstance(job.soil.spread, bool):
        tries, held = own_area(sites[1], nearby, np.array(job.soil.spread), loose, max(layers))
    else:
        tries = _tries(sites, loose, layers)
    for patches in tries:
        there = spread_on(ground, patches)
        against = _against(job, nearby, built, (ground, there), patches)
        if not against:
            whole = _held(patches) >= loose * ENOUGH
            return Laid(
                spread_and_hauled(done, soil, patches, haul=haul, held="" if whole else "no room"), there
            )
        held = against
    return Laid(spread_and_hauled(done, soil, (), haul=haul, held=held if loose else ""), ground)


def _bed(around: Around | None, *, us: bool) -> float:
    """Give the soil that stone under steps or a ramp takes the place of [m³]."""
    made = None if around is None or around.access is None else framed(around.access, us=us)
    return 0.0 if made is None else made.stone


def _sites(
    job: Job, ground: Surface, nearby: Nearby, under: Pieces, built: Pad | Piers | Slab, around: Around
) -> tuple[Site, Site]:
    """Give the yard to spread on beyond where falls from walls are looked at, then nearer to the walls."""
    measures, roof = dug_beside(around), around.roof
    plan, low = _built(built, ground, under)
    shaped: list[Any] = [shapely.polygons(one.ground.shaped) for one in measures]
    lines = [shapely.LineString(one.line[:, :2]) for one in measures if len(one.line) > 1]
    outlets = [one.outlets[:, :2] for one in measures]
    outlets += [np.array([out.place for out in roof.outlets])] if roof is not None and roof.outlets else []
    leading = shapely.union_all([*(part for parts in shaped for part in parts), *lines])
    leading = shapely.union(leading, way_in(around.access))
    out = np.concatenate(outlets) if outlets else np.empty((0, 2))
    top = covering(built)
    water = None if top is None else finished_water(ground, top.outline, top.level)
    clear = kept_clear(ground, nearby, leading, out, water)
    house = shapely.union(polygon_of(nearby.building), plan)
    roots = roots_of(nearby)
    cell, reach = CELL if job.show.us else CELL_METRIC, specs.drainage_rule(job).reach
    far, close = (
        Site(ground, nearby.building, shapely.union(clear, wide), low - BELOW, cell, roots, wide)
        for wide in (house.buffer(reach), house.buffer(BOARDS))
    )
    return far, close


def _built(built: Pad | Piers | Slab, ground: Surface, under: Pieces) -> tuple[Any, float]:
    """Give the plan of what is built, and the lowest ground along it [m]."""
    if isinstance(built, Piers):
        return shapely.Polygon(), under.lowest
    whole = polygon_of(built.outline)
    if not isinstance(built, Pad):
        return whole, min(float(side.ground.min()) for side in built.sides)
    low = built.ground.edge_low
    if isinstance(built.edge, BatteredEdge):
        rings = built.edge.slopes.daylight
        whole = shapely.union_all([whole, *map(shapely.Polygon, rings)])
        low = min(low, *(float(ground.elevation(ring).min()) for ring in rings))
    return whole, low


def own_area(
    site: Site, nearby: Nearby, ring: Floats, loose: float, thick: float
) -> tuple[list[tuple[Patch, ...]], Held]:
    """What is spread on an area that the job gives, ``thick`` [m] at the most; or why nothing may be."""
    if loose <= LITTLE:
        return [], ""
    shape, over = shapely.Polygon(ring), site.highest(ring)
    thick = min(thick, OVER_ROOTS) if shape.intersects(site.roots) else thick
    patch = filled(site.layer(ring, thick), loose)
    if shape.intersects(site.clear) or np.isnan(over):
        return [], _in_the_way(site, nearby, shape)
    return ([], "uphill") if over + patch.thick > site.below else ([(patch,)], "no room")


def _in_the_way(site: Site, nearby: Nearby, shape: Any) -> Held:
    """Say which of what is kept clear an area comes to."""
    if not shapely.Polygon(site.surface.hull_xy).buffer(-RIM).covers(shape):
        return "off the survey"
    if shape.intersects(site.house):
        return "at what is built"
    none = np.empty((0, 2))
    near = kept_clear(site.surface, nearby, shapely.Polygon(), none)
    return "near others" if shape.intersects(near) else "leads water"


def _tries(sites: Sequence[Site], loose: float, layers: Sequence[float]) -> Iterator[tuple[Patch, ...]]:
    """What may be spread of so much soil [m³], as it is tried: the usual layer far from the walls, where that
    does not take all of it a thicker one or one nearer to them, then thinner ones; ``layers`` [m]."""
    usual, thicker, *thinner = layers
    found = [patches_for(sites[0], loose, usual)]
    for site, thick in zip((sites[0], *sites[1:], *sites[1:]), (thicker, usual, thicker), strict=True):
        if _held(found[-1]) >= loose * ENOUGH:
            break
        found.append(patches_for(site, loose, thick))
    yield from (one for one in sorted(found, key=_held, reverse=True) if one)
    for thick in thinner:
        yield from filter(None, (patches_for(site, loose, thick) for site in sites))


def _held(patches: Sequence[Patch]) -> float:
    return sum(one.volume for one in patches)


def _against(
    job: Job,
    nearby: Nearby,
    built: Pad | Piers | Slab,
    grounds: tuple[Surface, Surface],
    patches: Sequence[Patch],
) -> Held:
    """Say what is against soil on the finished ground: the ``grounds`` without it and with it."""
    skirted = job.piers is not None and job.piers.skirt
    if held_back(grounds[1], patches) > SOAKS:
        return "water"
    if isinstance(built, Piers) and not skirted:
        return ""  # rain runs on under an open floor: no wall asks for a fall
    top = covering(built)
    rule = specs.drainage_rule(job)
    before, after = (
        wall_falls(one, nearby.building, rule, pad=top, barriers=nearby.stops) for one in grounds
    )
    worse = (
        two.verdict in BAD and (one.verdict not in BAD or two.fall < one.fall - ONE_READING)
        for one, two in zip(before, after, strict=True)
    )
    return "falls" if any(worse) else ""
