"""The ground under an outline, cut into triangles: exact, with the area checked in every run.

It never invents ground: an outline that reaches outside the surveyed ground is an error that names the
corner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.rings import convex_parts
from gradework.errors import CheckError
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface, Tilt


# Cutting triangles of ground by straight lines, many at once: bare arithmetic, nothing is checked here.
#
# A region is a set of half-planes, rows (nx, ny, offset): a point is inside where nx x + ny y >= offset
# in every row. Polygons are kept in one array, (k, m, 3); a polygon with fewer than m corners repeats its
# last one, which adds no area and crosses no line. Rows are gathered with ``take`` on flat numbers: for
# the few dozen triangles of a yard the cost is the number of numpy calls, and this is the cheapest one.

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]


def half_planes(ring: Floats) -> Floats:
    """The half-planes to the left of each side of a convex ring (k, 2): (k, 3), unit normals."""
    side = ring.take(_following(len(ring)), axis=0) - ring
    side /= np.hypot(side[:, 0], side[:, 1])[:, None]
    planes = np.empty((len(ring), 3))
    planes[:, 0], planes[:, 1] = -side[:, 1], side[:, 0]
    planes[:, 2] = (planes[:, :2] * ring).sum(axis=1)
    return planes


def clip_triangles(triangles: Floats, planes: Floats) -> tuple[Numbers, Floats, Numbers]:
    """Cut triangles (k, 3, 3) by a convex region of half-planes (e, 3).

    Returns the numbers of the triangles that lie wholly inside, the polygons that remain of those that
    straddle (n, m, 3) and the numbers of the triangles they came from (n,).
    """
    k, e = len(triangles), len(planes)
    distances = triangles.reshape(3 * k, 3)[:, :2] @ planes[:, :2].T
    distances -= planes[:, 2]
    inside = (distances >= 0.0).reshape(k, 3, e)
    reached = (inside[:, 0] | inside[:, 1] | inside[:, 2]).all(axis=1)
    clear = inside[:, 0] & inside[:, 1] & inside[:, 2]
    whole = np.asarray(clear.all(axis=1))
    source = (reached & ~whole).nonzero()[0]
    polygons, count = triangles.take(source, axis=0), np.full(len(source), 3)
    # few triangles straddle more than two lines, so all are cut by their first line, then the rest by
    # their second
    clear = clear.take(source, axis=0)
    lines = clear.argsort(axis=1, kind="stable")
    wanted = e - clear.sum(axis=1)
    for turn in range(int(wanted.max(initial=0))):
        rows = ((wanted > turn) & (count > 0)).nonzero()[0]
        if len(rows):
            polygons = cut_each(polygons, count, rows, planes.take(lines[:, turn].take(rows), axis=0))
    alive = count.nonzero()[0]
    if len(alive) < len(source):
        polygons, source = polygons.take(alive, axis=0), source.take(alive)
    return whole.nonzero()[0], polygons, source


def cut_each(polygons: Floats, count: Numbers, rows: Numbers, planes: Floats) -> Floats:
    """Cut the polygons ``rows`` of (k, m, 3) each by its own half-plane (len(rows), 3): (k, m', 3).

    One half-plane (1, 3) cuts them all. Puts their ``count`` of corners right. A polygon of which nothing is
    left has the count 0 and keeps its corners.
    """
    k, m = len(rows), polygons.shape[1]
    own = polygons.take(rows, axis=0)
    distance = own[:, :, 0] * planes[:, :1]
    distance += own[:, :, 1] * planes[:, 1:2]
    distance -= planes[:, 2:]
    corners, distance = own.reshape(k * m, 3), distance.reshape(k * m)
    inside = distance >= 0.0
    following = _next_corner(k, m)
    crossed = (inside != inside.take(following)).nonzero()[0]
    after = following.take(crossed)
    start, d0 = corners.take(crossed, axis=0), distance.take(crossed)
    part = d0 / (d0 - distance.take(after))
    start += part[:, None] * (corners.take(after, axis=0) - start)
    # corner i of a polygon sits in place 2 i, a crossing on the side after it in 2 i + 1; repeats are dropped
    keep = np.zeros((k * m, 2), dtype=bool)
    keep[:, 0] = inside
    if m > 3:
        keep[:, 0] &= (np.arange(m) < count.take(rows)[:, None]).reshape(-1)
    keep[crossed, 1] = True
    number = np.empty((k * m, 2), dtype=np.intp)
    number[:, 0] = np.arange(k * m)
    number[crossed, 1] = np.arange(k * m, k * m + len(crossed))
    kept = number.reshape(-1).take(keep.reshape(-1).nonzero()[0])
    left = keep.reshape(k, 2 * m).sum(axis=1)
    count[rows] = left
    wide = max(m, int(left.max()))
    if wide > m:
        polygons = polygons.take(np.minimum(np.arange(wide), m - 1), axis=1)
    last = left.cumsum() - 1
    if not left.all():
        alive = left.nonzero()[0]
        rows, left, last = rows.take(alive), left.take(alive), last.take(alive)
    pick = np.minimum((last - left + 1)[:, None] + np.arange(wide), last[:, None])
    polygons[rows] = np.concatenate((corners, start)).take(kept.take(pick), axis=0)
    return polygons


def _following(m: int) -> Numbers:
    """The number of the next corner of each of m."""
    after = np.arange(1, m + 1)
    after[-1] = 0
    return after


def _next_corner(k: int, m: int) -> Numbers:
    """The number of the next corner in k polygons of m corners, counted through (k * m,)."""
    after = np.arange(1, k * m + 1)
    after[m - 1 :: m] -= m
    return after


def fan_triangles(polygons: Floats) -> tuple[Floats, Numbers]:
    """Split convex polygons (k, m, 3) into the triangles of a fan from their first corner.

    Returns the triangles with an area, (n, 3, 3), and the polygon each came from (n,).
    """
    k, m, _ = polygons.shape
    triangles = np.empty((k, m - 2, 3, 3))
    triangles[:, :, 0] = polygons[:, :1]
    triangles[:, :, 1] = polygons[:, 1:-1]
    triangles[:, :, 2] = polygons[:, 2:]
    flat = triangles.reshape(k * (m - 2), 3, 3)
    kept = signed_areas(flat).nonzero()[0]
    return flat.take(kept, axis=0), kept // (m - 2)


def signed_areas(triangles: Floats) -> Floats:
    """Plan areas of triangles (k, 3, 3) [m²], positive when anticlockwise."""
    sides = triangles[:, 1:, :2] - triangles[:, :1, :2]
    areas: Floats = 0.5 * (sides[:, 0, 0] * sides[:, 1, 1] - sides[:, 0, 1] * sides[:, 1, 0])
    return areas


# The ground under an outline.

CLOSURE = 1e-9
"""The pieces' areas must add up to the outline's within this part of it."""

FEW = 2000
"""Up to so many triangles all are looked at; of more, only those whose box meets the outline's."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """The ground under an outline as triangles.

    corners : (k, 3, 3) LOCAL x, y and elevation [m], anticlockwise up to rounding.  areas : (k,) signed plan
    areas [m²].  source : (k,) the surface triangle each piece lies in.  origin : (2,) site = local + origin.
     area : the outline's area as far as there is ground [m²] (all of it, but for a strip of at most 1 mm
     along the hull).
    doubt : how far a volume over the outline may be off because the survey does not say how its squares fold
    [m³].
    """

    corners: Floats
    areas: Floats
    source: Numbers
    origin: Floats
    area: float
    doubt: float

    def tilted(self, tilt: Tilt) -> Pieces:
        """The ground under the same outline once it is made steeper: what ``Surface.tilted`` would give."""
        corners = self.corners.copy()
        corners[:, :, 2] += tilt.rise(corners, self.origin)
        return replace(self, corners=_locked(corners))

    def __repr__(self) -> str:
        ground = f"{METRIC.elevation(self.lowest)} to {METRIC.elevation(self.highest)}"
        return f"<Pieces: {len(self.areas)} triangles, {METRIC.area(self.area)}, ground {ground}>"

    @cached_property
    def heights(self) -> Floats:
        """Elevations of each piece's corners, lowest first, (k, 3) [m]."""
        return _locked(np.sort(self.corners[:, :, 2], axis=1))

    @cached_property
    def mean(self) -> float:
        """Mean elevation of the ground under the outline [m]."""
        datum = float(self.heights[0, 0])
        depth = (self.heights - datum).sum(axis=1) / 3.0
        return datum + float((depth * self.areas).sum() / self.areas.sum())

    @property
    def lowest(self) -> float:
        """Lowest ground under the outline [m]; a plane piece is lowest at a corner."""
        return float(self.heights[:, 0].min())

    @property
    def highest(self) -> float:
        """Highest ground under the outline [m]."""
        return float(self.heights[:, 2].max())


def clip(surface: Surface, outline: Outline) -> Pieces:
    """Cut the surface's triangles by the outline (convex or not, with holes).

    Raises InputError (``outline-outside-survey``, ``outline-far-from-survey``) where the outline reaches
    over 1 mm outside the surveyed ground, and CheckError where the pieces do not add up to the outline.

    Of ground that was tilted, what was cut before it was tilted is tilted too.
    """
    if surface.before is not None:
        level, tilt = surface.before
        return clip(level, outline).tilted(tilt)
    key = tuple(ring.tobytes() for ring in outline.rings)
    found = surface.looked_at.get(key)
    if not isinstance(found, Pieces):
        found = surface.looked_at[key] = _clip(surface, outline)
    return found


def _clip(surface: Surface, outline: Outline) -> Pieces:
    rings = [ring - surface.origin for ring in outline.rings]
    numbers, triangles = near(surface, rings[0])
    if outline.is_convex:
        corners, source = cut_region(triangles, half_planes(rings[0]))
    else:
        cut = [cut_region(triangles, half_planes(part)) for part in convex_parts(rings)]
        corners = np.concatenate([corner for corner, _ in cut])
        source = np.concatenate([number for _, number in cut])
    areas = signed_areas(corners)
    area, total = outline.area, float(areas.sum())
    if not abs(total - area) <= CLOSURE * area:
        from gradework.earthwork.outside import covered_area  # an outline inside needs no shapely

        area = covered_area(surface, outline)
        if not abs(total - area) <= CLOSURE * outline.area:
            raise CheckError(f"the pieces cover {total!r} m², the outline {area!r} m²")
    source = numbers.take(source)
    doubt = _fold_doubt(surface, corners, areas, source)
    return Pieces(_locked(corners), _locked(areas), _locked_numbers(source), surface.origin, area, doubt)


def near(surface: Surface, ring: Floats, reach: float = 0.0) -> tuple[Numbers, Floats]:
    """Numbers and corners (k, 3, 3) of the triangles that may come within ``reach`` [m] of the ring."""
    triangles = surface.triangles
    numbers = np.arange(len(triangles))
    if len(triangles) > FEW:
        low, high = ring.min(axis=0) - reach, ring.max(axis=0) + reach
        x, y = surface.vertices[:, 0], surface.vertices[:, 1]
        code = (x < low[0]).astype(np.uint8)
        code |= (x > high[0]).astype(np.uint8) << 1
        code |= (y < low[1]).astype(np.uint8) << 2
        code |= (y > high[1]).astype(np.uint8) << 3
        beyond = code.take(triangles[:, 0]) & code.take(triangles[:, 1]) & code.take(triangles[:, 2])
        numbers = np.flatnonzero(beyond == 0)
        triangles = triangles.take(numbers, axis=0)
    return numbers, surface.vertices.take(triangles.reshape(-1), axis=0).reshape(-1, 3, 3)


def cut_region(triangles: Floats, planes: Floats) -> tuple[Floats, Numbers]:
    """Cut triangles (k, 3, 3) by a convex region (e, 3): pieces (n, 3, 3), the triangle each lies in (n,)."""
    whole, polygons, straddling = clip_triangles(triangles, planes)
    parts, polygon = fan_triangles(polygons)
    corners = np.concatenate((triangles.take(whole, axis=0), parts))
    return corners, np.concatenate((whole, straddling.take(polygon)))


def _fold_doubt(surface: Surface, corners: Floats, areas: Floats, source: Numbers) -> float:
    """The most that the unknown folds can move the volume [m³].

    In a fold the centre may stand half the gap higher or lower; the ground between follows in proportion, so
    the volume moves by half the gap times the integral of the centre's weight, one at the centre and none at
    the rim.
    """
    folds = surface.folds
    if not len(folds):
        return 0.0
    in_fold = np.zeros(len(surface.triangles), dtype=bool)
    in_fold[folds.triangles] = True
    pieces = np.flatnonzero(in_fold.take(source))
    corner_numbers = surface.triangles.take(source.take(pieces), axis=0)
    centre = corner_numbers.argmax(axis=1)  # centres are numbered after all stations
    rows = np.arange(len(pieces))
    a = surface.vertices[corner_numbers[rows, (centre + 1) % 3], :2]
    side = surface.vertices[corner_numbers[rows, (centre + 2) % 3], :2] - a
    apex_number = corner_numbers[rows, centre]
    apex = surface.vertices[apex_number, :2] - a
    middle = corners.take(pieces, axis=0)[:, :, :2].mean(axis=1) - a
    weight = (side[:, 0] * middle[:, 1] - side[:, 1] * middle[:, 0]) / (
        side[:, 0] * apex[:, 1] - side[:, 1] * apex[:, 0]
    )
    gap = folds.gaps[np.searchsorted(folds.centres, apex_number)]
    return float((0.5 * gap * weight * areas.take(pieces)).sum())


def _locked(values: Floats) -> Floats:
    values.setflags(write=False)
    return values


def _locked_numbers(values: Numbers) -> Numbers:
    values.setflags(write=False)
    return values
