"""Which stations are joined: laid on a grid of whole numbers, triangulated, and proved with integers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import pythoncdt
from numpy.typing import NDArray

from gradework.errors import CheckError, Faults, Finding, finding, visible
from gradework.survey.duplicates import EQUAL, check_numbers, check_spread, same_places
from gradework.survey.stations import Stations

# The guard before the triangulation: whole numbers on a local grid, in an order that no row order
# changes.
#
# Which stations are joined is decided on whole numbers only, so signed areas are exact. Lengths, areas
# and elevations never see the grid: they use the true coordinates (see `cocircular` for what that
# means where four stations lie on one circle). Stations of one place are merged where they agree, and
# refused where they do not.

FINEST_WHOLE = 2**26
"""Whole coordinates below this keep an orientation exact even in plain float64."""


class GridPlaces(NamedTuple):
    """Stations in the local frame and on the whole-number grid.

    ``origin`` (2,) [m], whole metres, site = local + origin; ``local`` (n, 2) [m], exact differences;
    ``quantum`` [m], the step of the grid; ``whole`` (n, 2) the places in steps, from 0; ``order``
    (n,) the stations sorted by place, so that neighbours in the yard stand close in memory.
    """

    origin: NDArray[np.float64]
    local: NDArray[np.float64]
    quantum: float
    whole: NDArray[np.int64]
    order: NDArray[np.int64]


def one_per_place(stations: Stations) -> tuple[Stations, tuple[Finding, ...]]:
    """The first station of each place, and the note `double-shot` where others were left out.

    Places within 0.3 mm are one, as in a table of shots. Raises ``InputError``: `stations-too-close` where
    two of one place have different elevations, and `shot-not-a-number` and `site-too-wide`.
    """
    faults = Faults(stations.file)
    check_numbers(stations.names, stations.xyz, stations.lines, faults, stations.show)
    faults.raise_if_any()
    first = same_places(stations.xyz[:, :2])
    own = first == np.arange(len(first))
    if own.all():
        return stations, ()
    left_out = np.flatnonzero(~own)
    apart = np.abs(stations.xyz[left_out, 2] - stations.xyz[first[left_out], 2])
    for other in left_out[apart > EQUAL].tolist():
        _two_elevations(stations, int(first[other]), other, faults)
    faults.raise_if_any()
    other, one = (visible(stations.names[int(i)]) for i in (left_out[0], first[left_out[0]]))
    told = finding(
        "double-shot",
        "note",
        one,
        float(apart.max()),
        EQUAL,
        variant="places",
        count=len(left_out),
        other=other,
        one=one,
    )
    names = [stations.names[int(i)] for i in np.flatnonzero(own)]
    arrays = [values[own] for values in (stations.xyz, stations.sd, stations.lines)]
    for array in arrays:
        array.setflags(write=False)
    xyz, sd, lines = arrays
    kept = {stations.names[i]: stations.names[int(first[i])] for i in left_out.tolist()}
    breaklines = tuple(line.through(kept) for line in stations.breaklines)
    return replace(stations, names=names, xyz=xyz, sd=sd, lines=lines, breaklines=breaklines), (told,)


def _two_elevations(stations: Stations, one: int, other: int, faults: Faults) -> None:
    show = stations.show
    first, second = (show.elevation(float(stations.xyz[i, 2])) for i in (one, other))
    faults.note(
        "stations-too-close",
        variant="place",
        line=int(stations.lines[other]),
        one=visible(stations.names[one]),
        other=visible(stations.names[other]),
        first=first,
        second=second,
    )


def lay_grid(stations: Stations) -> GridPlaces:
    """Check the stations and lay them on the finest grid that keeps the arithmetic exact.

    The step is the finest power of ten metre, at most 0.1 mm, for which the site is narrower than 2**26
    steps; a site wider than 6.7 km keeps 0.1 mm, and the 64-bit integer checks stay exact up to the
    widest site allowed. Raises ``InputError``: what `check_spread` refuses; ``CheckError`` where two stations
    share a place of the grid, which `one_per_place` rules out.
    """
    check_spread(stations.names, stations.xyz, stations.lines, stations.file, stations.show)
    xy = stations.xyz[:, :2]
    low = xy.min(axis=0)
    origin = np.floor(low)
    local = np.ascontiguousarray(xy - origin)
    quantum = _quantum(float(np.max(xy.max(axis=0) - low)))
    whole = np.rint(local / quantum).astype(np.int64)
    whole -= whole.min(axis=0)
    key = interleaved(whole)
    order = np.argsort(key)
    ordered = key[order]
    if (ordered[1:] == ordered[:-1]).any():
        raise CheckError("two stations of different places stand on one place of the grid")
    return GridPlaces(origin, local, quantum, whole, order)


def interleaved(whole: NDArray[np.int64]) -> NDArray[np.uint64]:
    """The bits of both coordinates in turn: sorted by it, places follow a curve that fills the plane."""
    key = np.zeros(len(whole), dtype=np.uint64)
    for axis in (0, 1):
        bits = whole[:, axis].astype(np.uint64)
        for step in (16, 8, 4, 2, 1):  # 32 bits drawn apart by halves
            mask = np.uint64(((1 << 64) - 1) // ((1 << step) + 1))
            bits = (bits | (bits << np.uint64(step))) & mask
        key |= bits << np.uint64(axis)
    return key


def _quantum(extent: float) -> float:
    exponent = 4  # never coarser than 0.1 mm, a tenth of what a tape can place
    while exponent < 12 and extent * 10.0 ** (exponent + 1) < FINEST_WHOLE:
        exponent += 1
    return float(10.0**-exponent)


# Which stations are joined: the Delaunay triangulation on whole numbers, checked in every run.
#
# The engine is never trusted: counts, orientation, cover and hull are proved afterwards with integers,
# and a disagreement raises ``CheckError``. It knows nothing of elevations.

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


def triangulate(places: GridPlaces, edges: NDArray[np.int64] | None = None) -> Mesh:
    """The Delaunay triangulation of the stations; vertex k is the station ``places.order[k]``.

    So the mesh depends on the places only, not on the order of the stations. ``edges`` (e, 2), numbers of
    vertices, are sides of triangles whatever stands near: noded, so that none meets another or a vertex but
    at its ends. Raises ``CheckError`` when an invariant fails.
    """
    whole = places.whole[places.order]
    points = whole.astype(np.float64)
    engine = pythoncdt.Triangulation(
        pythoncdt.VertexInsertionOrder.AUTO, pythoncdt.IntersectingConstraintEdges.NOT_ALLOWED, 0.0
    )
    buffer: Any = points  # the array is a buffer, which its type only says from Python 3.12 on
    engine.insert_vertices(buffer)
    if edges is not None and len(edges):
        kept: Any = np.ascontiguousarray(edges, dtype=np.uint32)
        engine.insert_edges(kept)
    engine.erase_super_triangle()
    found = engine.triangles_array(copy=False)
    triangles = np.ascontiguousarray(found["vertices"]).view(np.int32)
    neighbours = np.ascontiguousarray(found["neighbors"]).view(np.int32)
    mesh = Mesh(triangles, neighbours)
    check_mesh(mesh, whole)
    if edges is not None and len(edges) and not np.isin(side_keys(*edges.T), _all_sides(mesh)).all():
        raise CheckError("a breakline is no side of the triangles")
    return mesh


def side_keys(start: NDArray[np.integer], end: NDArray[np.integer]) -> NDArray[np.int64]:
    """One number for each side between two vertices, the same both ways."""
    low, high = np.minimum(start, end).astype(np.int64), np.maximum(start, end).astype(np.int64)
    keys: NDArray[np.int64] = (low << 32) | high
    return keys


def _all_sides(mesh: Mesh) -> NDArray[np.int64]:
    return side_keys(mesh.triangles.ravel(), mesh.triangles[:, NEXT].ravel())


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


# Hull triangles thinner than the grid are not ground: they are taken off the edge of the surface.
#
# Stations along one edge of a turned grid lie on a line only to within rounding. The hull on whole numbers
# then closes over them with slivers a few micrometres deep, with nonsense slopes. Taking them off moves the
# edge of the surface by less than the few grid steps that decided them, and leaves every station a vertex.

THIN = 4.0
"""[grid steps] Three stations on a line are rounded to at most a step and a half off it; 4 leaves room."""


def peel_slivers(vertices: NDArray[np.float64], mesh: Mesh, quantum: float) -> Mesh:
    """The mesh without hull triangles whose depth behind their hull side is at most `THIN` grid steps.

    ``vertices`` (n, 2 or 3) local, TRUE coordinates [m]. Peeled from outside inwards until none is left; a
    triangle with two hull sides stays, since its ear station would be lost; so does one whose third station
    stands on the edge already, since the edge would pass twice through that one.
    """
    neighbours = mesh.neighbours.copy()
    at_edge = np.zeros(len(vertices), dtype=bool)
    at_edge[mesh.triangles[np.nonzero(neighbours < 0)]] = True
    gone: list[NDArray[np.int64]] = []
    row, side = np.nonzero(neighbours < 0)
    while len(row):
        ears = (neighbours[row] < 0).sum(axis=1) > 1
        thin = ~ears & _is_thin(vertices, mesh, row, side, THIN * quantum)
        apex = mesh.triangles[row, BEFORE[side]]
        thin &= ~at_edge[apex]
        if not thin.any():
            break
        # two over one station: once the first is gone, the second would take the station along
        peeled = row[thin][np.unique(apex[thin], return_index=True)[1]]
        at_edge[apex[thin]] = True
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


def refuse_turned_edge(
    stations: Stations, order: NDArray[np.int64], vertices: NDArray[np.float64], mesh: Mesh
) -> None:
    """Raise `stations-too-close` where a triangle at the edge is turned over in TRUE coordinates.

    Only stations millimetres apart on a site of kilometres do that: the grid of 0.1 mm cannot tell on which
    side of each other they stand, and one of the triangle's two is the last of its station, so it cannot be
    peeled off. ``order``: the station of each vertex.
    """
    edge = np.flatnonzero((mesh.neighbours < 0).any(axis=1))
    corner = vertices[mesh.triangles[edge], :2]
    u, v = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    turned = edge[u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0] <= 0.0]
    faults, show = Faults(stations.file), stations.show
    told: set[tuple[int, int]] = set()
    for row in mesh.triangles[turned]:
        pairs = [(row[k], row[NEXT[k]]) for k in range(3)]
        apart = [float(np.hypot(*(vertices[a, :2] - vertices[b, :2]))) for a, b in pairs]
        a, b = sorted(int(order[k]) for k in pairs[int(np.argmin(apart))])
        if b >= len(stations):
            raise CheckError("a triangle at the edge is turned over beside a crossing of breaklines")
        if (a, b) in told:
            continue
        told.add((a, b))
        wide = float(np.ptp(vertices[:, :2], axis=0).max())
        faults.note(
            "stations-too-close",
            variant="wide",
            line=int(stations.lines[b]),
            one=visible(stations.names[a]),
            other=visible(stations.names[b]),
            gap=f"{min(apart) * 1000.0:.2g}",
            wide=show.distance(wide),
        )
    faults.raise_if_any()


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
