"""How well the straight surface and a curved one foretell shots that are left out, one after another.

The straight surface is the one that is built on: without a shot its triangles close over the place. The
curved one is the mean of the likely grounds, over the whole grid of reaches and nuggets; in closed form, with
P the precision of the shots less that of their trend: shot i less what the others say of it is (P z)ᵢ / Pᵢᵢ
(Dubrule 1983, from memory; held against leaving each out by a test).
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.ground.spread.roughness import Roughness, roughness_of
from gradework.survey.one_thread import one_thread

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

FEWEST = 12
"""With fewer shots to leave out nothing is said."""

MOST_SHOTS = 120
"""Nor of larger surveys, of which not every shot counts for the curved surface."""

_TIE = 1e-6
"""A corner this close to a circle, as a part of its radius squared, lies on it: both diagonals count."""


class LeftOut(NamedTuple):
    """Of so many ``shots`` left out: how far each surface misses them, root of the mean square [m]."""

    shots: int
    straight: float
    curved: float


ALONE = 1e-9
"""A shot of which less than this part is told by the others alone tells a crease."""


@one_thread()
def left_out(surface: Surface) -> LeftOut | None:
    """Leave out each shot inside the survey that is on no breakline; None for few shots or very many."""
    stations = surface.stations
    if not FEWEST <= len(stations) <= MOST_SHOTS:
        return None
    straight = missed_by_straight(surface)
    known = roughness_of(stations, stations.xyz[:, :2])
    order = np.lexsort((stations.xyz[:, 1], stations.xyz[:, 0]))  # as the shots of the roughness stand
    curved = np.empty(len(stations))
    curved[order] = missed_by_curved(known)
    both = np.isfinite(straight) & np.isfinite(curved)
    if int(both.sum()) < FEWEST:
        return None
    rms = (float(np.sqrt((one[both] ** 2).mean())) for one in (straight, curved))
    return LeftOut(int(both.sum()), *rms)


def missed_by_curved(known: Roughness) -> Floats:
    """Each shot less the mean of what the others leave likely there (n,) [m], in the order of ``known``; NaN
    where it alone tells a crease."""
    base, missed = known.base(known.xy), np.zeros(len(known.z))
    for column in known.columns:
        turned, height = column.vectors.T @ base, column.vectors.T @ known.z
        for k in np.flatnonzero(column.weights).tolist():
            spread = column.eigenvalues + column.errors[k]
            scaled = turned / spread[:, None]
            inner = np.linalg.inv(turned.T @ scaled)
            precise = column.vectors @ (height / spread - scaled @ (inner @ (scaled.T @ height)))
            back = column.vectors @ scaled
            whole = (column.vectors**2) @ (1.0 / spread)
            own = whole - ((back @ inner) * back).sum(axis=1)
            own[own <= ALONE * whole] = np.nan  # it alone tells a crease: the others say nothing of it
            missed += column.weights[k] * precise / own
    return missed


def missed_by_straight(surface: Surface) -> Floats:
    """Each shot less the straight surface without it (n,) [m]; NaN at the survey's rim and on breaklines."""
    count = len(surface.stations)
    around = _around(surface)
    held = set(surface.hull.tolist()).union(*(line.vertices.tolist() for line in surface.breaklines))
    missed = np.full(count, np.nan)
    for shot in range(count):
        if shot not in held:
            ring = surface.vertices[sorted(around[shot])]
            missed[shot] = surface.vertices[shot, 2] - _closed_over(ring, surface.vertices[shot, :2])
    return missed


def _around(surface: Surface) -> list[set[int]]:
    """The vertices joined to each, those beyond the centre of a fold in its place."""
    around: list[set[int]] = [set() for _ in surface.vertices]
    for triangle in surface.triangles.tolist():
        for corner in triangle:
            around[corner].update(triangle)
    centres = set(surface.folds.centres.tolist())
    met = []
    for number, own in enumerate(around):
        beyond = set().union(*(around[one] for one in own & centres))
        met.append((own | beyond) - centres - {number})
    return met


def _closed_over(ring: Floats, place: Floats) -> float:
    """Height [m] at a place (2,) of the Delaunay triangles of the vertices around it (k, 3).

    They are those that close over it once its own vertex is gone, as no other vertex lies in their circles;
    where four lie on one circle, the mean of both diagonals. NaN where none holds it.
    """
    triples = np.array(list(combinations(range(len(ring)), 3)))
    corners = ring[triples]
    a, u, v = corners[:, 0, :2], corners[:, 1, :2] - corners[:, 0, :2], corners[:, 2, :2] - corners[:, 0, :2]
    doubled = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    thick = np.abs(doubled) > 1e-9 * float(np.ptp(ring[:, :2], axis=0).max()) ** 2
    corners, a, u, v, doubled = corners[thick], a[thick], u[thick], v[thick], doubled[thick]
    arm = place - a
    second = (arm[:, 0] * v[:, 1] - arm[:, 1] * v[:, 0]) / doubled
    third = (u[:, 0] * arm[:, 1] - u[:, 1] * arm[:, 0]) / doubled
    share = np.column_stack((1.0 - second - third, second, third))
    squares = np.column_stack(((u**2).sum(axis=1), (v**2).sum(axis=1))) / (2.0 * doubled[:, None])
    middle = np.column_stack(
        (v[:, 1] * squares[:, 0] - u[:, 1] * squares[:, 1], u[:, 0] * squares[:, 1] - v[:, 0] * squares[:, 0])
    )
    radius = (middle**2).sum(axis=1)
    away = ((ring[None, :, :2] - (a + middle)[:, None]) ** 2).sum(axis=2)
    empty = (away >= radius[:, None] * (1.0 - _TIE)).all(axis=1)
    fits = empty & (share >= -1e-9).all(axis=1)
    if not fits.any():
        return float("nan")
    return float((share[fits] * corners[fits, :, 2]).sum(axis=1).mean())
