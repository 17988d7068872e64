"""Where water goes from anywhere on a surface: down each triangle's own slope, along the bottoms of valleys.

In a triangle all water runs one way. Over a side it runs on into a neighbour that falls away from there;
where the neighbour falls toward the side as well, or along it, it trickles along the side to its lower end.
From a place it takes the steepest way, along a side or down a triangle. Level ground hands it on over the
fewest sides to where it falls again, to a line that catches it only if it falls nowhere else; a hollow is
full and runs over at its spill point.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.triangulation import BEFORE, NEXT
from gradework.ground.water.flood import OUTSIDE, Flood, ends, flood
from gradework.ground.water.ground import WaterGround

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

LEAVES = -1
"""Water runs off the known ground; what is caught by a line goes by the number of the line, from 0."""

FILM = 1e-4
"""[m] Water that stands no deeper is none."""

RISE = 1e-4
"""[m] Water runs over a step no higher: as much may finished ground step where it meets the surveyed."""

ON = -9
"""A side over which water runs on, or that none leaves by."""


class Step(NamedTuple):
    """Where some ways are after one triangle: their numbers (m,), places (m, 2) and heights (m,); and where
    each ``ends`` (m,), a place or beyond, ``ON`` where it runs on."""

    number: Numbers
    at: Floats
    height: Floats
    ends: Numbers


class Flow:
    """The flow over one ``WaterGround``.

    Ends of ways are numbers of places; ``count`` of them is where water leaves, and what is caught by line k
    has ``count + 1 + k``.
    """

    def __init__(self, ground: WaterGround, lines: int = 0) -> None:
        """``lines``: how many the ground catches water at, at least those that have sides."""
        self.ground = ground
        self.count = len(ground.places)
        self.lines = max(lines, int(ground.caught.max(initial=-1)) + 1)

    @cached_property
    def flood(self) -> Flood:
        """The hollows, and how each runs over."""
        ground = self.ground
        lips = ground.lips
        unused = np.ones(self.count, dtype=bool)
        unused[ground.triangles] = False
        lips[unused] = ground.heights[unused]
        way = ground.places[ground.pairs[:, 0]] - ground.places[ground.pairs[:, 1]]
        lengths = np.maximum(np.hypot(*way.T), 1e-12)
        caught = np.zeros(self.count, dtype=bool)
        row, k = np.nonzero(ground.caught >= 0)
        caught[ground.triangles[row, k]] = caught[ground.triangles[row, NEXT[k]]] = True
        return flood(ground.heights, ground.pairs, lengths, lips, caught)

    @cached_property
    def _turn(self) -> Numbers:
        """How early each place was flooded (p,)."""
        return self.flood.rank[self.flood.bottom]

    @cached_property
    def outlets(self) -> Numbers:
        """The corner at which water leaves each triangle that is level (t,): the lowest, flooded first."""
        corner = self.ground.triangles
        first = np.lexsort((self._turn[corner], self.ground.heights[corner]), axis=1)[:, 0]
        return np.take_along_axis(corner, first[:, None], axis=1)[:, 0]

    @cached_property
    def through(self) -> NDArray[np.bool_]:
        """Over which sides water leaves a triangle and runs on in the next (t, 3)."""
        ground, beside = self.ground, self.ground.neighbours
        taken = ground.leaving[beside, ground.mates] < 0.0
        onward: NDArray[np.bool_] = (ground.leaving > 0.0) & (beside >= 0) & taken & (ground.caught < 0)
        return onward

    @cached_property
    def exits(self) -> Numbers:
        """Where water goes that leaves a triangle over a side (t, 3) and does not run on in the next."""
        ground, beside = self.ground, self.ground.neighbours
        one, two = ground.triangles, ground.triangles[:, NEXT]
        low, high = ground.heights[one], ground.heights[two]
        sooner = (low < high) | ((low == high) & (self._turn[one] <= self._turn[two]))
        exits = np.where(sooner, one, two)
        level = (beside >= 0) & (ground.down[beside] == 0.0).all(axis=2)
        # up a step, onto a pad, it does not run
        level &= ground.heights[self.outlets[beside]] <= np.minimum(low, high) + RISE
        exits = np.where(level, self.outlets[beside], exits)
        exits = np.where((beside < 0) & ~ground.walled, self.count, exits)
        exits = np.where(ground.caught >= 0, self.count + 1 + ground.caught, exits)
        return np.where(self.through | (ground.leaving <= 0.0), ON, exits)

    @cached_property
    def steepest(self) -> tuple[Numbers, Numbers]:
        """The steepest way from each place: the place it leads to along a side, or -1; and the half edge
        (triangle * 3 + corner) down whose triangle it leads, or -1. Neither at a bottom."""
        ground, below = self.ground, self.flood.below
        own = np.arange(self.count)
        way = ground.places[below] - ground.places
        fall = (ground.heights - ground.heights[below]) / np.maximum(np.hypot(*way.T), 1e-12)
        best = np.where(below == own, 0.0, fall)
        # a triangle falls away from a corner between the two sides there where water comes in over both
        inward = ground.leaving < 0.0
        row, k = np.nonzero(inward & inward[:, BEFORE])
        steep = np.hypot(*ground.down[row].T)
        place = ground.triangles[row, k]
        top = best.copy()
        np.maximum.at(top, place, steep)
        half = np.full(self.count, -1)
        taken = (steep == top[place]) & (steep > best[place])
        half[place[taken]] = row[taken] * 3 + k[taken]
        return np.where((half < 0) & (below != own), below, -1), half

    @cached_property
    def gone(self) -> Numbers:
        """How water is gone that comes to each place (p,): beyond, as ends are; ``ON`` where it goes on."""
        ground, flooded = self.ground, self.flood
        gone = np.full(self.count, ON)
        # where the known ground ends at a lowest place, water leaves
        out = (flooded.onto == OUTSIDE) & (flooded.full <= ground.heights[flooded.lowest])
        gone[flooded.lowest[out]] = self.count
        row, k = np.nonzero(ground.caught >= 0)
        for place in (ground.triangles[row, k], ground.triangles[row, NEXT[k]]):
            gone[place] = self.count + 1 + ground.caught[row, k]
        return gone

    @cached_property
    def arrivals(self) -> Numbers:
        """Where water at each place comes to next (p + 1 + lines,), itself at the end of its way."""
        ground = self.ground
        along, half = self.steepest
        onward = np.arange(self.count + 1 + self.lines)
        onward[: self.count] = np.where(along >= 0, along, onward[: self.count])
        start = np.flatnonzero(half >= 0)
        triangle = half[start] // 3
        onward[start] = self.follow(triangle, ground.places[start], ground.heights[start])
        onward[: self.count] = np.where(self.gone == ON, onward[: self.count], self.gone)
        return onward

    @cached_property
    def fates(self) -> Numbers:
        """What becomes of water at each place in the end (p,): ``LEAVES``, or the line that catches it."""
        last = ends(self.arrivals)
        pools = self._pools(last)
        places = last[: self.count]
        known = np.where(places >= self.count, places - self.count - 1, LEAVES)
        standing = places < self.count
        known[standing] = pools[self.flood.pond[self.flood.bottom[places[standing]]]]
        return known

    def after(self, pond: int) -> int:
        """The place to which a full hollow, by its bottom, hands on what runs over; ``OUTSIDE`` beyond."""
        flooded = self.flood
        over = int(flooded.over[pond])
        if over == OUTSIDE or over != flooded.spill[pond]:
            return over
        return int(flooded.below[over])

    def _pools(self, last: Numbers) -> Numbers:
        """The fate of what stands at each bottom (b,), known for the first of each pond."""
        flooded = self.flood
        fates = np.full(len(flooded.lowest), LEAVES)
        for pond in np.argsort(flooded.rank, kind="stable").tolist():
            if flooded.pond[pond] != pond:
                continue
            place = self.after(pond)
            end = int(last[flooded.spill[pond] if place == OUTSIDE else place])
            if end >= self.count:
                fates[pond] = end - self.count - 1
            elif place != OUTSIDE:
                other = int(flooded.pond[flooded.bottom[end]])
                sooner = flooded.rank[other] < flooded.rank[pond]  # else it would run in a circle
                fates[pond] = fates[other if sooner else flooded.pond[flooded.onto[pond]]]
        return fates

    def follow(self, triangle: Numbers, at: Floats, height: Floats) -> Numbers:
        """Where water comes to (m,) from points ``at`` (m, 2) in triangles, over as many as it takes."""
        found = np.full(len(triangle), ON)
        for step in self.steps(triangle, at, height):
            found[step.number] = step.ends
        return found

    def steps(self, triangle: Numbers, at: Floats, height: Floats) -> Iterator[Step]:
        """Follow water triangle by triangle, all ways at once.

        Raises CheckError where water would run uphill, or in a circle.
        """
        ground, number = self.ground, np.arange(len(triangle))
        level = (ground.down[triangle] == 0.0).all(axis=1)
        yield Step(number[level], at[level], height[level], self.outlets[triangle[level]])
        number, at, height, triangle = number[~level], at[~level], height[~level], triangle[~level]
        for _ in range(1000 + 8 * len(ground.triangles)):
            if not len(number):
                return
            k, share = self._out(triangle, at)
            side = ground.sides[triangle, k]
            at = ground.places[ground.triangles[triangle, k]] + share[:, None] * side
            one, two = (ground.heights[ground.triangles[triangle, c]] for c in (k, NEXT[k]))
            before, height = height, one + share * (two - one)
            if (height > before + RISE).any():
                raise CheckError(f"water would run {float((height - before).max())!r} m uphill")
            end = self.exits[triangle, k]
            yield Step(number, at, height, end)
            on = end == ON
            triangle = ground.neighbours[triangle[on], k[on]]
            number, at, height = number[on], at[on], height[on]
        raise CheckError("water would run in a circle")

    def _out(self, triangle: Numbers, at: Floats) -> tuple[Any, Floats]:
        """The side (m,) by which water at points of triangles leaves them, and where on it, 0 to 1."""
        ground = self.ground
        leaving, down = ground.leaving[triangle], ground.down[triangle][:, None]
        arm = at[:, None] - ground.places[ground.triangles[triangle]]
        out = leaving > 0.0
        share = (arm[..., 1] * down[..., 0] - arm[..., 0] * down[..., 1]) / np.where(out, leaving, 1.0)
        beyond = np.where(out, np.maximum(np.maximum(-share, share - 1.0), 0.0), np.inf)
        k = beyond.argmin(axis=1)
        return k, np.clip(share[np.arange(len(k)), k], 0.0, 1.0)
