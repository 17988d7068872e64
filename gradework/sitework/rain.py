"""Stand here in the rain: where water comes from, where it stands and where it goes, before and after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.nearby import polygon_of
from gradework.errors import Finding, finding
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import WaterGround, on_surface
from gradework.ground.water.ponds import Pond, ponds, water_on
from gradework.ground.water.ways import Way, located, ways
from gradework.sitework.catchment import finished_water
from gradework.units.amounts import M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.wall_strips import PadTop
    from gradework.ground.surface import Surface
    from gradework.units.display import Display

Floats = NDArray[np.float64]

NEAR = 10.0 * M_PER_FT
"""[m] Ponds are told that come so near to the walls: as far as the fall from them is looked at."""

SHALLOW = M_PER_IN
"""[m] What stands no deeper is grass, not a pond: 1 in (judgement)."""

SMALL = 1.0
"""[m²] A smaller pond tells of the survey's grain, not of the yard (judgement)."""


UPHILL, ASIDE, STARTS = 20.0 * M_PER_FT, 3.0 * M_PER_FT, 5
"""[m] Drops are followed from so far up the slope, and so far aside of the building's ends; how many."""

LEAST_SLOPE = 0.002
"""[-] Where the ground under a building falls by less the shots do not say which way is up."""


class Standing(NamedTuple):
    """A pond near the building, site frame [m]: the ``pond``, how far its water stays ``off`` the walls, its
    ``rings`` (k, 2)."""

    pond: Pond
    off: float
    rings: tuple[Floats, ...]

    @property
    def water(self) -> Any:
        """Its water as shapes of shapely."""
        return shapely.multipolygons([shapely.Polygon(ring) for ring in self.rings])


def standing_near(ground: WaterGround, origin: Floats, building: Outline) -> tuple[Standing, ...]:
    """The ponds near a building, the largest first; ``origin`` (2,) of the ground, site [m]."""
    flow, house = Flow(ground), polygon_of(building)
    found = []
    for pond in ponds(flow):
        if pond.depth > SHALLOW and pond.area >= SMALL:
            rings = tuple(ring + origin for ring in water_on(flow, pond))
            one = Standing(_on_site(pond, origin), 0.0, rings)
            off = float(shapely.distance(one.water, house))
            if off <= NEAR:
                found.append(one._replace(off=off))
    return tuple(found)


def _on_site(pond: Pond, origin: Floats) -> Pond:
    east, north = origin.tolist()
    low, spill = ((x + east, y + north, z) for x, y, z in (pond.lowest, pond.spill))
    return pond._replace(lowest=low, spill=spill)


@dataclass(frozen=True, eq=False)
class Rain:
    """What rain does near the building on the ground as it is and as it will be.

    ``before``, ``after``: the ponds, None where the ground stays as it is. ``grounds``: both as water sees
    them, with the place (2,) site [m] that they count from; ``building`` None where nothing was looked at.
    """

    building: Outline | None = None
    origin: Floats = field(default_factory=lambda: np.zeros(2))
    grounds: tuple[WaterGround, ...] = ()
    before: tuple[Standing, ...] = ()
    after: tuple[Standing, ...] | None = None
    uphill: float = UPHILL

    @property
    def standing(self) -> tuple[Standing, ...]:
        """The ponds on the ground as it will be."""
        return self.before if self.after is None else self.after

    @cached_property
    def runs(self) -> tuple[tuple[Run, ...], ...]:
        """Where water runs from a few places uphill of the building: on the ground as it is, then as it will
        be where that is another."""
        if self.building is None:
            return ()
        starts = places_uphill(self.grounds[0], self.building.rings[0] - self.origin)
        house = polygon_of(self.building)
        return tuple(
            tuple(_run(way, self.origin, house) for way in ways(Flow(ground), starts) if way.legs)
            for ground in self.grounds
        )


class Run(NamedTuple):
    """The way of one drop, site frame [m]: ``legs`` (n, 3), a new one where it runs over out of a pond;
    ``ponds``: how many it fills; ``comes``: to the foundation, or under the floor where nothing is built;
    ``drained``: into the stone of a drain."""

    legs: tuple[Floats, ...]
    ponds: int
    comes: bool
    drained: bool = False


def _run(way: Way, origin: Floats, house: Any) -> Run:
    east, north = origin.tolist()
    legs = tuple(leg + np.array([east, north, 0.0]) for leg in way.legs)
    through = any(house.intersects(shapely.LineString(leg[:, :2])) for leg in legs if len(leg) > 1)
    return Run(legs, len(way.ponds), way.line == 0 or through, way.line > 0)


def places_uphill(ground: WaterGround, ring: Floats) -> Floats:
    """Places (m, 2), local [m], up the slope from a building: across its width and a little more, ``UPHILL``
    from it or as far as the ground is known; none on level ground."""
    middle = ring.mean(axis=0)
    flow = Flow(ground)
    arms = ground.places - middle
    near = np.hypot(*arms.T) <= np.hypot(*(ring - middle).T).max() + UPHILL
    # the plane through the shots around: a hollow under the building does not turn it
    fit = np.column_stack((arms[near], np.ones(int(near.sum()))))
    slope = np.linalg.lstsq(fit, ground.heights[near], rcond=None)[0][:2] if len(fit) > 2 else np.zeros(2)
    steep = float(np.hypot(*slope))
    if steep < LEAST_SLOPE:
        return np.empty((0, 2))
    up = slope / steep
    across = np.array([-up[1], up[0]])
    reach = (ring - middle) @ np.stack((up, across), axis=1)
    wide = np.linspace(reach[:, 1].min() - ASIDE, reach[:, 1].max() + ASIDE, STARTS)
    found = []
    for aside in wide:
        for part in (1.0, 0.75, 0.5, 0.25):
            place = middle + (reach[:, 0].max() + part * UPHILL) * up + aside * across
            if located(flow, place[None])[0] >= 0:
                found.append(place)
                break
    return np.array(found).reshape(-1, 2)


def rain_on(
    surface: Surface,
    building: Outline,
    finished: Surface,
    top: PadTop | None,
    drains: Sequence[Floats] = (),
) -> Rain:
    """Look at both; ``top``: what is level in the ``finished`` ground, None where that is as surveyed;
    ``drains``: the lines (k, 2, 2) [m] at which each pipe drain takes water in."""
    known = on_surface(surface)
    before = standing_near(known, surface.origin, building)
    if top is None:
        return Rain(building, surface.origin, (known,), before)
    made = finished_water(finished, top.outline, top.level)
    after = standing_near(made, finished.origin, building)
    # after the ponds are found: line 0 is what is built, each drain one of its own
    made.catch([np.empty((0, 2, 2)), *(lines - finished.origin for lines in drains)])
    made.caught[made.walled] = 0
    return Rain(building, surface.origin, (known, made), before, after)


def standing_findings(rain: Rain, show: Display) -> Iterator[Finding]:
    """Tell of each pond near the building: those on the ground as it will be are warnings; one that was there
    and will be gone is a note."""
    if rain.after is None:
        yield from (_told(one, "On the ground as it is,", "warning", show) for one in rain.before)
        return
    yield from (_told(one, "Once it is built,", "warning", show) for one in rain.after)
    for one in rain.before:
        if not any(one.water.intersects(other.water) for other in rain.after):
            yield _told(one, "On the ground as it is,", "note", show)


def _told(one: Standing, state: str, severity: Any, show: Display) -> Finding:
    pond = one.pond
    place, spill = (show.place(*at[:2]) for at in (pond.lowest, pond.spill))
    return finding(
        "water-stands", severity, place, pond.depth, SHALLOW, state=state, place=place, spill=spill,
        depth=show.depth(pond.depth), area=show.area(pond.area), volume=show.volume(pond.volume),
        off=show.distance(one.off), variant="" if one.off > 0.0 else "under",
    )  # fmt: skip
