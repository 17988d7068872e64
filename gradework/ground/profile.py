"""The ground along a straight line: between the edges of the triangles it is straight, so those tell all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]


def edges_once(surface: Surface) -> Floats:
    """The edges of the triangles, each once, those at the rim too: both ends (e, 2, 3), local [m]."""
    corners = surface.vertices[surface.triangles]
    once = surface.neighbours < np.arange(len(corners))[:, None]  # from one of the two triangles of each
    edges: Floats = np.stack((corners, np.roll(corners, -1, axis=1)), axis=2)[once]
    return edges


def stretches(triangles: Floats, start: Floats, along: Floats) -> Floats:
    """Where a line runs over triangles: distance from its ``start`` and elevation at both ends of each
    stretch (k, 2, 2) [m], from its start onward.

    triangles : (t, 3, 3);  start, along : (2,), a place and a unit vector, all in one frame. The line goes
    on both ways. Where it runs along an edge, the triangle on its right counts, so that of a surface each
    stretch comes once; an upright step leaves a gap in elevation between two stretches.

    >>> roof = np.array([[(0.0, 0.0, 5.0), (4.0, 0.0, 5.0), (0.0, 4.0, 9.0)]])
    >>> stretches(roof, np.array([-1.0, 1.0]), np.array([1.0, 0.0])).tolist()
    [[[1.0, 6.0], [4.0, 6.0]]]
    """
    arm = triangles[:, :, :2] - start
    off = arm[:, :, 1] * along[0] - arm[:, :, 0] * along[1]
    left = off >= 0.0
    met = np.flatnonzero(left.any(axis=1) & ~left.all(axis=1))
    corner, side, off = triangles[met], left[met], off[met]
    onward, after = np.roll(corner, -1, axis=1), np.roll(off, -1, axis=1)
    crossed = side != np.roll(side, -1, axis=1)  # two of the three sides
    share = off[crossed] / (off[crossed] - after[crossed])
    at = corner[crossed] + share[:, None] * (onward[crossed] - corner[crossed])
    ends = np.column_stack(((at[:, :2] - start) @ along, at[:, 2])).reshape(-1, 2, 2)
    backward = ends[:, 0, 0] > ends[:, 1, 0]
    ends[backward] = ends[backward, ::-1]
    found: Floats = ends[ends[:, 0, 0] < ends[:, 1, 0]]
    return found[np.argsort(found[:, :, 0].sum(axis=1), kind="stable")]


def crossings(edges: Floats, start: Floats, along: Floats) -> Floats:
    """Where a line crosses edges: distance from its ``start`` and elevation (k, 2) [m], sorted.

    edges : (e, 2, 3);  start, along : (2,), a place and a unit vector, all in one frame. The line goes on
    both ways. An edge that lies in it is not crossed, those that meet it there are.

    >>> edge = np.array([[(3.0, -1.0, 10.0), (3.0, 3.0, 12.0)]])
    >>> crossings(edge, np.array([0.0, 0.0]), np.array([1.0, 0.0])).tolist()
    [[3.0, 10.5]]
    """
    one, two = edges[:, 0, :2] - start, edges[:, 1, :2] - start
    off_one, off_two = (arm[:, 1] * along[0] - arm[:, 0] * along[1] for arm in (one, two))
    meets = np.flatnonzero((off_one * off_two <= 0.0) & (off_one != off_two))
    share = off_one[meets] / (off_one[meets] - off_two[meets])
    at = (one[meets] + share[:, None] * (two[meets] - one[meets])) @ along
    ground = edges[meets, 0, 2] + share * (edges[meets, 1, 2] - edges[meets, 0, 2])
    found: Floats = np.column_stack((at, ground))[np.argsort(at, kind="stable")]
    return found
