"""Side slopes from the edge of a level pad to the ground, m:1, mitred at the corners: exact volumes and
reach.

Outside a convex outline the distance to the pad's sides is d = max d_i, and the slope stands at L - d/m
(filling down to the ground) or L + d/m (digging up to it). The ground where d_i is the greatest is the
facet of side i; it is convex, so the triangles of the surface cut by the facets carry a plane for the
ground and one for the slope, and the volume between them is that of a level plane against the heights z +
d/m (or z - d/m). The daylight line is where the slope meets the ground. Only the part that hangs together
with the pad's edge counts: a hollow beyond the daylight line is not filled. That is a question of the
lowest pass: a cell is reached by the slope as soon as the level is above every pass on the best way to it
from the edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import halfplane, prism
from gradework.earthwork.clip import Pieces, clip, cut_region, near
from gradework.earthwork.facets import Facets, facets_of
from gradework.earthwork.passes import Exit, Passes, find_passes
from gradework.earthwork.ring import ring_area
from gradework.errors import CheckError, Faults

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground import Surface

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

CLOSURE = 1e-9
"""The facets and the pad must cover the ground exactly once, within this part of it."""

HIGHEST = 15.24
"""[m] Levels up to 50 ft above or below all ground are provided for; farther off they are refused anyway."""


@dataclass(frozen=True, eq=False)
class Slopes:
    """The side slopes of a pad at one level.

    cut, fill : volumes outside the pad [m³]; cut_area, fill_area : ground they cover [m²]; daylight : the
    outline of pad and slopes together, rings (k, 2), site frame [m], outside rings anticlockwise; filled :
    the same of the pad and the filled slopes alone; leaves : the places where a slope is cut off by the edge
    of the survey, the worst first, none where all of it daylights.
    """

    level: float
    cut: float
    fill: float
    cut_area: float
    fill_area: float
    daylight: tuple[Floats, ...]
    filled: tuple[Floats, ...]
    leaves: tuple[Exit, ...]


@dataclass(frozen=True, eq=False)
class _Way:
    """One of the two slopes, told as filling; digging is filling on ground turned upside down.

    heights : (k, 3) z + d/m at the corners of the cells' triangles; passes : from which level on each is
    reached.
    """

    heights: Floats
    passes: Passes

    def sums(self, areas: Floats, cell: Numbers, levels: Floats) -> Floats:
        """Volume and area (2, m) for each level, of the cells the slope reaches."""
        ordered = np.sort(self.heights, axis=1)
        opens = self.passes.opens[cell]
        result = np.zeros((2, len(levels)))
        for number, level in enumerate(levels.tolist()):
            reached = np.flatnonzero((opens < level) & (ordered[:, 0] < level))
            if len(reached):
                own = ordered[reached]
                totals = prism.sums(own - level, areas[reached], np.zeros(1))
                result[0, number], result[1, number] = totals.fill[0], totals.fill_area[0]
        return result


@dataclass(frozen=True, eq=False)
class BatterGround:
    """The ground round a pad, cut into the facets of its sides; see ``batter_ground``."""

    pieces: Pieces
    corners: Floats
    areas: Floats
    cell: Numbers
    facets: Facets
    filling: _Way
    digging: _Way

    def volumes(self, levels: Floats) -> prism.Sums:
        """Cut, fill and the areas they cover outside the pad, for each level (m,) [m]; closed form."""
        fill = self.filling.sums(self.areas, self.cell, levels)
        cut = self.digging.sums(self.areas, self.cell, -levels)
        return prism.Sums(cut[0], fill[0], cut[1], fill[1])

    def slopes(self, level: float) -> Slopes:
        """The slopes at one level [m], with their daylight line and where the survey ends too early."""
        from gradework.earthwork.daylight import daylight_rings  # shapely: only for the line that is drawn

        sums = self.volumes(np.array([level]))
        wet = []
        for way, at in ((self.filling, level), (self.digging, -level)):
            reached = np.flatnonzero(way.passes.opens[self.cell] < at)
            wet.append((self.corners[reached, :, :2], at - way.heights[reached]))
        cut, fill = float(sums.cut_area[0]), float(sums.fill_area[0])
        pad = ring_area(self.facets.ring)
        rings = daylight_rings(self.facets.ring, wet, pad + fill + cut)
        filled = daylight_rings(self.facets.ring, wet[:1], pad + fill)
        leaves = [*self.filling.passes.leaving(level), *self.digging.passes.leaving(-level)]
        origin = self.pieces.origin
        return Slopes(
            level=level,
            cut=float(sums.cut[0]),
            fill=float(sums.fill[0]),
            cut_area=cut,
            fill_area=fill,
            daylight=tuple(ring + origin for ring in rings),
            filled=tuple(ring + origin for ring in filled),
            leaves=tuple(one.moved(origin) for one in sorted(leaves, key=lambda one: -one.height)),
        )


def batter_ground(surface: Surface, outline: Outline, batter: float) -> BatterGround:
    """Cut the ground round a convex pad outline into the facets of its sides; ``batter`` is m, run per
    rise [-].

    Raises InputError ``batter-hollow`` for an outline that is not convex (its slopes would meet in the
    hollow), what ``clip`` raises, ValueError for a batter that is not above zero, and CheckError where
    facets and pad do not cover the ground exactly once.
    """
    if not (np.isfinite(batter) and batter > 0.0):
        raise ValueError(f"a batter must be above zero [-], not {batter}")
    refuse_hollow(outline)
    pieces = clip(surface, outline)
    facets = facets_of(outline.rings[0] - surface.origin)
    relief = float(np.ptp(surface.vertices[:, 2]))
    numbers, triangles = near(surface, facets.ring, batter * (relief + HIGHEST))
    corners, source, facet = [], [], []
    for number in range(len(facets.ring)):
        parts, origin = cut_region(triangles, facets.region(number))
        corners.append(parts)
        source.append(origin)
        facet.append(np.full(len(origin), number))
    cells = np.concatenate(corners)
    areas = halfplane.signed_areas(cells)
    total = float(halfplane.signed_areas(triangles).sum())
    if not abs(areas.sum() + pieces.areas.sum() - total) <= CLOSURE * total:
        raise CheckError(f"pad and side slopes cover {areas.sum() + pieces.areas.sum()!r} m² of {total!r} m²")
    key = np.concatenate(source) * len(facets.ring) + np.concatenate(facet)
    names, cell = np.unique(key, return_inverse=True)
    run = facets.distance(cells[:, :, :2], np.concatenate(facet)) / batter
    ways = []
    for sign in (1.0, -1.0):
        ground = triangles.copy()
        ground[:, :, 2] *= sign
        passes = find_passes(surface, numbers, ground, facets, batter, names, filling=sign > 0.0)
        ways.append(_Way(sign * cells[:, :, 2] + run, passes))
    return BatterGround(pieces, cells, areas, cell, facets, *ways)


def refuse_hollow(outline: Outline) -> None:
    """Raise InputError ``batter-hollow`` for an outline that is not convex."""
    if outline.is_convex:
        return
    faults = Faults()
    faults.stop(
        "batter-hollow",
        "the outline turns inward or has a hole",
        "an outline without hollows for side slopes",
        "use a boxed edge, or give the pad a plain outline round the hollow one",
    )
