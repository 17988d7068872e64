"""Where the yard is too flat to shed water or too steep to mow or to stand: triangles by their slope."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

LEAST_ZONE = 1.0
"""A patch smaller than this tells of the survey's grain, not of the yard [m²]. Judgement."""

EDGE = 1e-9


@dataclass(frozen=True, eq=False)
class SlopeZone:
    """All patches of one kind: ``triangles`` (k,) numbers, their total ``area`` [m²], how many ``patches``.

    ``largest`` is the area of the largest patch [m²] and ``place`` (x, y) its centre of area, site frame [m];
    ``slope`` the area-weighted mean slope [-] of all. Area covered by the pad does not count.
    """

    triangles: NDArray[np.int64]
    area: float
    patches: int
    largest: float
    place: tuple[float, float]
    slope: float


def slope_zone(
    surface: Surface, low: float, high: float, *, covered: NDArray[np.float64] | None = None
) -> SlopeZone | None:
    """Gather the triangles with ``low`` < slope <= ``high`` [-] into patches; None where there is none.

    ``covered`` (t,) is the area of each triangle that is built over [m²]. Patches below ``LEAST_ZONE`` and
    triangles without area are left out. A slope within a billionth above a limit counts as the limit.
    """
    slope = surface.triangle_slopes  # NaN compares false: a triangle without area belongs nowhere
    area = surface.triangle_areas - (0.0 if covered is None else covered)
    member = (slope > low + EDGE) & (slope <= high + EDGE)
    member &= area > 1e-9 * np.abs(surface.triangle_areas)
    numbers = np.flatnonzero(member)
    patch = _patches(surface, numbers)
    sizes = np.bincount(patch, weights=area[numbers])
    every = numbers[sizes[patch] >= LEAST_ZONE]
    if not len(every):
        return None
    every.setflags(write=False)
    total = float(area[every].sum())
    largest = numbers[patch == int(np.argmax(sizes))]
    middles = surface.vertices[surface.triangles[largest], :2].mean(axis=1) + surface.origin
    place = (middles * area[largest, None]).sum(axis=0) / sizes.max()
    mean = float((slope[every] * area[every]).sum()) / total
    count = int((sizes >= LEAST_ZONE).sum())
    return SlopeZone(every, total, count, float(sizes.max()), (float(place[0]), float(place[1])), mean)


def _patches(surface: Surface, numbers: NDArray[np.int64]) -> NDArray[np.int64]:
    """Number the patches of triangles joined over edges: for each of ``numbers`` its patch (k,), from 0."""
    own = np.full(len(surface.triangles), -1, dtype=np.int64)
    own[numbers] = np.arange(len(numbers))
    beside = surface.neighbours[numbers]
    next_to = np.where(beside >= 0, own[beside], -1)
    one, side = np.nonzero(next_to >= 0)
    two = next_to[one, side]
    label = np.arange(len(numbers))
    while len(one):  # the root of each end takes the lower number, then all ask their root: few rounds
        low = np.minimum(label[one], label[two])
        np.minimum.at(label, label[one], low)
        np.minimum.at(label, label[two], low)
        label = _roots(label)
        apart = label[one] != label[two]
        one, two = one[apart], two[apart]
    return np.unique(label, return_inverse=True)[1].astype(np.int64)


def _roots(label: NDArray[np.int64]) -> NDArray[np.int64]:
    """Let each label point at the end of its chain."""
    while True:
        further = label[label]
        if np.array_equal(further, label):
            return label
        label = further
