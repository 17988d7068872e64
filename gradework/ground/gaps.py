"""Where the survey says little: long triangles that bridge a gap under a building or pad.

It never changes the surface; it says where more shots would help most.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Finding, finding, visible
from gradework.ground.surface import Surface
from gradework.ground.triangulation import NEXT
from gradework.survey.stations import median

BRIDGE = 3.0
"""[median spacings] A side longer than this bridges a gap in the survey."""

MOST_PLACES = 5
"""So many places to shoot are named; they cover the largest gaps."""


def find_gaps(surface: Surface, rings: Sequence[NDArray[np.float64]]) -> tuple[Finding, ...]:
    """`gap-under-outline` for each place under an outline that a side of over 3 median spacings bridges.

    A ring that the tie rule has fanned counts too, by the two of its stations that are farthest apart:
    without the rule a side would join them, or two nearly as far.

    ``rings``: (k, 2) [m] each, site frame; ring 0 outside, the others holes. The value is the length of the
    side [m], the limit 3 spacings [m]. The largest gaps first, at most 5, none within two spacings of
    another. Empty when the outline lies on well-shot ground, or wholly off it.
    """
    triangle, side, length = _station_sides(surface)
    spacing = median(length)
    long = length > BRIDGE * spacing
    outline = [np.asarray(ring, dtype=np.float64) - surface.origin for ring in rings]
    low, high = outline[0].min(axis=0), outline[0].max(axis=0)
    places: list[tuple[float, float, NDArray[np.float64], tuple[int, int]]] = []
    bridged = [
        ([t], reach, (int(surface.triangles[t, k]), int(surface.triangles[t, NEXT[k]])))
        for t, k, reach in _longest_per_triangle(triangle[long], side[long], length[long])
    ]
    told = {triangles[0] for triangles, _, _ in bridged}
    for triangles, reach, ends in [*bridged, *_wide_rings(surface, BRIDGE * spacing, told)]:
        area, moment = 0.0, np.zeros(2)
        for t in triangles:
            corners = surface.vertices[surface.triangles[t], :2]
            if (corners.max(axis=0) <= low).any() or (corners.min(axis=0) >= high).any():
                continue
            part, first = _overlap(corners, outline)
            area, moment = area + part, moment + first
        if area > 0:
            places.append((area, reach, moment / area, ends))
    return _findings(surface, sorted(places, key=lambda place: (-place[0], *place[2].tolist())), spacing)


def _station_sides(surface: Surface) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
    """Triangle, side number and length of every side between two stations; inner sides count twice."""
    n = len(surface.stations.xyz)
    start, end = surface.triangles, surface.triangles[:, NEXT]
    triangle, side = np.nonzero((start < n) & (end < n))
    run = surface.vertices[end[triangle, side], :2] - surface.vertices[start[triangle, side], :2]
    return triangle, side, np.hypot(run[:, 0], run[:, 1])


def _longest_per_triangle(
    triangle: NDArray[np.int64], side: NDArray[np.int64], length: NDArray[np.float64]
) -> list[tuple[int, int, float]]:
    order = np.lexsort((-length, triangle))
    triangle, side, length = triangle[order], side[order], length[order]
    first = np.flatnonzero(np.diff(triangle, prepend=-1))
    return list(zip(triangle[first].tolist(), side[first].tolist(), length[first].tolist(), strict=True))


def _wide_rings(
    surface: Surface, limit: float, told: set[int]
) -> Iterator[tuple[list[int], float, tuple[int, int]]]:
    """Fanned rings wider than ``limit`` [m]: their triangles, the width, the two stations it lies between.

    Left out are rings with a triangle in ``told``.
    """
    folds = surface.folds
    if not len(folds):
        return
    rim = surface.triangles[folds.triangles, 0]
    ring = np.repeat(np.arange(len(folds)), np.diff(folds.starts))
    out = surface.vertices[rim, :2] - surface.vertices[folds.centres[ring], :2]
    reach = np.maximum.reduceat(np.hypot(out[:, 0], out[:, 1]), folds.starts[:-1])
    for number in np.flatnonzero(2 * reach > limit).tolist():
        begin, end = folds.starts[number : number + 2].tolist()
        triangles = folds.triangles[begin:end].tolist()
        if not told.isdisjoint(triangles):
            continue
        corners = surface.vertices[rim[begin:end], :2]
        apart = np.hypot(*(corners[:, None] - corners[None]).transpose(2, 0, 1))
        # of equals the pair of the first stations, whichever corner the walk round the ring began at
        numbers = rim[begin:end]
        i, j = np.nonzero(apart >= apart.max() * (1 - 1e-9))
        pair = min(tuple(sorted((int(numbers[a]), int(numbers[b])))) for a, b in zip(i, j, strict=True))
        if apart.max() > limit:
            yield triangles, float(apart.max()), (pair[0], pair[1])


def _overlap(
    corners: NDArray[np.float64], rings: list[NDArray[np.float64]]
) -> tuple[float, NDArray[np.float64]]:
    """Area [m²] of an anticlockwise triangle under the outline, and area times the centre of that part."""
    total, moment = 0.0, np.zeros(2)
    for number, ring in enumerate(rings):
        area, first = _area_and_moment(_clipped(ring, corners))
        sign = np.sign(area) * (1.0 if number == 0 else -1.0)
        total += float(sign * area)
        moment += sign * first
    if total <= 1e-9:  # a square hundredth of a millimetre by a metre: touching is not overlapping
        return 0.0, np.zeros(2)
    return total, moment


def _clipped(ring: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """A ring cut down to a convex window, side by side; parts may be joined by lines without area."""
    for k in range(3):
        if not len(ring):
            break
        a, b = corners[k], corners[(k + 1) % 3]
        depth = (b[0] - a[0]) * (ring[:, 1] - a[1]) - (b[1] - a[1]) * (ring[:, 0] - a[0])
        ahead, depth_ahead = np.roll(ring, -1, axis=0), np.roll(depth, -1)
        kept: list[NDArray[np.float64]] = []
        for p, q, d, e in zip(ring, ahead, depth.tolist(), depth_ahead.tolist(), strict=True):
            if d >= 0:
                kept.append(p)
            if (d >= 0) != (e >= 0):
                kept.append(p + (q - p) * (d / (d - e)))
        ring = np.array(kept).reshape(-1, 2)
    return ring


def _area_and_moment(ring: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    """Signed area of a ring, and its area times its centre."""
    if len(ring) < 3:
        return 0.0, np.zeros(2)
    base = ring[0]
    p = ring - base
    q = np.roll(p, -1, axis=0)
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    area = float(cross.sum()) / 2
    return area, (cross[:, None] * (p + q)).sum(axis=0) / 6 + area * base


def _findings(
    surface: Surface, places: list[tuple[float, float, NDArray[np.float64], tuple[int, int]]], spacing: float
) -> tuple[Finding, ...]:
    show, names = surface.stations.show, surface.stations.names
    findings: list[Finding] = []
    taken: list[NDArray[np.float64]] = []
    for _, reach, centre, ends in places:
        if len(findings) == MOST_PLACES:
            break
        if any(np.hypot(*(centre - other)) < 2 * spacing for other in taken):
            continue
        taken.append(centre)
        place = show.place(*(centre + surface.origin).tolist())
        one, other = (visible(names[end]) for end in sorted(ends))
        findings.append(
            finding(
                "gap-under-outline",
                "warning",
                place,
                reach,
                BRIDGE * spacing,
                one=one,
                other=other,
                reach=show.distance(reach),
                spacing=show.distance(spacing),
                place=place,
            )
        )
    return tuple(findings)
