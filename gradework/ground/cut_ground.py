"""The surveyed surface cut along lines: one triangulation, each triangle of it inside a surveyed one.

Lines meet on a grid of 10 nm, on which they are noded by snap rounding: whatever lines are given, what
comes out meets at ends only, so that the triangulation between them cannot fail.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pythoncdt
import shapely
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.locate import weights
from gradework.ground.profile import edges_once
from gradework.ground.triangulation import Mesh

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Box = tuple[float, float, float, float]

GRID = 1e-8
"""[m] The grid on which lines on the ground meet: far below what a stake can be placed to, far above the
rounding of places."""

_MEETS = 1e-6
"""[m] An edge farther from every line is not noded with them: no end set on the grid comes near it."""


class CutGround(NamedTuple):
    """The surveyed surface cut along all lines: ``places`` (p, 2) local, triangles of them, the surveyed one
    each lies in (t,), and the ground at their corners (t, 3) [m]."""

    places: Floats
    mesh: Mesh
    source: Indices
    ground: Floats

    @property
    def middles(self) -> Floats:
        """(t, 2) [m]"""
        middles: Floats = self.places[self.mesh.triangles].mean(axis=1)
        return middles

    @property
    def areas(self) -> Floats:
        """(t,) [m²]"""
        corner = self.places[self.mesh.triangles]
        u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        areas: Floats = 0.5 * (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
        return areas


def cut_along(surface: Surface, lines: Floats, window: Box, *, whole: bool = True) -> CutGround:
    """Cut the surface along lines (s, 2, 2), local [m]; they are taken inside the survey and the window only.

    Unless ``whole`` the ground beyond the window is left away, up to the surveyed edges that meet it. Raises
    CheckError where the triangulation between them is not what it should be.
    """
    edges = np.rint(edges_once(surface)[:, :, :2] / GRID) * GRID
    hull = shapely.intersection(shapely.Polygon(surface.vertices[surface.hull, :2]), shapely.box(*window))
    inner: Any = shapely.linestrings(lines)
    shapely.prepare(hull)
    across = ~shapely.covers(hull, inner)  # few: cutting lines is slow, looking is not
    inner[across] = shapely.intersection(inner[across], hull)
    low, high = np.array(window[:2]) - GRID, np.array(window[2:]) + GRID
    near = ((edges.max(axis=1) >= low) & (edges.min(axis=1) <= high)).all(axis=1)
    beside: Any = shapely.linestrings(edges[near])
    met = np.unique(shapely.STRtree(inner).query(beside, predicate="dwithin", distance=_MEETS)[0])
    alone = np.delete(beside, met)
    beside = beside[met]
    noded: Any = shapely.get_parts(shapely.unary_union(np.concatenate((beside, inner)), grid_size=GRID))
    beyond: Any = shapely.linestrings(edges[~near]) if whole else []  # nothing crosses these
    places, sides = _numbered(np.concatenate((noded, alone, beyond)))
    return _on_ground(surface, places.astype(np.float64) * GRID, constrained(places, sides))


def _numbered(parts: Any) -> tuple[Indices, Indices]:
    """Places (p, 2) in steps of the grid, and sides (s, 2) by their numbers, of lines that meet at ends."""
    parts = parts[shapely.get_type_id(parts) == 1]
    coordinates, line = shapely.get_coordinates(parts, return_index=True)
    steps = np.rint(coordinates / GRID).astype(np.int64)
    order = np.lexsort((steps[:, 1], steps[:, 0]))
    rows = steps[order]
    fresh = np.concatenate(([True], (rows[1:] != rows[:-1]).any(axis=1)))
    places, number = rows[fresh], np.empty(len(rows), dtype=np.int64)
    number[order] = np.cumsum(fresh) - 1
    along = line[1:] == line[:-1]
    sides = np.stack((number[:-1][along], number[1:][along]), axis=1)
    sides = np.unique(np.sort(sides[sides[:, 0] != sides[:, 1]], axis=1), axis=0)
    return places, sides


def constrained(places: Indices, sides: Indices) -> Mesh:
    """Triangles between the sides (s, 2) of places (p, 2), in whole steps of the grid, which are exact.

    Nothing outside of the outermost sides. Raises CheckError where they are not what they should be.
    """
    engine = pythoncdt.Triangulation(
        pythoncdt.VertexInsertionOrder.AUTO, pythoncdt.IntersectingConstraintEdges.NOT_ALLOWED, 0.0
    )
    points: Any = (places - places.min(axis=0)).astype(np.float64)
    edges: Any = np.ascontiguousarray(sides.astype(np.uint32))
    engine.insert_vertices(points)
    engine.insert_edges(edges)
    engine.erase_outer_triangles()
    found = engine.triangles_array(copy=True)
    triangles = np.ascontiguousarray(found["vertices"]).view(np.int32)
    neighbours = np.ascontiguousarray(found["neighbors"]).view(np.int32)
    if not len(triangles) or int(triangles.max()) >= len(places):
        raise CheckError("the triangulation of the finished ground returned no triangles or an unknown place")
    return Mesh(triangles, neighbours)


def _on_ground(surface: Surface, places: Floats, mesh: Mesh) -> CutGround:
    """Tell for each triangle which surveyed one it lies in, and how high the ground is at its corners."""
    corners = places[mesh.triangles]
    source = surface.locate(corners.mean(axis=1) + surface.origin)
    if (source < 0).any():
        raise CheckError("a triangle of the finished ground lies outside the survey")
    known = surface.triangles[source]
    ground = np.empty(mesh.triangles.shape)
    for k in range(3):
        share, _ = weights(surface.vertices, known, corners[:, k])
        ground[:, k] = (share * surface.vertices[known, 2]).sum(axis=1)
    return CutGround(places, mesh, source, ground)
