"""Where water goes that a foundation sheds: not to somebody else's wall, a well or a septic field."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.faces import ON_INVERT
from gradework.earthwork.nearby import STAND, WALLS, Kind, Neighbour
from gradework.foundations.checks.check import COMMON, ONE_READING, Check
from gradework.foundations.checks.footing import foot_of
from gradework.ground.profile import crossings, edges_once

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.nearby import Nearby
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

KEPT_DRY: tuple[Kind, ...] = (*WALLS, "well", "septic")
"""What no outlet may run toward."""

FAN, SPREAD = 9.144, 45.0
"""[m], [degrees] What leaves an outlet is taken to run on so far, and to spread to both sides of its way
(judgement: 30 ft)."""

REACH = 3.048
"""[m] Ground between two walls that are nearer than this is looked at: 10 ft, as for one's own walls."""

DRIP = 0.0635
"""[m] What drips nearer than this to a wall wets its foot however the ground lies, 2 1/2 in: at 1 in 20 the
ground between falls by less than one reading (judgement)."""


class Outlet(NamedTuple):
    """Where a swale comes out: its ``place`` and the unit vector of the ``way`` it runs there, (2,) site."""

    place: Floats
    way: Floats


class Shed(NamedTuple):
    """What sheds rain in plan, as shapes of shapely: the ``whole`` of it, the edge of the ``roof`` that drips
    off, and what is left ``open``: a pad or slab beyond the roof, and a gutter that nothing leads away.
    ``level`` [m] is the top of pad or slab, None where the ground stays as it is."""

    whole: Any
    roof: Any
    open: Any
    level: float | None


def water_checks(surface: Surface, one: Neighbour, shed: Shed, outlets: Sequence[Outlet]) -> Iterator[Check]:
    """Check one thing near: that no outlet runs toward it, and that what is shed does not come to its foot.

    A roof that drips toward it has no gutter, and that can be had; what else is shed may still be led away.
    """
    if one.kind in KEPT_DRY and outlets:
        clear = min(runs_clear(surface, one, outlet) for outlet in outlets)
        yield Check("outlet runs clear", clear, FAN, "m", COMMON, "least", one.name)
    if one.kind not in WALLS or float(one.shape.distance(shed.whole)) >= REACH:
        return
    drips = spare_beside(surface, one, shed.roof, shed.level)
    rest = spare_beside(surface, one, shed.open, shed.level)
    if drips is None or rest is None:
        yield Check("water stays away", None, ONE_READING, "m", COMMON, "least", one.name)
        return
    # water of a roof needs its gutter; ground that the rest falls over to their wall is no bar
    limit = ONE_READING if drips < ONE_READING or rest >= ONE_READING else None
    yield Check("water stays away", min(drips, rest), limit, "m", COMMON, "least", one.name)


def spare_beside(surface: Surface, one: Neighbour, shed: Any, level: float | None) -> float | None:
    """How much the foot of a wall stands above the lowest ground between it and what sheds water [m]; 0 where
    that drips right at it, ``REACH`` where nothing is shed near it, None where no ground is known."""
    gap = np.inf if shed.is_empty else float(one.shape.distance(shed))
    if gap >= REACH:
        return REACH
    return 0.0 if gap < DRIP else lowest_between(surface, one, shed, level)


KEEP_OFF = 0.3048
"""[m] A solid pipe passes what stands near no closer than 1 ft (judgement)."""


def pipe_may_run(surface: Surface, nearby: Nearby, start: Floats, end: Floats) -> bool:
    """Whether a solid pipe may run from one place to another: over nothing that stands near, before what bars
    the way, and coming out toward nobody's wall, well or septic field."""
    way, line = end - start, shapely.LineString((start, end))
    length = float(np.hypot(*way))
    way = way / max(length, 1e-9)
    if nearby.hit(start, way, length + STAND) < length + STAND:
        return False
    out = Outlet(end, way)
    return all(
        line.distance(one.shape) >= KEEP_OFF
        and (one.kind not in KEPT_DRY or runs_clear(surface, one, out) >= FAN)
        for one in nearby.neighbours
    )


def may_lead(surface: Surface, nearby: Nearby, dug: Any, ends: Floats) -> bool:
    """Whether ground may be ``dug`` to lead water past, a shape: before what bars the way, over nothing that
    stands near nor within its setback; and the water come out, at places on ways (n, 2, 2), toward nobody's
    wall, well or septic field."""
    if nearby.beyond(shapely.get_coordinates(dug)).any():
        return False
    outlets = [Outlet(place, way) for place, way in ends]
    for one in nearby.neighbours:
        off = float(dug.distance(one.shape))
        if off <= 0.0 or (not one.bars and one.setback is not None and off < one.setback):
            return False
        if one.kind in KEPT_DRY and any(runs_clear(surface, one, outlet) < FAN for outlet in outlets):
            return False
    return True


def outlets_of(made: Led) -> Iterator[Outlet]:
    """Where what leads water past comes out, with the way it runs there."""
    for end, before in ((made.line[0], made.line[1]), (made.line[-1], made.line[-2])):
        if any(np.hypot(*(end - out)[:2]) < ON_INVERT for out in made.outlets):
            step = end[:2] - before[:2]
            yield Outlet(end[:2], step / np.hypot(*step))


def runs_clear(surface: Surface, one: Neighbour, outlet: Outlet) -> float:
    """How far water may run on from an outlet before it meets a thing [m], at most ``FAN``.

    It runs on the way of the swale or straight down the slope of the ground there, and spreads.
    """
    down = -surface.gradient(outlet.place[None])[0]
    steep = float(np.hypot(*down))
    ways = [outlet.way, *([down / steep] if steep > 0.0 else [])]
    met = [_fan(outlet.place, way).intersection(one.shape) for way in ways]
    here = shapely.Point(outlet.place)
    return float(min([FAN, *(part.distance(here) for part in met if not part.is_empty)]))


def _fan(place: Floats, way: Floats) -> Any:
    """The ground that water from a place may reach: a fan round ``way`` whose sides reach the full length."""
    middle = np.arctan2(way[1], way[0])
    half = np.radians(SPREAD)
    turns = middle + np.linspace(-half, half, 19)
    out = FAN / np.cos(turns[1] - turns[0]) * np.column_stack([np.cos(turns), np.sin(turns)])
    return shapely.Polygon([place, *(place + out)])


def lowest_between(surface: Surface, one: Neighbour, shed: Any, level: float | None) -> float | None:
    """How much the foot of a wall stands above the lowest ground between it and what sheds water [m]: the
    least along the wall, read every foot and wherever the ground bends along it.

    0 where the ground falls all the way to the wall; None where no ground is known.
    """
    foot = foot_of(surface, one.face).reshape(-1, 3)
    ways = shapely.get_coordinates(shapely.shortest_line(shed, shapely.points(foot[:, :2])))
    edges, found = edges_once(surface), []
    for (start, end), height in zip(ways.reshape(-1, 2, 2), foot[:, 2].tolist(), strict=True):
        length = float(np.hypot(*(end - start)))
        if 0.0 < length <= REACH:
            found.append(height - _lowest(surface, edges, start, (end - start) / length, length, level))
    known = [spare for spare in found if np.isfinite(spare)]
    return max(0.0, min(known)) if known else None


def _lowest(
    surface: Surface, edges: Floats, start: Floats, along: Floats, length: float, level: float | None
) -> float:
    """The lowest ground on the way from what sheds water, whose own top counts where that is lower."""
    bends = crossings(edges, start - surface.origin, along)
    between = bends[(bends[:, 0] >= 0.0) & (bends[:, 0] <= length), 1]
    ends = surface.elevation(np.array([start, start + length * along]))
    heights = np.concatenate([between, ends[np.isfinite(ends)], [] if level is None else [level]])
    return float(heights.min(initial=np.inf))
