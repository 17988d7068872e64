"""The way of single drops: exact polylines down the surface, from where each starts to where it is gone."""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.locate import weights
from gradework.ground.water.flood import OUTSIDE
from gradework.ground.water.flow import FILM, ON, RISE, Flow
from gradework.ground.water.ground import ON_LINE

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

End = Literal["off the survey", "caught", "off the ground"]


class Way(NamedTuple):
    """The way of one drop, local [m].

    ``legs`` (n, 3): places and elevations, each going down; a new one begins where a hollow, full, runs over.
    ``ponds``: those hollows by their bottoms; ``end``: how it is gone, ``line`` the number of the line that
    caught it, -1 where none did. No legs for a start "off the ground".
    """

    legs: tuple[Floats, ...]
    ponds: tuple[int, ...]
    end: End
    line: int


def ways(flow: Flow, starts: Floats) -> tuple[Way, ...]:
    """Follow water from ``starts`` (m, 2) [m], local.

    Raises CheckError where it would run uphill, or in a circle.
    """
    triangle = located(flow, starts)
    known = np.flatnonzero(triangle >= 0)
    walkers = [_Walker(flow) for _ in range(len(starts))]
    at = starts[known]
    height = _heights(flow, triangle[known], at)
    corner = _corner(flow, triangle[known], at)
    for number, place, z, here in zip(known.tolist(), at, height.tolist(), corner.tolist(), strict=True):
        walkers[number].add(place, z)
        walkers[number].place = here
    first = corner < 0  # at a corner the steepest way need not lead down the triangle that was found
    _in_triangles(flow, walkers, known[first], (triangle[known[first]], at[first], height[first]))
    going = known
    for _ in range(flow.count + 1000):
        going = going[[walkers[number].walk() for number in going.tolist()]]
        if not len(going):
            break
        half = np.array([walkers[number].half for number in going.tolist()], dtype=np.int64)
        triangle[going] = half // 3
        corner = flow.ground.triangles[half // 3, half % 3]
        at, height = flow.ground.places[corner], flow.ground.heights[corner]
        _in_triangles(flow, walkers, going, (triangle[going], at, height))
    else:
        raise CheckError("water would run in a circle")
    return tuple(one.way() for one in walkers)


def _in_triangles(
    flow: Flow, walkers: list[_Walker], going: Numbers, start: tuple[Numbers, Floats, Floats]
) -> None:
    """Let walkers go on across triangles to a place, a line or the edge."""
    for step in flow.steps(*start):
        for k, place, z, end in zip(
            step.number.tolist(), step.at, step.height.tolist(), step.ends.tolist(), strict=True
        ):
            one = walkers[int(going[k])]
            one.add(place, z)
            if end != ON:
                one.place = end


def located(flow: Flow, points: Floats) -> Numbers:
    """The triangle (m,) that holds each of ``points`` (m, 2), -1 where none does."""
    ground = flow.ground
    start, sides = ground.places[ground.triangles], ground.sides
    length = np.maximum(np.hypot(sides[..., 0], sides[..., 1]), ON_LINE)
    found = np.full(len(points), -1)
    for number, point in enumerate(points):
        arm = point - start
        deep = ((sides[..., 0] * arm[..., 1] - sides[..., 1] * arm[..., 0]) / length).min(axis=1)
        deep[ground.areas <= 0.0] = -np.inf
        if deep.max(initial=-np.inf) >= -ON_LINE:
            found[number] = int(deep.argmax())
    return found


def _corner(flow: Flow, triangle: Numbers, at: Floats) -> Numbers:
    """The corner of its triangle at which each point (m, 2) lies, -1 where at none."""
    corner = flow.ground.triangles[triangle]
    off = np.hypot(*(flow.ground.places[corner] - at[:, None]).T).T
    nearest = off.argmin(axis=1)[:, None]
    near = np.take_along_axis(off, nearest, axis=1)[:, 0] <= ON_LINE
    return np.where(near, np.take_along_axis(corner, nearest, axis=1)[:, 0], -1)


def _heights(flow: Flow, triangle: Numbers, at: Floats) -> Floats:
    """How high points (m, 2) in triangles lie (m,) [m]."""
    corner = flow.ground.triangles[triangle]
    share, _ = weights(flow.ground.places, corner, at)
    heights: Floats = (share * flow.ground.heights[corner]).sum(axis=1)
    return heights


class _Walker:
    """One drop on its way; ``place``: where it is; ``half``: the corner down whose triangle it goes on."""

    def __init__(self, flow: Flow) -> None:
        self.flow, self.place, self.half = flow, -1, -1
        self.legs: list[list[tuple[float, float, float]]] = [[]]
        self.ponds: list[int] = []

    def add(self, place: Floats, height: float) -> None:
        x, y = place.tolist()
        leg = self.legs[-1]
        if leg and height > leg[-1][2] + RISE:
            raise CheckError(f"water would run {height - leg[-1][2]!r} m uphill")
        if not leg or (x, y) != leg[-1][:2]:
            self.legs[-1].append((x, y, height))

    def walk(self) -> bool:
        """Go on from place to place; say whether it then goes down a triangle."""
        flow = self.flow
        along, half = flow.steepest
        for _ in range(2 * flow.count + 1000):
            if self.place >= flow.count:
                return False
            self._here()
            if flow.gone[self.place] != ON:
                self.place = int(flow.gone[self.place])
            elif half[self.place] >= 0:
                self.half = int(half[self.place])
                return True
            elif along[self.place] >= 0:
                self.place = int(along[self.place])
            else:
                self._over()
        raise CheckError("water would run in a circle")

    def _here(self) -> None:
        self.add(self.flow.ground.places[self.place], float(self.flow.ground.heights[self.place]))

    def _over(self) -> None:
        """Let the hollow at whose bottom it is run over."""
        flow, flooded = self.flow, self.flow.flood
        pond = int(flooded.pond[flooded.bottom[self.place]])
        if flooded.rank[pond] >= min((int(flooded.rank[one]) for one in self.ponds), default=flow.count + 1):
            # what ran over came back on equal heights: take it to where the flood came from
            pond = min(self.ponds, key=lambda one: int(flooded.rank[one]))
            self.place = int(flooded.lowest[flooded.onto[pond]]) if flooded.onto[pond] >= 0 else flow.count
            self.legs.append([])  # it goes across the pond, not over the ground
            return
        spill, onward = int(flooded.spill[pond]), flow.after(pond)
        self.ponds.append(pond)
        pairs = flow.ground.pairs
        beside = spill == self.place or spill in pairs[(pairs == self.place).any(axis=1)]
        if not beside or flooded.full[pond] - flow.ground.heights[self.place] > FILM:
            self.legs.append([])
        self.place = spill
        self._here()
        self.place = flow.count if onward == OUTSIDE else onward
        if onward == OUTSIDE and flow.arrivals[spill] >= flow.count:
            self.place = int(flow.arrivals[spill])

    def way(self) -> Way:
        """All of it."""
        legs = tuple(np.array(leg) for leg in self.legs if leg)
        if not legs:
            return Way((), (), "off the ground", -1)
        line = self.place - self.flow.count - 1
        full = [one for one in self.ponds if self._deep(one)]
        return Way(legs, tuple(full), "off the survey" if line < 0 else "caught", line)

    def _deep(self, pond: int) -> bool:
        flooded = self.flow.flood
        bottoms = self.flow.ground.heights[flooded.lowest[flooded.pond == pond]]
        return float(flooded.full[pond] - bottoms.min()) > FILM
