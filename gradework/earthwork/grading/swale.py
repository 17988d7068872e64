"""A swale as designed: the way past the pad that takes least, its planes, and the ground that it makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.apron import apron_heap
from gradework.earthwork.grading.faces import ON_INVERT, Shapes, holds, segments, stations, swale_shapes
from gradework.earthwork.grading.finished import CutOff, Finished
from gradework.earthwork.grading.foot import Batter, Beside, DugBeside, Foot, pad_foot, with_slopes
from gradework.earthwork.grading.led import LEAST, SHOTS, STAKE, Kind, Station, shaped_bottoms
from gradework.earthwork.grading.planes import Shape
from gradework.earthwork.grading.route import Route, SwaleSpec, Way, edges_beside, walk
from gradework.earthwork.rings import contains
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

TURNS = 2
"""A swale goes round so many corners beyond the sides that need it, at each end, to find lower ground."""


@dataclass(frozen=True, eq=False)
class Swale(DugBeside):
    """A swale as designed, site frame [m].

    Attributes
    ----------
    route
        How it was walked.
    line
        (n, 3): x, y and invert at every bend of what is dug and every ``STAKE`` between, from one end to the
        other.
    bends
        For each stretch that is dug (m, 3): the same only where it bends or its fall changes.
    offset
        From the edge of the pad to its line.
    length
        Of what is dug, along the line.
    deepest
        The most that the invert lies below the ground.
    beside
        What is dug and filled for it.
    outlets
        (n, 3): where it comes out, x, y and invert.
    more_shots
        (n, 2): where to shoot for the ground that the survey lacks, where it does not come out on it.
    raised
        How high soil is heaped against the edge of the pad, to fall from there as an apron [m]; 0 of a swale
        that is cut in.
    stone, pipe, solid, fabric
        What lines it; see ``Led``.
    """

    route: Route
    line: Floats
    bends: tuple[Floats, ...]
    offset: float
    length: float
    deepest: float
    beside: Beside
    outlets: Floats
    more_shots: Floats
    raised: float = 0.0
    stone: float = 0.0
    pipe: float = 0.0
    solid: float = 0.0
    fabric: float = 0.0

    @cached_property
    def ground(self) -> Finished:
        """The finished ground with it alone. Raises CheckError where that is off its bottom."""
        ground = self.beside.ground
        made = ground.surface
        # by a millimetre the line may run on beyond the survey
        known = contains(made.vertices[made.hull, :2], self.line[:, :2] - made.origin)
        off = (made.elevation(self.line[:, :2]) - self.line[:, 2])[known]
        if not np.abs(off).max(initial=0.0) <= ON_INVERT:
            raise CheckError(f"the finished ground is {np.abs(off).max()!r} m off the bottom of the swale")
        return ground

    @property
    def cut(self) -> float:
        """What it takes besides the pad, its side slopes or working room, in place [m³], exact; dug deeper by
        the stone that lines it."""
        return self.beside.cut + self.stone

    @property
    def fill(self) -> float:
        """Below zero where it takes more of the side slopes away than it fills [m³]."""
        return self.beside.fill

    @property
    def bare(self) -> float:
        """The ground that it digs and fills and that no stone lines, besides the pad's side slopes [m²]."""
        return max(self.beside.bare - self.fabric, 0.0)

    def stations(self, step: float) -> Iterator[Station]:
        """Where to stake it: at each bend and end of what is dug, and every ``step`` [m] from there."""
        route, origin = self.route, self.beside.surface.origin
        for s in _staked(route, step).tolist():
            x, y = (route.line.places(np.array([s]))[0] + origin).tolist()
            east, north = route.line.outward(s).tolist()
            beside = tuple(route.way.sides[number] for number in route.line.beside(s))
            yield Station((x, y, float(np.interp(s, route.at, route.invert))), (east, north), beside)

    @property
    def kind(self) -> Kind:
        """What it is."""
        return "apron" if self.raised > 0.0 else "swale"

    @property
    def heaped_to(self) -> float | None:
        """The height at the pad to which soil is heaped against it [m]."""
        return self.route.start if self.raised > 0.0 else None

    @property
    def daylights(self) -> bool:
        """Whether it comes out on surveyed ground."""
        return self.route.daylights

    @property
    def ends(self) -> Floats:
        """Where it comes out, and the way it runs there (n, 2, 2)."""
        return _ends(self.route, self.beside.surface.origin)

    @property
    def catches(self) -> Floats:
        """Its bottom where it is dug (k, 2, 2)."""
        return np.concatenate([np.stack((one[:-1, :2], one[1:, :2]), axis=1) for one in self.bends])

    @property
    def bottoms(self) -> Floats:
        """What the ground is dug down and filled up to (k, 3, 3)."""
        return shaped_bottoms(self.ground)

    @property
    def bank_leaves(self) -> CutOff | None:
        """Where its bank is cut off by the edge of the survey, but for an end that does not come out."""
        leaves, route = self.ground.leaves, self.route
        if leaves is None:
            return None
        ends = [place for place, short in zip(self.line[[0, -1], :2], route.short, strict=True) if short]
        near = any(np.hypot(*(place - leaves[:2])) <= route.line.offset for place in ends)
        return None if near else leaves


LINED, LINING = 0.6096, 0.1016
"""[m] The bottom of a swale that would wash out is lined so wide with stone over fabric, so thick: 24 in, 4
in (common practice; stone over 8 % or in sand: US Army EN5465A, quoted)."""


def lined(swale: Swale) -> Swale:
    """The same with its bottom lined: dug deeper by the stone, which fills it up to where it was drawn."""
    area = LINED * swale.length
    return replace(swale, stone=LINING * area, fabric=area)


def ways_past(count: int, first: int, last: int) -> list[Way]:
    """The ways to lead a swale past the sides ``first`` to ``last`` of a pad with ``count`` sides.

    Sides are counted anticlockwise; ``last`` may be ``count`` or more where they run over the first corner.
    """
    own = last - first + 1
    ways = []
    for left, right in ((True, False), (False, True), (True, True)):
        for before in range(TURNS + 1 if left else 1):
            for after in range(TURNS + 1 if right else 1):
                if own + before + after <= count - 1:
                    sides = tuple(k % count for k in range(first - before, last + after + 1))
                    ways.append(Way(sides, before, before + own - 1, left, right))
    return ways


def design_swale(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    spec: SwaleSpec,
    *,
    batter: Batter | None = None,
    room: Shape | None = None,
) -> Swale | None:
    """Design the swale that leads water past some sides of a pad; None where no line fits beside it.

    pad : its ring (k, 2), anticlockwise, site frame [m];  level : of the pad [m];  needed : the first and the
    last of the sides that water comes to, counted anticlockwise, last at or above first;  batter : the
    pad's own side slopes, None where boards hold it;  room : what the ground beside it is dug down to where
    they do, local. Of the ways that come out on surveyed ground the one
    with the least digging along its line is taken, of those that run clear of what
    stands near, where any does; where none comes out, the one that lacks least.
    """
    foot = pad_foot(surface, pad, level, needed, batter, shown=spec.shown)
    return None if foot is None else _dug_past(surface, pad, level, needed, foot, spec, room=room)


def design_apron(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    uphill: Sequence[int],
    spec: SwaleSpec,
    *,
    batter: Batter | None = None,
    room: Shape | None = None,
) -> Swale | None:
    """Heap soil against a raised pad, with a shallow swale along its foot.

    ``uphill``: those of the ``needed`` sides, by number, toward which ground rises; the rest as
    ``design_swale`` takes it. None where ``apron_heap`` has none, or where no line fits.
    """
    heap = apron_heap(surface, pad - surface.origin, level, uphill, spec)
    if heap is None:
        return None
    foot = pad_foot(surface, pad, level, needed, batter, start=heap.start)
    made = None if foot is None else _dug_past(surface, pad, level, needed, foot, heap.spec, room=room)
    return None if made is None else replace(made, raised=heap.raised)


def _dug_past(
    surface: Surface,
    pad: Floats,
    level: float,
    needed: tuple[int, int],
    foot: Foot,
    spec: SwaleSpec,
    *,
    room: Shape | None = None,
) -> Swale | None:
    """The same from a ``foot`` of the pad, at which the bench begins."""
    if spec.bench_fall >= 1.0 / spec.side:
        return None
    spec = replace(spec, margin=spec.margin + foot.toe)
    edges = edges_beside(surface, foot.ring, spec.reach)
    routes = [
        route
        for way in ways_past(len(pad), *needed)
        for route in walk(edges, foot.ring, way, foot.start, spec)
        if route.dug
    ]

    def made(route: Route, planes: Shapes) -> Swale:
        shapes = with_slopes(planes, foot, spec.side)
        lines = np.concatenate([segments(route, *stretch) for stretch in route.dug]) + surface.origin
        return _told(route, Beside(surface, pad, level, foot, shapes, lines, room))

    if spec.clear is not None:
        near = [route for route in routes if _may_be_clear(route, spec, surface.origin)]
        for found in _best_first(_fitting(near, foot, spec), made):
            if spec.clear(shapely.union_all(shapely.polygons(found.bottoms[:, :, :2])), found.ends):
                return found
    return next(_best_first(_fitting(routes, foot, spec), made), None)


def _best_first(
    fitting: Iterator[tuple[Route, Shapes]], made: Callable[[Route, Shapes], Swale]
) -> Iterator[Swale]:
    """Each as it is dug. Where several rank the same, as on ground that is level along the pad, that with the
    least digging comes first: so a mirrored yard gets the mirrored one."""
    for _, own in groupby(fitting, key=lambda one: _rank(one[0])):
        first, *more = (made(*one) for one in own)
        yield from sorted((first, *more), key=_dug) if more else (first,)


def _dug(swale: Swale) -> tuple[float, float]:
    return round(swale.cut, 6), round(swale.fill, 6)


def _fitting(routes: Sequence[Route], foot: Foot, spec: SwaleSpec) -> Iterator[tuple[Route, Shapes]]:
    """The routes whose planes hold their line, with these, the best first."""
    for route in sorted(routes, key=_rank):
        if _passes(route, foot.ring):
            made = swale_shapes(route, foot.ring, spec)
            if made.cut is not None and holds(route, made.cut):
                yield route, made


def _may_be_clear(route: Route, spec: SwaleSpec, origin: Floats) -> bool:
    """Whether it comes out on surveyed ground and runs clear of what stands near, as wide as it would be dug
    on level ground: what is not is not worth a closer look."""
    if spec.clear is None or not route.daylights:
        return False
    at = stations(route, route.dug[0][0], route.dug[-1][1])
    banks = spec.side * np.array([max(route.depth(float(s)), 0.0) for s in at])
    line = route.line.places(at) + origin
    straight = shapely.linestrings(np.stack((line[:-1], line[1:]), axis=1))
    dug = shapely.buffer(straight, np.maximum(banks[1:], banks[:-1]), cap_style="flat")
    return spec.clear(shapely.union_all(dug), _ends(route, origin))


def _ends(route: Route, origin: Floats) -> Floats:
    """Where a route comes out, and the unit vector of the way it runs there (n, 2, 2), site."""
    if not route.outlets:
        return np.empty((0, 2, 2))
    at = np.array(route.outlets)
    places = route.line.places(at)
    ways = places - route.line.places(at + np.where(at < route.crest[0], 1e-3, -1e-3))  # as it comes there
    return np.stack((places + origin, ways / np.hypot(*ways.T)[:, None]), axis=1)


def _rank(route: Route) -> tuple[float, ...]:
    """Ways that come out before those that do not; then the least ground along the line (to a square mm)."""
    lack = sum(route.short)
    ends = (route.at[0], route.at[-1])
    depth = sum(route.depth(float(s)) for s, short in zip(ends, route.short, strict=True) if short)
    return float(lack), round(depth, 6), round(route.effort, 6), round(float(np.ptp(route.at)), 6)


def _passes(route: Route, ring: Floats) -> bool:
    """Whether the line keeps its offset from all of the pad: beyond an inward corner it would run into it."""
    line = route.line.places(stations(route, route.dug[0][0], route.dug[-1][1]))
    away = shapely.LineString(line).distance(shapely.Polygon(ring))
    return bool(away >= route.line.offset - ON_INVERT)


def _staked(route: Route, step: float) -> Floats:
    """The s of what is dug at each bend, and every ``step`` from there to the next.

    Between two stretches that are dug the ground lies lower: there is no bottom to tell.
    """
    parts = []
    for stretch in route.dug:
        bends = stations(route, *stretch)
        parts += [np.arange(a, b - LEAST * step, step) for a, b in pairwise(bends)] + [bends]
    return np.unique(np.concatenate(parts))


def _told(route: Route, beside: Beside) -> Swale:
    surface = beside.surface

    def at(s: Floats) -> Floats:
        places = route.line.places(s) + surface.origin
        rows: Floats = np.column_stack((places, np.interp(s, route.at, route.invert)))
        rows.setflags(write=False)
        return rows

    over = np.concatenate(
        [
            np.interp(
                np.append(route.at[(route.at > a) & (route.at < b)], (a, b)),
                route.at,
                route.ground - route.invert,
            )
            for a, b in route.dug
        ]
    )
    return Swale(
        route=route,
        line=at(_staked(route, STAKE)),
        bends=tuple(at(stations(route, *stretch)) for stretch in route.dug),
        offset=beside.foot.toe + route.line.offset,
        length=sum(b - a for a, b in route.dug),
        deepest=float(over.max()),
        beside=beside,
        outlets=at(np.array(route.outlets)) if route.outlets else np.empty((0, 3)),
        more_shots=_more_shots(surface, route),
    )


def _more_shots(surface: Surface, route: Route) -> Floats:
    """Where to shoot beyond the survey's edge for each end that does not come out on it."""
    beyond = []
    for end, short, way in ((route.at[0], route.short[0], -1.0), (route.at[-1], route.short[1], 1.0)):
        if short:
            beyond += [float(end) + way * step for step in SHOTS]
    if not beyond:
        return np.empty((0, 2))
    shots: Floats = route.line.places(np.array(beyond)) + surface.origin
    return shots
