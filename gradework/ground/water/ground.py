"""A surface as water sees it: which way each triangle falls, and over which of its sides water leaves it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.ground.cut_ground import GRID, Box, cut_along
from gradework.ground.triangulation import NEXT

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Numbers = NDArray[np.int64]

ON_LINE = 1e-6
"""[m] A side this close to a line that catches water lies on it."""

ALONG = 1e-9
"""[-] Water runs along a side that it meets at a smaller angle (its sine)."""

LEVEL = 1e-9
"""[-] Ground that falls by less is level: 1 mm in 1,000 km."""


SLIVER = 0.01
"""[-] A triangle at the edge of the survey that is flatter over its outer side is no ground that anybody
measured: the shots of an edge never lie in one line, and those between its ends lie inside it (judgement)."""


class WaterGround:
    """A surface of triangles, each of one fall, with the sides at which what comes is caught; local [m].

    Attributes
    ----------
    places, heights
        (p, 2) and (p,).
    triangles, neighbours
        (t, 3), anticlockwise: side k joins corners k and k + 1 and leads to neighbour k, -1 where the ground
        that is known ends.
    down
        (t, 2) [-] Down the slope, as long as it is steep; 0 of level ground and of what has no area.
    caught
        (t, 3) The number of the line on which a side lies, -1 of others.
    walled, top
        (t, 3) Sides at which something stands, and how high its top is [m]: water runs along its foot.
    """

    def __init__(
        self,
        places: Floats,
        heights: Floats,
        triangles: NDArray[np.integer[Any]],
        neighbours: NDArray[np.integer[Any]],
        gradients: Floats,
    ) -> None:
        self.places, self.heights = places, heights
        self.triangles, self.neighbours = triangles.astype(np.int64), neighbours.astype(np.int64)
        steep = np.hypot(*gradients.T)
        self.down: Floats = np.where((steep > LEVEL)[:, None], -gradients, 0.0)  # NaN compares false
        self.caught: Numbers = np.full(triangles.shape, -1, dtype=np.int64)
        self.walled: NDArray[np.bool_] = np.zeros(triangles.shape, dtype=bool)
        self.top = np.inf

    @cached_property
    def sides(self) -> Floats:
        """From corner k to corner k + 1 (t, 3, 2) [m]."""
        corner = self.places[self.triangles]
        sides: Floats = corner[:, NEXT] - corner
        return sides

    @cached_property
    def areas(self) -> Floats:
        """(t,) [m²]"""
        one, two = self.sides[:, 0], self.sides[:, 1]
        areas: Floats = np.maximum(0.5 * (one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]), 0.0)
        return areas

    @cached_property
    def leaving(self) -> Floats:
        """How fast water leaves over each side (t, 3): below 0 it comes in, at 0 it runs along or stands."""
        side, down = self.sides, self.down[:, None]
        flux: Floats = side[..., 1] * down[..., 0] - side[..., 0] * down[..., 1]
        most = np.hypot(side[..., 0], side[..., 1]) * np.hypot(down[..., 0], down[..., 1])
        return np.where(np.abs(flux) <= ALONG * most, 0.0, flux)

    @cached_property
    def mates(self) -> Numbers:
        """Which side of its neighbour each side is (t, 3); 0 where there is none."""
        beside = self.neighbours
        back = self.neighbours[beside] == np.arange(len(beside))[:, None, None]
        # two triangles may meet at two sides
        same = self.triangles[beside] == self.triangles[:, NEXT][..., None]
        return np.asarray((2 * back + same).argmax(axis=2), dtype=np.int64)

    @property
    def lips(self) -> Floats:
        """How high water leaves at each place (p,) [m]: as high as the ground where that ends or where a line
        catches water, over the top of what stands there; infinite of all others."""
        lips = np.full(len(self.places), np.inf)
        leaves = ((self.neighbours < 0) & ~self.walled) | (self.caught >= 0)
        for sides, lip in ((self.walled & ~leaves, self.top), (leaves, -np.inf)):
            row, k = np.nonzero(sides)
            for place in (self.triangles[row, k], self.triangles[row, NEXT[k]]):
                lips[place] = np.maximum(self.heights[place], lip)
        return lips

    @cached_property
    def pairs(self) -> Numbers:
        """The ends of each side, once (e, 2)."""
        once = self.neighbours < np.arange(len(self.triangles))[:, None]
        row, k = np.nonzero(once)
        return np.stack((self.triangles[row, k], self.triangles[row, NEXT[k]]), axis=1)

    def catch(self, lines: Sequence[Floats]) -> None:
        """Catch what comes to ``lines``, each of stretches (s, 2, 2); the number of a line is its place."""
        start = self.places[self.triangles]
        middle = start + 0.5 * self.sides
        for number, stretches in enumerate(lines):
            for one, two in stretches:
                on = _on(start, one, two) & _on(start + self.sides, one, two) & _on(middle, one, two)
                self.caught[on] = number

    def without(self, inside: NDArray[np.bool_], top: float | None = None) -> WaterGround:
        """The same where the ground ``inside`` (t,) is none: places at its edge are as high as the rest;
        ``top`` [m]: of what stands there, None where water leaves over its edge.

        Places that stand twice, one for each side of a step, become one; what of a step is left is lost in
        the lower.
        """
        kept = ~inside
        beside = _neighbours(self.neighbours, kept)
        corners = self.triangles[kept]
        steps = np.rint(self.places[corners.reshape(-1)] / GRID).astype(np.int64)
        _, first, place = np.unique(steps, axis=0, return_index=True, return_inverse=True)
        heights = np.full(len(first), np.inf)
        np.minimum.at(heights, place.reshape(-1), self.heights[corners.reshape(-1)])
        places = self.places[corners.reshape(-1)[first]]
        made = WaterGround(places, heights, place.reshape(-1, 3), beside, -self.down[kept])
        made.caught = self.caught[kept]
        if top is not None:
            made.walled, made.top = (beside < 0) & (self.neighbours[kept] >= 0), top
        return made


def _on(points: Floats, one: Floats, two: Floats) -> NDArray[np.bool_]:
    """Which points (..., 2) lie on the straight line between two places."""
    way = two - one
    length = float(np.hypot(*way))
    arm = points - one
    along = (arm @ way) / max(length, ON_LINE)
    off = np.abs(arm[..., 0] * way[1] - arm[..., 1] * way[0]) / max(length, ON_LINE)
    on: NDArray[np.bool_] = (off <= ON_LINE) & (along >= -ON_LINE) & (along <= length + ON_LINE)
    return on


def on_surface(surface: Surface, *, whole: bool = False) -> WaterGround:
    """The surface but for slivers at its edge, unless the ``whole`` of it is asked for; nothing caught."""
    kept = np.ones(len(surface.triangles), dtype=bool) if whole else ~slivers(surface)
    return WaterGround(
        surface.vertices[:, :2], surface.vertices[:, 2], surface.triangles[kept],
        _neighbours(surface.neighbours, kept), surface.triangle_gradients[kept],
    )  # fmt: skip


def _neighbours(beside: NDArray[np.integer[Any]], kept: NDArray[np.bool_]) -> Numbers:
    """Those of the triangles that are kept, by their new numbers."""
    number = np.where(kept, np.cumsum(kept) - 1, -1)
    beside = beside[kept]
    return np.where(beside >= 0, number[beside], -1)


def slivers(surface: Surface) -> NDArray[np.bool_]:
    """Which triangles at the edge of a survey (t,) stand like a dam before ground that runs off over it."""
    beside, gone = surface.neighbours, np.zeros(len(surface.triangles), dtype=bool)
    front = np.flatnonzero((beside < 0).any(axis=1))
    while len(front):  # behind one there may be another
        corner = surface.vertices[surface.triangles[front], :2]
        length = np.hypot(*np.moveaxis(corner[:, NEXT] - corner, -1, 0))
        flat = 2.0 * surface.triangle_areas[front, None] <= SLIVER * length**2
        outer = (beside[front] < 0) | gone[beside[front]]
        fresh = front[(outer & flat).any(axis=1)]
        gone[fresh] = True
        front = np.unique(beside[fresh])
        front = front[(front >= 0) & ~gone[front]]
    return gone


class Farther(Protocol):
    """What is known of the ground beyond a survey."""

    def joined(self, ground: WaterGround) -> WaterGround:
        """All of the survey's ground with what lies beyond: its own triangles first, in their order."""
        ...  # pragma: no cover - what such ground can do


def around(
    surface: Surface, rings: Iterable[Floats], reach: float, beyond: Farther | None = None
) -> WaterGround:
    """The surface round rings (n, 2) local, as far as ``reach`` [m] from a box about them: cut along them, so
    that sides lie on each; nothing is caught yet. The ground inside is left away.

    With what is known ``beyond`` the survey the reach is infinite: all of it.

    Empty where nothing is left round them. Raises CheckError where the triangulation between them is not what
    it should be.
    """
    rings = list(rings)
    every = np.concatenate(rings)
    hull = surface.vertices[surface.hull, :2]
    low = np.maximum(hull.min(axis=0), every.min(axis=0) - reach)
    high = np.minimum(hull.max(axis=0), every.max(axis=0) + reach)
    box: Box = (*low.tolist(), *high.tolist())
    frame = np.array([(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])])
    lines = [np.stack((ring, np.roll(ring, -1, axis=0)), axis=1) for ring in (*rings, frame)]
    cut = cut_along(surface, np.concatenate(lines), box, whole=False)
    heights = np.empty(len(cut.places))
    heights[cut.mesh.triangles] = cut.ground
    gradients = surface.triangle_gradients[cut.source]
    made = WaterGround(cut.places, heights, cut.mesh.triangles, cut.mesh.neighbours, gradients)
    middles = cut.middles
    inside = ~((middles >= low) & (middles <= high)).all(axis=1)
    if beyond is None:
        inside |= slivers(surface)[cut.source]
    for ring in rings:
        inside |= shapely.contains_xy(shapely.Polygon(ring), *middles.T)
    if beyond is not None:
        made = beyond.joined(made)
        inside = np.concatenate((inside, np.zeros(len(made.triangles) - len(inside), dtype=bool)))
    return made.without(inside)
