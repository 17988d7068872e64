"""Which triangle of a surface holds a point: a raster of first guesses, then a walk from one to the next.

Points on an edge belong to one of its triangles; points within a millimetre of the hull belong to the hull
triangle behind it. Nothing is found farther outside.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from gradework.ground.triangulation import NEXT

TOUCH = 0.001
"""[m] A point this close to the hull counts as inside: a stake is not placed closer than that."""

_BLOCK = 1 << 17  # points walked at once
_SEARCH = 1 << 22  # point-triangle pairs tried at once when a walk gives up


def weights(
    vertices: NDArray[np.float64], corners: NDArray[np.integer[Any]], local: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Shares (m, 3) of the three corners at each point (m, 2), and a depth (m,) [m] behind the nearest side.

    A point outside counts as the nearest inside. At a corner the shares are exactly 1, 0, 0, since two of
    the three areas vanish exactly. The depth is never more than the true one; 0 on a side and outside.
    """
    px, py = local[:, 0], local[:, 1]
    (ax, ay), (bx, by), (cx, cy) = (
        (vertices[corner, 0] - px, vertices[corner, 1] - py) for corner in corners.T
    )
    share = np.column_stack([bx * cy - by * cx, cx * ay - cy * ax, ax * by - ay * bx])
    least = share.min(axis=1)
    outside = np.flatnonzero(least < 0)
    if len(outside):
        share[outside] = _nearest_shares(vertices[corners[outside], :2], local[outside])
    total = share.sum(axis=1, keepdims=True)
    # a triangle without area: its first corner speaks for it
    flat = np.flatnonzero(total[:, 0] <= 0)
    share[flat] = [1.0, 0.0, 0.0]
    total[flat] = 1.0
    share /= total
    longest = np.sqrt(
        np.maximum(
            (bx - ax) ** 2 + (by - ay) ** 2,
            np.maximum((cx - bx) ** 2 + (cy - by) ** 2, (ax - cx) ** 2 + (ay - cy) ** 2),
        )
    )
    return share, np.maximum(least, 0.0) / longest


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
    def _xy(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return np.ascontiguousarray(self.vertices[:, 0]), np.ascontiguousarray(self.vertices[:, 1])

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
        filled, every = np.flatnonzero(guess >= 0), np.arange(len(guess))
        after = np.searchsorted(filled, every)
        left, right = filled[np.maximum(after - 1, 0)], filled[np.minimum(after, len(filled) - 1)]
        # an empty cell takes the guess of the nearer one along its row, if the row has any
        from_left = np.abs(every - left) + np.where(left // columns == every // columns, 0, len(guess))
        from_right = np.abs(right - every) + np.where(right // columns == every // columns, 0, len(guess))
        nearest = np.where(from_left < from_right, left, right)
        return guess[nearest], cell, columns

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
            here = now[active]
            depths = self._depths(here, local[active])
            depth = np.minimum(np.minimum(depths[0], depths[1]), depths[2])
            done = depth >= 0
            answer[active[done]] = here[done]
            step = np.where(
                depths[0] == depth,
                self.neighbours[here, 0],
                np.where(depths[1] == depth, self.neighbours[here, 1], self.neighbours[here, 2]),
            )
            if self._at_hull[here].any():  # beyond a side of the hull: no need to look for another way
                for k in range(3):
                    step[(depths[k] < 0) & (self.neighbours[here, k] < 0)] = -1
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

    def _depths(
        self, triangle: NDArray[np.int64], local: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """How far each point lies inside each of three sides (doubled areas; negative: beyond the side)."""
        corners = self.triangles[triangle]
        x, y = self._xy
        px, py = local[:, 0], local[:, 1]
        ax, bx, cx = (x[corners[:, k]] - px for k in range(3))
        ay, by, cy = (y[corners[:, k]] - py for k in range(3))
        return ax * by - ay * bx, bx * cy - by * cx, cx * ay - cy * ax

    @cached_property
    def _at_hull(self) -> NDArray[np.bool_]:
        least: NDArray[np.int32] = self.neighbours.min(axis=1)
        return least < 0

    def _search(self, local: NDArray[np.float64]) -> NDArray[np.int64]:
        """Walks that left the hull or gave up: inside the hull after all, or within `TOUCH` of it?"""
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
            # a ray to the right leaves the hull an odd number of times; where slivers were peeled off it has
            # dents of a few grid steps, which between stations millimetres apart are not flat at all
            spans = (a[:, 1] > p[:, 1, None]) != (b[:, 1] > p[:, 1, None])
            leaves = spans & ((cross > 0) == (edge[:, 1] > 0))
            inside = np.flatnonzero(~touching & (leaves.sum(axis=1) % 2 == 1))
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
            depth = np.min(self._depths(every, np.broadcast_to(p, (len(every), 2))), axis=0)
            deepest = int(np.argmax(depth))
            answer[i] = deepest if depth[deepest] >= 0 else -1
        return answer
