"""What a sheet of stakes says, worked back to where it came from: the check of every run that sets out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError
from gradework.ground.locate import TOUCH
from gradework.sitework.setout_rods import ON_GRADE

if TYPE_CHECKING:
    from gradework.ground import Surface
    from gradework.sitework.setout import StakedPoint

Floats = NDArray[np.float64]

SAME_LEVEL = 1e-6
"""Two sums of the same levels agree within a thousandth of a millimetre [m]."""


def check_stakes(
    points: Sequence[StakedPoint],
    surface: Surface,
    *,
    finished: float,
    sight: tuple[float, float] | None = None,
    string: float | None = None,
) -> None:
    """Raise ``CheckError`` unless every stake leads back to its levels from what a builder sees in the yard.

    From the ground: ground + fill - cut is the level the mark names, within half a hundredth of a foot; the
    ground is found anew, from the planes of the triangles. From the rod: ``sight``, the elevation of the
    benchmark and the backsight on it [m], less the reading is the level. From the string (``string`` [m]):
    its level and the height above it. What is built ends at the level ``finished`` [m].
    """
    marked = [point for point in points if point.mark is not None]
    around = ground_around(surface, np.array([(p.stake.x, p.stake.y) for p in marked]).reshape(-1, 2))
    for point, (low, high) in zip(marked, around.tolist(), strict=True):
        stake, levels = point.stake, dict(point.stake.worked_to)
        assert point.mark is not None
        if point.marked_for is None:
            raise CheckError(f"the mark of stake {stake.name} leads to none of its levels")
        up = {"C": -1.0, "F": 1.0, "GRADE": 0.0}[point.mark.kind] * point.mark.amount
        slack = ON_GRADE + SAME_LEVEL
        if not low - slack <= levels[point.marked_for] - up <= high + slack:
            raise CheckError(f"ground + fill - cut at stake {stake.name} is not its {point.marked_for}")
    for point in points:
        _check_levels(point, finished, sight, string)


def _check_levels(
    point: StakedPoint, finished: float, sight: tuple[float, float] | None, string: float | None
) -> None:
    name, levels = point.stake.name, dict(point.stake.worked_to)
    if point.stake.kind != "batter board" and abs(max(levels.values()) - finished) > SAME_LEVEL:
        raise CheckError(f"stake {name} does not end at the finished level")
    if sight is not None:
        mark, back = sight
        for reading in point.readings:
            if abs(mark + back - reading.reading - levels[reading.what]) > SAME_LEVEL:
                raise CheckError(f"the rod at stake {name} does not lead to the {reading.what}")
    for what, above in point.from_string:
        if string is None or abs(string + above - levels[what]) > SAME_LEVEL:
            raise CheckError(f"the string at stake {name} does not lead to the {what}")


def ground_around(surface: Surface, xy: Floats) -> Floats:
    """Lowest and highest (m, 2) [m] that the triangles holding each of ``xy`` (m, 2) [m], site, say there.

    Both are the ground itself but where triangles thinner than a millimetre disagree; NaN where there is no
    triangle within a millimetre. Every triangle is looked at and its plane worked out from its corners,
    without the index, the walk and the shares by which the surface itself answers.
    """
    x, y = (surface.vertices[:, k][surface.triangles] for k in (0, 1))
    west, east, south, north = x.min(axis=1), x.max(axis=1), y.min(axis=1), y.max(axis=1)
    answer = np.full((len(xy), 2), np.nan)
    for row, place in enumerate(xy - surface.origin):
        u, v = place.tolist()
        near = np.flatnonzero(
            (west <= u + TOUCH) & (east >= u - TOUCH) & (south <= v + TOUCH) & (north >= v - TOUCH)
        )
        said = _levels_at(surface.vertices[surface.triangles[near]], place)
        if len(said):
            answer[row] = said.min(), said.max()
    return answer


def _levels_at(corner: Floats, place: Floats) -> Floats:
    """Elevations [m] at a place by the triangles ``corner`` (k, 3, 3) that hold it; a thin one has three."""
    side = np.roll(corner, -1, axis=1) - corner
    arm = place - corner[:, :, :2]
    long = np.hypot(side[:, :, 0], side[:, :, 1])
    doubled = side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0]
    inside = (side[:, :, 0] * arm[:, :, 1] - side[:, :, 1] * arm[:, :, 0]) / long
    depth = inside.min(axis=1, initial=np.inf)
    # beyond the hull by a hair the surface takes the nearest ground; so do the planes, as well as they can
    holds = depth >= (-SAME_LEVEL if (depth >= -SAME_LEVEL).any() else -TOUCH)
    thin = doubled <= TOUCH * long.max(axis=1, initial=0.0)
    plain = holds & ~thin
    first, one, two = corner[plain, 0], side[plain, 0], -side[plain, 2]
    normal = np.cross(one, two)
    level = first[:, 2] - ((place - first[:, :2]) * normal[:, :2]).sum(axis=1) / normal[:, 2]
    steep = np.hypot(normal[:, 0], normal[:, 1]) / normal[:, 2] * np.maximum(-depth[plain], 0.0)
    return np.concatenate([level - steep, level + steep, corner[holds & thin, :, 2].ravel()])
