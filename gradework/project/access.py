"""The door of a job over one foundation: its wall, and how one gets in from the finished ground."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, cast

import shapely

from gradework.earthwork.grading.led import NAMES
from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.foundations.checks.check import cited
from gradework.foundations.checks.wall_strips import walls_of
from gradework.sitework.access import (
    GUARD_OVER,
    LANDING,
    MOST_RAMP,
    RAIL_RISE,
    RAIL_SLOPE,
    Access,
    Door,
    Use,
    get_in,
)

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.units.display import Display


def door_of(job: Job, building: Outline) -> Door | None:
    """Give the door of a job in its wall; None where the job names none.

    Raises ``InputError`` that points into the job: no such wall, a door wider than its wall or beyond its
    ends.
    """
    table, show = job.building.door, job.show
    if table is None:
        return None
    walls = {wall.name.removeprefix("wall (corners ").removesuffix(")"): wall for wall in walls_of(building)}
    asked = table.side.strip()
    if asked not in walls:
        listed = ", ".join(f'"{name}"' for name in walls)
        told = fault("door-refused", variant="side", side=visible(asked, 40), walls=listed)
        raise job.located(InputError([told]), ("building", "door", "side"))
    wall, width = walls[asked], table.opening(us=show.us)
    at = wall.length / 2.0 if table.at is None else table.at
    if at - width / 2.0 < -_SLACK or at + width / 2.0 > wall.length + _SLACK:
        told = fault(
            "door-refused",
            about=("at",),
            start=show.length(at - width / 2.0),
            end=show.length(at + width / 2.0),
            length=show.length(wall.length),
            wall=wall.name,
        )
        raise job.located(InputError([told]), ("building", "door"))
    along, out = ((float(one[0]), float(one[1])) for one in (wall.along, wall.outward))
    use = cast("Use | None", table.ramp)
    return Door(wall.name, at, wall.place(at, 0.0), along, out, width, use, table.swings == "in")


_SLACK = 1e-6


def access_of(
    job: Job, building: Outline, floor: float | None, finished: Callable[[], Surface]
) -> Access | None:
    """Say how one gets in over a foundation; ``floor`` [m], None where it has no plan, ``finished``: the
    ground once it is built."""
    door = door_of(job, building)
    if door is None or floor is None:
        return None
    return get_in(door, floor, finished().elevation)


def way_in(access: Access | None) -> Any:
    """Give where one walks in at the door: steps or ramp, and as much before them as a landing takes."""
    if access is None:
        return shapely.Polygon()
    return shapely.Polygon(access.door.ring(0.0, access.out + LANDING)).convex_hull


def access_findings(access: Access | None, show: Display, measures: Sequence[Led] = ()) -> Iterator[Finding]:
    """Tell what a handrail or a guard is asked for, where no steps end on the survey, and which of the
    ``measures`` that lead water past runs where one walks in."""
    if access is None or access.over is None or access.over < 0.0:
        return
    where = f"door in the {access.door.wall}"
    if access.rise is None:
        yield finding("door-no-foot", "warning", where, place=access.door.wall)
        return
    for one in measures:
        line = shapely.LineString(one.line[:, :2])
        if one.kind in ("swale", "apron") and line.intersects(way_in(access)):
            what = "the ramp" if access.ramp else "the steps" if access.built else "the way in"
            yield finding("door-swale", "warning", where, what=what, kind=NAMES[one.kind])
    if access.door.ramp == "wheelchair" and access.rise > MOST_RAMP:
        rise, most = show.depth(access.rise), show.depth(MOST_RAMP)
        yield finding("door-rail", "note", where, access.rise, MOST_RAMP, variant="run", rise=rise, most=most)
    if access.railed or access.guarded or access.low:
        variant = "guard" if access.guarded else "low" if access.low else "ramp" if access.ramp else ""
        yield finding(
            "door-rail",
            "note",
            where,
            access.rise,
            variant=variant,
            rise=show.depth(access.rise),
            count=access.risers,
            slope=f"1 in {access.slope or 0.0:g}",
            steep=f"1 in {RAIL_SLOPE:g}",
            most=show.depth(GUARD_OVER if variant == "guard" else RAIL_RISE),
            rule=cited(_RULES[variant], us=show.us),
        )


_RULES = {
    "": "IRC R311.7.8",
    "guard": "IRC R312.1",
    "ramp": "IRC R311.8.3, 1991 ADA 4.8.5",
    "low": "IRC R311.8.3",
}
