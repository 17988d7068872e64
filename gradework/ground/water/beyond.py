"""The ground beyond the survey, known from the air: triangles from its edge outward, for water only.

They join the edge exactly, whatever was cut into it, so that water runs over it as over any other side.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.ground.cut_ground import GRID, constrained
from gradework.ground.triangulation import NEXT
from gradework.ground.water.ground import WaterGround

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

LONGEST = 25.0
"""[m] No triangle reaches farther: under a house or a pond nothing is seen from the air, beyond that the
ground is not known (judgement)."""


@dataclass(frozen=True, eq=False)
class Beyond:
    """Ground beyond one survey.

    ``points`` (n, 3) [m], local to the survey's origin, on its datum, each in a place of its own well off the
    survey; ``sd`` [m]: how far each may be off.
    """

    points: Floats
    sd: float

    def drawn(self, count: int) -> Iterator[Beyond]:
        """So many grounds that it may be as well: each point off by itself, which turns water the most."""
        for number in range(count):
            off = np.random.default_rng(number).normal(0.0, self.sd, len(self.points))
            yield replace(self, points=self.points + np.column_stack((np.zeros((len(off), 2)), off)))

    def joined(self, ground: WaterGround) -> WaterGround:
        """A ground as far as the survey reaches, nothing of it left out, with what lies beyond: its own
        triangles first, in their order. Nothing is caught yet."""
        row, side = np.nonzero(ground.neighbours < 0)
        rim = _Rim.of(ground, row, side)
        steps = np.concatenate((rim.steps, np.rint(self.points[:, :2] / GRID).astype(np.int64)))
        mesh = constrained(steps, np.concatenate((rim.ends, _hull(steps))))
        heights = np.concatenate((ground.heights[rim.vertices], self.points[:, 2]))
        places = np.concatenate((ground.places[rim.vertices], self.points[:, :2]))
        triangles, beside = _kept(places, rim.ends, mesh.triangles.astype(np.int64), mesh.neighbours)
        # which side of which of these lies on the rim, told the other way round
        outer, k = np.nonzero(beside < 0)
        keys = _directed(*rim.ends.T)
        order = np.argsort(keys)
        wanted = _directed(triangles[outer, NEXT[k]], triangles[outer, k])
        at = order[np.minimum(np.searchsorted(keys, wanted, sorter=order), len(keys) - 1)]
        on = keys[at] == wanted
        outer, k, at = outer[on], k[on], at[on]
        count, first = len(ground.triangles), len(ground.places)
        number = np.concatenate((rim.vertices, first + np.arange(len(self.points))))
        own, beyond = ground.neighbours.copy(), np.where(beside >= 0, beside + count, -1)
        own[row[at], side[at]] = outer + count
        beyond[outer, k] = row[at]
        return WaterGround(
            np.concatenate((ground.places, self.points[:, :2])),
            np.concatenate((ground.heights, self.points[:, 2])),
            np.concatenate((ground.triangles, number[triangles])),
            np.concatenate((own, beyond)),
            np.concatenate((-ground.down, _gradients(places, heights, triangles))),
        )


class _Rim(NamedTuple):
    """The edge of a ground: its places (p, 2) in ``steps`` of the grid, each with the vertex (p,) there, the
    lower where the ground steps; and its sides by the numbers of places (r, 2), the ground to their left."""

    steps: Numbers
    vertices: Numbers
    ends: Numbers

    @classmethod
    def of(cls, ground: WaterGround, row: Numbers, side: Numbers) -> _Rim:
        """That of the sides of triangles (r,) beyond which there is nothing."""
        ends = np.stack((ground.triangles[row, side], ground.triangles[row, NEXT[side]]), axis=1)
        used = np.unique(ends)
        used = used[np.argsort(ground.heights[used], kind="stable")]
        steps = np.rint(ground.places[used] / GRID).astype(np.int64)
        steps, first, which = np.unique(steps, axis=0, return_index=True, return_inverse=True)
        number = np.zeros(len(ground.places), dtype=np.int64)
        number[used] = which.reshape(-1)
        return cls(steps, used[first], number[ends])


def _directed(start: Numbers, end: Numbers) -> Numbers:
    """One number for each side from one place to another, another for the way back."""
    keys: Numbers = (start << 32) | end
    return keys


def _hull(steps: Numbers) -> Numbers:
    """The sides (h, 2) of the convex hull of places (p, 2), by their numbers."""
    ring = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(steps.astype(np.float64))))
    number = {place: k for k, place in enumerate(map(tuple, steps.tolist()))}
    corners = np.array([number[int(x), int(y)] for x, y in ring.tolist()])
    return np.stack((corners[:-1], corners[1:]), axis=1)


def _kept(
    places: Floats, ends: Numbers, triangles: Numbers, beside: NDArray[np.integer[Any]]
) -> tuple[Numbers, Numbers]:
    """Those triangles that lie beyond the rim and reach not too far, and what lies beside each side of them:
    -1 where that is none of them."""
    start, end = triangles, triangles[:, NEXT]
    rim = _directed(*ends.T)
    inward, outward = (np.isin(_directed(*pair), rim) for pair in ((start, end), (end, start)))
    crossed = inward | outward
    within: NDArray[np.bool_] = np.asarray(inward.any(axis=1))
    front = np.flatnonzero(within)
    while len(front):  # all that is reached from inside without crossing the rim
        onward = np.unique(beside[front][~crossed[front]])
        front = onward[(onward >= 0) & ~within[np.maximum(onward, 0)]]
        within[front] = True
    side = places[end] - places[start]
    kept = ~within & (np.hypot(side[..., 0], side[..., 1]) <= LONGEST).all(axis=1)
    number = np.where(kept, np.cumsum(kept) - 1, -1)
    nearby = np.where((beside >= 0) & ~crossed, number[np.maximum(beside, 0)], -1)
    return triangles[kept], nearby[kept]


def _gradients(places: Floats, heights: Floats, triangles: Numbers) -> Floats:
    """Rise per metre along x and y of each triangle (t, 2); NaN of one without area."""
    corner, height = places[triangles], heights[triangles]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    one, two = height[:, 1] - height[:, 0], height[:, 2] - height[:, 0]
    doubled = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    doubled = np.where(doubled == 0, np.nan, doubled)
    return np.column_stack(
        ((one * v[:, 1] - two * u[:, 1]) / doubled, (two * u[:, 0] - one * v[:, 0]) / doubled)
    )
