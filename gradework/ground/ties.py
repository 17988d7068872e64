"""The tie rule: where several stations lie on one circle, the survey does not say how the ground is folded.

Four stations on a circle (each cell of a square grid) have two Delaunay triangulations, and volumes would
hang on an accident. Triangles joined over an edge whose two opposite angles sum to 180 degrees form a
ring. A ring of four gets a new vertex where its diagonals cross, with the mean of the two diagonals'
elevations there; a larger ring gets one at the mean of its vertices. The ring is then fanned from that
vertex: planes stay planes, a rectangle gets the mean of its four corners (the unit-area rule of borrow
pits), and nothing depends on the order, the turn or the mirror image of the survey.

The angle sum is tested with the TRUE coordinates against `TIE` plus what the whole-number grid may have
turned the sides by: so wherever the grid could have chosen either diagonal, the rule decides, not the grid.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.ground.mesh import BEFORE, BLOCK, NEXT, Mesh

TIE = 1e-6
"""[rad] Angle sums this close to 180 degrees are a tie. A millionth is 5 micrometres on a 5 m grid: above
the rounding of any coordinates read, turned or shifted, far below what a stake can be placed to."""

MOST_TIE = 1e-2
"""[rad] The grid's own part of the tolerance stops here (sides shorter than some 500 grid steps)."""

_SIDE_TURN = 2.0  # a side's two ends move by at most q / sqrt 2 each: it turns by at most sqrt 2 q / length


@dataclass(frozen=True)
class Folds:
    """The rings that the survey leaves unfolded, for the doubt band.

    ``centres`` (f,) vertex numbers of the added vertices; ``gaps`` (f,) [m] how far apart the two
    diagonals pass at the centre (a larger ring: the spread of its stations about their plane, the same
    figure for a rectangle); ``triangles`` all fan triangles, ring after ring, those of ring i at
    ``triangles[starts[i]:starts[i + 1]]``. The mean depth in a ring may be off by a sixth of its gap:
    the volume of a fold is area / 3 x (centre height), and the height may be half the gap up or down.
    """

    centres: NDArray[np.int64]
    gaps: NDArray[np.float64]
    triangles: NDArray[np.int64]
    starts: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.centres)


@dataclass(frozen=True)
class Folded:
    """A mesh after the tie rule: vertices (v, 3), stations first, then the centres."""

    vertices: NDArray[np.float64]
    mesh: Mesh
    folds: Folds


def fold_ties(vertices: NDArray[np.float64], mesh: Mesh, quantum: float) -> Folded:
    """Apply the tie rule. ``vertices`` (n, 3) local [m]; ``quantum`` [m] the grid step of the mesh."""
    pairs = tied_pairs(vertices, mesh, quantum)
    label = _rings(pairs, len(mesh.triangles))
    rims = _rims(mesh, label, vertices)
    return _fan(vertices, mesh, rims)


def tied_pairs(vertices: NDArray[np.float64], mesh: Mesh, quantum: float) -> NDArray[np.int64]:
    """Pairs of triangles (p, 2) whose shared edge is a tie."""
    x, y = np.ascontiguousarray(vertices[:, 0]), np.ascontiguousarray(vertices[:, 1])
    blocks = [_tied_in_block(x, y, mesh, begin, quantum) for begin in range(0, len(mesh.triangles), BLOCK)]
    return np.concatenate(blocks)


def _tied_in_block(
    x: NDArray[np.float64], y: NDArray[np.float64], mesh: Mesh, begin: int, quantum: float
) -> NDArray[np.int64]:
    corners = mesh.triangles[begin : begin + BLOCK]
    px, py = x[corners], y[corners]
    sx, sy = px[:, [1, 2, 0]] - px, py[:, [1, 2, 0]] - py
    # the dot product at the vertex opposite each side; two angles that sum to 180 degrees are not both acute,
    # so one look per triangle, across the side opposite its widest angle, finds every tie
    dot = -(sx[:, [1, 2, 0]] * sx[:, [2, 0, 1]] + sy[:, [1, 2, 0]] * sy[:, [2, 0, 1]])
    side = np.argmin(dot, axis=1)
    rows = np.arange(len(corners))
    widest = dot[rows, side]
    longest = sx[rows, side] ** 2 + sy[rows, side] ** 2
    other = mesh.neighbours[begin + rows, side]
    # a right angle to within the largest tolerance, or wider
    keep = np.flatnonzero((other >= 0) & (widest <= MOST_TIE * longest))
    side, other = side[keep], other[keep]
    a, c, b = corners[keep, side], corners[keep, NEXT[side]], corners[keep, BEFORE[side]]
    d = mesh.triangles[other].sum(axis=1, dtype=np.int64) - a - c
    miss, sides = _angle_excess(x, y, (a, b, c, d))
    tolerance = np.minimum(TIE + _SIDE_TURN * quantum * sides, MOST_TIE)
    tied = np.flatnonzero(np.abs(miss) <= tolerance)
    return np.column_stack([keep[tied] + begin, other[tied]]).astype(np.int64)


def _angle_excess(
    x: NDArray[np.float64], y: NDArray[np.float64], quad: tuple[NDArray[np.int64] | NDArray[np.int32], ...]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sine of the sum of the angles at b and d, and the sum of 1 / length of the four sides."""
    a, b, c, d = quad
    ux, uy, vx, vy = x[a] - x[b], y[a] - y[b], x[c] - x[b], y[c] - y[b]
    wx, wy, zx, zy = x[c] - x[d], y[c] - y[d], x[a] - x[d], y[a] - y[d]
    lengths = [np.hypot(ux, uy), np.hypot(vx, vy), np.hypot(wx, wy), np.hypot(zx, zy)]
    cross_b, dot_b = vx * uy - vy * ux, ux * vx + uy * vy
    cross_d, dot_d = zx * wy - zy * wx, wx * zx + wy * zy
    product = lengths[0] * lengths[1] * lengths[2] * lengths[3]
    cosine = (dot_b * dot_d - cross_b * cross_d) / product
    sine = (cross_b * dot_d + dot_b * cross_d) / product
    # a sum near 360 degrees or 0 also has a small sine, but no tie
    miss = np.where(cosine < 0, sine, np.inf)
    sides: NDArray[np.float64] = 1 / lengths[0] + 1 / lengths[1] + 1 / lengths[2] + 1 / lengths[3]
    return miss, sides


def _rings(pairs: NDArray[np.int64], t: int) -> NDArray[np.int32]:
    """For each triangle the lowest triangle number of its ring, -1 where it belongs to none."""
    label = np.full(t, -1, dtype=np.int32)
    if not len(pairs):
        return label
    members = np.unique(pairs)
    label[members] = members
    a, b = pairs[:, 0], pairs[:, 1]
    while True:
        low = np.minimum(label[a], label[b])
        before = label[members]
        # the root of each end learns the lower number, then everybody asks his root: logarithmic rounds
        np.minimum.at(label, label[a], low)
        np.minimum.at(label, label[b], low)
        label[members] = label[label[members]]
        if np.array_equal(before, label[members]):
            return label


@dataclass(frozen=True)
class _Rims:
    """The rims of the rings that can be fanned, ring after ring, each anticlockwise.

    ``ring`` (s,) ring number; ``start``, ``end`` (s,) vertices of each rim side; ``outside`` (s,) the
    triangle beyond it, -1 at the hull; ``following`` (s,) the next side of the rim; ``centre`` (f, 3);
    ``gap`` (f,); ``gone`` the triangles that the fans replace.
    """

    ring: NDArray[np.int64]
    start: NDArray[np.int64]
    end: NDArray[np.int64]
    outside: NDArray[np.int64]
    following: NDArray[np.int64]
    centre: NDArray[np.float64]
    gap: NDArray[np.float64]
    gone: NDArray[np.int64]


def _rims(mesh: Mesh, label: NDArray[np.int32], vertices: NDArray[np.float64]) -> _Rims:
    gone = np.flatnonzero(label >= 0)
    roots, ring_of = np.unique(label[gone], return_inverse=True)
    beyond = mesh.neighbours[gone]
    inside = (beyond >= 0) & (label[beyond] == label[gone][:, None])
    row, k = np.nonzero(~inside)
    ring = ring_of[row].astype(np.int64)
    start = mesh.triangles[gone[row], k].astype(np.int64)
    end = mesh.triangles[gone[row], NEXT[k]].astype(np.int64)
    outside = beyond[row, k].astype(np.int64)
    sizes = np.bincount(ring_of, minlength=len(roots))
    rim = _ordered(ring, start, end, outside, len(vertices))
    ring, start, end, outside, following = rim
    sides = np.bincount(ring, minlength=len(roots))
    centre, gap = _centres(vertices, ring, start, following, sides)
    ok = (sides == sizes + 2) & _star_shaped(vertices, ring, start, end, centre, len(roots))
    if not ok.all():
        keep = ok[ring]
        number = np.cumsum(ok) - 1
        place = np.cumsum(keep) - 1
        ring, start, end, outside = number[ring[keep]], start[keep], end[keep], outside[keep]
        following = place[following[keep]]
        centre, gap, gone = centre[ok], gap[ok], gone[ok[ring_of]]
    return _Rims(ring, start, end, outside, following, centre, gap, gone)


def _ordered(
    ring: NDArray[np.int64],
    start: NDArray[np.int64],
    end: NDArray[np.int64],
    outside: NDArray[np.int64],
    v: int,
) -> tuple[NDArray[np.int64], ...]:
    """Sort the rim sides by ring and start vertex, and find for each the side that follows."""
    key = ring * v + start
    order = np.argsort(key)
    key, ring, start, end, outside = key[order], ring[order], start[order], end[order], outside[order]
    following = np.searchsorted(key, ring * v + end).astype(np.int64)
    return ring, start, end, outside, following


def _centres(
    vertices: NDArray[np.float64],
    ring: NDArray[np.int64],
    start: NDArray[np.int64],
    following: NDArray[np.int64],
    sides: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Centre (f, 3) and gap (f,) of each ring."""
    f = len(sides)
    corner = vertices[start]
    sums = np.column_stack([np.bincount(ring, corner[:, k], minlength=f) for k in range(3)])
    centre = sums / np.maximum(sides, 1)[:, None]
    gap = np.zeros(f)
    first = np.searchsorted(ring, np.arange(f))
    four = np.flatnonzero(sides == 4)
    i0 = first[four]
    i1 = following[i0]
    i2 = following[i1]
    i3 = following[i2]
    centre[four], gap[four] = _crossing(corner[i0], corner[i1], corner[i2], corner[i3])
    if len(four) < f:
        gap_of_plane = _spread_about_plane(corner, ring, centre, f)
        larger = sides != 4
        gap[larger] = gap_of_plane[larger]
    return centre, gap


def _crossing(
    a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64], d: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the diagonals a-c and b-d cross, with the mean of their elevations there, and the difference."""
    p, q, r = c - a, d - b, b - a
    base = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    base = np.where(base == 0, np.inf, base)
    s = np.clip((r[:, 0] * q[:, 1] - r[:, 1] * q[:, 0]) / base, 0.0, 1.0)
    u = np.clip((r[:, 0] * p[:, 1] - r[:, 1] * p[:, 0]) / base, 0.0, 1.0)
    one, two = a + s[:, None] * p, b + u[:, None] * q
    return (one + two) / 2, np.abs(one[:, 2] - two[:, 2])


def _spread_about_plane(
    corner: NDArray[np.float64], ring: NDArray[np.int64], centre: NDArray[np.float64], f: int
) -> NDArray[np.float64]:
    """Highest less lowest departure of each ring's vertices from their least-squares plane [m]."""
    off = corner - centre[ring]
    # the mean of the larger rings is their centre; rings of four come along and are not used
    xx, xy, yy, xz, yz = (
        np.bincount(ring, off[:, i] * off[:, j], minlength=f)
        for i, j in ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2))
    )
    base = xx * yy - xy * xy
    base = np.where(base <= 0, np.inf, base)
    gx, gy = (xz * yy - yz * xy) / base, (yz * xx - xz * xy) / base
    left = off[:, 2] - gx[ring] * off[:, 0] - gy[ring] * off[:, 1]
    first = np.searchsorted(ring, np.arange(f))
    spread: NDArray[np.float64] = np.maximum.reduceat(left, first) - np.minimum.reduceat(left, first)
    return spread


def _star_shaped(
    vertices: NDArray[np.float64],
    ring: NDArray[np.int64],
    start: NDArray[np.int64],
    end: NDArray[np.int64],
    centre: NDArray[np.float64],
    f: int,
) -> NDArray[np.bool_]:
    """Whether every fan triangle of a ring would be anticlockwise. Rings of shots on one line are not."""
    p, q = vertices[start, :2] - centre[ring, :2], vertices[end, :2] - centre[ring, :2]
    cross = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    thin = cross <= TIE * ((p**2).sum(axis=1) + (q**2).sum(axis=1))
    whole: NDArray[np.bool_] = np.bincount(ring, thin, minlength=f) == 0
    return whole


def _fan(vertices: NDArray[np.float64], mesh: Mesh, rims: _Rims) -> Folded:
    n, t, f, s = len(vertices), len(mesh.triangles), len(rims.gap), len(rims.start)
    if not f:
        none = np.zeros(0, dtype=np.int64)
        return Folded(vertices, mesh, Folds(none, np.zeros(0), none, np.zeros(1, dtype=np.int64)))
    stays = np.ones(t, dtype=bool)
    stays[rims.gone] = False
    kept = int(stays.sum())
    renumber = np.where(stays, np.cumsum(stays) - 1, -1).astype(np.int32)
    fan = np.arange(kept, kept + s, dtype=np.int32)
    preceding = np.empty(s, dtype=np.int64)
    preceding[rims.following] = np.arange(s)
    beyond = _beyond(rims, renumber, fan)
    triangles = np.empty((kept + s, 3), dtype=np.int32)
    neighbours = np.empty_like(triangles)
    triangles[:kept], neighbours[:kept] = mesh.triangles[stays], mesh.neighbours[stays]
    triangles[kept:] = np.column_stack([rims.start, rims.end, n + rims.ring])
    _relink(neighbours[:kept], triangles[:kept], renumber, rims, fan)
    neighbours[kept:] = np.column_stack([beyond, fan[rims.following], fan[preceding]])
    starts = np.searchsorted(rims.ring, np.arange(f + 1)).astype(np.int64)
    folds = Folds(n + np.arange(f, dtype=np.int64), rims.gap, fan.astype(np.int64), starts)
    return Folded(np.concatenate([vertices, rims.centre]), Mesh(triangles, neighbours), folds)


def _side_keys(start: NDArray[np.integer[Any]], end: NDArray[np.integer[Any]]) -> NDArray[np.int64]:
    keys: NDArray[np.int64] = (start.astype(np.int64) << 32) | end.astype(np.int64)
    return keys


def _beyond(rims: _Rims, renumber: NDArray[np.int32], fan: NDArray[np.int32]) -> NDArray[np.int32]:
    """The new number of the triangle beyond each rim side: an old one, another fan's, or -1."""
    beyond = np.where(rims.outside >= 0, renumber[rims.outside], -1).astype(np.int32)
    into_fan = np.flatnonzero((rims.outside >= 0) & (beyond < 0))
    key = _side_keys(rims.start, rims.end)
    order = np.argsort(key)
    at = np.searchsorted(key[order], _side_keys(rims.end[into_fan], rims.start[into_fan]))
    beyond[into_fan] = fan[order[at]]
    return beyond


def _relink(
    neighbours: NDArray[np.int32],
    triangles: NDArray[np.int32],
    renumber: NDArray[np.int32],
    rims: _Rims,
    fan: NDArray[np.int32],
) -> None:
    """Point the triangles that stay at the new numbers of their neighbours."""
    gone_by = (neighbours >= 0) & (renumber[neighbours] < 0)
    row, k = np.nonzero(gone_by)
    key = _side_keys(rims.start, rims.end)
    order = np.argsort(key)
    wanted = _side_keys(triangles[row, NEXT[k]], triangles[row, k])
    at = np.searchsorted(key[order], wanted)
    fresh = np.where(neighbours >= 0, renumber[neighbours], -1)
    fresh[row, k] = fan[order[at]]
    neighbours[:] = fresh
