"""Does any digging go below the line that falls 1:1 from the foot of somebody else's wall?

Exact: between bends the foot of a wall and the edges of what is dug are straight in plan and in height, so
the worst pair of places has a closed form on each pair of stretches, and no other pair comes close.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.ground.profile import crossings, edges_once
from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

STEP = 0.3048
"""[m] Where a wall stands beyond the survey, its foot is read off the survey's edge this often."""

_BLOCK = 1 << 20  # pairs of stretches looked at once


@dataclass(frozen=True, eq=False)
class Dug:
    """A part of what is dug: what for, and the ``edges`` (k, 2, 3) of its bottom, site x, y, height [m]."""

    what: str
    edges: Floats


def ring_edges(ring: Floats, heights: Floats | float) -> Floats:
    """The sides of a ring (k, 2) [m] at ``heights`` (k,) or one height [m], as stretches (k, 2, 3)."""
    corners = np.column_stack([ring, np.broadcast_to(heights, len(ring))])
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)


def triangle_edges(corners: Floats) -> Floats:
    """The sides of triangles (k, 3, 3) as stretches (3 k, 2, 3)."""
    return np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2, 3)


def foot_of(surface: Surface, face: Any) -> Floats:
    """The ground along a wall's ``face`` (a shapely line, site) as stretches (k, 2, 3) [m].

    It bends where the face crosses an edge of a triangle. Where the wall stands beyond the survey the nearest
    surveyed ground stands for the ground at its foot.
    """
    hull, edges = shapely.Polygon(surface.hull_xy), edges_once(surface)
    stretches = []
    for start, end in pairwise(shapely.get_coordinates(face)):
        length = float(np.hypot(*(end - start)))
        along = (end - start) / length
        bends = crossings(edges, start - surface.origin, along)[:, 0]
        regular = np.linspace(0.0, length, 2 + int(length / STEP))
        at = np.unique(np.concatenate([regular, bends[(bends > 0.0) & (bends < length)]]))
        xy = start + at[:, None] * along
        rows = np.column_stack([xy, _ground(surface, hull, xy)])
        stretches.append(np.stack([rows[:-1], rows[1:]], axis=1))
    return np.concatenate(stretches)


def _ground(surface: Surface, hull: Any, xy: Floats) -> Floats:
    nearest = shapely.shortest_line(hull, shapely.points(xy))
    inside = shapely.get_coordinates(nearest).reshape(-1, 2, 2)[:, 0]
    ground: Floats = surface.elevation(np.where((shapely.contains_xy(hull, *xy.T))[:, None], xy, inside))
    return ground


def below_line(foot: Floats, dug: Sequence[Dug]) -> tuple[float, str]:
    """How far the digging goes below the 1:1 line from a foot (k, 2, 3) at the worst place [m], and which.

    Negative where it stays above it everywhere: then it is what is left. -inf where nothing is dug.
    """
    found = [(_worst(foot, part.edges), part.what) for part in dug if len(part.edges)]
    return max(found, key=lambda one: one[0], default=(-np.inf, ""))


def _worst(foot: Floats, edges: Floats) -> float:
    """The most of (height at the foot - height of the bottom - distance in plan) [m] over two sets of
    stretches.

    It changes evenly along any ray from where the two lines cross (or along both, where they never do), so on
    a pair of stretches that do not cross it is greatest where one of the two ends. Digging that crosses the
    wall goes under it: that is told as reaching over.
    """
    down = edges * np.array([1.0, 1.0, -1.0])  # the deeper, the more
    return max(_from_ends(down.reshape(-1, 3), foot), _from_ends(foot.reshape(-1, 3), down))


def _from_ends(ends: Floats, stretches: Floats) -> float:
    """The greatest sum of the third figures less the distance, from places (m, 3) to stretches (k, 2, 3).

    Along a stretch that gains g per metre, at h off its line, g s - sqrt(h² + s²) is greatest at
    s = g h / sqrt(1 - g²) from the foot of the perpendicular.
    """
    ends = np.unique(ends, axis=0)
    best = -np.inf
    start, run = stretches[:, 0], stretches[:, 1] - stretches[:, 0]
    length = np.maximum(np.hypot(run[:, 0], run[:, 1]), 1e-12)
    along, gain = run[:, :2] / length[:, None], run[:, 2] / length
    # one that is steeper than 1:1 is worst at its end, however far off
    steep = np.where(np.abs(gain) < 1.0, 0.0, np.sign(gain) * 1e9)
    step = gain / np.sqrt(np.maximum(1.0 - gain**2, 1e-12))
    for part in np.array_split(ends, 1 + len(ends) * len(stretches) // _BLOCK):
        off = part[:, None, :2] - start[:, :2]
        foot = (off * along).sum(axis=2)
        aside = np.abs(off[:, :, 0] * along[:, 1] - off[:, :, 1] * along[:, 0])
        s = np.clip(foot + step * aside + steep, 0.0, length)
        away = off - s[:, :, None] * along
        value = part[:, None, 2] + start[:, 2] + gain * s - np.hypot(away[:, :, 0], away[:, :, 1])
        best = max(best, float(value.max(initial=-np.inf)))
    return best
