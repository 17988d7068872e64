"""Soil spread in a thin layer over finished ground: flat slopes up its edges, one thickness in between.

The layer of a patch is the lowest of planes over its plan, one up from each side and a level one, so the
ground with it is exact like all that is shaped: cut along its bends, raised at the corners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import cut_region, half_planes, signed_areas
from gradework.earthwork.grading.finished import as_surface
from gradework.earthwork.grading.planes import Lowest, Plane, bends, height_at
from gradework.earthwork.grading.ponded import stands_deeper
from gradework.earthwork.rings import ring_area, ring_length
from gradework.earthwork.volumes import AGREEMENT
from gradework.errors import CheckError
from gradework.ground.cut_ground import GRID, cut_along

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

AROUND = 12.0
"""[m] So far round a patch one looks for water that it holds back."""


@dataclass(frozen=True, eq=False)
class Patch:
    """Where soil is spread: ``ring`` (k, 2), anticlockwise, without inward corners, site frame [m];
    ``thick`` [m] the layer as it is spread, ``runs`` (k,) [m] how far each side takes to come to that."""

    ring: Floats
    thick: float
    runs: Floats

    @property
    def area(self) -> float:
        """The ground that it covers [m²]."""
        return ring_area(self.ring)

    @cached_property
    def volume(self) -> float:
        """The soil in it as it is spread [m³], exact."""
        return self.thick * unit_volume(self.ring, self.runs)

    def _shape(self, origin: Floats) -> Lowest:
        planes = half_planes(self.ring - origin) * (self.thick / self.runs)[:, None]
        rising = (Plane(east, north, -off) for east, north, off in planes.tolist())
        return Lowest((*rising, Plane(0.0, 0.0, self.thick)))

    def layer(self, places: Floats, origin: Floats) -> Floats:
        """How thick the soil lies (n,) [m] at ``places`` (n, 2), local; 0 beside it."""
        thick: Floats = np.maximum(height_at(self._shape(origin), places), 0.0)
        return thick

    def lines(self, origin: Floats) -> Floats:
        """Its sides and its bends (s, 2, 2), local [m]; bends run on beyond its sides."""
        ring = self.ring - origin
        low, high = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
        sides = np.stack((ring, np.roll(ring, -1, axis=0)), axis=1)
        return np.concatenate((sides, bends(self._shape(origin), (low[0], low[1], high[0], high[1]))))


def unit_volume(ring: Floats, runs: Floats) -> float:
    """Soil per metre of thickness [m²] of a layer over ``ring`` (k, 2) whose sides take ``runs`` (k,) [m].

    Of 6 by 4 m with edges 1 m wide: the whole, less half of the edges, and a third of the corners back.

    >>> ring = np.array([(0.0, 0.0), (6.0, 0.0), (6.0, 4.0), (0.0, 4.0)])
    >>> round(unit_volume(ring, np.ones(4)), 9)
    15.333333333
    """
    rise = half_planes(ring) / runs[:, None]
    fan = np.stack([ring[np.zeros(len(ring) - 2, dtype=int)], ring[1:-1], ring[2:]], axis=1)
    flat = np.concatenate([fan, np.zeros((len(fan), 3, 1))], axis=2)
    level = np.array([0.0, 0.0, -1.0])
    faces = np.concatenate([rise, level[None]])  # the last is the level top, at one
    total = 0.0
    for number, own in enumerate(faces):
        over = np.delete(faces, number, axis=0) - own  # where this face is the lowest
        corners, _ = cut_region(flat, over)
        if len(corners):
            heights = corners[:, :, :2] @ own[:2] - own[2]
            total += float(signed_areas(corners) @ heights.mean(axis=1))
    return total


def spread_on(surface: Surface, patches: Sequence[Patch]) -> Surface:
    """The ground with soil spread on it; patches do not overlap.

    Raises CheckError where what was laid on it is not what is in the patches: one that leaves the surface.
    """
    if not patches:
        return surface
    rings = np.concatenate([one.ring for one in patches]) - surface.origin
    low, high = (rings.min(axis=0) - 1.0).tolist(), (rings.max(axis=0) + 1.0).tolist()
    lines = np.concatenate([one.lines(surface.origin) for one in patches])
    work = cut_along(surface, lines, (low[0], low[1], high[0], high[1]))
    thick = _thickness(patches, work.places, surface.origin)[work.mesh.triangles]
    laid, wanted = float(work.areas @ thick.mean(axis=1)), sum(one.volume for one in patches)
    slack = AGREEMENT * wanted + GRID * sum(ring_length(one.ring) * one.thick for one in patches)
    if not abs(laid - wanted) <= slack:
        raise CheckError(f"{laid!r} m³ of soil lie on the finished ground, {wanted!r} m³ were spread")
    return as_surface(surface, work, work.ground + thick)


def _thickness(patches: Sequence[Patch], places: Floats, origin: Floats) -> Floats:
    return np.max([one.layer(places, origin) for one in patches], axis=0)  # type: ignore[no-any-return]


# Water that a layer holds back.


def held_back(surface: Surface, patches: Sequence[Patch]) -> float:
    """How much deeper water stands somewhere round the ``patches`` than it did before they lay on it [m].

    ``surface`` is the ground with them. Water that comes ``AROUND`` away from them has run off.
    """
    rings = np.concatenate([one.ring for one in patches]) - surface.origin
    low, high = rings.min(axis=0) - AROUND, rings.max(axis=0) + AROUND
    before = surface.vertices[:, 2] - _thickness(patches, surface.vertices[:, :2], surface.origin)
    return stands_deeper(surface, before, low, high)
