"""The ground under an outline, cut into triangles: exact, with the area checked in every run.

It never invents ground: an outline that reaches outside the surveyed ground is an error that names the
corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import halfplane
from gradework.errors import CheckError

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground import Surface

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

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
    """
    rings = [ring - surface.origin for ring in outline.rings]
    numbers, triangles = near(surface, rings[0])
    if outline.is_convex:
        corners, source = cut_region(triangles, halfplane.half_planes(rings[0]))
    else:
        from gradework.earthwork.parts import convex_parts  # pythoncdt: only a hollow outline needs it

        cut = [cut_region(triangles, halfplane.half_planes(part)) for part in convex_parts(rings)]
        corners = np.concatenate([corner for corner, _ in cut])
        source = np.concatenate([number for _, number in cut])
    areas = halfplane.signed_areas(corners)
    area, total = outline.area, float(areas.sum())
    if not abs(total - area) <= CLOSURE * area:
        from gradework.earthwork.outside import (
            covered_area,
        )  # shapely: only where an outline reaches the hull

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
    whole, polygons, straddling = halfplane.clip(triangles, planes)
    parts, polygon = halfplane.fan(polygons)
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
