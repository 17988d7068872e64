"""The surface after the tie rule still has every station and covers the same ground once: checked each run.

`mesh` proves the triangulation with integers as it is made; this looks at what the fans made of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.fans import Folded
from gradework.ground.mesh import BLOCK, Mesh

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
