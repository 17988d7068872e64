"""Rings of triangles replaced by a fan about one new vertex, and what that leaves in doubt.

The second half of the tie rule (`ties` finds the rings). It never touches a triangle outside a ring, and it
leaves a ring as it was when the fan would turn a triangle over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.ground.mesh import Mesh
from gradework.ground.ties import TIE, tied_rings

_Floats = NDArray[np.float64]
_Ints = NDArray[np.int64]
_Numbers = NDArray[np.int32]


@dataclass(frozen=True)
class Folds:
    """The rings that the survey leaves unfolded, for the doubt band.

    ``centres`` (f,) vertex numbers of the added vertices; ``gaps`` (f,) [m] how far apart the two
    diagonals pass at the centre (a larger ring: the spread of its stations about their plane, the same
    figure for a rectangle); ``triangles`` all fan triangles, ring after ring, those of ring i at
    ``triangles[starts[i]:starts[i + 1]]``. The mean depth in a ring may be off by a sixth of its gap
    either way: the volume under a fan changes by area / 3 times what its centre rises, half the gap.
    """

    centres: _Ints
    gaps: _Floats
    triangles: _Ints
    starts: _Ints

    def __len__(self) -> int:
        return len(self.centres)


class Folded(NamedTuple):
    """A mesh after the tie rule: vertices (v, 3), stations first, then the centres."""

    vertices: _Floats
    mesh: Mesh
    folds: Folds


def fold_ties(vertices: _Floats, mesh: Mesh, quantum: float) -> Folded:
    """Apply the tie rule. ``vertices`` (n, 3) local [m]; ``quantum`` [m] the grid step of the mesh."""
    rims = _rims(mesh, tied_rings(vertices, mesh, quantum))
    centres, gaps, whole = _centres(vertices, rims)
    if not whole.all():
        keep = np.repeat(whole, rims.sides)
        gone = rims.gone[np.repeat(whole, rims.sizes)]
        rims = _Rims(rims.half[keep], rims.start[keep], rims.sides[whole], gone, rims.sizes[whole])
        centres, gaps = centres[whole], gaps[whole]
    return _fan(vertices, mesh, rims, centres, gaps)


class _Rims(NamedTuple):
    """The rims of all rings, ring after ring, each anticlockwise, side after side.

    ``half`` (s,) the rim sides as 3 x triangle + side; ``start`` (s,) the vertex each begins at; ``sides``
    (f,) how many each ring has; ``gone`` (g,) the triangles of the rings, ring after ring, and ``sizes``
    (f,) how many each has.
    """

    half: _Numbers
    start: _Numbers
    sides: _Ints
    gone: _Numbers
    sizes: _Ints

    @property
    def ring(self) -> _Numbers:
        return np.repeat(np.arange(len(self.sides), dtype=np.int32), self.sides)

    @property
    def first(self) -> _Ints:
        first: _Ints = np.cumsum(self.sides) - self.sides
        return first

    @property
    def following(self) -> _Numbers:
        following = np.arange(1, len(self.half) + 1, dtype=np.int32)
        following[self.first + self.sides - 1] = self.first
        return following

    @property
    def preceding(self) -> _Numbers:
        preceding = np.arange(-1, len(self.half) - 1, dtype=np.int32)
        preceding[self.first] = self.first + self.sides - 1
        return preceding


def _rims(mesh: Mesh, label: _Numbers) -> _Rims:
    gone = np.flatnonzero(label >= 0).astype(np.int32)
    root = label[gone] == gone
    ring_of = np.zeros(len(label), dtype=np.int32)
    ring_of[gone[root]] = np.arange(int(root.sum()))
    ring = ring_of[label[gone]]
    order = np.argsort(ring, kind="stable")
    gone, ring = gone[order], ring[order]
    sizes = np.bincount(ring, minlength=int(root.sum()))
    beyond = mesh.neighbours[gone]
    rim = (beyond < 0) | (label[beyond] != label[gone][:, None])
    sides: _Ints = np.bincount(ring, rim.sum(axis=1), minlength=len(sizes)).astype(np.int64)
    closed = sides != sizes + 2
    if closed.any():  # triangles that close about a vertex or a hole are no polygon with corners on a circle
        open_label = label.copy()
        open_label[gone[closed[ring]]] = -1
        return _rims(mesh, open_label)
    row, k = np.nonzero(rim)
    half = 3 * gone[row] + k.astype(np.int32)
    half = half[_in_order(_following(mesh, half), sides)]
    return _Rims(half, mesh.triangles.ravel()[half], sides, gone, sizes)


def _in_order(following: _Numbers, sides: _Ints) -> _Numbers:
    """The rim sides in the order of their walks: all rims at once, a step at a time."""
    first = np.cumsum(sides) - sides
    now, at = first.astype(np.int32), np.arange(len(sides))
    order = np.empty(len(following), dtype=np.int32)
    for step in range(int(sides.max(initial=0))):
        going = sides[at] > step
        if not going.all():
            at, now = at[going], now[going]
        order[first[at] + step] = now
        now = following[now]
    return order


def _following(mesh: Mesh, half: _Numbers) -> _Numbers:
    """The place in ``half`` of the next rim side: turn about the end vertex until the ring ends."""
    place = np.full(3 * len(mesh.triangles), -1, dtype=np.int32)
    place[half] = np.arange(len(half), dtype=np.int32)
    now = np.where(half % 3 == 2, half - 2, half + 1)
    inside = np.flatnonzero(place[now] < 0)
    while len(inside):
        back = _other_half(mesh, now[inside])
        now[inside] = np.where(back % 3 == 2, back - 2, back + 1)
        inside = inside[place[now[inside]] < 0]
    return place[now]


def _other_half(mesh: Mesh, half: _Numbers) -> _Numbers:
    """The same inner sides as their other triangles number them."""
    here = half // 3
    there = mesh.neighbours.ravel()[half]
    theirs = mesh.neighbours[there]
    k = np.where(theirs[:, 0] == here, 0, np.where(theirs[:, 1] == here, 1, 2)).astype(np.int32)
    return 3 * there + k


def _centres(vertices: _Floats, rims: _Rims) -> tuple[_Floats, _Floats, NDArray[np.bool_]]:
    """Centre (f, 3), gap (f,), and whether the centre sees the whole ring (f,).

    Where it does not, a fan triangle would turn over: rings of shots on one line are such.
    """
    f = len(rims.sides)
    centre, gap, sees = np.zeros((f, 3)), np.zeros(f), np.zeros(f, dtype=bool)
    first = rims.first
    four = np.flatnonzero(rims.sides == 4)
    corners = [vertices[rims.start[first[four] + k]] for k in range(4)]
    centre[four], gap[four], sees[four] = _crossing(*corners)
    larger = np.flatnonzero(rims.sides != 4)
    if len(larger):
        sides = rims.sides[larger]
        begin = np.cumsum(sides) - sides
        pick = np.repeat(first[larger] - begin, sides) + np.arange(int(sides.sum()))
        corner = vertices[rims.start[pick]]
        centre[larger] = np.add.reduceat(corner, begin) / sides[:, None]
        off = corner - np.repeat(centre[larger], sides, axis=0)
        gap[larger] = _spread_about_plane(off, begin, sides)
        ahead = off[rims.following[pick] - pick + np.arange(len(pick))]
        cross = off[:, 0] * ahead[:, 1] - off[:, 1] * ahead[:, 0]
        thin = cross <= TIE * ((off[:, :2] ** 2).sum(axis=1) + (ahead[:, :2] ** 2).sum(axis=1))
        sees[larger] = ~np.logical_or.reduceat(thin, begin)
    return centre, gap, sees


def _crossing(a: _Floats, b: _Floats, c: _Floats, d: _Floats) -> tuple[_Floats, _Floats, NDArray[np.bool_]]:
    """Where the diagonals a-c and b-d cross, with the mean of their elevations there, the difference, and
    whether they do cross.
    """
    p, q, r = c - a, d - b, b - a
    base = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    lengths = (p[:, 0] ** 2 + p[:, 1] ** 2) * (q[:, 0] ** 2 + q[:, 1] ** 2)
    crossing = (base > 0) & (base**2 > TIE**2 * lengths)
    base = np.where(base == 0, np.inf, base)
    s = np.clip((r[:, 0] * q[:, 1] - r[:, 1] * q[:, 0]) / base, 0.0, 1.0)
    u = np.clip((r[:, 0] * p[:, 1] - r[:, 1] * p[:, 0]) / base, 0.0, 1.0)
    one, two = a + s[:, None] * p, b + u[:, None] * q
    crossing &= (np.minimum(s, u) > TIE) & (np.maximum(s, u) < 1 - TIE)
    return (one + two) / 2, np.abs(one[:, 2] - two[:, 2]), crossing


def _spread_about_plane(off: _Floats, begin: _Ints, sides: _Ints) -> _Floats:
    """Highest less lowest departure [m] of each ring's vertices from their least-squares plane.

    ``off`` (s, 3): the vertices less their mean, ring after ring.
    """
    xx, xy, yy, xz, yz = (
        np.add.reduceat(off[:, i] * off[:, j], begin) for i, j in ((0, 0), (0, 1), (1, 1), (0, 2), (1, 2))
    )
    base = xx * yy - xy * xy
    base = np.where(base <= 0, np.inf, base)
    east, north = (xz * yy - yz * xy) / base, (yz * xx - xz * xy) / base
    left = off[:, 2] - np.repeat(east, sides) * off[:, 0] - np.repeat(north, sides) * off[:, 1]
    spread: _Floats = np.maximum.reduceat(left, begin) - np.minimum.reduceat(left, begin)
    return spread


def _fan(vertices: _Floats, mesh: Mesh, rims: _Rims, centres: _Floats, gaps: _Floats) -> Folded:
    """Put the fans in the places of the triangles they replace, two more per ring at the end."""
    n, t, f = len(vertices), len(mesh.triangles), len(gaps)
    fan = np.concatenate([rims.gone, np.arange(t, t + 2 * f, dtype=np.int32)])
    triangles = np.concatenate([mesh.triangles, np.empty((2 * f, 3), dtype=np.int32)])
    neighbours = np.concatenate([mesh.neighbours, np.empty((2 * f, 3), dtype=np.int32)])
    beyond = mesh.neighbours.ravel()[rims.half]
    inner = np.flatnonzero(beyond >= 0)
    # what looks back over the side from beyond: a triangle that stays, or another fan
    back = _other_half(mesh, rims.half[inner])
    fan_of = np.full(3 * t, -1, dtype=np.int32)
    fan_of[rims.half] = fan
    other = fan_of[back]
    stays = other < 0
    neighbours.ravel()[back[stays]] = fan[inner[stays]]
    beyond[inner] = np.where(stays, beyond[inner], other)
    following, preceding = rims.following, rims.preceding
    triangles[fan] = np.column_stack([rims.start, rims.start[following], n + rims.ring])
    neighbours[fan] = np.column_stack([beyond, fan[following], fan[preceding]])
    starts = np.concatenate([[0], np.cumsum(rims.sides)]).astype(np.int64)
    folds = Folds(n + np.arange(f, dtype=np.int64), gaps, fan.astype(np.int64), starts)
    return Folded(np.concatenate([vertices, centres]), Mesh(triangles, neighbours), folds)
