"""Which stations are joined: the Delaunay triangulation on whole numbers, checked in every run.

The engine is never trusted: counts, orientation, cover and hull are proved afterwards with integers, and a
disagreement raises ``CheckError``. It knows nothing of elevations.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pythoncdt
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.guard import GridPlaces

BLOCK = 1 << 18
"""Triangles worked on at once: keeps the working memory small and in the cache."""

NEXT = np.array([1, 2, 0])
BEFORE = np.array([2, 0, 1])


class Mesh(NamedTuple):
    """``triangles`` (t, 3) int32 anticlockwise; ``neighbours`` (t, 3) int32: edge k joins vertices k and
    k + 1 of its triangle and leads to neighbour k, -1 at the hull.
    """

    triangles: NDArray[np.int32]
    neighbours: NDArray[np.int32]


def triangulate(places: GridPlaces) -> Mesh:
    """The Delaunay triangulation of the stations; vertex k is the station ``places.order[k]``.

    So the mesh depends on the places only, not on the order of the stations. Raises ``CheckError`` when an
    invariant fails.
    """
    whole = places.whole[places.order]
    points = whole.astype(np.float64)
    engine = pythoncdt.Triangulation(
        pythoncdt.VertexInsertionOrder.AUTO, pythoncdt.IntersectingConstraintEdges.NOT_ALLOWED, 0.0
    )
    buffer: Any = points  # the array is a buffer, which its type only says from Python 3.12 on
    engine.insert_vertices(buffer)
    engine.erase_super_triangle()
    found = engine.triangles_array(copy=False)
    triangles = np.ascontiguousarray(found["vertices"]).view(np.int32)
    neighbours = np.ascontiguousarray(found["neighbors"]).view(np.int32)
    mesh = Mesh(triangles, neighbours)
    check_mesh(mesh, whole)
    return mesh


def hull_loop(mesh: Mesh) -> NDArray[np.int64]:
    """The vertices of the boundary (h,), anticlockwise, starting at the lowest number."""
    t, k = np.nonzero(mesh.neighbours < 0)
    start, end = mesh.triangles[t, k], mesh.triangles[t, NEXT[k]]
    following = dict(zip(start.tolist(), end.tolist(), strict=True))
    if len(following) != len(start):
        raise CheckError("the boundary of the surface passes twice through one station")
    first = vertex = min(following)
    loop = [first]
    for _ in range(len(following) - 1):
        vertex = following[vertex]
        loop.append(vertex)
    if following[vertex] != first or len(set(loop)) != len(following):
        raise CheckError("the boundary of the surface is not one closed line")
    return np.array(loop, dtype=np.int64)


def check_mesh(mesh: Mesh, whole: NDArray[np.int64]) -> None:
    """Prove the mesh with integers; raise ``CheckError`` if anything disagrees.

    Every station is a vertex; every triangle is anticlockwise with doubled area at least 1; the boundary
    is one convex loop whose doubled area equals the sum of the triangles'; t = 2 n - 2 - h.
    """
    n, t = len(whole), len(mesh.triangles)
    if not t or int(mesh.triangles.min()) < 0 or int(mesh.triangles.max()) >= n:
        raise CheckError("the triangulation returned no triangles or an unknown station")
    used = np.zeros(n, dtype=bool)
    used[mesh.triangles.ravel()] = True
    if not used.all():
        raise CheckError(f"{n - int(used.sum())} stations are not part of the surface")
    total = 0
    x, y = np.ascontiguousarray(whole[:, 0]), np.ascontiguousarray(whole[:, 1])
    for begin in range(0, t, BLOCK):
        doubled = _doubled_areas(mesh.triangles[begin : begin + BLOCK], x, y)
        if int(doubled.min()) < 1:
            raise CheckError("a triangle of the surface is turned over")
        total += int(doubled.sum())
    loop = hull_loop(mesh)
    ring = whole[loop]
    if t != 2 * n - 2 - len(loop):
        raise CheckError(f"{t} triangles on {n} stations with {len(loop)} on the hull break Euler's count")
    side = np.roll(ring, -1, axis=0) - ring
    turn = np.roll(side, -1, axis=0)
    heading = np.sign(side[:, 0])[side[:, 0] != 0]
    once_around = int((heading != np.roll(heading, 1)).sum()) == 2
    if not once_around or int((side[:, 0] * turn[:, 1] - side[:, 1] * turn[:, 0]).min()) < 0:
        raise CheckError("the hull of the surface is not convex")
    arm = ring - ring[0]
    ahead = np.roll(arm, -1, axis=0)
    if int((arm[:, 0] * ahead[:, 1] - arm[:, 1] * ahead[:, 0]).sum()) != total:
        raise CheckError("the triangles do not cover the hull exactly once")


def _doubled_areas(
    triangles: NDArray[np.int32], x: NDArray[np.int64], y: NDArray[np.int64]
) -> NDArray[np.int64]:
    a, b, c = (np.ascontiguousarray(triangles[:, k]) for k in range(3))
    ax, ay = x[a], y[a]
    area: NDArray[np.int64] = (x[b] - ax) * (y[c] - ay) - (y[b] - ay) * (x[c] - ax)
    return area
