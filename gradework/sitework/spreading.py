"""Where soil may be spread on a yard, and which rectangle of it takes it nearest to the dig.

A rectangle square to the building, which two tapes set out. Its top stays below the lowest ground at the
building: water that it might hold back then stands lower than the building, whatever the ground is like.
Where it lies is chosen on squares of two feet; what lies in it is exact.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.clip import cut_region, half_planes, near
from gradework.earthwork.grading.spread import Patch, unit_volume
from gradework.earthwork.nearby import ROUND, WALLS, polygon_of
from gradework.ground.water.flow import Flow
from gradework.ground.water.ground import WaterGround, on_surface
from gradework.ground.water.ways import ways
from gradework.units.amounts import M_PER_FT, M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]

THICK = tuple(inches * M_PER_IN for inches in (3.0, 4.0, 2.0, 1.0))
THICK_METRIC = (0.075, 0.1, 0.05, 0.025)
"""[m] Layers that are tried, in this order: 3 to 4 in are raked level and seeded anew (common practice: over
living lawn 1/2 to 1 in at a time, under a new one 4 to 6 in)."""

EDGE = 3.0
"""[-] The edge of a layer feathers out over so many times its thickness: no steeper than a mower goes
(judgement). On the side where ground falls into it, over so much that it nowhere falls back against that."""

CELL, CELL_METRIC = 2.0 * M_PER_FT, 0.6
"""[m] Corners of what is spread lie so many of these from the building's first corner."""

LEAST = 2
"""[-] No side is shorter than so many cells: 4 ft."""

CARRIED = 50.0 * M_PER_FT
"""[m] Nobody barrows soil farther than this from the building, there and back (judgement)."""

BELOW = 1.0 * M_PER_IN
"""[m] Its top stays so far below the lowest ground at the building (judgement: more than a reading errs)."""

ROOTS = 10.0 * M_PER_FT
"""[m] The roots of a tree told by one place reach so far (judgement); told by an outline, that is where they
reach."""

OVER_ROOTS, TRUNK = 1.0 * M_PER_IN, 2.0 * M_PER_FT
"""[m] So thick a layer lies over roots at the most (memory); so far off a trunk of one place (judgement)."""

KEPT = 10.0 * M_PER_FT
"""[m] Off wells and septic fields without a setback of their own, and off walls of others (judgement)."""

OFF = 2.0 * M_PER_FT
"""[m] Off fences and lot lines, where soil against boards rots them, off swales and drains (judgement)."""

RIM = 1.0 * M_PER_FT
"""[m] Inside the edge of the survey (judgement)."""

BOARDS = 4.0 * M_PER_FT
"""[m] Off walls, boards and slabs, at the least (judgement): soil on them rots siding and boards."""

OUTLET = 5.0 * M_PER_FT
"""[m] Off the way that water runs down from where a swale, a drain or a gutter comes out (judgement)."""

MOST = 3
"""[-] Patches."""

LITTLE, WORTH = 0.02, 0.1
"""[m³] Less is nothing, a quarter of a barrow; and a patch that does not take all of it takes at least so
much, or is not worth a place of its own (judgement)."""


@dataclass(frozen=True, eq=False)
class Site:
    """A yard to spread soil on: the finished ``surface``, the ``building``, what is kept ``clear`` and where
    ``roots`` bear a thin layer only (shapes of shapely, site), and the height that soil stays ``below`` [m];
    ``cell`` [m]; ``house``: what of it is too near to what is built."""

    surface: Surface
    building: Outline
    clear: Any
    below: float
    cell: float = CELL
    roots: Any = field(default_factory=shapely.Polygon)
    house: Any = field(default_factory=shapely.Polygon)

    @cached_property
    def axes(self) -> Floats:
        """Along the building's first side and square to it (2, 2), unit vectors as rows."""
        ring = self.building.rings[0]
        run = ring[1] - ring[0]
        along = run / np.hypot(*run)
        return np.array([along, (-along[1], along[0])])

    def places(self, cells: Floats) -> Floats:
        """Places (..., 2), site [m], of ``cells`` (..., 2) counted from the building's first corner."""
        placed: Floats = self.building.rings[0][0] + (cells * self.cell) @ self.axes
        return placed

    @cached_property
    def frame(self) -> tuple[Floats, tuple[int, int]]:
        """The first cell (2,) in whole cells, and how many there are along both axes."""
        corners = (self.building.rings[0] - self.building.rings[0][0]) @ self.axes.T
        hull = (self.surface.hull_xy - self.building.rings[0][0]) @ self.axes.T
        low = np.maximum(hull.min(axis=0), corners.min(axis=0) - CARRIED)
        high = np.minimum(hull.max(axis=0), corners.max(axis=0) + CARRIED)
        first = np.ceil(low / self.cell - 1e-9)
        count = np.maximum(np.floor(high / self.cell + 1e-9) - first, 0.0).astype(int)
        return first, (int(count[0]), int(count[1]))

    def free(self, thick: float, taken: Any = None) -> Truths:
        """Which cells (n, m) may lie under a layer ``thick`` [m]; ``taken``: what others lie under."""
        first, (n, m) = self.frame
        if not n or not m:
            return np.zeros((n, m), dtype=bool)
        nodes = self.places(
            np.stack(
                np.meshgrid(*(first[k] + np.arange((n, m)[k] + 1) for k in (0, 1)), indexing="ij"), axis=-1
            )
        )
        heights = self.surface.elevation(nodes.reshape(-1, 2)).reshape(n + 1, m + 1)
        low = heights + thick <= self.below  # NaN beyond the survey compares false
        fits: Truths = low[:-1, :-1] & low[1:, :-1] & low[1:, 1:] & low[:-1, 1:]
        rings = np.stack([nodes[:-1, :-1], nodes[1:, :-1], nodes[1:, 1:], nodes[:-1, 1:]], axis=2)[fits]
        clear = self.clear if taken is None else shapely.union(self.clear, taken)
        clear = shapely.union(clear, self.roots) if thick > OVER_ROOTS else clear
        shapely.prepare(clear)
        fits[fits] = ~shapely.intersects(clear, shapely.polygons(rings)) if len(rings) else True
        return fits

    def patch(self, low: tuple[int, int], size: tuple[int, int], thick: float) -> Patch:
        """The patch over ``size`` cells from the cell ``low``."""
        corners = self.frame[0] + np.array(low) + np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * np.array(size)
        return self.layer(self.places(corners), thick)

    def layer(self, ring: Floats, thick: float) -> Patch:
        """The patch over a ring (k, 2) without inward corners, with longer edges where ground falls in."""
        planes = half_planes(ring)
        half = 0.5 * (ring @ planes[:, :2].T - planes[:, 2]).max(axis=0)
        return Patch(ring, thick, self.runs(ring.mean(axis=0), planes[:, :2], half, thick))

    def runs(self, middle: Floats, inward: Floats, half: Floats, thick: float) -> Floats:
        """How far the sides take (k,) [m] of a layer round ``middle`` (2,), with unit vectors ``inward``
        (k, 2), at the most ``half`` (k,) of the way across it."""
        falls = -(inward @ self.surface.gradient(middle[None])[0])
        edge = EDGE * thick
        level = thick / np.maximum(falls, 1e-6)
        runs: Floats = np.minimum(np.maximum(np.where(falls > 0.0, level, edge), edge), half)
        return runs

    def holds(self, low: tuple[int, int], size: tuple[int, int], thick: float) -> float:
        """What such a patch over cells holds [m³], as ``patch`` gives it: a rectangle has a closed form."""
        wide, deep = (count * self.cell for count in size)
        middle = self.places(self.frame[0] + np.array(low) + 0.5 * np.array(size))
        along, across = self.axes
        half = 0.5 * np.array([deep, wide, deep, wide])
        runs = self.runs(middle, np.array([across, -along, -across, along]), half, thick)
        a, b = float(runs[1] + runs[3]), float(runs[0] + runs[2])
        return thick * (wide * deep - 0.5 * (a * deep + b * wide) + a * b / 3.0)

    def highest(self, ring: Floats) -> float:
        """The highest ground in a ring (k, 2) without inward corners [m]; NaN where it leaves the survey."""
        at = self.surface.elevation(ring)
        if np.isnan(at).any():
            return float("nan")
        _, corners = near(self.surface, ring - self.surface.origin)
        inside, _ = cut_region(corners, half_planes(ring - self.surface.origin))
        return float(inside[:, :, 2].max(initial=float(at.max())))


def kept_clear(
    surface: Surface, nearby: Nearby, shaped: Any, outlets: Floats, water: WaterGround | None = None
) -> Any:
    """Give all ground that no soil is spread on, whatever is built, a shape of shapely: what is ``shaped`` to
    lead water, below ``outlets`` (k, 2), near to or beyond what stands near, the survey's edge; site.

    ``water``: the surface as what comes from the outlets sees it, where a pad or slab stands on it.
    """
    house = polygon_of(nearby.building)
    parts = [shaped.buffer(OFF)]
    if len(outlets):
        found = ways(Flow(water or on_surface(surface)), outlets - surface.origin)
        legs = [leg[:, :2] + surface.origin for way in found for leg in way.legs]
        parts += [shapely.Point(place).buffer(OUTLET) for place in outlets]
        parts += [shapely.LineString(leg).buffer(OUTLET) for leg in legs if len(leg) > 1]
    for one in nearby.neighbours:
        off = {"tree": TRUNK, "well": KEPT, "septic": KEPT, "house": KEPT, "garage": KEPT}.get(one.kind)
        off = OFF if one.kind in ROUND else off
        if off is not None and not (one.kind == "tree" and one.closed and not one.setback):
            parts.append(one.shape.buffer(max(off, one.setback or 0.0)))
        if one.kind in WALLS:
            parts.append(one.shape)
    hull = shapely.Polygon(surface.hull_xy)
    parts += [hull.boundary.buffer(RIM), _beyond(hull, house, nearby)]
    return shapely.union_all(parts)


def roots_of(nearby: Nearby) -> Any:
    """Give the ground that trees have their roots in, a shape of shapely, site."""
    trees = [one for one in nearby.neighbours if one.kind == "tree"]
    return shapely.union_all([one.shape if one.closed else one.shape.buffer(ROOTS) for one in trees])


def _beyond(hull: Any, house: Any, nearby: Nearby) -> Any:
    """The parts of the survey that lie on the other side of a fence or lot line: not one's own ground."""
    lines = [one.face for one in nearby.neighbours if one.kind in ROUND]
    if not lines:
        return shapely.Polygon()
    cut = shapely.node(shapely.union_all([hull.boundary, *lines]))
    parts = shapely.get_parts(shapely.polygonize(shapely.get_parts(cut).tolist()))
    middle = house.representative_point()
    return shapely.union_all([part for part in parts if not part.contains(middle)])


def patches_for(site: Site, volume: float, thick: float) -> tuple[Patch, ...]:
    """Choose up to ``MOST`` rectangles that take ``volume`` [m³] of loose soil, ``thick`` [m] at the most.

    Each is the nearest to the building that takes all of what is left; where none does, the one that takes
    most. The last one is spread just as thick as its soil asks for. What finds no room goes over roots, thin.
    """
    found: list[Patch] = []
    taken: Any = None
    while volume > LITTLE and len(found) < MOST:
        free = site.free(thick, taken)
        best = _best(site, free, volume, thick)
        if best is None or (patch := filled(site.patch(*best, thick), volume)).volume < min(volume, WORTH):
            if thick <= OVER_ROOTS or site.roots.is_empty:
                break
            thick = OVER_ROOTS
            continue
        found.append(patch)
        volume -= patch.volume
        own = shapely.Polygon(patch.ring).buffer(OFF)
        taken = own if taken is None else shapely.union(taken, own)
    return tuple(found)


def filled(patch: Patch, volume: float) -> Patch:
    """The same as thick as ``volume`` makes it, at the most as thick as it is."""
    return replace(patch, thick=min(patch.thick, volume / unit_volume(patch.ring, patch.runs)))


def _best(
    site: Site, free: Truths, volume: float, thick: float
) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """The first cell and the size of the nearest rectangle that holds ``volume``, else of the largest."""
    sums = np.pad(free.astype(np.int64).cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    corners = (site.building.rings[0] - site.building.rings[0][0]) @ site.axes.T / site.cell
    home = 0.5 * (corners.min(axis=0) + corners.max(axis=0)) - site.frame[0]
    nearest: tuple[float, float, tuple[int, int], tuple[int, int]] | None = None
    largest: tuple[float, tuple[int, int], tuple[int, int]] | None = None
    for size, all_free in _sizes(sums):
        area = size[0] * size[1] * site.cell**2
        most = area * thick  # no layer holds more than its area: most sizes need no closer look
        if most < volume and (nearest or (largest and most <= largest[0])):
            continue
        at = np.argwhere(all_free)
        off = np.hypot(*(at + 0.5 * np.array(size) - home).T)
        if nearest is not None and (float(off.min()), area) >= nearest[:2]:
            continue
        where = (int(at[off.argmin()][0]), int(at[off.argmin()][1]))
        holds = site.holds(where, size, thick)
        if holds >= volume:
            nearest = float(off.min()), area, where, size
        elif largest is None or holds > largest[0]:
            largest = holds, where, size
    if nearest is not None:
        return nearest[2:]
    return None if largest is None else largest[1:]


def _sizes(sums: NDArray[np.int64]) -> Iterator[tuple[tuple[int, int], Truths]]:
    """The sizes of which a rectangle is free all over somewhere, and at which first cells; where none is, no
    larger one is."""
    for wide in range(LEAST, sums.shape[0]):
        for deep in range(LEAST, sums.shape[1]):
            all_free = _all_free(sums, (wide, deep))
            if not all_free.any():
                break
            yield (wide, deep), all_free


def _all_free(sums: NDArray[np.int64], size: tuple[int, int]) -> Truths:
    """At which first cells a rectangle of ``size`` is free all over."""
    w, h = size
    inside = sums[w:, h:] - sums[:-w, h:] - sums[w:, :-h] + sums[:-w, :-h]
    free: Truths = inside == w * h
    return free
