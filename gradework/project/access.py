"""The door of a job over one foundation: its wall, and how one gets in from the finished ground."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, cast

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.foundations.checks.check import cited
from gradework.foundations.checks.wall_strips import walls_of
from gradework.sitework.access import GUARD_OVER, MOST_RAMP, Access, Door, Ground, Use, get_in

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.wall_strips import PadTop
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.units.display import Display

Floats = NDArray[np.float64]


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
    job: Job, building: Outline, floor: float | None, top: PadTop | None, beside: Callable[[], Surface]
) -> Access | None:
    """Say how one gets in over a foundation with its ``top``; ``beside``: the finished ground beside it,
    ``floor`` [m], None where it has no plan."""
    door = door_of(job, building)
    if door is None or floor is None:
        return None
    return get_in(door, floor, _ground(top, beside()))


def _ground(top: PadTop | None, beside: Surface) -> Ground:
    """The finished ground as one walks on it: level on top of a pad or slab."""
    if top is None:
        return beside.elevation
    outline, level = top.outline, top.level

    def ground(places: Floats) -> Floats:
        return np.where(outline.contains(places), level, beside.elevation(places))

    return ground


def access_findings(access: Access | None, show: Display) -> Iterator[Finding]:
    """Tell what a handrail or a guard is asked for, and where no steps end on the survey."""
    if access is None or access.over is None or access.over < 0.0:
        return
    where = f"door in the {access.door.wall}"
    if access.rise is None:
        yield finding("door-no-foot", "warning", where, place=access.door.wall)
    elif access.ramp and access.door.ramp == "wheelchair" and access.rise > MOST_RAMP:
        rise, most = show.depth(access.rise), show.depth(MOST_RAMP)
        yield finding("door-rail", "note", where, access.rise, MOST_RAMP, variant="run", rise=rise, most=most)
    elif access.railed or access.guarded:
        yield finding(
            "door-rail",
            "note",
            where,
            access.rise,
            variant="guard" if access.guarded else "",
            rise=show.depth(access.rise),
            count=access.risers,
            most=show.depth(GUARD_OVER),
            rule=cited("IRC R312.1" if access.guarded else "IRC R311.7.8", us=show.us),
        )
