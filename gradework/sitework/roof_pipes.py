"""The solid pipe from a downspout: where it goes into the ground, how it falls, where it comes out.

It falls evenly until the ground lies as low, and comes out there. Where that is too near to the walls it lies
on the ground from there on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.led import LEAST, STAKE, TOUCH, Station, strips
from gradework.earthwork.grading.outlet import FALL, TRENCH
from gradework.earthwork.grading.pipe_run import FARTHEST, TURNS
from gradework.earthwork.grading.route import Edges
from gradework.earthwork.nearby import polygon_of
from gradework.foundations.checks.near_water import Outlet, pipe_may_run
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import around, on_surface
from gradework.ground.water.ways import ways

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.foundations.checks.eaves import Eave
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

HAIR = 0.001
"""[m] Drops that fall this near to the edge of stone fall on it: no eave is built truer."""

FROM_WALL = 1.524
"""[m] A gutter's outlet ends at least 5 ft from the walls (IRC R801.3, memory)."""

COVERED = 0.1524
"""[m] Its pipe starts with its bottom 6 in below the ground: 4 1/2 in of pipe, and sod over it (common
practice)."""

CLEAR = 0.1524
"""[m] It goes into the ground 6 in outside of a pad or slab, clear of its boards (judgement)."""

KEEP_OFF = 0.6096
"""[m] Water that comes out of it passes the walls no nearer, 2 ft (judgement)."""

LONGEST, MOST_ROOF = 12.192, 55.7
"""[m], [m²] A gutter falls to one end up to 40 ft and 600 ft² of roof, else to both: a 2 x 3 in downspout
(common practice, no source)."""

PIPE = 0.1016
"""[m] The solid pipe, 4 in (common practice)."""

_AROUND = 64
"""Chords in a quarter turn round a corner: they stay 1 mm within a circle of 5 ft."""


class Spout(NamedTuple):
    """What a downspout at the corner ``foot`` (2,) empties into: a solid pipe ``pipe`` [m] long.

    ``rows`` (n, 3), site: its bottom where it goes into the ground, bends and comes out; it falls by ``FALL``
    at the least. ``cut`` [m³ in place] is dug for it and all of it goes back. ``aside`` (2,): square to it,
    away from the building.
    """

    foot: Floats
    rows: Floats
    pipe: float
    cut: float
    aside: Floats

    @property
    def kind(self) -> Literal["gutter"]:
        """What it is the pipe of."""
        return "gutter"

    @property
    def size(self) -> float:
        """How wide it is inside [m]."""
        return PIPE

    @property
    def start(self) -> Floats:
        """Where it goes into the ground (2,)."""
        place: Floats = self.rows[0, :2]
        return place

    @property
    def end(self) -> Floats:
        """Where it comes out (2,)."""
        place: Floats = self.rows[-1, :2]
        return place

    def _every(self, step: float) -> Floats:
        """Places and bottoms (n, 3) from where it goes into the ground every ``step`` [m], and its end."""
        away = np.hypot(*(self.rows[:, :2] - self.start).T)
        at = np.append(np.arange(0.0, max(away[-1] - LEAST * step, HAIR), step), away[-1])
        return np.column_stack([np.interp(at, away, self.rows[:, axis]) for axis in range(3)])

    @property
    def line(self) -> Floats:
        """(n, 3): its bottom in the ground every 5 ft, from where it goes in to where it comes out [m]."""
        return self._every(STAKE)

    @property
    def bends(self) -> tuple[Floats, ...]:
        """One stretch (n, 3): where it goes into the ground, bends and comes out."""
        return (self.rows,)

    @property
    def bottoms(self) -> Floats:
        """The bottom of its trench (k, 3, 3)."""
        return strips(self.rows, TRENCH)

    def stations(self, step: float) -> Iterator[Station]:
        """Where to stake it, every ``step`` [m]; beside it, on the side away from the building."""
        east, north = self.aside.tolist()
        for x, y, bottom in self._every(step).tolist():
            yield Station((x, y, bottom), (east, north), ())

    @property
    def outlet(self) -> Outlet:
        """Where it comes out, and which way."""
        run = self.end - self.foot
        return Outlet(self.end, run / np.hypot(*run))


class Beside(NamedTuple):
    """What is built below a roof: the plan (shapely) of what is ``built`` and of ``stone`` that drops may
    fall on, either may be empty; ``level`` [m] is its top, None where the ground stays as it is. ``finished``
    gives the ground once it is built, with what leads water past it: pipes come out of that."""

    built: Any
    stone: Any
    level: float | None
    finished: Callable[[], Surface]


def spouts_of(nearby: Nearby, eave: Eave, beside: Beside) -> tuple[Spout | None, ...]:
    """The downspouts of a gutter: at one end of its wall, or at both."""
    ground = beside.finished()
    runs = _Runs(ground, polygon_of(nearby.building), beside)
    ends = [runs.best(nearby, eave, end) for end in (0, 1)]
    if eave.length > LONGEST or eave.roof > MOST_ROOF:
        return tuple(ends)
    led = [one for one in ends if one is not None]
    return (min(led, key=_work),) if led else (None,)


class _Runs:
    """The ways for pipes over the ``ground`` once it is built, and for their water from where they end."""

    def __init__(self, ground: Surface, house: Any, beside: Beside) -> None:
        """``house``: its plan; ``beside``: what is built there."""
        self.ground, self.house, self.beside = ground, house, beside
        self.edges = Edges.of(ground)

    def best(self, nearby: Nearby, eave: Eave, end: int) -> Spout | None:
        """The way out from one end of a wall that takes the least, of those looked at every 10 degrees."""
        wall = eave.wall
        foot = np.array(wall.place(end * wall.length, 0.0))
        away = wall.along if end else -wall.along
        turns = np.radians(np.arange(-90.0, 180.0, TURNS)).tolist()
        rays = [math.cos(turn) * wall.outward + math.sin(turn) * away for turn in turns]
        found = [one for one in (self._straight(foot, ray) for ray in rays) if one is not None]
        clear = (one for one in sorted(found, key=_work) if pipe_may_run(self.ground, nearby, foot, one.end))
        return next((one for one in clear if not self.comes_back(one.end)), None)

    def _straight(self, foot: Floats, ray: Floats) -> Spout | None:
        """The pipe straight on from a corner; None where the house is in its way, or it does not come out."""
        ground, whole = self.ground, self.beside.built
        wide = self.house.buffer(FROM_WALL, quad_segs=_AROUND)
        straight = shapely.LineString((foot, foot + 100.0 * ray))
        if self.house.intersection(straight).length > HAIR:
            return None
        off = _leaves(whole, straight, foot) + (0.0 if whole.is_empty else CLEAR)
        start = foot + off * ray
        high = float(ground.elevation(start[None])[0])
        if not math.isfinite(high):
            return None
        level = self.beside.level
        bottom = min(high, math.inf if level is None else level) - COVERED
        least, here = max(_leaves(wide, straight, foot) - off, 0.0), start - ground.origin
        laid = pipe_out(*self.edges.profile(here, here + FARTHEST * ray), bottom, least)
        if laid is None:
            return None
        (along, low), over = laid[0].T, laid[1]
        rows = np.column_stack((start + along[:, None] * ray, low))
        return Spout(foot, rows, off + float(along[-1]), over * TRENCH, _aside(ray, foot, self.house))

    @cached_property
    def _flow(self) -> Flow:
        """How rain runs round what is built, or round the walls where the ground stays as it is."""
        ground, level = self.ground, self.beside.level
        if level is None:
            ring = shapely.get_coordinates(self.house.exterior)[:-1] - ground.origin
            made = around(ground, [ring], FARTHEST)
            made.catch([np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)])
            return Flow(made, 1)
        every = on_surface(ground)
        middles = every.places[every.triangles].mean(axis=1) + ground.origin
        made = every.without(shapely.contains_xy(self.beside.built, *middles.T), level)
        made.caught[made.walled] = 0
        return Flow(made, 1)

    def comes_back(self, place: Floats) -> bool:
        """Whether water runs from there to what is built, or close by the walls."""
        (way,) = ways(self._flow, (place - self.ground.origin)[None])
        legs = [shapely.LineString(leg[:, :2] + self.ground.origin) for leg in way.legs if len(leg) > 1]
        return way.line == 0 or any(leg.distance(self.house) < KEEP_OFF for leg in legs)


def _work(one: Spout) -> tuple[float, float]:
    """What a way out takes: its length, and its digging as metres of a trench as deep as it starts."""
    return round(one.pipe + one.cut / (COVERED * TRENCH), 6), round(one.pipe, 6)


def pipe_out(away: Floats, ground: Floats, bottom: float, least: float) -> tuple[Floats, float] | None:
    """A pipe straight on from a ``bottom`` [m] to where it comes out, at ``least`` so far away [m]: distances
    and bottoms (n, 2) [m] where it begins, bends and comes out, and the ground over it [m²].

    ``away``, ``ground`` (b,) [m]: distances and ground at every bend. None where it does not come out there.
    """
    if not len(away) or away[-1] < least:
        return None
    every = np.union1d(away, [least])
    # as seen from a line that falls with it, it runs level where it is covered and nowhere rises
    seen, away = np.interp(every, away, ground) + FALL * every, every
    level = min(bottom, float(seen[away <= least].min()))
    out = np.flatnonzero((seen <= level) & (away >= least))
    if not len(out):
        return None
    k = int(out[0])
    part = (seen[k - 1] - level) / (seen[k - 1] - seen[k]) if k and seen[k - 1] > level else 1.0
    length = max(float(away[k - 1] + part * (away[k] - away[k - 1])), least) if k else 0.0
    inside = np.append(away[away < length], length)
    seen = np.interp(inside, away, seen)
    rows = np.array(_under(inside, seen, bottom))
    every = np.union1d(inside, rows[:, 0])
    over = np.interp(every, inside, seen) - np.interp(every, *rows.T)
    rows[:, 1] -= FALL * rows[:, 0]
    return rows, float((0.5 * (over[1:] + over[:-1]) * np.diff(every)).sum())


def _under(away: Floats, ground: Floats, bottom: float) -> list[tuple[float, float]]:
    """Where a pipe bends that runs level from a ``bottom`` until the ground lies lower, and then on it."""
    rows = [(0.0, bottom)]
    for (a, high), (b, low) in pairwise(zip(away.tolist(), ground.tolist(), strict=True)):
        lies = rows[-1][1]
        if low < lies - TOUCH:
            leaves = a + (high - lies) / (high - low) * (b - a) if high > lies else a
            rows += [(leaves, lies)] if leaves > rows[-1][0] + TOUCH else []
            rows.append((b, low))
    return rows if rows[-1][0] >= away[-1] - TOUCH else [*rows, (float(away[-1]), rows[-1][1])]


def _aside(ray: Floats, foot: Floats, house: Any) -> Floats:
    """Square to a way from the corner of a house, to the side that the house does not lie on."""
    middle, across = shapely.get_coordinates(house.centroid)[0], np.array([ray[1], -ray[0]])
    return -across if float(across @ (middle - foot)) > 0.0 else across


def _leaves(shape: Any, straight: Any, foot: Floats) -> float:
    """How far from its start a straight line leaves a shape that it begins in or at [m]."""
    inside = shapely.get_coordinates(shape.intersection(straight))
    return float(np.hypot(*(inside - foot).T).max(initial=0.0))
