"""The finished ground: the surveyed surface cut along what is dug and filled, and the exact volumes of that.

Outside the pad the ground is dug down to one shape and filled up to another: finished = min(max(ground,
fill), cut). Only what hangs together with the pad, or with the line along which a swale is dug, is shaped;
a hollow or a hump beyond the daylight line stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.clip import FEW, near
from gradework.earthwork.grading.planes import Lowest, bends, crossings_with, faces_at, heights_of
from gradework.earthwork.rings import contains, ring_length
from gradework.earthwork.volumes import AGREEMENT, prism_sums
from gradework.errors import CheckError
from gradework.ground.cocircular import Folds
from gradework.ground.cut_ground import GRID, cut_along
from gradework.ground.surface import Surface
from gradework.ground.triangulation import NEXT, hull_loop

if TYPE_CHECKING:
    from gradework.earthwork.grading.planes import Box, Shape
    from gradework.ground.cut_ground import CutGround

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Rings = Sequence[Floats]

DAYLIGHT = 1e-4
"""[m] Shaped ground meets the surveyed one at its daylight line within this."""

WINDOW = 12.0
"""[m] In a wider one, first so far round pad and swale."""

_STEP = 1e-5
"""[m] Corners of one place that differ by more stand on two sides of an upright face."""

_ON_LINE = 1e-6
"""[m] An edge this close to the line of a swale runs along it."""

_SLIVER = 1e-6
"""[m²] A triangle of less than a square millimetre at the survey's edge may hang together with nothing."""


class CutOff(NamedTuple):
    """A place at the edge of the survey where what is dug ends ``off`` [m] below the ground, what is filled
    above it; ``rise``: how steep the ground is there [-]."""

    x: float
    y: float
    off: float
    rise: float


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
    leaves, spills
        Where what is dug, or filled, is cut off by the edge of the survey and lies deepest, or highest,
        there; None where all of it daylights.
    """

    surface: Surface
    cut: float
    fill: float
    cut_area: float
    fill_area: float
    shaped: Floats
    leaves: CutOff | None
    spills: CutOff | None


def finished_ground(
    surface: Surface,
    pad: Floats,
    level: float,
    *,
    cut: Shape | None = None,
    fill: Shape | None = None,
    lines: Floats | None = None,
    yards: Sequence[Floats] = (),
) -> Finished:
    """Shape the ground round a pad.

    pad : its ring (k, 2), anticlockwise, site frame [m];  level : of the pad [m];  cut, fill : the shapes
    that the ground is dug down and filled up to, in the surface's LOCAL frame;  lines : (s, 2, 2), site
    frame, along which a swale is dug: what is dug there counts, whether it meets the pad or not;  yards :
    rings inside the pad that are no part of it. Raises CheckError where the new surface does not cover the
    surveyed one, or where the volumes are not what lies between the two.
    """
    rings = [ring - surface.origin for ring in (pad, *yards)]
    dug_lines = np.empty((0, 2, 2)) if lines is None else lines - surface.origin
    if cut is not None and fill is not None:
        fill = Lowest((cut, fill))
    for window in _windows(surface, np.concatenate((rings[0], dug_lines.reshape(-1, 2)))):
        work = cut_along(surface, _lines(surface, rings, (cut, fill), window), window)
        heights, wet, whole = _shaped(work, rings, cut, fill, dug_lines, window)
        if whole:
            break
    areas = work.areas
    inside = _in_pad(rings, work.middles)
    heights[inside] = level
    depth = np.sort(work.ground - heights, axis=1)
    outside = wet & ~inside
    sums = prism_sums(depth[outside], areas[outside], np.zeros(1))
    own = prism_sums(depth[inside], areas[inside], np.zeros(1))
    made = as_surface(surface, work, heights)
    cuts, fills = float(sums.cut[0] + own.cut[0]), float(sums.fill[0] + own.fill[0])
    # corners of one place are one where they differ by less than a step: what that moves
    moved = np.abs(made.vertices[made.triangles, 2] - heights)
    if moved.max() > 3.0 * _STEP:
        raise CheckError(
            f"the finished ground is moved by {float(moved.max())!r} m as its corners are joined"
        )
    joined = float(areas @ moved.mean(axis=1))
    _check(surface, made, (cuts, fills, joined), float(np.abs(depth).max()))
    dug = outside & (depth[:, 2] > -depth[:, 0])
    off = work.ground - heights
    parts = ((float(sums.cut[0]), off, dug), (float(sums.fill[0]), -off, outside & ~dug))
    _check_faces(made, rings, parts, areas)
    shaped = work.places[work.mesh.triangles[outside]] + surface.origin
    shaped.setflags(write=False)
    return Finished(
        surface=made,
        cut=float(sums.cut[0]),
        fill=float(sums.fill[0]),
        cut_area=float(areas[dug].sum()),
        fill_area=float(areas[outside & ~dug].sum()),
        shaped=shaped,
        leaves=_leaves(surface, work, dug, off),
        spills=_leaves(surface, work, outside & ~dug, -off),
    )


def _in_pad(rings: Rings, places: Floats) -> NDArray[np.bool_]:
    """Which places (m, 2) lie in the pad, not in a yard inside it (m,)."""
    inside: NDArray[np.bool_] = np.logical_xor.reduce([contains(ring, places) for ring in rings])
    return inside


def _leaves(surface: Surface, work: CutGround, dug: NDArray[np.bool_], depth: Floats) -> CutOff | None:
    """Where at the edge of the survey what is ``dug`` (t,), or filled, is deepest; ``depth`` (t, 3) [m]."""
    number, side = np.nonzero((work.mesh.neighbours < 0) & dug[:, None])
    ends = np.stack((depth[number, side], depth[number, NEXT[side]]), axis=1)
    if not len(ends) or ends.max() <= DAYLIGHT:
        return None
    worst, end = (int(k) for k in np.unravel_index(ends.argmax(), ends.shape))
    triangle, first = int(number[worst]), int(side[worst])
    corners, ground = work.places[work.mesh.triangles[triangle]], work.ground[triangle]
    slope = np.linalg.solve(corners[1:] - corners[0], ground[1:] - ground[0])
    x, y = (corners[NEXT[first] if end else first] + surface.origin).tolist()
    return CutOff(x, y, float(ends[worst, end]), float(np.hypot(*slope)))


def _check(surface: Surface, made: Surface, sums: tuple[float, float, float], deepest: float) -> None:
    """Raise CheckError unless the new surface covers the old, and what lies between them is cut less fill;
    ``sums``: both, and what joining corners moved [m³]."""
    cut, fill, joined = sums
    area, covered = surface.area, made.area
    if not abs(covered - area) <= AGREEMENT * area + GRID * ring_length(surface.vertices[surface.hull, :2]):
        raise CheckError(f"the finished ground covers {covered!r} m², the survey {area!r} m²")
    datum = float(surface.vertices[:, 2].min())
    net = _content(surface, datum) - _content(made, datum)
    # lines were set on the grid: at a step that moves some ground from one side to the other
    edges = made.vertices[made.triangles][:, :, :2]
    length = float(np.hypot(*(np.roll(edges, -1, axis=1) - edges).reshape(-1, 2).T).sum())
    slack = joined + AGREEMENT * (cut + fill) + GRID * length * deepest + 1e-13 * area * abs(datum)
    if not abs(cut - fill - net) <= slack:
        raise CheckError(f"cut less fill is {cut - fill!r} m³, between the surfaces lie {net!r} m³")


def _check_faces(
    made: Surface,
    rings: Rings,
    sides: Iterable[tuple[float, Floats, NDArray[np.bool_]]],
    areas: Floats,
) -> None:
    """Raise CheckError unless shaped ground meets the rest, and cut and fill are so by the triangle.

    sides : the volume [m³], heights dug or filled (t, 3) and the triangles they are of (t,).
    """
    covered = float(areas.sum())
    for volume, off, which in sides:
        again = float(areas[which] @ off[which].mean(axis=1))
        if not abs(volume - again) <= AGREEMENT * volume + GRID * covered:
            raise CheckError(f"{volume!r} m³ are {again!r} m³ by the triangle: one is cut and fill at once")
    seen = np.unique(made.triangles[made.triangle_areas > _SLIVER])
    plan, high_at = made.vertices[seen, :2], made.vertices[seen, 2]
    _, at, place = np.unique(np.rint(plan / GRID), axis=0, return_index=True, return_inverse=True)
    low, high = np.full(len(at), np.inf), np.full(len(at), -np.inf)
    np.minimum.at(low, place.reshape(-1), high_at)
    np.maximum.at(high, place.reshape(-1), high_at)
    # in a sliver at the survey's edge the grid alone moves heights by some hundredths of a millimetre
    stepped = high - low > DAYLIGHT
    away = shapely.distance(
        shapely.points(plan[at[stepped]]), shapely.MultiLineString([*map(shapely.LinearRing, rings)])
    )
    if away.max(initial=0.0) > _ON_LINE:
        raise CheckError(f"the finished ground steps {away.max()!r} m away from the edge of the pad")


def _content(surface: Surface, datum: float) -> float:
    """The ground above a datum [m³]."""
    depth = surface.vertices[surface.triangles, 2] - datum
    return float(surface.triangle_areas @ depth.mean(axis=1))


def _windows(surface: Surface, places: Floats) -> Iterator[Box]:
    """Where to look: in a yard everywhere, in a wide survey round the places (n, 2) local, then wider."""
    hull = surface.vertices[surface.hull, :2]
    everywhere = (*hull.min(axis=0).tolist(), *hull.max(axis=0).tolist())
    reach = WINDOW
    while len(surface.triangles) > FEW and reach < float(np.ptp(hull, axis=0).max()):
        low, high = places.min(axis=0) - reach, places.max(axis=0) + reach
        yield (*low.tolist(), *high.tolist())
        reach *= 2.0
    yield everywhere


def _lines(surface: Surface, rings: Rings, shapes: tuple[Shape | None, ...], window: Box) -> Floats:
    """The pad's sides, the bends of the shapes, and where the ground meets them (s, 2, 2) local [m]."""
    _, corners = near(surface, np.array(window).reshape(2, 2))
    lines = [np.stack((ring, np.roll(ring, -1, axis=0)), axis=1) for ring in rings]
    for shape in shapes:
        if shape is not None:
            lines += [bends(shape, window), crossings_with(shape, corners)]
    return np.concatenate(lines)


def _shaped(
    work: CutGround,
    rings: Rings,
    cut: Shape | None,
    fill: Shape | None,
    lines: Floats,
    window: Box,
) -> tuple[Floats, NDArray[np.bool_], bool]:
    """Heights of the finished ground at the corners of each triangle (t, 3), which are shaped (t,), and
    whether that is all: it does not come to the edge of the window.
    """
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
    inside = _in_pad(rings, middles)
    reach = np.array([GRID, GRID])
    within = ((corners >= window[:2] - reach) & (corners <= window[2:] + reach)).all(axis=(1, 2))
    reached = _reached(work, wet & within & ~inside, inside, lines)
    heights[wet & ~reached] = work.ground[wet & ~reached]
    beside = work.mesh.neighbours[reached]
    return heights, reached, bool(within[beside[beside >= 0]].all())


def _reached(
    work: CutGround, wet: NDArray[np.bool_], pad: NDArray[np.bool_], lines: Floats
) -> NDArray[np.bool_]:
    """Which of the ``wet`` triangles hang together, over whole edges, with the pad or with a line (t,)."""
    beside = work.mesh.neighbours
    start = ((beside >= 0) & pad[beside]).any(axis=1) | _along(work, lines)
    reached = wet & start
    front: NDArray[np.integer[Any]] = np.flatnonzero(reached)
    while len(front):
        onward = np.unique(beside[front])
        onward = onward[onward >= 0]
        front = onward[wet[onward] & ~reached[onward]]
        reached[front] = True
    return reached


def _along(work: CutGround, lines: Floats) -> NDArray[np.bool_]:
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


def as_surface(surface: Surface, work: CutGround, heights: Floats) -> Surface:
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


def _stations_first(surface: Surface, work: CutGround, place: NDArray[np.int32]) -> Indices:
    """An order of the vertices at ``place`` (v,) that begins with one for each station, in their order."""
    known = len(surface.stations.xyz)
    steps = np.concatenate((surface.vertices[:known, :2], work.places[place])) / GRID
    number = np.unique(np.rint(steps).astype(np.int64), axis=0, return_inverse=True)[1].reshape(-1)
    at = np.full(int(number.max()) + 1, -1)
    at[number[known:][::-1]] = np.arange(len(place))[::-1]  # the first of those of one place
    found = at[number[:known]]
    if (found < 0).any() or len(np.unique(found)) < known:
        raise CheckError("a station is not part of the finished ground")
    rest = np.setdiff1d(np.arange(len(place)), found)
    return np.concatenate((found, rest)).astype(np.int64)
