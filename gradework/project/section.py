"""The section through a building: ground before and after, and what it stands on, along one straight line.

The line runs the way of the building that falls most, through a row of piers where there are any. Distances
are counted along it [m], heights are elevations [m].
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.foundations.piers.layout import building_frame
from gradework.foundations.piers.stacks import course_plan
from gradework.ground.profile import cut_along, inside

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Pier
    from gradework.foundations.slab.design import Slab
    from gradework.ground.surface import Surface
    from gradework.project.plan import Plan

Floats = NDArray[np.float64]
Stuff = Literal["gravel", "concrete", "block", "bed", "wood"]

BEYOND = 2.4
"""[m] So much ground is shown before and behind what is built, 8 ft, as far as it was surveyed."""

_ACROSS = (0.5, 0.25, 0.75, 0.1, 0.9)
"""Where across the building the line may run: in the middle, else where it stays inside longest."""

_STEP = 1e-6
"""[m] Heights at one place are told this far apart, so that those along the line only grow."""

_SAME = 1e-9
"""[m] Where two stretches meet and differ by no more, there is no step."""

_IN_LINE = 0.05
"""[m] A pier this close to the line stands in it."""


class Part(NamedTuple):
    """Something that is built, as it is cut: its corners (k, 2), distance and elevation [m]."""

    stuff: Stuff
    corners: Floats


@dataclass(frozen=True, eq=False)
class Section:
    """What is seen along the line from ``start`` in the direction ``along``, local to the survey.

    ``ground`` and ``finished`` (n, 2): distance and elevation; ``parts`` from the lowest up; ``floor``: the
    finished floor, ``walls``: from where to where the building stands over it [m].
    """

    start: tuple[float, float]
    along: tuple[float, float]
    ground: Floats
    finished: Floats
    parts: tuple[Part, ...]
    floor: float
    walls: tuple[tuple[float, float], ...]

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Least distance and elevation, then the greatest, of ground and parts [m]."""
        all_of = np.concatenate([self.ground, self.finished, *(part.corners for part in self.parts)])
        low, high = all_of.min(axis=0), all_of.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), max(float(high[1]), self.floor)


def section_of(plan: Plan) -> Section | None:
    """Cut a plan along the line that shows most; None where nothing is planned that could be cut."""
    found, building = plan.foundations, plan.building
    built = found.built.get(found.chosen)
    if built is None or not len(building.rings[0]):
        return None
    origin = plan.surface.origin
    floor = _floor(plan)
    if floor is None:
        return None
    outline = _outline(plan)
    start, along = _line(plan, outline)
    walls, spans = (inside(one.rings, start + origin, along) for one in (building, outline))
    if not walls or not spans:
        return None
    low, high = spans[0][0] - BEYOND, spans[-1][1] + BEYOND
    ground = _profile(plan.surface, start, along, low, high)
    finished = _profile(plan.finished, start, along, low, high)
    if len(ground) < 2:
        return None
    parts = (*_parts(plan, start, along, ground, spans), *_frame(plan, floor, walls))
    whole = Section(
        (float(start[0]), float(start[1])), (float(along[0]), float(along[1])),
        ground, finished, parts, floor, walls,
    )  # fmt: skip
    _check(whole)
    return whole


def _check(section: Section) -> None:
    """Raise CheckError where a part hangs above the finished ground that it should reach down to."""
    at, height = section.ground.T
    for part in section.parts:
        lowest = part.corners[part.corners[:, 1].argmin()]
        if part.stuff in ("gravel", "bed") and lowest[1] > np.interp(lowest[0], at, height) + 1e-6:
            raise CheckError(f"in the section the {part.stuff} hangs above the ground")


def _floor(plan: Plan) -> float | None:
    """The finished floor [m] of the foundation that is chosen."""
    return next(
        (one.floor for one in plan.foundations.judged if one.foundation == plan.foundations.chosen), None
    )


def _outline(plan: Plan) -> Outline:
    found = plan.foundations
    if found.chosen == "slab" and found.slab is not None:
        return found.slab.outline
    return plan.building if found.chosen == "piers" else found.pad.outline


def _line(plan: Plan, outline: Outline) -> tuple[Floats, Floats]:
    """A place before the building, local, and the direction through it downhill."""
    ring = plan.building.rings[0] - plan.surface.origin
    first = building_frame(plan.building).along
    ways = np.array([first, (-first[1], first[0])])
    fall = -np.array([plan.footprint.mean.east, plan.footprint.mean.north])
    way = ways[int(np.abs(ways @ fall).argmax())]
    along = way if way @ fall >= 0.0 else -way
    across = np.array([-along[1], along[0]])
    off = ring @ across
    low, high = float(off.min()), float(off.max())
    places = [low + part * (high - low) for part in _ACROSS]
    piers = plan.foundations.piers
    if plan.foundations.chosen == "piers" and piers is not None and piers.piers:
        rows = np.array([(one.x, one.y) for one in piers.piers]) - plan.surface.origin
        kept, count = np.unique(np.rint((rows @ across) / _IN_LINE), return_counts=True)
        # the row with the most piers, of equals the one nearest the middle
        order = np.lexsort((np.abs(kept * _IN_LINE - 0.5 * (low + high)), -count))
        places = [float((rows @ across)[np.rint((rows @ across) / _IN_LINE) == kept[order[0]]].mean())]
        # a row that stands in the line of a wall is cut just inside it
        places = [min(max(places[0], low + 0.1 * _IN_LINE), high - 0.1 * _IN_LINE)]
    begin = float((ring @ along).min())
    starts = [across * place + along * begin for place in places]
    within = [sum(b - a for a, b in inside(outline.rings, s + plan.surface.origin, along)) for s in starts]
    # the first unless another stays inside longer by a hand
    best = max(range(len(starts)), key=lambda k: (round(within[k], 1), -k))
    return starts[best], along


def _profile(surface: Surface, start: Floats, along: Floats, low: float, high: float) -> Floats:
    """Ground (n, 2) along the line from ``low`` to ``high`` [m], as far as there is any.

    At the edge of a pad the ground steps: that has two heights, told in the order in which they are come to.
    """
    found = cut_along(surface, start + surface.origin, along, low, high).reshape(-1, 2)
    if not len(found):
        return found
    away, rise = np.abs(np.diff(found, axis=0)).T
    rows = found[np.concatenate(([True], (away > 0.5 * _STEP) | (rise > _SAME)))]
    rows[1:, 0] += _STEP * (np.diff(rows[:, 0]) <= 0.5 * _STEP)
    return rows


# What is built, as it is cut.


def _parts(
    plan: Plan, start: Floats, along: Floats, ground: Floats, spans: Sequence[tuple[float, float]]
) -> Iterator[Part]:
    found = plan.foundations
    if found.chosen == "piers" and found.piers is not None:
        yield from pier_parts(plan, found.piers.piers, start, along)
    elif found.chosen == "slab" and found.slab is not None:
        for span in spans:
            yield from _slab(found.slab, span, ground)
    elif found.chosen == "pad":
        for span in spans:
            yield _pad(found.pad, span, ground)


def pier_parts(plan: Plan, piers: Sequence[Pier], start: Floats, along: Floats) -> Iterator[Part]:
    """Bed and blocks of those ``piers`` that stand in the line: the plan's own, or others in their places."""
    own = plan.foundations.piers
    crosswise = own is not None and abs(float(along @ own.carried.frame.along)) < 0.5
    for pier in piers:
        yield from _pier(pier, plan.surface.origin, start, along, crosswise)


def _pad(pad: Pad, span: tuple[float, float], ground: Floats) -> Part:
    """The gravel: from its level down to where the ground is stripped, at the least as deep as it must be."""
    spec, level = pad.spec, pad.chosen.level
    return Part("gravel", _filled(span, ground, level, level - spec.gravel, spec.strip))


def _slab(slab: Slab, span: tuple[float, float], ground: Floats) -> Iterator[Part]:
    spec, level = slab.spec, slab.level
    under = level - spec.thickness
    yield Part("gravel", _filled(span, ground, under, under - spec.base, spec.strip))
    first, last = span
    deep, wide = level - max(spec.edge_depth, spec.thickness), spec.edge_width
    slope = under - deep  # the inner face stands at 45 degrees
    corners = [
        (first, level), (first, deep), (first + wide, deep), (first + wide + slope, under),
        (last - wide - slope, under), (last - wide, deep), (last, deep), (last, level),
    ]  # fmt: skip
    yield Part("concrete", np.array(corners))


def _filled(span: tuple[float, float], ground: Floats, top: float, most: float, strip: float) -> Floats:
    """What lies between ``top`` and the lower of ``most`` and the stripped ground, along a span."""
    at, bottom = ground[:, 0], ground[:, 1] - strip
    inner = at[(at > span[0]) & (at < span[1])]
    under = np.concatenate(([span[0]], inner, [span[1]]))
    height = np.interp(under, at, bottom) - most
    turns = [
        a + (b - a) * p / (p - q)
        for (a, b), (p, q) in zip(pairwise(under.tolist()), pairwise(height.tolist()), strict=True)
        if p * q < 0.0
    ]
    under = np.union1d(under, turns)
    low = np.minimum(np.interp(under, at, bottom), most)
    return np.concatenate(([(span[0], top)], np.column_stack((under, low)), [(span[1], top)]))


def _pier(pier: Pier, origin: Floats, start: Floats, along: Floats, crosswise: bool) -> Iterator[Part]:
    """Bed and blocks of a pier that stands in the line; ``crosswise``: the skids run across it."""
    arm = np.array([pier.x, pier.y]) - origin - start
    at, off = float(arm @ along), float(arm @ (-along[1], along[0]))
    if abs(off) > _IN_LINE:
        return
    hole = pier.hole.rings[0] - origin - start
    half = 0.5 * float(np.ptp(hole @ along))
    yield Part("bed", _box(at, half, pier.bottom, pier.bottom + pier.bed))
    low = pier.bottom + pier.bed
    for unit in pier.laid:
        wide = course_plan(unit, pier.across)[crosswise]
        yield Part("block", _box(at, 0.5 * wide, low, low + unit.thickness))
        low += unit.thickness


def _frame(plan: Plan, floor: float, walls: Sequence[tuple[float, float]]) -> Iterator[Part]:
    """What lies between the top of pad or piers and the finished floor: skids, joists and boards."""
    level = plan.judged.level if plan.judged is not None else None
    if level is None or floor <= level:
        return
    for first, last in walls:
        yield Part("wood", _box(0.5 * (first + last), 0.5 * (last - first), level, floor))


def _box(at: float, half: float, low: float, high: float) -> Floats:
    return np.array([(at - half, low), (at + half, low), (at + half, high), (at - half, high)])
