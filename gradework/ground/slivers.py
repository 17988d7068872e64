"""Hull triangles thinner than the grid are not ground: they are taken off the edge of the surface.

Stations along one edge of a turned grid lie on a line only to within rounding. The hull on whole numbers
then closes over them with slivers a few micrometres deep, with nonsense slopes. Taking them off moves the
edge of the surface by less than the few grid steps that decided them, and leaves every station a vertex.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gradework.ground.mesh import BEFORE, NEXT, Mesh

THIN = 4.0
"""[grid steps] Three stations on a line are rounded to at most a step and a half off it; 4 leaves room."""


def peel_slivers(vertices: NDArray[np.float64], mesh: Mesh, quantum: float) -> Mesh:
    """The mesh without hull triangles whose depth behind their hull side is at most `THIN` grid steps.

    ``vertices`` (n, 2 or 3) local, TRUE coordinates [m]. Peeled from outside inwards until none is left; a
    triangle with two hull sides stays, since its ear station would be lost.
    """
    neighbours = mesh.neighbours.copy()
    gone: list[NDArray[np.int64]] = []
    row, side = np.nonzero(neighbours < 0)
    while len(row):
        ears = (neighbours[row] < 0).sum(axis=1) > 1
        thin = ~ears & _is_thin(vertices, mesh, row, side, THIN * quantum)
        peeled = row[thin]
        if not len(peeled):
            break
        gone.append(peeled)
        inner = neighbours[peeled]
        inner = inner[inner >= 0]
        # the triangles behind become hull triangles and may be thin themselves
        links = np.isin(neighbours[inner], peeled)
        neighbours[inner] = np.where(links, -1, neighbours[inner])
        row, side = np.nonzero(neighbours[np.unique(inner)] < 0)
        row = np.unique(inner)[row]
        fresh = ~np.isin(row, np.concatenate(gone))
        row, side = row[fresh], side[fresh]
    if not gone:
        return mesh
    stays = np.ones(len(mesh.triangles), dtype=bool)
    stays[np.concatenate(gone)] = False
    renumber = np.where(stays, np.cumsum(stays) - 1, -1).astype(np.int32)
    left = neighbours[stays]
    return Mesh(mesh.triangles[stays], np.where(left >= 0, renumber[left], -1).astype(np.int32))


def _is_thin(
    vertices: NDArray[np.float64], mesh: Mesh, row: NDArray[np.int64], side: NDArray[np.int64], depth: float
) -> NDArray[np.bool_]:
    a = vertices[mesh.triangles[row, side], :2]
    b = vertices[mesh.triangles[row, NEXT[side]], :2]
    c = vertices[mesh.triangles[row, BEFORE[side]], :2]
    edge, arm = b - a, c - a
    length = np.hypot(edge[:, 0], edge[:, 1])
    height = (edge[:, 0] * arm[:, 1] - edge[:, 1] * arm[:, 0]) / length
    along = (edge * arm).sum(axis=1) / length
    between: NDArray[np.bool_] = (height <= depth) & (along > 0) & (along < length)
    return between
