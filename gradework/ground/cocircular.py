"""Stations on one circle: their ring gets a centre and is fanned; the cover of the ground is checked again.

`triangulation` is proved with integers as it is made; `check_cover` looks at what the fans made of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.triangulation import BEFORE, BLOCK, NEXT, Mesh, side_keys

# The tie rule: where several stations lie on one circle, the survey does not say how the ground is
# folded.
#
# Four stations on a circle (each cell of a square grid) have two Delaunay triangulations, and volumes
# would hang on an accident. Triangles joined over an edge whose two opposite angles sum to 180 degrees
# form a ring. A ring of four gets a new vertex where its diagonals cross, with the mean of the two
# diagonals' elevations there; a larger ring gets one at the mean of its vertices. The ring is then fanned
# from that vertex (`fold_ties`): planes stay planes, a rectangle gets the mean of its four corners (the unit-
# area rule of borrow pits), and nothing depends on the order, the turn or the mirror image of the survey.
#
# The angle sum is tested with the TRUE coordinates against `TIE` plus what the whole-number grid may have
# turned the sides by: so wherever the grid could have chosen either diagonal, the rule decides, not the
# grid.
#
# A grid that was turned and written down to 0.1 mm or 0.01 ft holds no exact rectangle any more, and
# rounding would choose its diagonals. So four stations that are a rectangle to within `ROUNDED` are a tie
# too. That is a question of lengths only: it depends on no order, shift or turn, and it leaves shots that
# stand anyhow alone, since hardly four of them make a rectangle by chance. Quadrilaterals on a circle
# that are no rectangles get no such allowance: of shots that stand anyhow one in a hundred would pass.
#
# A breakline says how the ground folds: no tie reaches across one, so a square with a breakline along its
# diagonal is folded there and gets no centre.

TIE = 1e-6
"""[rad] Angle sums this close to 180 degrees are a tie. A millionth is 5 micrometres on a 5 m grid: above
the rounding of any coordinates read, turned or shifted, far below what a stake can be placed to."""

ROUNDED = 0.003048
"""[m] 0.01 ft: the coarsest that places of a yard are written down, and no stake is set closer (judgement).
Rounding moves a corner by up to this over the root of 2."""

MOST_TIE = 1e-2
"""[rad] The grid's own part of the tolerance stops here (sides shorter than some 500 grid steps)."""

_SIDE_TURN = 2.0  # a side's two ends move by at most q / sqrt 2 each: it turns by at most sqrt 2 q / length

_Floats = NDArray[np.float64]
_Numbers = NDArray[np.int32]
_Ints = NDArray[np.int64]


_NO_EDGES = np.empty((0, 2), dtype=np.int64)


def tied_rings(vertices: _Floats, mesh: Mesh, quantum: float, edges: _Ints = _NO_EDGES) -> _Numbers:
    """For each triangle the lowest triangle number of its ring (t,), -1 where it belongs to none.

    ``vertices`` (n, 3) local, TRUE coordinates [m]; ``quantum`` [m] the grid step that decided the mesh;
    ``edges`` (e, 2) the sides that breaklines run along.
    """
    return _joined(_tied_across(vertices, mesh, quantum, side_keys(*edges.T)))


def _tied_across(vertices: _Floats, mesh: Mesh, quantum: float, broken: _Ints) -> _Numbers:
    """For each triangle the neighbour it ties with across the side opposite its widest angle (t,), or -1.

    Two angles that sum to 180 degrees are not both acute, so this finds every tie, from one triangle or
    from both. ``broken``: the keys of sides that no tie reaches across.
    """
    x, y = np.ascontiguousarray(vertices[:, 0]), np.ascontiguousarray(vertices[:, 1])
    tied = np.full(len(mesh.triangles), -1, dtype=np.int32)
    for begin in range(0, len(tied), BLOCK):
        part, side = _right_or_wider(x, y, mesh.triangles[begin : begin + BLOCK])
        part += begin
        other = mesh.neighbours[part, side]
        inner = other >= 0
        if len(broken):
            ends = mesh.triangles[part, side], mesh.triangles[part, NEXT[side]]
            inner &= ~np.isin(side_keys(*ends), broken)
        part, side, other = part[inner], side[inner], other[inner]
        corners = mesh.triangles[part]
        rows = np.arange(len(part))
        a, c, b = corners[rows, side], corners[rows, NEXT[side]], corners[rows, BEFORE[side]]
        # the vertex across is what is left of the neighbour without the two shared ones
        beyond = mesh.triangles[other]
        d = beyond[:, 0] + beyond[:, 1] + beyond[:, 2] - a - c
        for found in (_sum_to_half_turn(x, y, (a, b, c, d), quantum), _rectangles(x, y, (a, b, c, d))):
            tied[part[found]] = other[found]
    return tied


def _right_or_wider(
    x: _Floats, y: _Floats, triangles: _Numbers
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Triangles with an angle of 90 degrees or more (less the largest tolerance), and the side opposite."""
    a, b, c = (np.ascontiguousarray(triangles[:, k]) for k in range(3))
    xa, ya, xb, yb, xc, yc = x[a], y[a], x[b], y[b], x[c], y[c]
    square = [
        (xb - xa) ** 2 + (yb - ya) ** 2,
        (xc - xb) ** 2 + (yc - yb) ** 2,
        (xa - xc) ** 2 + (ya - yc) ** 2,
    ]
    longest = np.maximum(np.maximum(square[0], square[1]), square[2])
    part = np.flatnonzero(square[0] + square[1] + square[2] <= 2 * (1 + MOST_TIE) * longest)
    top = longest[part]
    side = np.where(square[0][part] == top, 0, np.where(square[1][part] == top, 1, 2))
    return part, side


def _sum_to_half_turn(
    x: _Floats, y: _Floats, quad: tuple[NDArray[np.integer], ...], quantum: float
) -> NDArray[np.int64]:
    """Where the angles at b and d of the quadrilaterals a, b, c, d (anticlockwise) sum to 180 degrees."""
    a, b, c, d = quad
    xa, ya, xb, yb, xc, yc, xd, yd = x[a], y[a], x[b], y[b], x[c], y[c], x[d], y[d]
    ux, uy, vx, vy = xa - xb, ya - yb, xc - xb, yc - yb
    wx, wy, zx, zy = xc - xd, yc - yd, xa - xd, ya - yd
    cross_b, dot_b = vx * uy - vy * ux, ux * vx + uy * vy
    cross_d, dot_d = zx * wy - zy * wx, wx * zx + wy * zy
    # sine and cosine of the sum, times the four side lengths; a sum near 0 or 360 degrees is no tie
    sine, cosine = cross_b * dot_d + dot_b * cross_d, dot_b * dot_d - cross_b * cross_d
    near = np.flatnonzero((np.abs(sine) <= MOST_TIE * np.abs(cosine)) & (cosine < 0))
    sides = [np.hypot(px[near], py[near]) for px, py in ((ux, uy), (vx, vy), (wx, wy), (zx, zy))]
    turned = _SIDE_TURN * quantum * (1 / sides[0] + 1 / sides[1] + 1 / sides[2] + 1 / sides[3])
    miss = np.abs(sine[near]) / (sides[0] * sides[1] * sides[2] * sides[3])
    tied: NDArray[np.int64] = near[miss <= np.minimum(TIE + turned, MOST_TIE)]
    return tied


def _rectangles(x: _Floats, y: _Floats, quad: tuple[NDArray[np.integer], ...]) -> NDArray[np.int64]:
    """Where the quadrilaterals a, b, c, d may have been rectangles before their corners were rounded.

    Half the sum of a and c less half that of b and d, and the difference of the diagonals, are nothing in a
    rectangle; rounding makes them at most `ROUNDED` times the root of 2 and twice that. Sides so short that
    this would turn them by over `MOST_TIE` get less.
    """
    xa, xb, xc, xd = (x[k] for k in quad)
    ya, yb, yc, yd = (y[k] for k in quad)
    apart = np.hypot(xa + xc - xb - xd, ya + yc - yb - yd) / 2
    near = np.flatnonzero(apart <= np.sqrt(2) * ROUNDED)
    xa, xb, xc, xd, ya, yb, yc, yd = (v[near] for v in (xa, xb, xc, xd, ya, yb, yc, yd))
    shorter = np.minimum(np.hypot(xb - xa, yb - ya), np.hypot(xc - xb, yc - yb))
    step = np.minimum(ROUNDED, MOST_TIE * shorter / np.sqrt(8))
    unequal = np.abs(np.hypot(xc - xa, yc - ya) - np.hypot(xd - xb, yd - yb))
    fits: NDArray[np.int64] = near[(apart[near] <= np.sqrt(2) * step) & (unequal <= np.sqrt(8) * step)]
    return fits


def _joined(tied: _Numbers) -> _Numbers:
    """The lowest number of all triangles joined by ties, directly or through others; -1 for those without."""
    label = np.full(len(tied), -1, dtype=np.int32)
    a = np.flatnonzero(tied >= 0).astype(np.int32)
    b = tied[a]
    label[a] = a
    label[b] = b
    joined = np.bincount(a, minlength=len(tied)) + np.bincount(b, minlength=len(tied))
    joined[a[tied[b] == a]] -= 1  # both ends tell of the same tie
    alone = (joined[a] == 1) & (joined[b] == 1)
    label[a[alone]] = label[b[alone]] = np.minimum(a[alone], b[alone])
    a, b = a[~alone], b[~alone]
    chained = np.zeros(len(tied), dtype=bool)
    chained[a] = chained[b] = True
    members = np.flatnonzero(chained)
    while len(members):
        before = label[members]
        low = np.minimum(label[a], label[b])
        # the root of each end learns the lower number, then everybody asks his root: few rounds
        np.minimum.at(label, label[a], low)
        np.minimum.at(label, label[b], low)
        label[members] = label[label[members]]
        if np.array_equal(before, label[members]):
            break
    return label


# From rings to fans: `tied_rings` found them, what follows replaces each by a fan about one new vertex and
# tells what that leaves in doubt. It never touches a triangle outside a ring, and it leaves a ring as it
# was when the fan would turn a triangle over.


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


def fold_ties(vertices: _Floats, mesh: Mesh, quantum: float, edges: _Ints = _NO_EDGES) -> Folded:
    """Apply the tie rule. ``vertices`` (n, 3) local [m]; ``quantum`` [m] the grid step of the mesh; ``edges``
    (e, 2) the sides that breaklines run along."""
    rims = _rims(mesh, tied_rings(vertices, mesh, quantum, edges))
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


SAME_AREA = 1e-9
"""The fans cover what the triangles they replace covered, within this part of it."""


def check_cover(mesh: Mesh, folded: Folded) -> None:
    """Raise ``CheckError`` unless ``folded`` is ``mesh`` with rings of triangles replaced by fans.

    Every vertex is the corner of a triangle, no triangle outside the rings has changed, no fan triangle is
    turned over, and the fans have the area and the centre of gravity of what they replace.
    """
    before, after, fan = mesh.triangles, folded.mesh.triangles, folded.folds.triangles
    used = np.zeros(len(folded.vertices), dtype=bool)
    used[after.ravel()] = True
    if not used.all():
        raise CheckError(f"{int((~used).sum())} stations or centres are not part of the surface")
    stays = np.ones(len(before), dtype=bool)
    stays[fan[fan < len(before)]] = False
    if not np.array_equal(before[stays], after[: len(before)][stays]):
        raise CheckError("the tie rule changed a triangle outside its rings")
    least, now = _turned_and_moments(folded.vertices, after[fan])
    if least < 0.0:
        raise CheckError("a fan of the tie rule is turned over")
    was = _turned_and_moments(folded.vertices, before[~stays])[1]
    # the centre of gravity too: two equal triangles, one of them there twice, have the right area
    spread = np.ptp(folded.vertices[:, :2], axis=0).max()
    if (np.abs(now - was) > SAME_AREA * was[0] * np.array([1.0, spread, spread])).any():
        raise CheckError("the fans of the tie rule do not cover their rings exactly once")


def _turned_and_moments(
    vertices: NDArray[np.float64], triangles: NDArray[np.int32]
) -> tuple[float, NDArray[np.float64]]:
    """The least doubled area [m²], and the sums of doubled area and of its first moments (3,) [m², m³]."""
    x, y = np.ascontiguousarray(vertices[:, 0]), np.ascontiguousarray(vertices[:, 1])
    least, sums = 0.0, np.zeros(3)
    for begin in range(0, len(triangles), BLOCK):
        a, b, c = triangles[begin : begin + BLOCK].T
        (ax, ay), (bx, by), (cx, cy) = ((x[k], y[k]) for k in (a, b, c))
        doubled = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        least = min(least, float(doubled.min()))
        sums += doubled.sum(), doubled @ (ax + bx + cx) / 3.0, doubled @ (ay + by + cy) / 3.0
    return least, sums
