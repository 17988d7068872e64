"""The tie rule: where several stations lie on one circle, the survey does not say how the ground is folded.

Four stations on a circle (each cell of a square grid) have two Delaunay triangulations, and volumes would
hang on an accident. Triangles joined over an edge whose two opposite angles sum to 180 degrees form a
ring. A ring of four gets a new vertex where its diagonals cross, with the mean of the two diagonals'
elevations there; a larger ring gets one at the mean of its vertices. The ring is then fanned from that
vertex (`fans`): planes stay planes, a rectangle gets the mean of its four corners (the unit-area rule of
borrow pits), and nothing depends on the order, the turn or the mirror image of the survey.

The angle sum is tested with the TRUE coordinates against `TIE` plus what the whole-number grid may have
turned the sides by: so wherever the grid could have chosen either diagonal, the rule decides, not the grid.

A grid that was turned and written down to 0.1 mm or 0.01 ft holds no exact rectangle any more, and rounding
would choose its diagonals. So four stations that are a rectangle to within `ROUNDED` are a tie too. That is a
question of lengths only: it depends on no order, shift or turn, and it leaves shots that stand anyhow alone,
since hardly four of them make a rectangle by chance. Quadrilaterals on a circle that are no rectangles get no
such allowance: of shots that stand anyhow one in a hundred would pass.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gradework.ground.mesh import BEFORE, BLOCK, NEXT, Mesh

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


def tied_rings(vertices: _Floats, mesh: Mesh, quantum: float) -> _Numbers:
    """For each triangle the lowest triangle number of its ring (t,), -1 where it belongs to none.

    ``vertices`` (n, 3) local, TRUE coordinates [m]; ``quantum`` [m] the grid step that decided the mesh.
    """
    return _joined(_tied_across(vertices, mesh, quantum))


def _tied_across(vertices: _Floats, mesh: Mesh, quantum: float) -> _Numbers:
    """For each triangle the neighbour it ties with across the side opposite its widest angle (t,), or -1.

    Two angles that sum to 180 degrees are not both acute, so this finds every tie, from one triangle or
    from both.
    """
    x, y = np.ascontiguousarray(vertices[:, 0]), np.ascontiguousarray(vertices[:, 1])
    tied = np.full(len(mesh.triangles), -1, dtype=np.int32)
    for begin in range(0, len(tied), BLOCK):
        part, side = _right_or_wider(x, y, mesh.triangles[begin : begin + BLOCK])
        part += begin
        other = mesh.neighbours[part, side]
        inner = other >= 0
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
