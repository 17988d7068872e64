"""The ground once a foundation is built: its level top, side slopes, and what leads water past it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.earthwork.grading.whole import whole_ground
from gradework.foundations.checks.wall_strips import PadTop
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.foundations.piers.plan import Piers

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led
    from gradework.foundations.slab.design import Slab
    from gradework.ground.surface import Surface


def covering(built: Pad | Piers | Slab) -> PadTop | None:
    """Give what is level once a foundation is built; None of piers, which leave the ground as it is."""
    if isinstance(built, Pad):
        return PadTop(built.chosen.level, built.outline)
    return None if isinstance(built, Piers) else PadTop(built.level, built.outline, "slab")


def finished_with(surface: Surface, built: Pad | Piers | Slab, beside: Sequence[Led]) -> Surface:
    """Give the ground once a foundation is built, with what is dug ``beside`` it, before soil is spread.

    Level at the top of a pad or slab inside its outline, its side slopes or an upright step round it, and
    what leads water past it and comes out on the survey. Piers leave the ground as it was surveyed: their
    holes are filled up to it. Raises ``CheckError`` where it does not cover the survey, or what lies between
    the two is not what is dug and filled.
    """
    top = covering(built)
    if top is None:
        return surface
    if len(beside) == 1:
        return beside[0].ground.surface
    sloped = isinstance(built, Pad) and isinstance(built.edge, BatteredEdge)
    batter = built.spec.batter if isinstance(built, Pad) and sloped else None
    return whole_ground(surface, top.outline, top.level, batter=batter, beside=beside).surface
