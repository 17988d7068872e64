"""The ground in the strip before a wall: its highest place and its least fall, over every triangle.

Between the edges of the triangles the ground is straight. So what it stands above the beginning of a strip
is greatest at a corner of a triangle, or where an edge meets a side of the strip or one of the lines across
it at which the beginning bends; and the fall to the end of the strip is straight between the places at which
beginning or end meet an edge. Nothing is sampled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import near
from gradework.foundations.checks.wall_strips import NUDGE, Bay, End, Wall
from gradework.ground.locate import TOUCH

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.drainage_rules import DrainageRule
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

_SAME = 1e-9
"""A stretch shorter than this has no ground of its own [m]."""


class Rise(NamedTuple):
    """How much the highest ground stands above the beginning of the strip on the same look, and where [m]."""

    height: float
    u: float
    t: float


class Fall(NamedTuple):
    """The look on which the fall lacks most of what is needed: both [m], where, and how far out it ends."""

    height: float
    needed: float
    u: float
    t: float
    end: End

    @property
    def spare(self) -> float:
        """How much more it falls than needed [m]; below zero it falls too little."""
        return self.height - self.needed


class Short(NamedTuple):
    """Where the survey ends in the strip: the nearest such place (t, u) [m], and from which u to which."""

    known: float
    u: float
    first: float
    last: float


@dataclass(frozen=True)
class GroundNear:
    """Triangles near a building: ``corners`` (k, 3, 3) x, y site and elevation [m]; ``rim`` (r, 2, 2), the
    edges among theirs at which the survey ends, anticlockwise round it.
    """

    corners: Floats
    rim: Floats

    @classmethod
    def of(cls, surface: Surface, outline: Outline, reach: float) -> GroundNear:
        """Gather what comes within ``reach`` [m] of the outline's box."""
        numbers, corners = near(surface, outline.rings[0] - surface.origin, reach)
        corners = corners.copy()
        corners[:, :, :2] += surface.origin
        row, side = np.nonzero(surface.neighbours[numbers] < 0)
        rim = np.stack((corners[row, side, :2], corners[row, (side + 1) % 3, :2]), axis=1)
        return cls(corners, rim)

    def before(self, wall: Wall, reach: float) -> GroundNear:
        """The same in u and t of a wall; what does not come into its strip is left out."""
        corners = self.corners.copy()
        corners[:, :, :2] = wall.frame(corners[:, :, :2])
        low, high = corners[:, :, :2].min(axis=1), corners[:, :, :2].max(axis=1)
        meets = ((high >= -TOUCH) & (low <= (wall.length + TOUCH, reach + TOUCH))).all(axis=1)
        return GroundNear(corners[meets], wall.frame(self.rim))


class Line(NamedTuple):
    """The ground along a line across a bay: stretches from u to u (n,) and their heights at both ends [m]."""

    first: Floats
    last: Floats
    start: Floats
    end: Floats

    def at(self, u: Floats, *, low: bool = True) -> Floats:
        """Heights at u (m,); at a step the lower (or the higher), where there is no ground NaN."""
        best = np.full(len(u), np.nan)
        for side in ("left", "right"):
            row = np.clip(np.searchsorted(self.first, u, side=side) - 1, 0, max(len(self.first) - 1, 0))
            if not len(self.first):
                return best
            share = (u - self.first[row]) / (self.last[row] - self.first[row])
            height = self.start[row] + share * (self.end[row] - self.start[row])
            within = (u >= self.first[row] - TOUCH) & (u <= self.last[row] + TOUCH)
            pick = np.fmin if low else np.fmax
            best = pick(best, np.where(within, height, np.nan))
        return best

    def capped(self, level: float) -> Line:
        """The lower of this and a level."""
        rows = np.flatnonzero((self.start > level) != (self.end > level))
        share = (level - self.start[rows]) / (self.end[rows] - self.start[rows])
        u = self.first[rows] + share * (self.last[rows] - self.first[rows])
        flat = np.full(len(u), level)
        first, last = np.append(self.first, u), np.append(self.last, self.last[rows])
        start, end = np.append(self.start, flat), np.append(self.end, self.end[rows])
        last[rows], end[rows] = u, level
        kept = np.flatnonzero(last - first > _SAME)
        kept = kept[np.argsort(first[kept], kind="stable")]
        return Line(first[kept], last[kept], np.minimum(start, level)[kept], np.minimum(end, level)[kept])

    def raised(self, level: float) -> Line:
        """A level in place of the ground, where there is any."""
        flat = np.full(len(self.first), level)
        return Line(self.first, self.last, flat, flat)

    @property
    def bends(self) -> Floats:
        """The u at which it bends, with ``heights``."""
        return np.concatenate((self.first, self.last))

    @property
    def heights(self) -> Floats:
        """The ground at its bends [m]."""
        return np.concatenate((self.start, self.end))


def ground_along(corners: Floats, u: tuple[float, float], t: tuple[float, float]) -> Line:
    """The ground along the straight line from (u, t) to (u, t), read off the edges of triangles (k, 3, 3)."""
    slope = (t[1] - t[0]) / (u[1] - u[0])
    off = corners[:, :, 1] - (t[0] + slope * (corners[:, :, 0] - u[0]))
    other, after = np.roll(off, -1, axis=1), np.roll(corners, -1, axis=1)
    crossed = (off < 0.0) != (other < 0.0)  # of a triangle's edges two or none
    rows = np.flatnonzero(crossed.any(axis=1))
    side = np.nonzero(crossed[rows])[1].reshape(-1, 2)
    pick = rows[:, None], side
    share = off[pick] / (off[pick] - other[pick])
    at = corners[pick][:, :, (0, 2)] + share[:, :, None] * (after[pick] - corners[pick])[:, :, (0, 2)]
    order = np.argsort(at[:, :, 0], axis=1)
    first, last = (at[np.arange(len(at)), order[:, k]] for k in (0, 1))
    long = (last[:, 0] - first[:, 0] > _SAME) & (first[:, 0] < u[1] - _SAME) & (last[:, 0] > u[0] + _SAME)
    first, last = first[long], last[long]
    order = np.argsort(first[:, 0], kind="stable")
    return _within(first[order], last[order], u)


def _within(first: Floats, last: Floats, u: tuple[float, float]) -> Line:
    """Stretches (n, 2) of u and height, cut off at two u."""
    slope = (last[:, 1] - first[:, 1]) / (last[:, 0] - first[:, 0])
    ends = [np.clip(end[:, 0], *u) for end in (first, last)]
    start, end = (first[:, 1] + slope * (at - first[:, 0]) for at in ends)
    return Line(ends[0], ends[1], start, end)


class BayGround(NamedTuple):
    """The ground in one bay: ``corners`` (k, 3, 3) u, t and elevation; along its beginning and its end."""

    bay: Bay
    corners: Floats
    begin: Line
    end: Line
    short: Short | None

    @classmethod
    def of(cls, ground: GroundNear, bay: Bay) -> BayGround:
        """Look at the triangles before a wall, and at the edges at which the survey ends there."""
        u, near_t = bay.u, _moved(bay.near, NUDGE)
        far_t = bay.far if bay.end == "corner" else _moved(bay.far, -NUDGE)  # there the ground goes on
        low, high = ground.corners[:, :, 0].min(axis=1), ground.corners[:, :, 0].max(axis=1)
        corners = ground.corners[(high >= u[0]) & (low <= u[1])]
        begin, end = (ground_along(corners, u, t) for t in (near_t, far_t))
        return cls(bay, corners, begin, end, _short(ground.rim, bay, begin))

    def t_at(self, u: Floats, ends: tuple[float, float]) -> Floats:
        """How far out the beginning or the end is at u."""
        (first, last), (start, end) = self.bay.u, ends
        distance: Floats = start + (u - first) / (last - first) * (end - start)
        return distance

    def end_at(self, u: float) -> float:
        """How far out the strip ends at one u."""
        return float(self.t_at(np.array([u]), self.bay.far)[0])

    def rise(self, base: Line) -> Rise:
        """How much the highest ground stands above ``base`` on the same look."""
        lines = np.unique(np.concatenate((self.bay.u, base.bends)))
        ends = (
            np.column_stack((line.bends, self.t_at(line.bends, ts), line.heights))
            for line, ts in ((self.begin, self.bay.near), (self.end, self.bay.far))
        )
        far = np.column_stack((lines, self.t_at(lines, self.bay.far), self.end.at(lines, low=False)))
        inner = np.concatenate((self.corners.reshape(-1, 3), _across(self.corners, lines)))
        u, t = inner[:, 0], inner[:, 1]
        inside = (u >= self.bay.u[0]) & (u <= self.bay.u[1])
        inside &= (t >= self.t_at(u, self.bay.near) + NUDGE) & (t <= self.t_at(u, self.bay.far))
        every = np.concatenate((*ends, far, inner[inside]))
        over = every[:, 2] - base.at(every[:, 0])
        if np.isnan(over).all():
            return Rise(0.0, 0.5 * sum(self.bay.u), self.bay.near[0])
        most = int(np.nanargmax(over))
        return Rise(float(over[most]), float(every[most, 0]), float(every[most, 1]))

    def fall(self, base: Line, rule: DrainageRule) -> Fall | None:
        """The look on which the fall from ``base`` to the end lacks most of what the rule asks; None where no
        look is known to its end.
        """
        cuts = np.unique(np.concatenate((self.bay.u, base.bends, self.end.bends)))
        far = self.t_at(cuts, self.bay.far)
        height = base.at(cuts) - self.end.at(cuts, low=False)
        # in a notch the level margins of both walls meet at its corner: the ground begins beyond them
        over = far - self.t_at(cuts, self.bay.near) if self.bay.end == "corner" else far
        needed = rule.needed(self.bay.end, over)
        spare = height - needed
        if np.isnan(spare).all():
            return None
        k = int(np.nanargmin(spare))
        return Fall(float(height[k]), float(needed[k]), float(cuts[k]), float(far[k]), self.bay.end)


def _moved(ends: tuple[float, float], by: float) -> tuple[float, float]:
    return ends[0] + by, ends[1] + by


def _across(corners: Floats, lines: Floats) -> Floats:
    """Where edges of triangles (k, 3, 3) meet lines of one u (m,): u, t and elevation (n, 3)."""
    one, two = corners.reshape(-1, 3), np.roll(corners, -1, axis=1).reshape(-1, 3)
    edge, line = np.nonzero((one[:, :1] < lines) != (two[:, :1] < lines))
    one, two, u = one[edge], two[edge], lines[line]
    share = (u - one[:, 0]) / (two[:, 0] - one[:, 0])
    met = one + share[:, None] * (two - one)
    met[:, 0] = u
    return met


def _short(rim: Floats, bay: Bay, begin: Line) -> Short | None:
    """Where looks leave the survey: at an edge of its rim along which u grows, or before they begin."""
    places = [*_gaps(begin, bay), *_exits(rim, bay)]
    if not places:
        return None
    known, u = min((t, u) for ends in places for u, t in ends)
    every = [u for ends in places for u, _ in ends]
    return Short(max(known, 0.0), u, min(every), max(every))


def _gaps(begin: Line, bay: Bay) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Stretches of the beginning under which there is no ground, as two ends (u, t)."""
    first = np.append(begin.first, bay.u[1])
    reached = np.maximum.accumulate(np.concatenate(([bay.u[0]], begin.last)))
    return [
        ((float(reached[k]), 0.0), (float(first[k]), 0.0))
        for k in np.flatnonzero(first - reached > TOUCH).tolist()
    ]


def _exits(rim: Floats, bay: Bay) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The stretches of the rim, as two ends (u, t), over which looks leave the survey before their end."""
    (u0, u1), found = bay.u, []
    leaves = (rim[:, 1, 0] - rim[:, 0, 0] > _SAME) & (rim[:, 0, 0] < u1 - TOUCH) & (rim[:, 1, 0] > u0 + TOUCH)
    for (first, t), (last, t1) in rim[leaves].tolist():
        ends = [(u, t + (u - first) / (last - first) * (t1 - t)) for u in (max(first, u0), min(last, u1))]
        begin, end = (
            [start + (u - u0) / (u1 - u0) * (stop - start) for u, _ in ends]
            for start, stop in (bay.near, bay.far)
        )
        part = _between([out for _, out in ends], begin, end)
        if part is not None:
            places = [
                (ends[0][0] + s * (ends[1][0] - ends[0][0]), ends[0][1] + s * (ends[1][1] - ends[0][1]))
                for s in part
            ]
            found.append((places[0], places[1]))
    return found


def _between(t: list[float], begin: list[float], end: list[float]) -> tuple[float, float] | None:
    """From which share of a stretch to which it lies before the end by more than a touch and not before the
    beginning; None where it does not.
    """
    low, high = 0.0, 1.0
    for ahead in ([t[k] - begin[k] + TOUCH for k in (0, 1)], [end[k] - TOUCH - t[k] for k in (0, 1)]):
        if max(ahead) <= 0.0:
            return None
        if min(ahead) < 0.0:
            crossing = ahead[0] / (ahead[0] - ahead[1])
            low, high = (max(low, crossing), high) if ahead[0] < 0.0 else (low, min(high, crossing))
    return (low, high) if high > low and not math.isclose(high, low) else None
