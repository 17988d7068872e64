"""Which triangle holds a point: a raster of first guesses, then a walk from triangle to triangle.

Points on an edge belong to one of its triangles; points within a millimetre of the hull belong to the
hull triangle behind it. Nothing is found farther outside.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from gradework.ground.mesh import NEXT

TOUCH = 0.001
"""[m] A point this close to the hull counts as inside: a stake is not placed closer than that."""

_BLOCK = 1 << 17  # points walked at once
_SEARCH = 1 << 22  # point-triangle pairs tried at once when a walk gives up


def weights(
    vertices: NDArray[np.float64], corners: NDArray[np.int32], local: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Shares (m, 3) of the three corners at each point (m, 2); a point outside counts as the nearest inside.

    At a corner the shares are exactly 1, 0, 0, since two of the three areas vanish exactly.
    """
    away = vertices[corners, :2] - local[:, None, :]
    one, two = away[:, [1, 2, 0]], away[:, [2, 0, 1]]
    share = one[..., 0] * two[..., 1] - one[..., 1] * two[..., 0]
    outside = np.flatnonzero((share < 0).any(axis=1))
    if len(outside):
        share[outside] = _nearest_shares(vertices[corners[outside], :2], local[outside])
    total = share.sum(axis=1, keepdims=True)
    # a triangle without area: its first corner speaks for it
    flat = np.flatnonzero(total[:, 0] <= 0)
    share[flat] = [1.0, 0.0, 0.0]
    total[flat] = 1.0
    answer: NDArray[np.float64] = share / total
    return answer


def _nearest_shares(corner: NDArray[np.float64], local: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares at the nearest point of the triangle's three sides; ``corner`` (m, 3, 2)."""
    side = corner[:, [1, 2, 0]] - corner
    arm = local[:, None, :] - corner
    length = (side**2).sum(axis=2)
    along = np.clip((arm * side).sum(axis=2) / np.where(length == 0, 1.0, length), 0.0, 1.0)
    gap = arm - along[..., None] * side
    nearest = np.argmin((gap**2).sum(axis=2), axis=1)
    rows = np.arange(len(local))
    share = np.zeros((len(local), 3))
    part = along[rows, nearest]
    share[rows, nearest] = 1.0 - part
    share[rows, NEXT[nearest]] = part
    return share


class Locator:
    """Point location on one surface; all coordinates local [m]."""

    def __init__(
        self,
        vertices: NDArray[np.float64],
        triangles: NDArray[np.int32],
        neighbours: NDArray[np.int32],
        hull: NDArray[np.int64],
        stations: int,
    ) -> None:
        self.vertices = vertices
        self.triangles = triangles
        self.neighbours = neighbours
        self.hull = hull
        self.stations = stations

    def station_at(self, local: NDArray[np.float64]) -> NDArray[np.int64]:
        """The station (m,) that stands exactly at each point (m, 2), -1 where none does."""
        keys, order = self._by_place
        wanted = local[:, 0] + 1j * local[:, 1]
        at = np.minimum(np.searchsorted(keys, wanted), len(keys) - 1)
        return np.where(keys[at] == wanted, order[at], -1)

    @cached_property
    def _by_place(self) -> tuple[NDArray[np.complex128], NDArray[np.int64]]:
        keys = self.vertices[: self.stations, 0] + 1j * self.vertices[: self.stations, 1]
        order = np.argsort(keys)
        return keys[order], order

    def locate(self, local: NDArray[np.float64]) -> NDArray[np.int64]:
        """The triangle (m,) of each point (m, 2); -1 outside by more than `TOUCH` or not finite."""
        answer = np.full(len(local), -1, dtype=np.int64)
        low, high = self._bounds
        near = np.flatnonzero(((local >= low - TOUCH) & (local <= high + TOUCH)).all(axis=1))
        for begin in range(0, len(near), _BLOCK):
            some = near[begin : begin + _BLOCK]
            answer[some] = self._walk(local[some])
        return answer

    @cached_property
    def _bounds(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        ring = self.vertices[self.hull, :2]
        return ring.min(axis=0), ring.max(axis=0)

    @cached_property
    def _raster(self) -> tuple[NDArray[np.int32], float, int]:
        """A triangle near the middle of each raster cell, the cell's side [m], and cells per row."""
        low, high = self._bounds
        width, height = (high - low).tolist()
        cell = max((width * height / max(len(self.triangles) / 4, 1)) ** 0.5, max(width, height) / 4096)
        columns, rows = int(width / cell) + 1, int(height / cell) + 1
        middle = self.vertices[self.triangles, :2].mean(axis=1)
        place = ((middle - low) / cell).astype(np.int64)
        guess = np.full(rows * columns, -1, dtype=np.int32)
        guess[place[:, 1] * columns + place[:, 0]] = np.arange(len(self.triangles), dtype=np.int32)
        filled = np.flatnonzero(guess >= 0)
        nearest = np.searchsorted(filled, np.arange(len(guess))).clip(0, len(filled) - 1)
        return np.where(guess >= 0, guess, guess[filled[nearest]]).astype(np.int32), cell, columns

    def _walk(self, local: NDArray[np.float64]) -> NDArray[np.int64]:
        guess, cell, columns = self._raster
        rows = len(guess) // columns
        place = np.floor((local - self._bounds[0]) / cell).astype(np.int64)
        column, row = place[:, 0].clip(0, columns - 1), place[:, 1].clip(0, rows - 1)
        now = guess[row * columns + column].astype(np.int64)
        answer = np.full(len(local), -1, dtype=np.int64)
        active = np.arange(len(local))
        lost: list[NDArray[np.int64]] = []
        # walks on a Delaunay mesh end; fans are not Delaunay, so a walk that circles is searched for instead
        for _ in range(64 + 4 * int(len(self.triangles) ** 0.5)):
            if not len(active):
                break
            worst, depth = self._farthest_side(now[active], local[active])
            done = depth >= 0
            answer[active[done]] = now[active[done]]
            step = self.neighbours[now[active], worst]
            off = ~done & (step < 0)
            lost.append(active[off])
            go = ~done & ~off
            active = active[go]
            now[active] = step[go]
        lost.append(active)
        outside = np.concatenate(lost)
        if len(outside):
            answer[outside] = self._search(local[outside])
        return answer

    def _farthest_side(
        self, triangle: NDArray[np.int64], local: NDArray[np.float64]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """The side each point lies farthest beyond, and by how much (doubled area, negative: beyond)."""
        away = self.vertices[self.triangles[triangle], :2] - local[:, None, :]
        on = away[:, [1, 2, 0]]
        depth = away[..., 0] * on[..., 1] - away[..., 1] * on[..., 0]
        worst = np.argmin(depth, axis=1)
        return worst, depth[np.arange(len(worst)), worst]

    def _search(self, local: NDArray[np.float64]) -> NDArray[np.int64]:
        """Walks that left the hull or gave up: inside by the hull's own lines, or within `TOUCH` of it?"""
        answer = np.full(len(local), -1, dtype=np.int64)
        sides = self._hull_sides
        a = self.vertices[self.hull, :2]
        b = np.roll(a, -1, axis=0)
        edge = b - a
        square = (edge**2).sum(axis=1)
        step = max(1, _SEARCH // len(a))
        for begin in range(0, len(local), step):
            p = local[begin : begin + step]
            arm = p[:, None, :] - a
            part = np.clip((arm * edge).sum(axis=2) / square, 0.0, 1.0)
            gap = ((arm - part[..., None] * edge) ** 2).sum(axis=2)
            nearest = np.argmin(gap, axis=1)
            distance = np.sqrt(gap[np.arange(len(p)), nearest])
            touching = distance <= TOUCH
            answer[begin : begin + step] = np.where(touching, sides[nearest], -1)
            cross = edge[:, 0] * arm[..., 1] - edge[:, 1] * arm[..., 0]
            inside = np.flatnonzero(~touching & (cross >= -TOUCH * np.sqrt(square)).all(axis=1))
            answer[begin + inside] = self._everywhere(p[inside])
        return answer

    @cached_property
    def _hull_sides(self) -> NDArray[np.int64]:
        """The triangle behind each side of the hull (h,)."""
        t, k = np.nonzero(self.neighbours < 0)
        behind = np.full(len(self.vertices), -1, dtype=np.int64)
        behind[self.triangles[t, k]] = t
        return behind[self.hull]

    def _everywhere(self, local: NDArray[np.float64]) -> NDArray[np.int64]:
        """Try every triangle: the one that holds the point deepest, -1 when none does."""
        answer = np.empty(len(local), dtype=np.int64)
        every = np.arange(len(self.triangles))
        for i, p in enumerate(local):
            _, depth = self._farthest_side(every, np.broadcast_to(p, (len(every), 2)))
            deepest = int(np.argmax(depth))
            answer[i] = deepest if depth[deepest] >= 0 else -1
        return answer
