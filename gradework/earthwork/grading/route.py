"""The route of a swale past a pad: how far out, from where to where, how deep, and where it comes out.

The line of its inverts runs beside the pad at one offset, round its corners, and straight on beyond the last
side. Measured along it (s, from the first corner of the first side) the ground is straight between the
edges of the triangles and the invert between its changes of fall, so where one meets the other is exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.sides import Side, sides_of
from gradework.earthwork.rings import half_turns
from gradework.ground.locate import TOUCH
from gradework.ground.profile import crossings, edges_once

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Clear
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

LEVEL = 1e-9
"""[m] The ground meets the invert where they differ by no more."""

CORNER = 1e-6
"""[m] A place this close to a corner of the line stands at it."""

_ROUNDS = 40
_SETTLED = 1e-5  # [m] an offset that moves by no more is found


class Toe(NamedTuple):
    """Where a raised bench meets the rising ground: the line runs ``into`` or deeper in the ground before
    each of the ``stretches``: the number of a side, and from where to where along it; lengths [m]."""

    into: float
    stretches: tuple[tuple[int, float, float], ...]


@dataclass(frozen=True, slots=True)
class SwaleSpec:
    """What a swale has to keep; lengths [m], falls and slopes [-].

    Attributes
    ----------
    bench, bench_fall
        The strip between pad and swale: its least width where the swale is dug, and its fall (IRC 2006 R401.3
        and IBC 2012 1804.3: final grade at 5 % to a swale).
    depth
        The invert lies below the bench's edge at the pad by this or by ``bench_fall`` of the offset,
        whichever is more (6 in).
    side
        Inner side and back slope, run per rise (GSA: turf no steeper than 3:1).
    near, far, reach
        Least fall of the invert within ``reach`` of the building (IBC 2012 1804.3: 2 % within 10 ft) and
        beyond it (GSA: turf at least 1 %).
    margin
        How far the pad reaches beyond the building.
    shown
        So much of the pad's edge stays free above the ground shaped beside it.
    toe, clear
        Of an apron; its fall is counted from the building. Where it may run; None: nothing stands near.
    """

    bench: float = 0.6096
    bench_fall: float = 0.05
    depth: float = 0.1524
    side: float = 3.0
    near: float = 0.02
    far: float = 0.01
    reach: float = 3.048
    margin: float = 0.0
    shown: float = 0.0
    toe: Toe | None = None
    clear: Clear | None = None

    @property
    def least(self) -> float:
        """The least offset of a line [m]: that of its bench and inner side where it is least deep."""
        return self.bench + self.side * (self.depth - self.bench_fall * self.bench)

    def drop(self, offset: float) -> float:
        """How far the crest of the invert lies below the bench at the pad [m]."""
        level = 0.0 if self.toe is None else self.margin
        return max(self.depth, self.bench_fall * (offset + level))


class Way(NamedTuple):
    """Which ``sides`` of the pad a swale follows, in the order of its corners; which of them need it
    (``first`` to ``last``, places in ``sides``); and whether it falls to the ``left`` end (toward the first
    corner of the first side), to the ``right`` one, or to both."""

    sides: tuple[int, ...]
    first: int
    last: int
    left: bool
    right: bool


class Line(NamedTuple):
    """The line of inverts at one offset: ``offset`` [m]; per side the s at its first corner (n,), and the s
    at which the line comes to it and leaves it (n + 1,)."""

    sides: tuple[Side, ...]
    offset: float
    zero: Floats
    joints: Floats

    def beside(self, at: float) -> tuple[int, ...]:
        """Which of the sides it runs along at s; at a corner, two."""
        joints = self.joints[1:-1]
        first, last = (int(np.searchsorted(joints, at + off)) for off in (-CORNER, CORNER))
        return (first,) if first == last else (first, last)

    def outward(self, at: float) -> Floats:
        """The direction (2,) straight out from the pad at s; at a corner halfway between both sides."""
        way = np.sum([self.sides[number].outward for number in self.beside(at)], axis=0)
        unit: Floats = way / np.hypot(*way)
        return unit

    def places(self, at: Floats) -> Floats:
        """The places (m, 2), local [m], at s (m,)."""
        number = np.clip(np.searchsorted(self.joints[1:-1], at), 0, len(self.sides) - 1)
        return np.stack(
            [
                self.sides[k].point(float(s - self.zero[k]), self.offset)
                for k, s in zip(number.tolist(), at, strict=True)
            ]
        )


@dataclass(frozen=True, eq=False)
class Route:
    """A swale that was walked.

    ``at``, ``ground``, ``invert`` (b,): s, ground and invert [m] at every bend of either, from one end to the
    other; ``crest``: the s of the highest invert and its height [m]; ``dug``: stretches of s in which the
    invert lies below the ground; ``needed``: the s between which the sides need it; ``short``: at which ends
    (left, right) the survey ends before the swale comes out.
    """

    way: Way
    line: Line
    start: float
    crest: tuple[float, float]
    breaks: tuple[float, float]
    at: Floats
    ground: Floats
    invert: Floats
    dug: tuple[tuple[float, float], ...]
    needed: tuple[float, float]
    short: tuple[bool, bool]

    @property
    def daylights(self) -> bool:
        """Whether it comes out on surveyed ground at every end that it falls to."""
        return not any(self.short)

    @property
    def outlets(self) -> tuple[float, ...]:
        """The s at which it comes out, at an end or where the ground dips below it on the way."""
        (left, right), crest = self.short, self.crest[0]
        firsts = [first for first, _ in self.dug if self.way.left and first < crest]
        lasts = [last for _, last in self.dug if self.way.right and last > crest]
        return (*firsts[int(left) :], *lasts[: len(lasts) - int(right)])

    @property
    def effort(self) -> float:
        """The ground over the invert along the line [m²]: what the choice between ways goes by."""
        over = np.maximum(self.ground - self.invert, 0.0)
        return float(np.sum(0.5 * (over[1:] + over[:-1]) * np.diff(self.at)))

    def depth(self, at: float) -> float:
        """The ground over the invert at s [m]."""
        ground, invert = (np.interp(at, self.at, values) for values in (self.ground, self.invert))
        return float(ground - invert)


class PadSides(NamedTuple):
    """The sides of a pad, and the half turn at the end of each (k,)."""

    every: tuple[Side, ...]
    turns: Floats

    @classmethod
    def of(cls, pad: Floats) -> PadSides:
        """Gather them of a pad (k, 2), local."""
        return cls(sides_of(pad), np.roll(half_turns(pad), -1))


def line_of(pad: PadSides, way: Way, offset: float) -> Line:
    """The line at an offset [m] from the sides of a pad."""
    every, turns = pad
    sides = tuple(every[k] for k in way.sides)
    zero, joints = [0.0], []
    for number, side in enumerate(sides[:-1]):
        mitre = offset * float(turns[way.sides[number]])
        joints.append(zero[-1] + side.length + mitre)
        zero.append(zero[-1] + side.length + 2.0 * mitre)
    ends = -math.inf, zero[-1] + sides[-1].length
    return Line(sides, offset, np.array(zero), np.array([ends[0], *joints, math.inf]))


class Edges(NamedTuple):
    """The edges of a surface, once each (e, 2, 3), LOCAL x, y and elevation [m]; no line through it is longer
    than ``extent`` [m]. ``known``: the profiles asked for so far, since the ways past a pad share most lines.
    """

    ends: Floats
    extent: float
    known: dict[tuple[float, ...], tuple[Floats, Floats]]

    @classmethod
    def of(cls, surface: Surface) -> Edges:
        """Gather them."""
        extent = float(np.hypot(*np.ptp(surface.vertices[surface.hull, :2], axis=0)))
        return cls(edges_once(surface), extent, {})

    def beside(self, side: Side, reach: float) -> Edges:
        """Those that a line along a side, at most ``reach`` [m] out from it, may cross."""
        out = (self.ends[:, :, :2] - side.start) @ side.outward
        near = (out.max(axis=1) >= -TOUCH) & (out.min(axis=1) <= reach + TOUCH)
        return Edges(self.ends[near], self.extent, {})

    def profile(self, start: Floats, end: Floats) -> tuple[Floats, Floats]:
        """Distances from ``start`` and ground (b,) [m] at every bend from one place, local, to another.

        Ends where the survey ends; empty where there is none at the start. Between two edges the ground is
        straight, so the ends too are read off the edges before and after them.
        """
        line = (*start.tolist(), *end.tolist())
        if line not in self.known:
            self.known[line] = self._read(start, end)
        return self.known[line]

    def _read(self, start: Floats, end: Floats) -> tuple[Floats, Floats]:
        """The same, read off the edges."""
        run = end - start
        length = float(np.hypot(*run))
        at, ground = crossings(self.ends, start, run / length).T
        if not len(at) or at[0] > TOUCH or at[-1] < -TOUCH:
            return np.empty(0), np.empty(0)
        once = np.concatenate(([True], at[1:] > at[:-1]))  # they come sorted
        at, ground = at[once], ground[once]
        stop = length if length <= at[-1] + TOUCH else float(at[-1])
        inside = at[(at > 0.0) & (at < stop)]
        bends = np.concatenate(([0.0], inside, [stop] if stop > 0.0 else []))
        return bends, np.interp(bends, at, ground)


def edges_beside(surface: Surface, pad: Floats, reach: float) -> tuple[Edges, ...]:
    """For each side of a pad (k, 2), local, the edges that a line at most ``reach`` [m] out may cross."""
    every = Edges.of(surface)
    return tuple(every.beside(side, reach) for side in sides_of(pad))


def walk(edges: Sequence[Edges], pad: Floats, way: Way, start: float, spec: SwaleSpec) -> tuple[Route, ...]:
    """Walk one way past a pad at the least offset that keeps the bench. A crest between two ends is tried
    halfway and on the highest ground, where that is level at either end of it: a mirrored yard gets the
    mirrored ones. ``start``: the bench's height at the pad [m]. Nothing where the line does not fit."""
    found: list[Route] = []
    for crest in (0.5, -math.inf, math.inf) if way.left and way.right else (0.5,):
        if crest < math.inf or (found and len(_tops(found[-1].at, found[-1].ground, found[-1].needed)) > 1):
            route = _settled(edges, pad, way, start, spec, crest)
            found += [] if route is None else [route]
    return tuple(found)


def _settled(
    edges: Sequence[Edges], pad: Floats, way: Way, start: float, spec: SwaleSpec, crest: float
) -> Route | None:
    """The offset is at least w + m (start - 0.05 w - lowest invert dug beside the pad): deep means wide."""
    offset, sides = spec.least, PadSides.of(pad)
    for _ in range(_ROUNDS):
        if offset > spec.reach:
            return None
        route = _walked(edges, sides, way, start, spec, crest, offset)
        if route is None:
            return None
        lowest = _lowest_beside(route)
        wanted = spec.bench + spec.side * (start - spec.bench_fall * spec.bench - lowest)
        if wanted <= offset + _SETTLED:
            return route
        offset = wanted
    return None


def _lowest_beside(route: Route) -> float:
    """The lowest dug invert between the first corner and the last [m]; the crest where none is dug."""
    line = route.line
    low, high = 0.0, float(line.zero[-1]) + line.sides[-1].length
    depths = [route.crest[1]]
    for first, last in route.dug:
        if last > low and first < high:
            ends = [min(max(s, low), high) for s in (first, last)]
            depths += np.interp(ends, route.at, route.invert).tolist()
    return min(depths)


def _walked(
    edges: Sequence[Edges],
    pad: PadSides,
    way: Way,
    start: float,
    spec: SwaleSpec,
    crest: float,
    offset: float,
) -> Route | None:
    line = line_of(pad, way, offset)
    end = float(line.zero[-1]) + line.sides[-1].length
    found = ground_along(edges, line, way, end)
    if found is None:
        return None
    at, ground = found
    needed = (
        float(line.zero[way.first]),
        float(line.zero[way.last]) + line.sides[way.last].length,
    )
    summit = _crest(way, crest, needed, end, at, ground)
    beyond = max(math.sqrt(max(spec.reach**2 - (offset + spec.margin) ** 2, 0.0)) - spec.margin, 0.0)
    breaks = -beyond, end + beyond
    before = [] if spec.toe is None else _before(line, way, spec.toe)
    bends = (summit, *breaks, *(s for ends in before for s in ends))
    at = np.unique(np.concatenate((at, [b for b in bends if at[0] < b < at[-1]])))
    ground = np.interp(at, *found)
    fall = invert_fall(at, summit, breaks, spec)
    top = start - spec.drop(offset)
    if spec.toe is not None:
        into = [ground[k] + fall[k] for k in ((at >= a) & (at <= b) for a, b in before)]
        top = min(top, float(np.concatenate(into).min(initial=np.inf)) - spec.toe.into)
    invert = top - fall
    route = Route(way, line, start, (summit, top), breaks, at, ground, invert, (), needed, (False, False))
    return _daylit(route)


def _before(line: Line, way: Way, toe: Toe) -> list[tuple[float, float]]:
    """The s between which the line runs before the stretches of a toe."""
    found = []
    for number, *ends in toe.stretches:
        place = way.sides.index(number)
        come, leave = line.joints[place : place + 2].tolist()
        first, last = (min(max(float(line.zero[place]) + u, come), leave) for u in ends)
        found.append((first, last))
    return found


def invert_fall(at: Floats, crest: float, breaks: tuple[float, float], spec: SwaleSpec) -> Floats:
    """How far the invert has fallen from its crest at s (m,) [m]."""
    steep = np.abs(np.clip(at, *breaks) - crest)
    flat = np.abs(at - np.clip(at, *breaks))
    fall: Floats = spec.near * steep + spec.far * flat
    return fall


def _crest(
    way: Way, share: float, needed: tuple[float, float], end: float, at: Floats, ground: Floats
) -> float:
    """The s of the highest invert: the closed end, or between the sides that need it; where ``share`` is not
    finite, the first or the last of the highest ground there."""
    if not way.left:
        return 0.0
    if not way.right:
        return end
    if math.isfinite(share):
        return needed[0] + share * (needed[1] - needed[0])
    tops = _tops(at, ground, needed)
    return float(tops[0 if share < 0.0 else -1]) if len(tops) else sum(needed) / 2


def _tops(at: Floats, ground: Floats, needed: tuple[float, float]) -> Floats:
    """The s between the sides that need it at which the ground is highest."""
    between = (at >= needed[0]) & (at <= needed[1])
    tops: Floats = at[between & (ground >= ground[between].max(initial=-np.inf) - TOUCH)]
    return tops


def ground_along(edges: Sequence[Edges], line: Line, way: Way, end: float) -> tuple[Floats, Floats] | None:
    """s and ground at every bend along the line, to the edge of the survey at the ends that it falls to.

    None where the line folds back on itself or leaves the survey beside the pad.
    """
    far = edges[0].extent + end
    joints = np.concatenate(
        ([-far if way.left else 0.0], line.joints[1:-1], [end + far if way.right else end])
    )
    if (np.diff(joints) <= 0.0).any():
        return None
    rows: list[tuple[Floats, Floats]] = []
    for number, side in enumerate(line.sides):
        first, last = joints[number], joints[number + 1]
        # from the corner outward, so that the survey's edge ends the last side and begins the first
        inner = max(first, min(last, 0.0)) if number == 0 else first
        ends = [side.point(float(s - line.zero[number]), line.offset) for s in (first, inner, last)]
        if inner > first:
            out, ground = edges[way.sides[number]].profile(ends[1], ends[0])
            rows.append((inner - out[::-1], ground[::-1]))
        if inner >= last:
            if not len(out):
                return None
            continue  # at an inward corner the first side ends before its own corner
        on, ground = edges[way.sides[number]].profile(ends[1], ends[2])
        if not len(on) or (on[-1] + inner < min(last, end) - LEVEL):
            return None
        rows.append((inner + on, ground))
    at, ground = (np.concatenate(columns) for columns in zip(*rows, strict=True))
    at, once = np.unique(at, return_index=True)
    return at, ground[once]


def _daylit(route: Route) -> Route:
    """Find the stretches that are dug, and whether the line comes out at the ends that it falls to.

    Beyond the sides that need it, it goes on to where the invert first meets the ground, and no farther.
    """
    over = route.ground - route.invert
    at = route.at
    crossed = np.flatnonzero((over[1:] > LEVEL) != (over[:-1] > LEVEL))
    meets = at[crossed] + over[crossed] / (over[crossed] - over[crossed + 1]) * (
        at[crossed + 1] - at[crossed]
    )
    cuts = np.unique(np.concatenate((at[[0, -1]], meets, route.needed)))
    middle = 0.5 * (cuts[1:] + cuts[:-1])
    dug = np.interp(middle, at, over) > LEVEL
    crest = route.crest[0]
    keep = dug.copy()
    right = np.flatnonzero(~dug & (middle > max(route.needed[1], crest)))
    left = np.flatnonzero(~dug & (middle < min(route.needed[0], crest)))
    if len(right):
        keep[right[0] :] = False
    if len(left):
        keep[: left[-1] + 1] = False
    short = (
        route.way.left and not len(left) and bool(dug[0]),
        route.way.right and not len(right) and bool(dug[-1]),
    )
    stretches: list[tuple[float, float]] = []
    for number in np.flatnonzero(keep).tolist():
        first, last = float(cuts[number]), float(cuts[number + 1])
        if stretches and abs(stretches[-1][1] - first) <= LEVEL:
            stretches[-1] = (stretches[-1][0], last)
        else:
            stretches.append((first, last))
    return replace(route, dug=tuple(stretches), short=short)
