"""The ground outside a convex outline, shared out among its sides by the mitre lines at the corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Numbers = NDArray[np.intp]

STRAIGHT = 1e-9
"""A corner that turns by less than this (its sine) is left out: its two sides are one."""


@dataclass(frozen=True, eq=False)
class Facets:
    """Side i runs from ring[i] to ring[i + 1]; d_i = normals[i] · x - offsets[i] is the distance outward
    from it [m].

    mitres : (n, 2) directions of the lines outward from each corner along which d of its two sides is equal.
    """

    ring: Floats
    normals: Floats
    offsets: Floats
    mitres: Floats

    def region(self, side: int) -> Floats:
        """Half-planes (3, 3) of one facet: outside its side, and farther from it than from the next two."""
        count = len(self.ring)
        beside = ((side - 1) % count, (side + 1) % count)
        return np.array(
            [
                (*self.normals[side], self.offsets[side]),
                *(
                    (*(self.normals[side] - self.normals[k]), self.offsets[side] - self.offsets[k])
                    for k in beside
                ),
            ]
        )

    def farthest(self, points: Floats) -> Floats:
        """Distance d (p,) of points (p, 2) outside the pad, the greatest over all sides [m]; 0 inside."""
        far = np.zeros(len(points))
        for (x, y), offset in zip(self.normals.tolist(), self.offsets.tolist(), strict=True):
            np.maximum(far, points[:, 0] * x + points[:, 1] * y - offset, out=far)
        return far

    def distance(self, points: Floats, side: Numbers) -> Floats:
        """Distance outward (k, ...) [m] of points (k, ..., 2) from the side given for each row."""
        normal = self.normals[side]
        shape = (len(side),) + (1,) * (points.ndim - 2)
        x, y = normal[:, 0].reshape(shape), normal[:, 1].reshape(shape)
        far: Floats = points[..., 0] * x + points[..., 1] * y - self.offsets[side].reshape(shape)
        return np.maximum(far, 0.0)


def facets_of(ring: Floats) -> Facets:
    """The facets of a convex ring (n, 2), anticlockwise, local coordinates [m]."""
    side = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(side[:, 0], side[:, 1])
    before, before_length = np.roll(side, 1, axis=0), np.roll(length, 1)
    sine = (before[:, 0] * side[:, 1] - before[:, 1] * side[:, 0]) / (length * before_length)
    corners = ring[np.abs(sine) > STRAIGHT]
    side = np.roll(corners, -1, axis=0) - corners
    normals = np.stack((side[:, 1], -side[:, 0]), axis=1) / np.hypot(side[:, 0], side[:, 1])[:, None]
    last = np.roll(normals, 1, axis=0)
    mitres = (normals + last) / (1.0 + (normals * last).sum(axis=1))[:, None]
    return Facets(corners, normals, (normals * corners).sum(axis=1), mitres)
