"""A pipe drain past a pad: a trench of clean stone open to the surface, a solid pipe from there to daylight.

Water that comes down the slope falls into the stone wherever it crosses the line, so the surface along it
need not fall: a bench falls from the pad to the outer edge of the stone, from there a bank rises to the
ground. The pipe falls evenly from one end of the trench to the other and straight on to lower ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.faces import Shapes, behind, holds, segments, swale_shapes
from gradework.earthwork.grading.foot import Beside, DugBeside, Foot, pad_foot, with_slopes
from gradework.earthwork.grading.led import TOUCH, Kind, Station, shaped_bottoms, strips
from gradework.earthwork.grading.pipe_run import (
    Clear,
    PipeRun,
    Solid,
    Trench,
    may_come_out,
    ways_out,
)
from gradework.earthwork.grading.planes import Highest, Lowest, Shape
from gradework.earthwork.grading.route import (
    Edges,
    Line,
    PadSides,
    Route,
    SwaleSpec,
    Way,
    edges_beside,
    ground_along,
    line_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from gradework.earthwork.grading.finished import CutOff, Finished
    from gradework.earthwork.grading.foot import Batter
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DrainSpec:
    """What a pipe drain has to keep; lengths [m], falls [-]. Common practice but for the falls.

    Attributes
    ----------
    bench, bench_fall, side
        The strip between pad and stone: its least width (12 in) and its fall, that of the rule; the bank
        beyond, run per rise.
    width, depth
        Of the trench (8 to 12 in wide, 18 to 24 in deep): the depth where it begins.
    under, pipe
        Stone under the pipe (2 in), and the pipe's own size (4 in).
    fall
        Of the pipe: 1 % (0.5 to 1 %, Washington State University, quoted).
    reach
        The stone lies no farther than this from the pad (10 ft).
    margin
        How far the pad reaches beyond the building; there nothing falls, so the bench falls for it.
    shown
        So much of the pad's edge stays free.
    comes_out
        One that does not come out on the survey is not wanted.
    """

    bench: float = 0.3048
    bench_fall: float = 0.05
    side: float = 3.0
    width: float = 0.3048
    depth: float = 0.4572
    under: float = 0.0508
    pipe: float = 0.1016
    fall: float = 0.01
    reach: float = 3.048
    margin: float = 0.0
    shown: float = 0.0
    comes_out: bool = False


PIPE_OUTSIDE = 0.1194
"""[m] A 4 in corrugated pipe takes 4.7 in of the stone's room (common practice)."""

LAP = 0.3048
"""[m] Fabric is lapped 12 in over the stone (common practice)."""

COVER = 0.1016
"""[m] So much stone lies over the pipe everywhere, 4 in (common practice)."""

_ROUNDS = 40


class Trenched(NamedTuple):
    """What the trenches of a drain take, besides bench and bank: ``dug`` [m³] and of that ``back`` over the
    solid pipe, ``stone`` [m³] and ``fabric`` [m²] round it; ``deepest``: the most that the pipe lies below
    the surveyed ground [m]."""

    dug: float
    back: float
    stone: float
    fabric: float
    deepest: float


@dataclass(frozen=True, eq=False)
class Drain(DugBeside):
    """A pipe drain as designed; ``Led`` says what all kinds tell. ``run`` is its pipe, local."""

    spec: DrainSpec
    run: PipeRun
    offset: float
    beside: Beside
    trenched: Trenched

    @property
    def ground(self) -> Finished:
        """The finished ground with it alone."""
        return self.beside.ground

    @property
    def cut(self) -> float:
        """Bench, bank and trenches [m³]."""
        return self.beside.cut + self.trenched.dug

    @property
    def fill(self) -> float:
        """The bench where it is filled up to, and what goes back over the solid pipe [m³]."""
        return self.beside.fill + self.trenched.back

    @property
    def stone(self) -> float:
        """Round the pipe with holes [m³]."""
        return self.trenched.stone

    @property
    def fabric(self) -> float:
        """Round the stone [m²]."""
        return self.trenched.fabric

    @property
    def bare(self) -> float:
        """Bench and bank, and the solid pipe's trench beyond them [m²]."""
        return max(self.beside.bare + self.spec.width * (self.solid - self.pipe), 0.0)

    @property
    def deepest(self) -> float:
        """The most that the pipe lies below the surveyed ground [m]."""
        return self.trenched.deepest

    @property
    def kind(self) -> Kind:
        """What it is."""
        return "drain"

    @property
    def heaped_to(self) -> None:
        """No soil is heaped against the pad."""

    @property
    def pipe(self) -> float:
        """The length of the pipe with holes [m]."""
        return self.run.trench.length

    @property
    def solid(self) -> float:
        """The length of the pipe without [m]."""
        return self.run.solid.length

    @property
    def length(self) -> float:
        """All of it [m]."""
        return self.pipe + self.solid

    @property
    def daylights(self) -> bool:
        """Whether it comes out on the finished ground, within the survey."""
        return self.run.solid.short == 0.0

    @property
    def bank_leaves(self) -> CutOff | None:
        """Where its bank is cut off by the edge of the survey."""
        return self.ground.leaves

    def _site(self, local: Floats) -> Floats:
        moved: Floats = local.copy()
        moved[..., :2] += self.ground.surface.origin
        return moved

    @property
    def line(self) -> Floats:
        """(n, 3): the bottom of the pipe every 5 ft, from its high end to its outlet."""
        return self._site(self.run.told)

    @property
    def bends(self) -> tuple[Floats, ...]:
        """One stretch (m, 3): where it begins, bends and comes out."""
        return (self._site(self.run.bends),)

    @property
    def catches(self) -> Floats:
        """The line of the trench (k, 2, 2)."""
        trench = self.run.trench
        places = self._site(trench.rows(trench.ends))[:, :2]
        return np.stack((places[:-1], places[1:]), axis=1)

    @property
    def outlets(self) -> Floats:
        """Where the pipe comes out (1, 3); none where the survey ends before."""
        return self._site(self.run.bends[-1:])[: int(self.daylights)]

    @property
    def more_shots(self) -> Floats:
        """Where to shoot where the survey ends before the pipe comes out (k, 2)."""
        return self._site(self.run.more_shots)

    @property
    def bottoms(self) -> Floats:
        """Bench and bank, and the bottom of both trenches (k, 3, 3)."""
        trench = self._site(self.run.trench.rows(self.run.trench.ends))
        solid = self._site(self.run.beyond(np.array([0.0, self.solid])))
        trench[:, 2] -= self.spec.under
        both = (strips(rows, self.spec.width) for rows in (trench, solid))
        return np.concatenate((shaped_bottoms(self.ground), *both))

    def stations(self, step: float) -> Iterator[Station]:
        """Where to stake it, every ``step`` [m]."""
        return self.run.stations(step, self.ground.surface.origin)


def design_drain(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    spec: DrainSpec,
    *,
    batter: Batter | None = None,
    room: Shape | None = None,
    clear: Clear | None = None,
) -> Drain | None:
    """Design the pipe drain that takes up the water that comes to some sides of a pad; None where none fits.

    pad, level, needed, batter, room : as ``design_swale`` takes them;  clear : where a solid pipe may run;
    Of both ways to fall, and of the ways to lower ground from there, the one with the least digging along the
    solid pipe is taken; where none comes out on the survey, the one that lacks least and on which the ground
    still falls where the survey ends.
    """
    foot = pad_foot(surface, pad, level, needed, batter, shown=spec.shown)
    laid = None if foot is None else _laid_past(surface, foot, needed, spec)
    if foot is None or laid is None:
        return None
    edge, pipes, at, spec = laid
    if spec.comes_out and not any(
        may_come_out(Edges.of(surface), trench) for trench in _trenches(edge, pipes, at, spec)
    ):
        return None
    shapes = _shapes(edge, foot, spec)
    if shapes.cut is None or not holds(edge, shapes.cut):
        return None
    shapes = with_slopes(shapes, foot, spec.side)
    lines = segments(edge, *edge.dug[0]) + surface.origin
    beside = Beside(surface, pad, level, foot, shapes, lines, room)
    known, finished = Edges.of(surface), Edges.of(beside.ground.surface)
    # where the bench is filled up to, the pipe must come out beyond that
    runs = [
        PipeRun(trench, solid)
        for trench in _trenches(edge, pipes, at, spec)
        for solid in ways_out(finished, known, trench, foot.ring, surface.origin, clear)
    ]
    if not runs:
        return None
    run = min(runs, key=lambda one: _rank(one.solid))
    trenched = _trenched(Edges.of(surface), finished, run, spec)
    return None if trenched is None else Drain(spec, run, foot.toe + pipes.offset, beside, trenched)


def _laid_past(
    surface: Surface, foot: Foot, needed: tuple[int, int], spec: DrainSpec
) -> tuple[Route, Line, tuple[float, float], DrainSpec] | None:
    """The same as ``_laid``, past the sides ``needed``; None also where bench or pad leave no room."""
    sides, count = len(foot.ring), needed[1] - needed[0] + 1
    if spec.bench_fall >= 1.0 / spec.side or count >= sides:
        return None
    past = Way(tuple(k % sides for k in range(needed[0], needed[1] + 1)), 0, count - 1, True, True)
    return _laid(edges_beside(surface, foot.ring, spec.reach), foot, past, spec)


def _trenches(edge: Route, pipes: Line, at: tuple[float, float], spec: DrainSpec) -> Iterator[Trench]:
    """The trench, falling to either end of it."""
    bottom = edge.crest[1] - spec.depth + spec.under
    for high, low in (at, at[::-1]):
        yield Trench(pipes, edge.way, high, low, bottom, spec.fall)


def _laid(
    edges: tuple[Edges, ...], foot: Foot, past: Way, spec: DrainSpec
) -> tuple[Route, Line, tuple[float, float], DrainSpec] | None:
    """How far out: the outer edge of the stone as a level line on the surface, the line of the pipe, and
    between which s of that the trench runs; and the same spec with the fall that its bench has.

    The trench stays out of the ground that carries the pad: its inner edge is as far out as it is deep.
    """
    offset, half, sides = spec.bench + 0.5 * spec.width, 0.5 * spec.width, PadSides.of(foot.ring)
    for _ in range(_ROUNDS):
        line, pipes = (line_of(sides, past, offset + more) for more in (half, 0.0))
        end = float(line.zero[-1]) + line.sides[-1].length
        found = ground_along(edges, line, past, end)
        if offset > spec.reach or found is None:
            return None
        fall = spec.bench_fall * (1.0 + spec.margin / offset)
        top = foot.start - fall * line.offset
        stretch = _stretch(*found, top, end, offset)
        if stretch is None:
            return None
        numbers = [int(np.searchsorted(line.joints[1:-1], s)) for s in stretch]
        first, last = (s - float(line.zero[k] - pipes.zero[k]) for s, k in zip(stretch, numbers, strict=True))
        lowest = top - spec.depth - spec.fall * (last - first)
        wanted = max(spec.bench, foot.start - lowest) + half
        if wanted <= offset + TOUCH:
            middle, level = 0.5 * (stretch[0] + stretch[1]), np.full(len(found[0]), top)
            route = Route(
                past, line, foot.start, (middle, top), (0.0, end), *found, level, (stretch,), (0.0, end),
                (False, False),
            )  # fmt: skip
            return (route, pipes, (first, last), replace(spec, bench_fall=fall))
        offset = wanted
    return None


def _stretch(at: Floats, ground: Floats, top: float, end: float, past: float) -> tuple[float, float] | None:
    """From where to where the stone runs along a line at the level ``top`` [m]: beside all sides that need
    it, and ``past`` their ends where the ground stands above it; None where it does so nowhere beside."""
    between = at[(at >= 0.0) & (at <= end)]
    if float(np.interp(between, at, ground).max(initial=-math.inf)) <= top + TOUCH:
        return None
    ends = []
    for corner, way in ((0.0, -1.0), (end, 1.0)):
        away = np.unique(np.clip(way * (at - corner), 0.0, past))
        over = np.interp(corner + way * away, at, ground) - top
        below = np.flatnonzero(over <= TOUCH)
        reach = float(away[-1])
        if len(below):
            k = int(below[0])
            reach = 0.0
            if k:
                reach = float(np.interp(0.0, over[[k, k - 1]], away[[k, k - 1]]))
        ends.append(corner + way * reach)
    return ends[0], ends[1]


def _shapes(edge: Route, foot: Foot, spec: DrainSpec) -> Shapes:
    """Bench and bank of a level line, closed by a bank at each end that runs on past the pad.

    Where the ground lies lower the bench is filled up to, as beside a swale.
    """
    level = SwaleSpec(bench_fall=spec.bench_fall, depth=0.0, side=spec.side, near=0.0, far=0.0)
    cut, fill = swale_shapes(edge, foot.ring, level)
    (first, last), rise, line = edge.dug[0], 1.0 / spec.side, edge.line
    closed: list[Shape] = [] if cut is None else [cut]
    for number, s, along in ((0, first, -rise), (len(line.sides) - 1, last, rise)):
        side, u = line.sides[number], s - float(line.zero[number])
        if u < 0.0 or u > side.length:  # else it ends where the ground does
            back = behind(side, foot.ring, edge.crest[1])
            closed.append(Lowest((side.plane(u, 0.0, edge.crest[1], along=along), back)))
    return Shapes(Highest(tuple(closed)), fill)


def _rank(solid: Solid) -> tuple[float, ...]:
    return float(solid.short > 0.0), round(solid.short, 6), round(solid.over, 6), round(solid.length, 6)


def stone_in(dug: float, length: float) -> float:
    """Stone in a trench of ``dug`` [m³], less the pipe of ``length`` [m] in it [m³]."""
    return dug - 0.25 * math.pi * PIPE_OUTSIDE**2 * length


def fabric_round(width: float, deep: float, length: float) -> float:
    """Fabric round the stone of a trench, with its lap [m²]."""
    return (2.0 * (width + deep) + LAP) * length


def _trenched(edges: Edges, finished: Edges, run: PipeRun, spec: DrainSpec) -> Trenched | None:
    """What its trenches take; None where the pipe would run out of the ground or the survey in its trench.

    Along the trench the surface is the finished one. Across it that is straight, so its middle tells all.
    """
    trench = run.trench
    rows = trench.rows(trench.ends)
    over = [_over(finished, a, b) for a, b in pairwise(rows)]
    solid = run.beyond(np.array([0.0, run.solid.length]))
    if any(one is None or one.least < spec.pipe + COVER for one in over):
        return None
    area = sum(one.area for one in over if one is not None) + spec.under * trench.length
    beyond = _over(finished, *solid)
    lead = 0.0 if beyond is None else max(beyond.area, 0.0)
    known = (_over(edges, a, b) for a, b in (*pairwise(rows), (solid[0], solid[1])))
    dug, back = spec.width * area, spec.width * lead
    deep = area / trench.length
    return Trenched(
        dug=dug + back,
        back=back,
        stone=stone_in(dug, trench.length),
        fabric=fabric_round(spec.width, deep, trench.length),
        deepest=max(one.most for one in known if one is not None),
    )


class _Over(NamedTuple):
    """The ground over a pipe along one stretch: its area [m²], the least and the most of it [m]."""

    area: float
    least: float
    most: float


def _over(edges: Edges, start: Floats, end: Floats) -> _Over | None:
    """The ground over a straight pipe (3,) to (3,); None where there is none all the way."""
    away, top = edges.profile(start[:2], end[:2])
    length = float(np.hypot(*(end - start)[:2]))
    if len(away) < 2 or away[-1] < length - TOUCH:
        return None
    over = top - np.interp(away, [0.0, length], [start[2], end[2]])
    return _Over(float(np.trapezoid(over, away)), float(over.min()), float(over.max()))
