"""Every stake of a foundation as it is set out: corners, piers, batter boards, with the levels worked to.

The sheet for setting out shows these, and the order buys as many.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.errors import CheckError, Dialect, words
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.ground.locate import TOUCH
from gradework.sitework.pier_stakes import STEP, STEP_US, anchor_stakes, pier_stakes, row_stakes, row_strings
from gradework.sitework.setout import (
    BATTER_BOARD_OFFSET,
    FINISHED,
    LED,
    ON_GRADE,
    Stake,
    batter_board_stakes,
    corner_stakes,
)

if TYPE_CHECKING:
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.spec import PadSpec
    from gradework.foundations.slab.spec import SlabSpec
    from gradework.ground.surface import Surface
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
    name, levels, aside = point.stake.name, dict(point.stake.worked_to), point.stake.aside
    if aside is not None:
        apart = np.hypot(point.stake.x - aside.x, point.stake.y - aside.y)
        if abs(apart - aside.distance) > SAME_LEVEL:
            raise CheckError(f"stake {name} is not as far from what it marks as it says")
    if point.finish is not None and point.mark is not None and point.stake.ground is not None:
        up = {"C": -1.0, "F": 1.0, "GRADE": 0.0}[point.finish.kind] * point.finish.amount
        if abs(point.stake.ground + up - finished) > ON_GRADE + SAME_LEVEL:
            raise CheckError(f"ground + fill - cut at stake {name} is not the finished level")
    if (
        point.stake.kind not in ("anchor", "batter board", "row string", *LED)
        and abs(max(levels.values()) - finished) > SAME_LEVEL
    ):
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


def stakes_to_set(
    surface: Surface,
    building: Outline,
    built: Pad | Piers | Slab,
    level: float,
    *,
    string: float | None = None,
    offset: float = BATTER_BOARD_OFFSET,
    dialect: Dialect = "us",
    nearby: Nearby | None = None,
) -> tuple[Stake, ...]:
    """Give the stakes of one foundation.

    Parameters
    ----------
    surface, building
        The ground, and the outline of what stands on the foundation.
    built
        The foundation.
    level
        The finished level [m]: top of the gravel, the piers or the slab.
    string
        The level of the strings [m]; the finished level where it is None.
    offset
        How far batter boards stand behind the corners [m].
    dialect
        Whose trade words name the levels.
    nearby
        What stands near: nothing is staked beyond a wall, a fence or a lot line.

    Returns
    -------
    tuple of Stake
        Corners of the building, then those of pad or slab, or the strings of rows, the piers and their
        anchors, then batter boards. A pad or slab as large as the building needs one stake at each corner.
    """
    own = _stakes(
        surface, building, built, level, level if string is None else string, offset, dialect, nearby
    )
    barred = nearby.beyond([(stake.x, stake.y) for stake in own]) if nearby else np.zeros(len(own), bool)
    return tuple(stake for stake, far in zip(own, barred, strict=True) if not far)


def _stakes(
    surface: Surface,
    building: Outline,
    built: Pad | Piers | Slab,
    level: float,
    strings: float,
    offset: float,
    dialect: Dialect,
    nearby: Nearby | None,
) -> tuple[Stake, ...]:
    corners = tuple(
        replace(stake, levels=((FINISHED, level),))
        for stake in corner_stakes(surface, building, "building corner", grade=level)
    )
    if isinstance(built, Piers):
        boards = batter_board_stakes(surface, building, grade=strings, offset=offset, nearby=nearby)
        rows = row_stakes(surface, row_strings(building, built, offset=offset, nearby=nearby), grade=strings)
        step = STEP_US if dialect == "us" else STEP
        piers = pier_stakes(surface, building, built, step=step, nearby=nearby)
        return (*corners, *rows, *piers, *anchor_stakes(surface, built), *boards)
    outline, subgrade = built.outline, words(dialect)["subgrade"]
    if isinstance(built, Slab):
        plain = corner_stakes(surface, outline, "slab corner", grade=level)
        own = tuple(_slab_corner(stake, level, built.spec, subgrade) for stake in plain)
    else:
        plain = corner_stakes(surface, outline, "pad corner", grade=level)
        own = tuple(_pad_corner(stake, level, built.spec, subgrade) for stake in plain)
    boards = batter_board_stakes(surface, outline, grade=strings, offset=offset, nearby=nearby)
    same = outline.area <= building.area * (1.0 + 1e-9)
    return (*(() if same else corners), *own, *boards)


def _pad_corner(stake: Stake, level: float, spec: PadSpec, subgrade: str) -> Stake:
    """Mark a pad corner for its subgrade: stripped ground, or deeper where the gravel needs it."""
    if stake.ground is None:
        return replace(stake, levels=(("top of gravel", level),))
    dug = min(stake.ground - spec.strip, level - spec.gravel)
    return replace(stake, grade=dug, levels=((subgrade, dug), ("top of gravel", level)))


def _slab_corner(stake: Stake, level: float, spec: SlabSpec, subgrade: str) -> Stake:
    """Mark a slab corner for what is dug there, and give the levels of edge, base course and slab."""
    under = level - spec.thickness
    levels = [("top of base course", under), ("top of slab", level)]
    if spec.edge_depth > spec.thickness:
        levels.append(("bottom of edge", level - spec.edge_depth))
    dug = under - spec.base
    if stake.ground is not None:
        dug = min(stake.ground - spec.strip, dug)
    levels = sorted([(subgrade, dug), *levels], key=lambda pair: pair[1])
    return replace(stake, grade=dug, levels=tuple(levels))
