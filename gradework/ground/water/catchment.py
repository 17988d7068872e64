"""How much ground drains to a line, exactly: strips of triangles, followed uphill from where they end.

In a triangle the water that leaves over a stretch of one side came in a strip along the slope. Its area is a
closed form, and where it came in are stretches of the other sides, from which the next strips go on. Strips
part at corners only; no two overlap. Nothing is sampled.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.triangulation import NEXT
from gradework.ground.water.flow import LEAVES, ON, Flow

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

NARROW = 1e-12
"""[-] A stretch that is less of its side carries nothing."""

AGREEMENT = 1e-9
"""[-] What drains anywhere is no more than all the ground."""


class Drained(NamedTuple):
    """What drains to each line that catches.

    ``areas`` (lines,) [m²]; ``rim`` (k, 2, 2) [m], local: where ground at the edge of what is known falls
    inward, by ``falls`` (k,) [-], and drains to one of them, the ``line`` (k,): more may come in there. The
    known ground lies to the left of each.
    """

    areas: Floats
    rim: Floats
    falls: Floats
    line: Numbers

    def inflow(self, line: int) -> float:
        """How long that edge is [m]."""
        return float(np.hypot(*(self.rim[:, 1] - self.rim[:, 0]).T)[self.line == line].sum())


class _Strips(NamedTuple):
    """Stretches ``part`` (m, 2), 0 to 1, of sides (m,) of triangles, and the line each drains to."""

    triangle: Numbers
    side: Numbers
    part: Floats
    line: Numbers

    def where(self, chosen: NDArray[np.bool_]) -> _Strips:
        """Some of them (m,)."""
        return _Strips(self.triangle[chosen], self.side[chosen], self.part[chosen], self.line[chosen])


def drained(flow: Flow) -> Drained:
    """What drains to each line of a flow; all hollows are full.

    Raises CheckError where it is more than all the ground, or the way uphill has no end.
    """
    ground, areas = flow.ground, np.zeros(flow.lines)
    strips = _sources(flow)
    whole = _level(flow)
    np.add.at(areas, whole[whole >= 0], ground.areas[whole >= 0])
    edges = [strips.where(np.zeros(len(strips.line), dtype=bool))]
    for _ in range(1000 + 8 * len(ground.triangles)):
        if not len(strips.line):
            break
        low, high = _across(flow, strips)
        np.add.at(areas, strips.line, _strip_areas(flow, strips.triangle, low, high))
        strips, edge = _uphill(flow, strips, low, high)
        edges.append(edge)
    else:
        raise CheckError("the way uphill has no end")
    if areas.sum() > float(ground.areas.sum()) * (1.0 + AGREEMENT):
        raise CheckError(f"{float(areas.sum())!r} m² drain to lines, more than all the ground")
    met = _Strips(*(np.concatenate(parts) for parts in zip(*edges, strict=True)))
    return Drained(areas, _stretches(flow, met), _falls(flow, met), met.line)


def _line_of(flow: Flow, ends: Numbers) -> Numbers:
    """The line that catches what comes to ``ends``, ``LEAVES`` where none does."""
    place = np.minimum(np.maximum(ends, 0), flow.count - 1)
    line = np.where(ends >= flow.count, ends - flow.count - 1, flow.fates[place])
    return np.where(ends == ON, LEAVES, line)


def _sources(flow: Flow) -> _Strips:
    """Whole sides at which the water of a triangle ends on the way to a line."""
    line = _line_of(flow, flow.exits)
    triangle, side = np.nonzero(line >= 0)
    part = np.tile([0.0, 1.0], (len(side), 1))
    return _Strips(triangle, side, part, line[triangle, side])


def _level(flow: Flow) -> Numbers:
    """The line to which each level triangle drains as a whole (t,), ``LEAVES`` for all others."""
    level = (flow.ground.down == 0.0).all(axis=1)
    return np.where(level, _line_of(flow, flow.outlets), LEAVES)


def _offsets(flow: Flow, triangle: Numbers) -> Floats:
    """How far the corners lie across the slope (m, 3) [m]."""
    down = flow.ground.down[triangle]
    way = down / np.hypot(*down.T)[:, None]
    corner = flow.ground.places[flow.ground.triangles[triangle]]
    corner = corner - corner[:, :1]
    offsets: Floats = corner[..., 0] * way[:, None, 1] - corner[..., 1] * way[:, None, 0]
    return offsets


def _across(flow: Flow, strips: _Strips) -> tuple[Floats, Floats]:
    """The strips across the slope of their triangles: from and to (m,) [m]."""
    offsets, row = _offsets(flow, strips.triangle), np.arange(len(strips.side))
    one, two = offsets[row, strips.side], offsets[row, NEXT[strips.side]]
    ends = one[:, None] + strips.part * (two - one)[:, None]
    return ends.min(axis=1), ends.max(axis=1)


def _strip_areas(flow: Flow, triangle: Numbers, low: Floats, high: Floats) -> Floats:
    """The area (m,) [m²] of strips of triangles along their slope: how long the slope is at an offset grows
    straight from nothing at one corner to the most at the middle one, and straight back to nothing."""
    offsets = np.sort(_offsets(flow, triangle), axis=1)
    first, middle, last = offsets.T
    most = 2.0 * flow.ground.areas[triangle] / np.maximum(last - first, 1e-300)
    total = np.zeros(len(low))
    for begin, end, at_begin, at_end in ((first, middle, 0.0, 1.0), (middle, last, 1.0, 0.0)):
        wide = np.maximum(end - begin, 1e-300)
        one, two = np.clip(low, begin, end), np.clip(high, begin, end)
        mean = at_begin + (at_end - at_begin) * (0.5 * (one + two) - begin) / wide
        total += (two - one) * most * mean
    return total


def _uphill(flow: Flow, strips: _Strips, low: Floats, high: Floats) -> tuple[_Strips, _Strips]:
    """The stretches over which strips were entered: of the triangles above, and at the edge of the ground."""
    ground, offsets = flow.ground, _offsets(flow, strips.triangle)
    triangle, line = np.tile(strips.triangle, 3), np.tile(strips.line, 3)
    side = np.repeat(np.arange(3), len(strips.line))
    one, two = offsets.T.reshape(-1), offsets[:, NEXT].T.reshape(-1)
    wide = np.where(one == two, 1.0, two - one)
    part = (np.tile(np.stack((low, high), axis=1), (3, 1)) - one[:, None]) / wide[:, None]
    part = np.clip(np.sort(part, axis=1), 0.0, 1.0)
    comes = (ground.leaving[triangle, side] < 0.0) & (part[:, 1] - part[:, 0] > NARROW)
    entered = _Strips(triangle[comes], side[comes], part[comes], line[comes])
    beside = ground.neighbours[entered.triangle, entered.side]
    mate = ground.mates[entered.triangle, entered.side]
    on = (beside >= 0) & flow.through[beside, mate]
    # what was left out of the ground is no edge of what is known: from there comes what stands there only
    built = ground.walled | (ground.caught >= 0)
    edge = (beside < 0) & ~built[entered.triangle, entered.side]
    # the neighbour tells its side the other way round
    above = _Strips(beside[on], mate[on], 1.0 - entered.part[on][:, ::-1], entered.line[on])
    return above, entered.where(edge)


def _stretches(flow: Flow, strips: _Strips) -> Floats:
    """Their ends (m, 2, 2) [m]."""
    start = flow.ground.places[flow.ground.triangles[strips.triangle, strips.side]]
    side = flow.ground.sides[strips.triangle, strips.side]
    ends: Floats = start[:, None] + strips.part[..., None] * side[:, None]
    return ends


def _falls(flow: Flow, strips: _Strips) -> Floats:
    """How much the ground falls inward from those sides (m,) [-]."""
    length = np.hypot(*flow.ground.sides[strips.triangle, strips.side].T)
    falls: Floats = -flow.ground.leaving[strips.triangle, strips.side] / length
    return falls
