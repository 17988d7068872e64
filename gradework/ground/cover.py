"""The surface after the tie rule still has every station and covers the same ground once: checked each run.

`mesh` proves the triangulation with integers as it is made; this looks at what the fans made of it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.fans import Folded
from gradework.ground.mesh import Mesh

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
    old, new = (_doubled_areas(folded.vertices, some) for some in (before[~stays], after[fan]))
    if new.min(initial=0.0) < 0.0:
        raise CheckError("a fan of the tie rule is turned over")
    # the centre of gravity too: two equal triangles, one of them there twice, have the right area
    spread = np.ptp(folded.vertices[:, :2], axis=0).max()
    was, now = (
        np.array([doubled.sum(), *(doubled[:, None] * folded.vertices[some, :2].mean(axis=1)).sum(axis=0)])
        for doubled, some in ((old, before[~stays]), (new, after[fan]))
    )
    if (np.abs(now - was) > SAME_AREA * was[0] * np.array([1.0, spread, spread])).any():
        raise CheckError("the fans of the tie rule do not cover their rings exactly once")


def _doubled_areas(vertices: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.float64]:
    a, b, c = (vertices[triangles[:, k], :2] for k in range(3))
    u, v = b - a, c - a
    area: NDArray[np.float64] = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return area
