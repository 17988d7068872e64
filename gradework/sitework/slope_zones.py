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
    patches = [patch for patch in _patches(surface, member) if float(area[patch].sum()) >= LEAST_ZONE]
    if not patches:
        return None
    sizes = [float(area[patch].sum()) for patch in patches]
    every = np.sort(np.concatenate(patches))
    every.setflags(write=False)
    total = float(area[every].sum())
    largest = patches[int(np.argmax(sizes))]
    middles = surface.vertices[surface.triangles[largest], :2].mean(axis=1) + surface.origin
    place = (middles * area[largest, None]).sum(axis=0) / max(sizes)
    mean = float((slope[every] * area[every]).sum()) / total
    return SlopeZone(every, total, len(patches), max(sizes), (float(place[0]), float(place[1])), mean)


def _patches(surface: Surface, member: NDArray[np.bool_]) -> list[NDArray[np.int64]]:
    """Part the member triangles into patches joined over edges, in the order of their lowest number."""
    label = np.where(member, np.arange(len(member)), -1)
    joined = surface.neighbours
    pairs = member[:, None] & (joined >= 0) & member[joined]
    one, side = np.nonzero(pairs)
    two = joined[one, side]
    while True:
        before = label.copy()
        np.minimum.at(label, one, label[two])
        inside = label >= 0
        label[inside] = label[label[inside]]
        if np.array_equal(before, label):
            break
    numbers = np.flatnonzero(member)
    order = numbers[np.argsort(label[numbers], kind="stable")]
    cuts = np.flatnonzero(np.diff(label[order])) + 1
    return [patch for patch in np.split(order, cuts) if len(patch)]
