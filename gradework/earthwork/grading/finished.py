"""The finished ground: the surveyed surface cut along what is dug and filled, and the exact volumes of that.

Outside the pad the ground is dug down to one shape and filled up to another: finished = min(max(ground,
fill), cut). Only what hangs together with the pad, or with the line along which a swale is dug, is shaped;
a hollow or a hump beyond the daylight line stays as it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pythoncdt
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.planes import Lowest, bends, crossings_with, faces_at, heights_of
from gradework.earthwork.rings import contains
from gradework.earthwork.volumes import AGREEMENT, prism_sums
from gradework.errors import CheckError
from gradework.ground.cocircular import Folds
from gradework.ground.surface import Surface, weights
from gradework.ground.triangulation import NEXT, Mesh, hull_loop

if TYPE_CHECKING:
    from gradework.earthwork.grading.planes import Shape

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

GRID = 1e-8
"""[m] The grid on which lines meet: far below what a stake can be placed to."""

DAYLIGHT = 1e-4
"""[m] Shaped ground meets the surveyed one at its daylight line within this."""

_STEP = 1e-5
"""[m] Corners of one place that differ by more stand on two sides of an upright face."""

_ON_LINE = 1e-6
"""[m] An edge this close to the line of a swale runs along it."""


@dataclass(frozen=True, eq=False)
class Finished:
    """The ground as it will be.

    Attributes
    ----------
    surface
        Like the surveyed one, level in the pad, in planes where the ground is shaped. Where it steps (at the
        edge boards of a pad) a place has two vertices, one for each side.
    cut, fill
        What is dug and filled outside the pad, in place [m³].
    cut_area, fill_area
        The ground that this covers [m²].
    shaped
        (k, 3, 2) plan of the shaped triangles, site frame [m], dug and filled.
    leaves
        Where what is shaped is cut off by the edge of the survey: x, y and the most that it is off the ground
        there [m]; None where all of it daylights.
    """

    surface: Surface
    cut: float
    fill: float
    cut_area: float
    fill_area: float
    shaped: Floats
    leaves: tuple[float, float, float] | None


class _Cut(NamedTuple):
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


def finished_ground(
    surface: Surface,
    pad: Floats,
    level: float,
    *,
    cut: Shape | None = None,
    fill: Shape | None = None,
    lines: Floats | None = None,
) -> Finished:
    """Shape the ground round a pad.

    pad : its ring (k, 2), anticlockwise, site frame [m];  level : of the pad [m];  cut, fill : the shapes
    that the ground is dug down and filled up to, in the surface's LOCAL frame;  lines : (s, 2, 2), site
    frame, along which a swale is dug: what is dug there counts, whether it meets the pad or not. Raises
    CheckError where the new surface does not cover the surveyed one, or where the volumes are not what lies
    between the two.
    """
    ring = pad - surface.origin
    if cut is not None and fill is not None:
        fill = Lowest((cut, fill))
    work = _cut_along(surface, ring, [shape for shape in (cut, fill) if shape is not None])
    heights, wet = _shaped(surface, work, ring, cut, fill, lines)
    areas = work.areas
    inside = contains(ring, work.middles)
    heights[inside] = level
    depth = np.sort(work.ground - heights, axis=1)
    outside = wet & ~inside
    sums = prism_sums(depth[outside], areas[outside], np.zeros(1))
    own = prism_sums(depth[inside], areas[inside], np.zeros(1))
    made = _as_surface(surface, work, heights)
    cuts, fills = float(sums.cut[0] + own.cut[0]), float(sums.fill[0] + own.fill[0])
    _check(surface, made, cuts, fills, float(np.abs(depth).max()))
    dug = outside & (depth[:, 2] > -depth[:, 0])
    shaped = work.places[work.mesh.triangles[outside]] + surface.origin
    shaped.setflags(write=False)
    return Finished(
        surface=made,
        cut=float(sums.cut[0]),
        fill=float(sums.fill[0]),
        cut_area=float(areas[dug].sum()),
        fill_area=float(areas[outside & ~dug].sum()),
        shaped=shaped,
        leaves=_leaves(surface, work, outside, np.abs(work.ground - heights)),
    )


def _leaves(
    surface: Surface, work: _Cut, shaped: NDArray[np.bool_], off: Floats
) -> tuple[float, float, float] | None:
    """The place at the edge of the survey where the shaped ground is most ``off`` (t, 3) the surveyed one."""
    number, side = np.nonzero((work.mesh.neighbours < 0) & shaped[:, None])
    number, corner = np.concatenate((number, number)), np.concatenate((side, NEXT[side]))
    depth = off[number, corner]
    if not len(depth) or depth.max() <= DAYLIGHT:
        return None
    worst = int(depth.argmax())
    place = work.places[work.mesh.triangles[number[worst], corner[worst]]] + surface.origin
    return float(place[0]), float(place[1]), float(depth[worst])


def _check(surface: Surface, made: Surface, cut: float, fill: float, deepest: float) -> None:
    """Raise CheckError unless the new surface covers the old, and what lies between them is cut less fill."""
    area, covered = surface.area, made.area
    if not abs(covered - area) <= AGREEMENT * area + GRID * _round(surface):
        raise CheckError(f"the finished ground covers {covered!r} m², the survey {area!r} m²")
    datum = float(surface.vertices[:, 2].min())
    net = _content(surface, datum) - _content(made, datum)
    # lines were set on the grid: at a step that moves some ground from one side to the other
    edges = made.vertices[made.triangles][:, :, :2]
    length = float(np.hypot(*(np.roll(edges, -1, axis=1) - edges).reshape(-1, 2).T).sum())
    slack = AGREEMENT * (cut + fill) + GRID * length * deepest + 1e-13 * area * abs(datum)
    if not abs(cut - fill - net) <= slack:
        raise CheckError(f"cut less fill is {cut - fill!r} m³, between the surfaces lie {net!r} m³")


def _round(surface: Surface) -> float:
    ring = surface.vertices[surface.hull, :2]
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def _content(surface: Surface, datum: float) -> float:
    """The ground above a datum [m³]."""
    depth = surface.vertices[surface.triangles, 2] - datum
    return float(surface.triangle_areas @ depth.mean(axis=1))


def _cut_along(surface: Surface, ring: Floats, shapes: list[Shape]) -> _Cut:
    """Cut the surveyed triangles along the pad, the bends of the shapes and where the ground meets them."""
    corners = surface.vertices[surface.triangles]
    hull = surface.vertices[surface.hull, :2]
    box = (*hull.min(axis=0).tolist(), *hull.max(axis=0).tolist())
    edges = corners[:, :, :2]
    once = surface.neighbours < np.arange(len(corners))[:, None]  # each edge from one of its two triangles
    lines = [np.stack((edges, np.roll(edges, -1, axis=1)), axis=2)[once]]
    lines.append(np.stack((ring, np.roll(ring, -1, axis=0)), axis=1))
    for shape in shapes:
        lines += [bends(shape, box), crossings_with(shape, corners)]
    covered = shapely.Polygon(hull)
    edges_of: Any = shapely.linestrings(lines[0])
    inner: Any = shapely.intersection(shapely.linestrings(np.concatenate(lines[1:])), covered)
    noded = shapely.unary_union(np.concatenate((edges_of, inner)), grid_size=GRID)
    places, sides = _numbered(shapely.get_parts(noded))
    mesh = _constrained(places, sides)
    at = places.astype(np.float64) * GRID
    return _on_ground(surface, at, mesh)


def _numbered(parts: Any) -> tuple[Indices, Indices]:
    """Places (p, 2) in steps of the grid, and sides (s, 2) by their numbers, of lines that meet at ends."""
    parts = parts[shapely.get_type_id(parts) == 1]
    coordinates, line = shapely.get_coordinates(parts, return_index=True)
    places, number = np.unique(np.rint(coordinates / GRID).astype(np.int64), axis=0, return_inverse=True)
    number = number.reshape(-1).astype(np.int64)
    along = line[1:] == line[:-1]
    sides = np.stack((number[:-1][along], number[1:][along]), axis=1)
    sides = np.unique(np.sort(sides[sides[:, 0] != sides[:, 1]], axis=1), axis=0)
    return places, sides


def _constrained(places: Indices, sides: Indices) -> Mesh:
    """Triangles between the sides, in whole numbers, which are exact."""
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


def _on_ground(surface: Surface, places: Floats, mesh: Mesh) -> _Cut:
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
    return _Cut(places, mesh, source, ground)


def _shaped(
    surface: Surface,
    work: _Cut,
    ring: Floats,
    cut: Shape | None,
    fill: Shape | None,
    lines: Floats | None,
) -> tuple[Floats, NDArray[np.bool_]]:
    """Heights of the finished ground at the corners of each triangle (t, 3), and which are shaped (t,)."""
    middles, corners = work.middles, work.places[work.mesh.triangles]
    ground = work.ground.mean(axis=1)
    heights = work.ground.copy()
    wet = np.zeros(len(ground), dtype=bool)
    for shape, sign in ((fill, -1.0), (cut, 1.0)):
        if shape is not None:
            faces = faces_at(shape, middles)
            beyond = sign * (ground - heights_of(faces, middles)) > 0.0
            heights[beyond] = heights_of(faces[beyond][:, None], corners[beyond])
            wet |= beyond
    inside = contains(ring, middles)
    wet &= ~inside
    reached = _reached(work, wet, inside, None if lines is None else lines - surface.origin)
    heights[wet & ~reached] = work.ground[wet & ~reached]
    return heights, reached


def _reached(
    work: _Cut, wet: NDArray[np.bool_], pad: NDArray[np.bool_], lines: Floats | None
) -> NDArray[np.bool_]:
    """Which of the ``wet`` triangles hang together, over whole edges, with the pad or with a line (t,)."""
    beside = work.mesh.neighbours
    start = ((beside >= 0) & pad[beside]).any(axis=1)
    if lines is not None and len(lines):
        start |= _along(work, lines)
    reached = wet & start
    front: NDArray[np.integer[Any]] = np.flatnonzero(reached)
    while len(front):
        onward = np.unique(beside[front])
        onward = onward[onward >= 0]
        front = onward[wet[onward] & ~reached[onward]]
        reached[front] = True
    return reached


def _along(work: _Cut, lines: Floats) -> NDArray[np.bool_]:
    """Which triangles have an edge on one of ``lines`` (s, 2, 2) local (t,)."""
    where = np.zeros(len(work.places), dtype=np.int64)
    found = np.zeros(len(work.mesh.triangles), dtype=bool)
    for start, end in lines:
        run = end - start
        length = float(np.hypot(*run))
        if length <= _ON_LINE:
            continue
        arm = work.places - start
        off = np.abs(arm[:, 0] * run[1] - arm[:, 1] * run[0]) / length
        part = (arm @ run) / length
        where[:] = (off <= _ON_LINE) & (part >= -_ON_LINE) & (part <= length + _ON_LINE)
        found |= where[work.mesh.triangles].sum(axis=1) >= 2
    return found


def _as_surface(surface: Surface, work: _Cut, heights: Floats) -> Surface:
    """The finished ground as a surface: stations first, then all other corners, two of a place at a step."""
    triangles = work.mesh.triangles
    corner_place, corner_height = triangles.reshape(-1), heights.reshape(-1)
    order = np.lexsort((corner_height, corner_place))
    place, height = corner_place[order], corner_height[order]
    fresh = np.concatenate(([True], (np.diff(place) > 0) | (np.diff(height) > _STEP)))
    number = np.empty(len(order), dtype=np.int64)
    number[order] = np.cumsum(fresh) - 1
    vertices = np.column_stack((work.places[place[fresh]], height[fresh]))
    stations = _stations_first(surface, work, place[fresh])
    rank = np.empty(len(vertices), dtype=np.int64)
    rank[stations] = np.arange(len(stations))
    vertices = vertices[stations]
    known = len(surface.stations.xyz)
    vertices[:known, :2] = surface.vertices[:known, :2]
    first = np.full(len(work.places), len(vertices), dtype=np.int64)
    np.minimum.at(first, place[fresh], rank)
    hull = first[hull_loop(work.mesh)]
    hull = np.roll(hull, -int(hull.argmin()))
    corners = rank[number].reshape(-1, 3).astype(np.int32)
    xyz = surface.stations.xyz.copy()
    xyz[:, 2] = vertices[:known, 2]
    none = np.empty(0, dtype=np.int64)
    folds = Folds(none, np.empty(0), none, np.zeros(1, dtype=np.int64))
    for array in (xyz, vertices, corners, hull):
        array.setflags(write=False)
    stood = replace(surface.stations, xyz=xyz)
    return Surface(stood, surface.origin, vertices, corners, work.mesh.neighbours, hull, folds, ())


def _stations_first(surface: Surface, work: _Cut, place: NDArray[np.int32]) -> Indices:
    """An order of the vertices at ``place`` (v,) that begins with one for each station, in their order."""
    known = len(surface.stations.xyz)
    wanted = np.rint(surface.vertices[:known, :2] / GRID).astype(np.int64)
    steps = np.rint(work.places[place] / GRID).astype(np.int64)
    at = {tuple(step): number for number, step in reversed(list(enumerate(steps.tolist())))}
    found = [at.get(tuple(step), -1) for step in wanted.tolist()]
    if min(found) < 0 or len(set(found)) < known:
        raise CheckError("a station is not part of the finished ground")
    rest = np.setdiff1d(np.arange(len(place)), found)
    return np.concatenate((found, rest)).astype(np.int64)
