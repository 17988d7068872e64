"""The ground of a plan once all is built: what is chosen, its side slopes, and the swales that are dug."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gradework.earthwork.grading.whole import whole_ground
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.sitework.swales import led

if TYPE_CHECKING:
    from gradework.earthwork.grading.swale import Swale
    from gradework.foundations.pad.design import Pad
    from gradework.ground.surface import Surface
    from gradework.project.plan import Plan


def finished_surface(plan: Plan) -> Surface:
    """Give the finished ground of the foundation that is chosen.

    Level at the top of the pad or slab inside its outline, its side slopes or an upright step round it, and
    the swales that come out on the survey. Piers leave the ground as it was surveyed: their holes are filled
    up to it. Raises CheckError where it does not cover the survey, or what lies between the two is not what
    is dug and filled.
    """
    found = plan.foundations
    if found.chosen == "slab" and found.slab is not None:
        return whole_ground(plan.surface, found.slab.outline, found.slab.level).surface
    if found.chosen == "pad":
        return _with_pad(plan.surface, found.pad, led(plan.swales))
    return plan.surface


def _with_pad(surface: Surface, pad: Pad, swales: Sequence[Swale]) -> Surface:
    """Shape the ground for a pad, its side slopes and the swales dug beside it."""
    batter = pad.spec.batter if isinstance(pad.edge, BatteredEdge) else None
    made = whole_ground(surface, pad.outline, pad.chosen.level, batter=batter, swales=swales)
    return made.surface
