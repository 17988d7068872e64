"""An apron: soil heaped against a raised pad that falls away from it until it meets the rising ground.

Where they meet runs a shallow swale that takes the water past the pad to where it comes out. In planes it is
a swale whose bench begins above the ground beside the pad: it is filled, not dug, and the bottom need not go
deep. It is heaped no higher than an inch below the pad, nor than it takes to keep the bottom shallow: what of
the edge stands above that is left showing.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.grading.route import Edges, Toe
from gradework.earthwork.grading.sides import sides_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gradework.earthwork.grading.route import SwaleSpec
    from gradework.earthwork.grading.sides import Side
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Stretch = tuple[int, float, float]

LEAST_RAISED = 0.0254
"""[m] Soil heaped less high than this is no apron: 1 in, judgement."""

SHOWN = 0.0254
"""[m] Soil stays so far below the top of the pad, not to wash onto the gravel: 1 in, judgement."""

INTO = 0.0762
"""[m] The bottom lies 3 in or more in the rising ground (judgement: swales are 6 to 12 in deep in all, common
practice, and here part of the depth is heaped up, not dug)."""

PUDDLE = 0.0254
"""[m] Ground that rises from the edge by less holds a puddle there, it drains nothing toward the pad, nor
toward a side of it that stands above the ground: 1 in, judgement."""


class Heap(NamedTuple):
    """Soil against a pad: up to ``start`` [m], ``raised`` above the ground there [m], and what its swale has
    to keep."""

    start: float
    raised: float
    spec: SwaleSpec


def apron_heap(
    surface: Surface, ring: Floats, level: float, uphill: Sequence[int], spec: SwaleSpec
) -> Heap | None:
    """How high soil is heaped against a pad (k, 2), local, on its ``uphill`` sides, by number.

    None where the pad is not raised above the ground beside them, or where no ground rises before them to
    where the rule ends.
    """
    edges, sides = Edges.of(surface), sides_of(ring)
    rising = tuple(_rising(edges, sides, uphill, spec.reach - spec.margin))
    if not rising:
        return None
    spec = replace(spec, toe=Toe(INTO, rising))
    beside = max(highest_beside(edges, ring, (side, side)) for side in uphill)
    start = min(level - max(SHOWN, spec.shown), _heaped(edges, sides, spec))
    return Heap(start, start - beside, spec) if start - beside >= LEAST_RAISED else None


def _rising(edges: Edges, sides: Sequence[Side], uphill: Sequence[int], out: float) -> Iterator[Stretch]:
    """Where ground ``out`` from an uphill side stands above that at its edge: its number, and from where to
    where along it. The water must be led past there."""
    for number in uphill:
        side = sides[number % len(sides)]
        near, far = (edges.profile(side.point(0.0, t), side.point(side.length, t)) for t in (0.0, out))
        if not len(near[0]) or not len(far[0]):
            continue
        at = np.unique(np.concatenate((near[0], far[0])))
        over = np.interp(at, *far) - np.interp(at, *near) - PUDDLE
        high = np.flatnonzero(over > 0.0)
        if len(high):
            first, last = int(high[0]), int(high[-1])
            ends = (_level(at, over, first, first - 1), _level(at, over, last, last + 1))
            yield number % len(sides), *ends


def _level(at: Floats, over: Floats, inside: int, outside: int) -> float:
    """Where along a line what is above zero comes to it, between two neighbouring bends."""
    if not 0 <= outside < len(at):
        return float(at[inside])
    part = over[inside] / (over[inside] - over[outside])
    return float(at[inside] + part * (at[outside] - at[inside]))


def _ground(edges: Edges, sides: Sequence[Side], spec: SwaleSpec) -> Iterator[tuple[Floats, Floats]]:
    """Distances and ground along each rising stretch, about where the bottom will run: farther out, where it
    falls longer on the way past them."""
    rising = () if spec.toe is None else spec.toe.stretches
    offset = spec.least + spec.side * spec.near * sum(last - first for _, first, last in rising)
    for number, first, last in rising:
        side = sides[number]
        yield edges.profile(side.point(first, offset), side.point(last, offset))


def _heaped(edges: Edges, sides: Sequence[Side], spec: SwaleSpec) -> float:
    """How high the bench must begin for its bottom to lie ``INTO`` the highest ground along it [m]."""
    highest = [float(heights.max()) for _, heights in _ground(edges, sides, spec) if len(heights)]
    return max(highest, default=-math.inf) - INTO + spec.depth


def highest_beside(edges: Edges, ring: Floats, needed: tuple[int, int]) -> float:
    """The highest ground along the edge of the pad on the sides that need it [m]; inf where there is none, on
    a side that lies a hair outside the survey."""
    ends = [(ring[k % len(ring)], ring[(k + 1) % len(ring)]) for k in range(needed[0], needed[1] + 1)]
    heights = np.concatenate([edges.profile(start, end)[1] for start, end in ends])
    return float(heights.max(initial=-np.inf)) if len(heights) else np.inf
