"""The ground that drains to walls and to what is dug beside them: what was surveyed of it, and where more may
come in.

What was surveyed is followed exactly, as it is or finished; what lies beyond the survey is known from the
air, or by nobody.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.nearby import polygon_of
from gradework.foundations.checks.gathered import flow_to_walls
from gradework.foundations.checks.wall_strips import walls_of
from gradework.ground.water.catchment import Drained, drained
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import Farther, WaterGround, on_surface
from gradework.sitework.drains import INFLOW, LITTLE, Catchment

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.wall_strips import PadTop
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

NOWHERE = np.empty((0, 2))

FARTHER = 6.096
"""[m] Shots for what drains from beyond the survey are asked for so far out, 20 ft."""

FLAT_RIM = 0.001
"""[-] Ground at the rim that rises outward by no more brings nothing."""


def finished_water(
    finished: Surface, pad: Outline, level: float, beyond: Farther | None = None
) -> WaterGround:
    """The finished ground round a pad or slab whose top is at a ``level`` [m], with what is known ``beyond``
    the survey: water runs along its foot."""
    made = on_surface(finished, whole=beyond is not None)
    if beyond is not None:
        made = beyond.joined(made)
    middles = made.places[made.triangles].mean(axis=1) + finished.origin
    inside = shapely.contains_xy(polygon_of(pad), *middles.T)
    return made.without(inside, level)


def drains_to(
    finished: Surface, pad: Outline, level: float, lines: Floats, beyond: Farther | None = None
) -> Drained | None:
    """The ground that drains to ``lines`` (s, 2, 2), site [m], of what is dug, hollows full; None where none
    of them is a side of the finished ground's triangles."""
    made = finished_water(finished, pad, level, beyond)
    made.catch([lines - finished.origin])
    return drained(Flow(made, 1)) if (made.caught >= 0).any() else None


def shots_above(found: Drained, origin: Floats, nearby: Nearby) -> Floats:
    """Where to shoot (k, 2), site [m], at most three places: out from the rim of the survey over which more
    may drain to a line. Nowhere that a wall, a fence or a lot line keeps one from."""
    rim = found.rim + origin
    places, comes = _outward(rim[:, 0], rim[:, 1], found.falls, nearby)
    if not comes.any():
        return NOWHERE
    middle = 0.5 * (rim[:, 0] + rim[:, 1])[comes]
    arm = middle - nearby.building.rings[0].mean(axis=0)
    way = arm.sum(axis=0)
    turn = np.arctan2(arm[:, 0] * way[1] - arm[:, 1] * way[0], arm @ way)  # from the middle of where it comes
    wanted = places[comes][np.argsort(turn, kind="stable")]
    picked: Floats = wanted[np.unique([0, len(wanted) // 2, len(wanted) - 1])]
    return picked


def more_comes_in(found: Drained, origin: Floats, nearby: Nearby) -> bool:
    """Whether more may drain to a line over the edge of what is known."""
    rim = found.rim + origin
    return bool(_outward(rim[:, 0], rim[:, 1], found.falls, nearby)[1].any())


def may_come_in(surface: Surface, nearby: Nearby) -> bool:
    """Whether the survey ends anywhere on ground that rises on and can be shot: no water is followed."""
    row, side = np.nonzero(surface.neighbours < 0)
    ring = surface.vertices[surface.triangles[row], :2] + surface.origin
    start, end = ring[np.arange(len(row)), side], ring[np.arange(len(row)), (side + 1) % 3]
    step = end - start
    out = np.stack((step[:, 1], -step[:, 0]), axis=1) / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    rise = (surface.triangle_gradients[row] * out).sum(axis=1)  # NaN of one without area brings nothing
    return bool(_outward(start, end, rise, nearby)[1].any())


def _outward(start: Floats, end: Floats, rise: Floats, nearby: Nearby) -> tuple[Floats, NDArray[np.bool_]]:
    """Places (m, 2) to shoot at out from stretches of the rim, the known ground to their left; and which of
    them bring water that nobody knows of, none where that is too little."""
    step, middle = end - start, 0.5 * (start + end)
    length = np.hypot(*step.T)
    out = np.stack((step[:, 1], -step[:, 0]), axis=1) / np.maximum(length, 1e-9)[:, None]
    places = middle + FARTHER * out
    comes = rise > FLAT_RIM
    comes[comes] = nearby.measurable((middle + INFLOW * out)[comes]) & ~nearby.beyond(places[comes])
    return places, comes & bool(length[comes].sum() > INFLOW)


def catchments_now(
    surface: Surface, building: Outline, beyond: Farther | None = None
) -> tuple[Catchment, ...]:
    """What drains to each wall on the ground as surveyed, the building standing on it, and from ``beyond``
    the survey."""
    walls = walls_of(building)
    found = [drained(flow_to_walls(surface, building, np.inf, one)) for one in _with(beyond)]
    return tuple(_of("wall", wall.name, found, [number]) for number, wall in enumerate(walls))


def _with(beyond: Farther | None) -> tuple[Farther | None, ...]:
    """The survey alone, then with what is known beyond it."""
    return (None,) if beyond is None else (None, beyond)


def wet_sides(finished: Surface, pad: Outline, level: float, dug: Floats) -> set[int]:
    """Those sides of a pad, by number, that more than next to nothing drains to on the finished ground, what
    comes to ``dug`` (s, 2, 2), site [m], caught there."""
    areas = _to_sides(finished, pad, level, [dug]).areas[:-1]
    return set(np.flatnonzero(areas > LITTLE).tolist())


def _to_sides(
    finished: Surface, pad: Outline, level: float, dug: Sequence[Floats], beyond: Farther | None = None
) -> Drained:
    """What drains to each side of a pad, then to each of what is dug."""
    made = finished_water(finished, pad, level, beyond)
    ring = pad.rings[0] - finished.origin
    sides = np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)
    made.catch([*sides[:, None], *(one - finished.origin for one in dug)])
    return drained(Flow(made, len(sides) + len(dug)))


def catchments_then(
    finished: Surface,
    building: Outline,
    top: PadTop,
    dug: Mapping[str, Led],
    beyond: Farther | None = None,
) -> tuple[Catchment, ...]:
    """What drains on the finished ground to each side of a pad or slab, told by its wall, to all of them,
    and to what is ``dug``, by the walls it leads past, from ``beyond`` the survey, too. Each drop counts
    where it first comes to one."""
    names, every = [wall.name for wall in walls_of(building)], range(len(top.outline.rings[0]))
    lines = [one.dug for one in dug.values()]
    found = [_to_sides(finished, top.outline, top.level, lines, one) for one in _with(beyond)]
    walls = [_of("wall", names[k], found, [k]) for k in every] if len(names) == len(every) else []
    led = [_of(one.kind, where, found, [len(every) + k]) for k, (where, one) in enumerate(dug.items())]
    return (*walls, _of(top.name, "", found, every), *led)


def _of(kind: str, where: str, found: Sequence[Drained], lines: Iterable[int]) -> Catchment:
    """What drains to some lines; ``found``: on the survey alone, then on all that is known."""
    numbers, known = list(lines), found[-1]
    surveyed, area = (float(one.areas[numbers].sum()) for one in (found[0], known))
    return Catchment(kind, where, area, sum(known.inflow(line) for line in numbers), area - surveyed)
