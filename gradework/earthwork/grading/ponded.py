"""Water that shaped ground holds back: rain fills what lies behind it, as deep as its lowest way out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.ground.cut_ground import GRID
from gradework.ground.water.flood import flood

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]

SOAKS = 0.0127
"""[m] Water that stands deeper by no more than 1/2 in than it did soaks away (judgement)."""


def stands_deeper(surface: Surface, before: Floats, low: Floats, high: Floats) -> float:
    """How much deeper water stands somewhere on a ``surface`` than it did when its vertices lay as high as
    ``before`` (v,) [m].

    On straight-sided ground water rises to the lowest way along the edges of triangles, so the corners tell
    all. Water that comes to the edge of the survey, or out of the box from ``low`` to ``high`` (2,), local
    [m], has run off.
    """
    plan = surface.vertices[:, :2]
    inside = np.asarray(((plan >= low) & (plan <= high)).all(axis=1))
    near = inside[surface.triangles].any(axis=1)
    corners = surface.triangles[near]
    leaves = ~inside
    leaves[surface.hull] = True
    pairs = np.concatenate(
        [corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]], _steps(plan, corners)]
    ).astype(np.int64)
    depth = []
    for heights in (surface.vertices[:, 2], before):
        # how long the edges are makes no difference to how high the water stands
        level = flood(heights, pairs, np.ones(len(pairs)), np.where(leaves, heights, np.inf)).level
        depth.append(np.where(np.isfinite(level), level - heights, 0.0))
    return float((depth[0] - depth[1])[np.unique(corners)].max(initial=0.0))


def _steps(plan: Floats, corners: NDArray[np.int32]) -> NDArray[np.int64]:
    """Corners that stand in one place (n, 2): at an upright face water falls from the upper to the lower."""
    used = np.unique(corners)
    _, place = np.unique(np.rint(plan[used] / GRID), axis=0, return_inverse=True)
    order = np.argsort(place.reshape(-1), kind="stable")
    same = np.diff(place.reshape(-1)[order]) == 0
    return np.stack([used[order][:-1][same], used[order][1:][same]], axis=1).astype(np.int64)
