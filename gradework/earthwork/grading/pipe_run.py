"""Where a drain's pipe runs: evenly down its trench beside a pad, and straight on from there to daylight."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.led import LEAST, SHOTS, STAKE, TOUCH, Station
from gradework.earthwork.grading.outlet import FALLING

if TYPE_CHECKING:
    from gradework.earthwork.grading.route import Edges, Line, Way

FILLED = 1e-4
"""[m] Where shaped and surveyed ground meet they differ by less, 0.1 mm."""

Floats = NDArray[np.float64]
Clear = Callable[[Floats, Floats], bool]
"""Whether a pipe may run from one place (2,) to another and water go on from there, site frame [m]."""

TURNS = 10.0
"""[degrees] A way for the solid pipe is looked for every so often, from the way the trench ends."""

FARTHEST = 30.48
"""[m] No solid pipe is longer than 100 ft."""


class Solid(NamedTuple):
    """The solid pipe from the end of the trench: ``start``, ``end`` (2,) local, its ``length``; ``over``: the
    ground over its bottom along it [m²]; how far ``short`` of the ground it ends at the edge of the survey
    [m], 0 where it comes out."""

    start: Floats
    end: Floats
    length: float
    over: float
    short: float


class Trench(NamedTuple):
    """The pipe in the trench, local: its ``line``, the sides it runs ``past``, from which s it falls to
    which, ``high`` and ``low``, and its bottom at ``high`` [m]; it falls by ``fall`` [-]."""

    line: Line
    past: Way
    high: float
    low: float
    bottom: float
    fall: float

    @property
    def length(self) -> float:
        """Of the pipe with holes [m]."""
        return abs(self.low - self.high)

    def rows(self, s: Floats) -> Floats:
        """Places and bottoms of the pipe (n, 3) at s (n,)."""
        bottom = self.bottom - self.fall * np.abs(s - self.high)
        rows: Floats = np.column_stack((self.line.places(s), bottom))
        return rows

    @property
    def ends(self) -> Floats:
        """The s at which it begins, bends and ends, the way it falls."""
        first, last = sorted((self.low, self.high))
        joints = self.line.joints[1:-1]
        every = np.unique([first, last, *joints[(joints > first) & (joints < last)]])
        return every if self.high == first else every[::-1]

    def staked(self, step: float) -> Floats:
        """The same and every ``step`` [m] between."""
        ends = self.ends
        run = [
            a + np.sign(b - a) * np.arange(0.0, abs(b - a) - LEAST * step, step) for a, b in pairwise(ends)
        ]
        every: Floats = np.concatenate((*run, ends[-1:]))
        return every


class PipeRun(NamedTuple):
    """The whole pipe of a drain: its ``trench`` and the ``solid`` pipe beyond."""

    trench: Trench
    solid: Solid

    def beyond(self, away: Floats) -> Floats:
        """Places and bottoms of the solid pipe (n, 3), local, so far along it (n,) [m]."""
        trench, (start, *_) = self
        bottom = trench.bottom - trench.fall * (trench.length + away)
        rows: Floats = np.column_stack((start + away[:, None] * self.along, bottom))
        return rows

    @property
    def along(self) -> Floats:
        """The way the solid pipe runs (2,); that of the trench where it comes out at once."""
        run: Floats = self.solid.end - self.solid.start
        if self.solid.length <= TOUCH:
            a, b = self.trench.rows(self.trench.ends[-2:])[:, :2]
            run = b - a
        unit: Floats = run / np.hypot(*run)
        return unit

    @property
    def bends(self) -> Floats:
        """Where it begins, bends and comes out (m, 3), local."""
        trench = self.trench
        if self.solid.length <= TOUCH:
            return trench.rows(trench.ends)
        return np.concatenate((trench.rows(trench.ends), self.beyond(np.array([self.solid.length]))))

    @property
    def told(self) -> Floats:
        """The same and every 5 ft between."""
        rows = self.trench.rows(self.trench.staked(STAKE))
        return np.concatenate((rows, self.beyond(self._steps(STAKE))))

    def _steps(self, step: float) -> Floats:
        length = self.solid.length
        if length <= TOUCH:
            return np.empty(0)
        return np.append(np.arange(step, length - LEAST * step, step), length)

    @property
    def more_shots(self) -> Floats:
        """Three places straight on where the survey ends before the pipe comes out (k, 2), local."""
        if self.solid.short == 0.0:
            return np.empty((0, 2))
        return self.beyond(self.solid.length + np.array(SHOTS))[:, :2]

    def stations(self, step: float, origin: Floats) -> Iterator[Station]:
        """Where to stake it: beside the trench, straight out from the pad; beside the solid pipe, on the side
        away from the pad."""
        trench, s = self.trench, self.trench.staked(step)
        for one, (x, y, bottom) in zip(s.tolist(), trench.rows(s).tolist(), strict=True):
            east, north = trench.line.outward(one).tolist()
            beside = tuple(trench.past.sides[number] for number in trench.line.beside(one))
            yield Station((x + origin[0], y + origin[1], bottom), (east, north), beside)
        across = np.array([self.along[1], -self.along[0]])
        # the pad lies on the side to which the trench turns back from the solid pipe
        middle = np.mean([side.point(0.5 * side.length, 0.0) for side in trench.line.sides], axis=0)
        if float(across @ (middle - self.solid.start)) > 0.0:
            across = -across
        for x, y, bottom in self.beyond(self._steps(step)).tolist():
            yield Station((x + origin[0], y + origin[1], bottom), (float(across[0]), float(across[1])), ())


def ways_out(
    edges: Edges, known: Edges, trench: Trench, foot: Floats, origin: Floats, clear: Clear | None
) -> Iterator[Solid]:
    """The ways for a solid pipe from the end of a trench: those that come out on the survey, and those on
    which the ground still falls where it ends. None comes nearer to the ``foot`` (k, 2) of the pad than the
    trench does; ``clear`` says where one may run.

    ``edges`` are of the finished ground, ``known`` of the surveyed: a pipe that comes out in the face of new
    fill hangs above the ground and washes the fill away, so that is no way out.
    """
    start, bottom, rays = _rays(trench)
    pad = shapely.Polygon(foot)
    keep = min(trench.line.offset, float(pad.distance(shapely.Point(start)))) - TOUCH
    for ray in rays:
        solid = way_out(edges, start, ray, bottom, trench.fall)
        if solid is None:
            continue
        if solid.short == 0.0:
            away, ground = known.profile(start, start + FARTHEST * ray)
            out = bottom - trench.fall * solid.length
            # none is read along the very edge of the survey
            if not len(away) or np.interp(solid.length, away, ground) < out - FILLED:
                continue
        run = shapely.LineString((start, solid.end)) if solid.length > TOUCH else shapely.Point(start)
        if pad.distance(run) >= keep and (clear is None or clear(start + origin, solid.end + origin)):
            yield solid


def _rays(trench: Trench) -> tuple[Floats, float, list[Floats]]:
    """Where a trench ends (2,), its bottom there [m], and the ways that are looked at from there (2,)."""
    line, low = trench.line, trench.low
    side = line.sides[line.beside(low)[-1 if low > trench.high else 0]]
    onward = side.along if low > trench.high else -side.along
    turns = np.radians(np.arange(-180.0 + TURNS, 180.0 + 0.5 * TURNS, TURNS)).tolist()
    rays = [math.cos(turn) * onward + math.sin(turn) * side.outward for turn in turns]
    return line.places(np.array([low]))[0], trench.bottom - trench.fall * trench.length, rays


def may_come_out(edges: Edges, trench: Trench) -> bool:
    """Whether the ground as surveyed lies as low as the pipe somewhere on one of those ways.

    Bench and bank are nowhere dug as low as the pipe, and what is filled lies higher than the ground: where
    this is not so, no way comes out on the finished ground either.
    """
    start, bottom, rays = _rays(trench)
    for ray in rays:
        away, ground = edges.profile(start, start + FARTHEST * ray)
        if (ground - (bottom - trench.fall * away) <= TOUCH).any():
            return True
    return False


def way_out(edges: Edges, start: Floats, ray: Floats, bottom: float, fall: float) -> Solid | None:
    """To where the ground first lies as low as the pipe, or while it falls to the edge of the survey."""
    away, ground = edges.profile(start, start + FARTHEST * ray)
    if not len(away):
        return None
    over = ground - (bottom - fall * away)
    out, short = np.flatnonzero(over <= 0.0), 0.0
    if len(out):
        k = int(out[0])
        part = over[k - 1] / (over[k - 1] - over[k]) if k and over[k - 1] > 0.0 else 1.0
        length = float(away[k - 1] + part * (away[k] - away[k - 1])) if k else 0.0
    elif len(away) > 1 and away[-1] < FARTHEST - TOUCH and _falls(away, ground):
        length, short = float(away[-1]), float(over[-1])
    else:
        return None
    inside = np.append(away[away < length], length)
    return Solid(start, start + length * ray, length, _above(np.interp(inside, away, over), inside), short)


def _above(over: Floats, away: Floats) -> float:
    """The area between ground and pipe where the ground lies above it: straight from bend to bend."""
    one, other, run = over[:-1], over[1:], np.diff(away)
    high, low = np.maximum(one, other), np.minimum(one, other)
    # where it goes under between two bends a triangle is left of the higher one
    part = np.divide(high, high - low, out=np.ones_like(high), where=(low < 0.0) & (high > low))
    area = 0.5 * np.maximum(high, 0.0) * np.where(low < 0.0, part * run, run)
    area += np.where(low < 0.0, 0.0, 0.5 * low * run)
    return float(area.sum())


def _falls(away: Floats, ground: Floats) -> bool:
    """Whether the ground still falls where the survey ends: more shots may show a way out."""
    return bool((ground[-2] - ground[-1]) >= FALLING * (away[-1] - away[-2]))
