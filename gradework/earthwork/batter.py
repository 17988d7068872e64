"""Side slopes from the edge of a level pad to the ground, m:1, mitred at the corners: exact volumes and
reach.

At a distance d from its side of the pad the slope stands at L - d/m (filling down to the ground) or L + d/m
(digging up to it). The ground outside is shared out among the sides, in convex parts: the facets. So the
triangles of the surface cut by the facets carry a plane for the ground and one for the slope, and the volume
between them is that of a level plane against the heights z + d/m (or z - d/m). The daylight line is where
the slope meets the ground. Only the part that hangs together with the pad's edge counts: a hollow beyond the
daylight line is not filled. That is a question of the lowest pass: a cell is reached by the slope as soon as
the level is above every pass on the best way to it from the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.batter_facets import Facets, facets_of, refuse_hollow
from gradework.earthwork.batter_reach import Exit, Passes, find_passes
from gradework.earthwork.clip import Pieces, clip, cut_region, near, signed_areas
from gradework.earthwork.rings import contains, ring_area, ring_length
from gradework.earthwork.volumes import PrismSums, prism_sums
from gradework.errors import CheckError
from gradework.ground.cut_ground import GRID

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface


# The outline of a pad and its side slopes on the ground, checked in every run against the areas they
# cover.
#
# The parts of triangles that the slopes cover lie side by side, so the line round them is what is left of
# all their sides when each side has cancelled its neighbour's, which runs the other way. Nothing is made
# wider or narrower on the way: corners are set on a grid of ten nanometres, so that neighbours have the
# same ones, and a side is led through the corners of others that lie on it.

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

SAME = 0.1 * GRID
"""[m] Coordinates that differ by no more are one, so that rounding cannot set them apart on the grid."""

ON_SIDE = 2.0 * GRID
"""[m] A corner this close to a side lies on it: all three may be set off by 0.7 of the grid."""

STRAIGHT = 1e-7
"""[m] Corners are left out where the line moves by no more: a few steps of the grid off a straight line."""

AREA = 1e-9
"""The line and the closed form must give one area within this part of it, plus what `STRAIGHT` may move."""


def daylight_rings(pad: Floats, parts: Sequence[tuple[Floats, Floats]], area: float) -> list[Floats]:
    """Join the pad (n, 2) and the covered parts of triangles into rings, not closed.

    parts : triangles (k, 3, 2) and the height of the slope over the ground at their corners (k, 3) [m];
    only where it is above zero the ground is covered. area : what pad and parts cover together [m²], by the
    closed form. Outside rings run anticlockwise, the one round the pad first; islands left bare run
    clockwise. Raises CheckError where the rings do not hold that area.
    """
    rings = [pad]
    for triangles, heights in parts:
        for corners, height in zip(triangles, heights, strict=True):
            covered = _covered(corners, height)
            if len(covered) >= 3:
                rings.append(np.array(covered))
    places, numbers = _on_grid(np.concatenate(rings))
    lengths = np.array([len(ring) for ring in rings])
    after = np.arange(1, len(numbers) + 1)
    after[np.cumsum(lengths) - 1] -= lengths  # the last corner of each ring leads to its first
    sides = _cancelled(_led_through(places, np.stack((numbers, numbers[after]), axis=1)))
    found = [_straight(places[loop]) for loop in _loops(sides)]
    found = [ring for ring in found if len(ring) >= 3]
    middle = shapely.get_coordinates(shapely.Polygon(pad).representative_point())
    found.sort(key=lambda ring: (not (ring_area(ring) > 0.0 and contains(ring, middle)[0]), -ring_area(ring)))
    _check(found, area)
    return found


def _check(rings: Sequence[Floats], area: float) -> None:
    """Raise CheckError unless the rings hold the area [m²] that the closed form gives."""
    held = sum(ring_area(ring) for ring in rings)
    length = sum(ring_length(ring) for ring in rings)
    if not abs(held - area) <= AREA * area + STRAIGHT * length:
        raise CheckError(f"the daylight line holds {held!r} m², pad and slopes cover {area!r} m²")


def _on_grid(corners: Floats) -> tuple[Floats, Indices]:
    """Different places on the grid (p, 2) [m] and the number of each corner's (n,)."""
    steps = np.empty(corners.shape, dtype=np.int64)
    for axis in (0, 1):
        order = np.argsort(corners[:, axis])
        ordered = corners[order, axis]
        fresh = np.concatenate(([True], np.diff(ordered) > SAME))
        steps[order, axis] = np.rint(ordered[fresh] / GRID)[np.cumsum(fresh) - 1]
    places, numbers = np.unique(steps, axis=0, return_inverse=True)
    at: Floats = places.astype(np.float64) * GRID
    return at, numbers.reshape(-1).astype(np.int64)


def _led_through(places: Floats, sides: Indices) -> Indices:
    """The sides (s, 2), each split at the places of others that lie on it."""
    sides = sides[sides[:, 0] != sides[:, 1]]
    tree = shapely.STRtree([shapely.Point(place) for place in places.tolist()])
    side, place = tree.query(shapely.linestrings(places[sides]), predicate="dwithin", distance=ON_SIDE)
    run = places[sides[:, 1]] - places[sides[:, 0]]
    part = ((places[place] - places[sides[side, 0]]) * run[side]).sum(axis=1) / (run[side] ** 2).sum(axis=1)
    between = (part > 0.0) & (part < 1.0)
    side, place, part = side[between], place[between], part[between]
    count = len(sides)
    of = np.concatenate((np.arange(count), side, np.arange(count)))
    at = np.concatenate((np.zeros(count), part, np.ones(count)))
    order = np.lexsort((at, of))
    number, of = np.concatenate((sides[:, 0], place, sides[:, 1]))[order], of[order]
    one = of[1:] == of[:-1]
    return np.stack((number[:-1][one], number[1:][one]), axis=1)


def _cancelled(sides: Indices) -> Indices:
    """The sides (s, 2) that no other runs against."""
    low, high = sides.min(axis=1), sides.max(axis=1)
    pairs, which = np.unique(np.stack((low, high), axis=1), axis=0, return_inverse=True)
    net = np.bincount(which.reshape(-1), np.where(sides[:, 0] == low, 1, -1), len(pairs)).astype(np.int64)
    directed = np.where(net[:, None] > 0, pairs, pairs[:, ::-1])
    return np.repeat(directed, np.abs(net), axis=0)


def _loops(sides: Indices) -> list[list[int]]:
    """The sides (s, 2) as loops of places, none of which comes twice to one place.

    As many sides lead to a place as away from it, so a walk can always go on until it meets itself.
    """
    onward: dict[int, list[int]] = {}
    for start, end in sides.tolist():
        onward.setdefault(start, []).append(end)
    loops = []
    for first in onward:
        walk, seen = [first], {first: 0}
        while onward[walk[-1]]:
            following = onward[walk[-1]].pop()
            if following in seen:
                loop = walk[seen[following] :]
                loops.append(loop)
                del walk[seen[following] + 1 :]
                for place in loop[1:]:
                    del seen[place]
            else:
                seen[following] = len(walk)
                walk.append(following)
    return loops


def _straight(ring: Floats) -> Floats:
    """The ring without corners that lie on a straight line, and empty where it is thinner than the grid."""
    length = ring_length(ring)
    if len(ring) < 3 or abs(ring_area(ring)) <= GRID * length:
        return np.empty((0, 2))
    first = int(np.argmax(((ring - ring.mean(axis=0)) ** 2).sum(axis=1)))  # the farthest one is a corner
    kept = shapely.simplify(shapely.Polygon(np.roll(ring, -first, axis=0)), STRAIGHT)
    return np.array(kept.exterior.coords)[:-1]


def _covered(corners: Floats, height: Floats) -> list[tuple[float, float]]:
    """The part of one triangle where the height is above zero."""
    kept = []
    for k in range(3):
        after = (k + 1) % 3
        if height[k] > 0.0:
            kept.append((float(corners[k, 0]), float(corners[k, 1])))
        if (height[k] > 0.0) != (height[after] > 0.0):
            part = height[k] / (height[k] - height[after])
            x, y = corners[k] + part * (corners[after] - corners[k])
            kept.append((float(x), float(y)))
    return kept


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
                totals = prism_sums(own - level, areas[reached], np.zeros(1))
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

    def volumes(self, levels: Floats) -> PrismSums:
        """Cut, fill and the areas they cover outside the pad, for each level (m,) [m]; closed form."""
        fill = self.filling.sums(self.areas, self.cell, levels)
        cut = self.digging.sums(self.areas, self.cell, -levels)
        return PrismSums(cut[0], fill[0], cut[1], fill[1])

    def dug(self, levels: Floats) -> Floats:
        """The cut alone (m,) [m³]."""
        cut: Floats = self.digging.sums(self.areas, self.cell, -levels)[0]
        return cut

    def slopes(self, level: float) -> Slopes:
        """The slopes at one level [m], with their daylight line and where the survey ends too early."""

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
    """Cut the ground round a pad outline into the facets of its sides; ``batter`` is m, run per rise [-].

    Raises InputError as ``refuse_hollow`` and ``clip`` do, ValueError for a batter that is not above zero,
    and CheckError where facets and pad do not cover the ground exactly once.
    """
    if not (np.isfinite(batter) and batter > 0.0):
        raise ValueError(f"a batter must be above zero [-], not {batter}")
    refuse_hollow(outline)
    pieces = clip(surface, outline)
    reach = 4.0 * float(np.abs(surface.vertices[:, :2]).max()) + 1.0
    facets = facets_of(outline.rings[0] - surface.origin, reach)
    relief = float(np.ptp(surface.vertices[:, 2]))
    numbers, triangles = near(surface, facets.ring, batter * (relief + HIGHEST))
    corners, source, facet = [], [], []
    for number, region in enumerate(facets.regions):
        parts, origin = cut_region(triangles, region)
        corners.append(parts)
        source.append(origin)
        facet.append(np.full(len(origin), number))
    cells = np.concatenate(corners)
    areas = signed_areas(cells)
    total = float(signed_areas(triangles).sum())
    if not abs(areas.sum() + pieces.areas.sum() - total) <= CLOSURE * total:
        raise CheckError(f"pad and side slopes cover {areas.sum() + pieces.areas.sum()!r} m² of {total!r} m²")
    part = np.concatenate(facet)
    names, cell = np.unique(np.concatenate(source) * len(facets.regions) + part, return_inverse=True)
    run = facets.distance(cells[:, :, :2], facets.side[part]) / batter
    ways = []
    for sign in (1.0, -1.0):
        ground = triangles.copy()
        ground[:, :, 2] *= sign
        passes = find_passes(surface, numbers, ground, facets, batter, names, filling=sign > 0.0)
        ways.append(_Way(sign * cells[:, :, 2] + run, passes))
    return BatterGround(pieces, cells, areas, cell, facets, *ways)
