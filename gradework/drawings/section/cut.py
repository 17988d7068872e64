"""What a straight cut through the building meets: the ground before and after, what is dug, what is laid.

All of it is read off the two surfaces and the layers of the foundation, exactly: between the edges of their
triangles both are straight. Along a cut u runs from its start [m], heights are elevations [m].
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.ops import polylabel

from gradework.earthwork.grading.finished import DAYLIGHT
from gradework.ground.profile import as_lines, cut_along, inside, stretches
from gradework.sitework.past_walls import led

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.project.plan import Plan

Floats = NDArray[np.float64]
Span = tuple[float, float]

BEYOND = 2.4384
"""[m] A section goes on 8 ft past all that is dug or filled, or to the end of the survey."""

_ON_LINE = 1e-6

_WIDEST = 0.05
"""[m] The widest place of a building is found within this."""


class CutLine(NamedTuple):
    """Where a section is cut: its letter, a place of it (2,) site [m], and the way it is drawn, left to
    right (2,)."""

    letter: str
    start: Floats
    along: Floats

    def at(self, u: float) -> Floats:
        """The place (2,) [m] at u."""
        place: Floats = self.start + u * self.along
        return place


class Bottom(NamedTuple):
    """A swale or drain that is cut: its kind, where, and how high its bottom is [m]."""

    kind: str
    u: float
    level: float


class Section(NamedTuple):
    """What stands in one section; lines and areas are (k, 2) of u and elevation [m].

    ends : the first and last u that are shown;  ground, finished : lines, with a step where boards hold an
    edge;  dug, filled, gravel, concrete, stone : areas; of what is dug, that which stays so;  spans, walls :
    of the pad or slab, of the building;  floor : the level of the pad or slab;  deepest : u and elevation of
    the lowest dig under it.
    """

    line: CutLine
    ends: Span
    ground: tuple[Floats, ...]
    finished: tuple[Floats, ...]
    dug: tuple[Floats, ...]
    filled: tuple[Floats, ...]
    gravel: tuple[Floats, ...]
    concrete: tuple[Floats, ...]
    stone: tuple[Floats, ...]
    spans: tuple[Span, ...]
    walls: tuple[Span, ...]
    floor: float
    deepest: tuple[float, float]
    bottoms: tuple[Bottom, ...]

    @property
    def heights(self) -> Span:
        """The lowest and the highest elevation in it [m]."""
        every = np.concatenate(
            [line[:, 1] for line in (*self.ground, *self.finished, *self.dug, *self.gravel, *self.stone)]
        )
        return float(every.min()), max(float(every.max()), self.floor)


class _Layers(NamedTuple):
    """The foundation: its outline, level, what is stripped, the underside of the concrete and of the gravel
    below the level at a distance from the edge [m], whether what fills up below that is gravel."""

    outline: Outline
    level: float
    strip: float
    gravel: float
    edge: tuple[float, float, float]
    by_gravel: bool


def cut_lines(plan: Plan) -> tuple[CutLine, ...]:
    """A section along the first side of the building and one square to it, both through the inside of what
    is built; none where nothing is built that has one (piers have elevations of their rows)."""
    layers = _layers(plan)
    if layers is None:
        return ()
    ring = plan.building.rings[0]
    along = (ring[1] - ring[0]) / np.hypot(*(ring[1] - ring[0]))
    middle = np.array(plan.building.bounds).reshape(2, 2).mean(axis=0)
    if not plan.building.is_convex:  # where it is widest: not along a wall that turns inward
        inside = polylabel(shapely.Polygon(ring, plan.building.rings[1:]), _WIDEST)
        middle = np.array([inside.x, inside.y])
    # drawn as it is read on the map: from the left, or from below
    ways = [
        way if (way[0], way[1]) > (-_ON_LINE, 0.0) else -way for way in (along, along[::-1] * [-1.0, 1.0])
    ]
    return tuple(CutLine(letter, middle, way) for letter, way in zip("AB", ways, strict=True))


def section_at(plan: Plan, line: CutLine) -> Section:
    """Cut the ground, the finished ground and the foundation of a plan along a line."""
    layers = _layers(plan)
    assert layers is not None  # there is a line only where there are layers
    before, after = plan.surface, plan.finished
    spans = inside(layers.outline.rings, line.start, line.along)
    ground, finished = (cut_along(one, line.start, line.along) for one in (before, after))
    ends = _ends(ground, finished, spans)
    ground, finished = (cut_along(one, line.start, line.along, *ends) for one in (before, after))
    heights = ground.reshape(-1, 2)
    outside = [one for one in finished if not any(a < one[:, 0].mean() < b for a, b in spans)]
    land = [np.column_stack((one[:, 0], np.interp(one[:, 0], *heights.T))) for one in outside]
    under = [_under(heights, span, layers) for span in spans]
    deepest = min((tuple(part.bottom[part.bottom[:, 1].argmin()]) for part in under), key=lambda at: at[1])
    return Section(
        line=line,
        ends=ends,
        ground=as_lines(ground),
        finished=as_lines(finished),
        dug=(*areas_between(outside, land), *(area for part in under for area in part.dug)),
        filled=(*areas_between(land, outside), *(area for part in under for area in part.filled)),
        gravel=tuple(area for part in under for area in part.gravel),
        concrete=tuple(area for part in under for area in part.concrete),
        stone=_stone(plan, line, finished),
        spans=spans,
        walls=inside(plan.building.rings, line.start, line.along),
        floor=layers.level,
        deepest=(float(deepest[0]), float(deepest[1])),
        bottoms=tuple(_bottoms(plan, line, ends)),
    )


def _layers(plan: Plan) -> _Layers | None:
    """What is built, as far as it has layers."""
    found, pad = plan.foundations, plan.foundations.pad
    if found.chosen == "pad":
        spec = pad.spec
        return _Layers(
            pad.outline, pad.chosen.level, spec.strip, spec.gravel, (0.0, 0.0, 0.0), not spec.native_fill
        )
    if found.chosen == "slab" and found.slab is not None:
        own, made = found.slab.spec, found.slab
        edge = (own.thickness, max(own.edge_depth, own.thickness), own.edge_width)
        return _Layers(
            made.outline, made.level, own.strip, own.thickness + own.base, edge, own.fill == "gravel"
        )
    return None


def _ends(ground: Floats, finished: Floats, spans: Sequence[Span]) -> Span:
    """How far a section is drawn: past all that is shaped, as far as there is ground."""
    known = ground.reshape(-1, 2)
    off = np.abs(np.interp(finished[:, :, 0], known[:, 0], known[:, 1]) - finished[:, :, 1]) > DAYLIGHT
    shaped = finished[off.any(axis=1), :, 0]
    low = min(spans[0][0], float(shaped.min(initial=np.inf))) - BEYOND
    high = max(spans[-1][1], float(shaped.max(initial=-np.inf))) + BEYOND
    return max(low, float(known[0, 0])), min(high, float(known[-1, 0]))


def areas_between(low: Sequence[Floats], high: Sequence[Floats]) -> Iterator[Floats]:
    """The areas where stretches (2, 2) ``high`` stand above those under them, side by side ones as one."""
    upper: list[Floats] = []
    lower: list[Floats] = []
    for foot, top in zip(low, high, strict=True):
        above = float((top[:, 1] - foot[:, 1]).max()) > DAYLIGHT
        if upper and (not above or foot[0, 0] - upper[-1][0] > _ON_LINE):
            yield np.array([*lower, *reversed(upper)])
            upper, lower = [], []
        if above:
            lower += list(foot)
            upper += list(top)
    if upper:
        yield np.array([*lower, *reversed(upper)])


class _Under(NamedTuple):
    """What lies under one stretch of a pad or slab; ``bottom`` (k, 2) of the dig."""

    bottom: Floats
    dug: tuple[Floats, ...]
    filled: tuple[Floats, ...]
    gravel: tuple[Floats, ...]
    concrete: tuple[Floats, ...]


def _under(heights: Floats, span: Span, layers: _Layers) -> _Under:
    """Lay the foundation between two u: ground less strip, or lower where the layers reach deeper."""
    thick, deep, wide = layers.edge
    level, inner = layers.level, wide + deep - thick
    within = heights[(heights[:, 0] > span[0]) & (heights[:, 0] < span[1]), 0]
    bends = [span[0] + wide, span[0] + inner, span[1] - wide, span[1] - inner, sum(span) / 2]
    u = np.unique([*span, *within, *(at for at in bends if span[0] < at < span[1])])
    ground = np.interp(u, heights[:, 0], heights[:, 1])
    from_edge = np.minimum(u - span[0], span[1] - u)
    concrete = level - thick - np.clip(deep - thick - (from_edge - wide), 0.0, deep - thick)
    base = np.minimum(level - layers.gravel, concrete)
    u, ground, concrete, base = _with_crossings(u, ground - layers.strip, base, (ground, concrete, base))
    u, ground, concrete, base = _with_crossings(u, ground, np.full(len(u), level), (ground, concrete, base))
    bottom = np.minimum(ground - layers.strip, base)
    top = np.full(len(u), level)
    gravel_foot, filled = (bottom, base * 0.0 + np.nan) if layers.by_gravel else (base, base)
    return _Under(
        np.column_stack((u, bottom)),
        tuple(_between(u, ground, np.maximum(bottom, top))),
        tuple(_between(u, filled, bottom)),
        tuple(_between(u, concrete, gravel_foot)),
        tuple(_between(u, top, concrete)) if deep else (),
    )


def _with_crossings(u: Floats, one: Floats, other: Floats, lines: tuple[Floats, ...]) -> tuple[Floats, ...]:
    """u and lines over it (n,), with the places where two lines cross."""
    off = one - other
    at = np.flatnonzero(off[:-1] * off[1:] < 0.0)
    share = off[at] / (off[at] - off[at + 1])
    more = np.sort(np.concatenate((u, u[at] + share * (u[at + 1] - u[at]))))
    return more, *(np.interp(more, u, line) for line in lines)


def _between(u: Floats, upper: Floats, lower: Floats) -> Iterator[Floats]:
    """The areas between two lines over u (n,) where the upper one stands above the lower."""
    thick = np.nan_to_num(upper - lower, nan=0.0) > _ON_LINE
    used = thick[:-1] | thick[1:]
    edges = np.flatnonzero(np.diff(np.concatenate(([False], used, [False])).astype(int)))
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        part = slice(first, last + 1)
        top = np.column_stack((u[part], upper[part]))
        yield np.concatenate((np.column_stack((u[part], lower[part])), top[::-1]))


def _bottoms(plan: Plan, line: CutLine, ends: Span) -> Iterator[Bottom]:
    """Where the section crosses the lines of swales and drains."""
    for one in led(plan.measures):
        for bends in one.bends:
            arm = bends[:, :2] - line.start
            off, at = arm[:, 1] * line.along[0] - arm[:, 0] * line.along[1], arm @ line.along
            for (a, b), (u, v), (low, high) in zip(
                pairwise(off), pairwise(at), pairwise(bends[:, 2]), strict=True
            ):
                if (a >= 0.0) != (b >= 0.0):
                    share = a / (a - b)
                    where = float(u + share * (v - u))
                    if ends[0] <= where <= ends[1]:
                        yield Bottom(one.kind, where, float(low + share * (high - low)))


def _stone(plan: Plan, line: CutLine, finished: Floats) -> tuple[Floats, ...]:
    """The stone of pipe drains: from the bottom of the trench up to the finished ground."""
    areas: list[Floats] = []
    for one in led(plan.measures):
        if one.kind == "drain":
            floor = stretches(one.bottoms, line.start, line.along)
            top = finished.reshape(-1, 2)
            high = np.stack((floor[:, :, 0], np.interp(floor[:, :, 0], top[:, 0], top[:, 1])), axis=2)
            deep = (high - floor)[:, :, 1].min(axis=1) > DAYLIGHT  # the rest is the shaped ground itself
            areas += areas_between(list(floor[deep]), list(high[deep]))
    return tuple(areas)
