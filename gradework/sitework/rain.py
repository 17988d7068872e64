"""Stand here in the rain: where water comes from, where it stands and where it goes, before and after."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.nearby import polygon_of
from gradework.errors import Finding, finding
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import WaterGround, on_surface
from gradework.ground.water.ponds import Pond, ponds, water_on
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


def finished_water(finished: Surface, pad: Outline, level: float) -> WaterGround:
    """The finished ground round a pad or slab whose top is at a ``level`` [m]: water runs along its foot."""
    made = on_surface(finished)
    middles = made.places[made.triangles].mean(axis=1) + finished.origin
    inside = shapely.contains_xy(polygon_of(pad), *middles.T)
    return made.without(inside, level)


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


class Rain(NamedTuple):
    """What rain does near the building on the ground as it is and as it will be: the ponds ``before`` and
    ``after``, None where the ground stays as it is."""

    before: tuple[Standing, ...] = ()
    after: tuple[Standing, ...] | None = None


def rain_on(surface: Surface, building: Outline, finished: Surface, top: PadTop | None) -> Rain:
    """Look at both; ``top``: what is level in the ``finished`` ground, None where that is as surveyed."""
    before = standing_near(on_surface(surface), surface.origin, building)
    if top is None:
        return Rain(before)
    made = finished_water(finished, top.outline, top.level)
    return Rain(before, standing_near(made, finished.origin, building))


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
