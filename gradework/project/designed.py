"""One foundation of a job: planned, with the ground around it looked at, judged, and put at a level at which
it can be built."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, NamedTuple, TypeAlias, cast

import numpy as np

from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.sides import batter_shapes, room_shape
from gradework.earthwork.nearby import Water
from gradework.errors import CheckError, InputError
from gradework.foundations.checks.gathered import gathered_checks
from gradework.foundations.checks.limits import SIDING
from gradework.foundations.checks.wall_strips import PadTop
from gradework.foundations.comparison import option_of_pad, option_of_piers, option_of_slab
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.measures import pad_measures
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.foundations.pad.rules import least_fill_level, levels_to_ask
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.fewer import deeper_skids, fewer_told
from gradework.foundations.piers.measures import pier_measures
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.foundations.slab.design import Slab, design_slab
from gradework.project import specs
from gradework.project.access import access_of
from gradework.project.buying import (
    dug_beside,
    gravel_for,
    laid_beside,
    led_prices,
    order_for,
    paying,
    prices_of,
)
from gradework.project.finished import finished_with
from gradework.project.gate import (
    Around,
    Known,
    judge,
    pad_checks,
    pier_checks,
    roof_measures,
    slab_checks,
    unplanned,
)
from gradework.project.job.foundations import PiersTable, SlabTable
from gradework.project.job.read import pointing_into
from gradework.project.levels import (
    COST_STEP,
    NEAR,
    STEP,
    Ask,
    Found,
    cheapest_buildable,
    highest_buildable,
    lowest_buildable,
)
from gradework.project.nearby import near_of, stakes_near
from gradework.project.roof import roof_area, roof_water_of
from gradework.project.specs import pier_spec, price_list, prices_missing, slab_spec
from gradework.sitework.drainage import check_drainage, with_cures
from gradework.sitework.past_walls import cure_of, led, wall_measures

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.check import Check
    from gradework.foundations.checks.gate import Judged
    from gradework.foundations.comparison import Option
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.sitework.order import Order

Foundation: TypeAlias = Pad | Piers | Slab


def plan_one(
    kind: str,
    job: Job,
    surface: Surface,
    building: Outline,
    *,
    in_full: bool = True,
    like: Foundation | None = None,
) -> Foundation:
    """Plan one foundation; only its chosen level or top without ``in_full``; ``like``: the same at another
    level, planned already."""
    if kind == "piers":
        return plan_piers(job, surface, building, in_full=in_full)
    if kind == "slab":
        return plan_slab(job, surface, building)
    known = like if isinstance(like, Pad) else None
    return plan_pad(job, surface, building, in_full=in_full, like=known)


def plan_pad(
    job: Job,
    surface: Surface,
    building: Outline,
    *,
    in_full: bool = True,
    bare: bool = False,
    lowest: float | None = None,
    cheapest: float | None = None,
    like: Pad | None = None,
) -> Pad:
    """Plan the pad.

    ``bare``: one that nobody asks for covers no more ground than the building. ``lowest`` and ``cheapest``
    [m]: what the gate was asked, where it was. ``like``: the same pad at another level, planned already.
    """
    with pointing_into(job, "pad"):
        spec, prices = specs.pad_spec(job), specs.pad_prices(job)
        spec = replace(spec, margin=0.0) if bare else spec
        spec = replace(spec, lowest=lowest, cheapest=cheapest)
        return design_pad(surface, building, spec, prices, job.show, in_full=in_full, like=like)


def plan_piers(
    job: Job, surface: Surface, building: Outline, *, in_full: bool = True, cheapest: float | None = None
) -> Piers:
    """Plan the piers, by their defaults where the job has no table of them; ``cheapest`` [m]: the top at
    which least is bought, where that was found."""
    gravel = gravel_for(job, "piers")
    prices = price_list(job).for_piers(gravel, specs.soil(job))
    with pointing_into(job, "piers"):
        spec = replace(pier_spec(job, job.piers or PiersTable()), cheapest=cheapest)
        made = design_piers(surface, building, spec, prices, job.show, in_full=in_full)
    for other in deeper_skids(building, made, job.show) if in_full else ():
        with suppress(InputError):  # its holes leave the survey
            fewer = design_piers(surface, building, other, prices, job.show, in_full=False)
            if told := fewer_told(made, fewer, job.show):
                return replace(made, findings=(*made.findings, told))
    return made


def plan_slab(job: Job, surface: Surface, building: Outline) -> Slab:
    """Plan the slab, by its defaults where the job has no table of it."""
    gravel = gravel_for(job, "slab")
    prices = price_list(job).for_slab(gravel, specs.soil(job))
    with pointing_into(job, "slab"):
        return design_slab(surface, building, slab_spec(job, job.slab or SlabTable()), prices, job.show)


# The ground around each: how it falls from the walls, and what leads water past them.


def look_around(job: Job, surface: Surface, nearby: Nearby, planned: Foundation) -> Around:
    """Look at the falls from the walls with a foundation in place, at what stands near it and at the way in,
    and design what leads water past the walls of a pad or slab."""
    top = top_of(planned, surface)
    around = _falls_around(job, surface, nearby, planned, top)
    if job.building.door is None:
        return around
    level = planned.floor_level if isinstance(planned, Piers) else _floor_over(job, planned)
    finished = partial(finished_with, surface, planned, dug_beside(around))
    return replace(around, access=access_of(job, nearby.building, level, finished))


def _floor_over(job: Job, planned: Pad | Slab) -> float:
    """Give the finished floor over a pad or a slab [m]."""
    if isinstance(planned, Slab):
        return planned.level
    return planned.chosen.level + _floor(job).thickness


def _falls_around(
    job: Job, surface: Surface, nearby: Nearby, planned: Foundation, top: PadTop | None
) -> Around:
    """Look at all of that but the way in."""
    building = nearby.building
    rule = specs.drainage_rule(job)
    drainage = check_drainage(
        surface,
        building,
        show=job.show,
        rule=rule,
        pad=top,
        nearby=nearby,
        under=isinstance(planned, Piers) and not skirted(job),
    )
    if top is None or isinstance(planned, Piers):
        roof = roof_water_of(job, surface, nearby, planned, partial(finished_with, surface, planned, ()))
        gathered = tuple(_gathered(job, surface, building)) if isinstance(planned, Piers) else ()
        return Around(drainage, (), near_of(job, surface, nearby, planned, (), roof), roof, gathered)
    prices, top = led_prices(job, planned), replace(top, roof=roof_area(job, building))
    measures = wall_measures(
        surface, building, top, drainage,
        margin=planned.spec.margin, batter=_slopes(planned), nearby=nearby, prices=prices,
    )  # fmt: skip
    cures = {wall: cure_of(one) for one in measures for wall in one.cured}
    drainage = with_cures(drainage, cures, top, job.show)
    finished = partial(finished_with, surface, planned, led(measures))
    roof = roof_water_of(job, surface, nearby, planned, finished)
    near = near_of(job, surface, nearby, planned, led(measures), roof)
    return Around(drainage, measures, near, roof)


def _slopes(planned: Pad | Slab) -> Batter | None:
    """Give the side slopes of a battered pad."""
    if not isinstance(planned, Pad) or not isinstance(planned.edge, BatteredEdge):
        return None
    slopes = planned.edge.slopes
    return Batter(planned.spec.batter, slopes.cut, slopes.fill, slopes.cut_area + slopes.fill_area)


def _gathered(job: Job, surface: Surface, building: Outline) -> Iterator[Check]:
    """Check the water that comes gathered to an open floor."""
    waters = [Water(one.name, one.kind, one.place, one.led) for one in job.site.water]
    return gathered_checks(surface, building, waters, led=job.drainage.led_past)


def skirted(job: Job) -> bool:
    """Say whether the space under a floor on piers is closed, so that rain cannot run on there."""
    return job.piers is not None and job.piers.skirt


def top_of(planned: Foundation, surface: Surface) -> PadTop | None:
    """Give what covers the ground around the walls once it is built; piers leave the ground as it is."""
    if isinstance(planned, Slab):
        return PadTop(planned.level, planned.outline, "slab", shown=SIDING)
    if isinstance(planned, Piers):
        return None
    spec, level, ring = planned.spec, planned.chosen.level, planned.outline.rings[0]
    if planned.ground.room is not None and planned.ground.room.exact:
        wide = planned.outline.grown(spec.room).rings[0] - surface.origin
        return PadTop(level, planned.outline, room=room_shape(wide, level - spec.gravel, spec.face))
    if not isinstance(planned.edge, BatteredEdge):
        return PadTop(level, planned.outline)
    slopes = batter_shapes(ring - surface.origin, level, spec.batter)
    made = finished_ground(surface, ring, level, cut=slopes[0], fill=slopes[1])
    return PadTop(level, planned.outline, ground=made.surface)


# What the gate says of each.


def judge_one(
    job: Job,
    building: Outline,
    under: Pieces,
    option: Option,
    planned: Foundation,
    around: Around | None,
    *,
    told: bool = True,
) -> Judged:
    """Judge one foundation as drawn; ``under``: the ground of the building, ``around`` None where the ground
    beside it is not known; ``told`` as ``judge`` takes it."""
    asked = None if around is None or not told else around.roof
    roof = () if asked is None else tuple(roof_measures(asked, prices_of(job), specs.stone(job, "clean")))
    if isinstance(planned, Pad):
        known = _known(job, "pad")
        checks = pad_checks(known, building, planned, around, told=told)
        own = pad_measures(planned, price_list(job).for_pad(planned.spec.material))
        return judge(known, option, "pad", checks, around, (*own, *roof), told=told)
    if isinstance(planned, Piers):
        known = _known(job, "piers")
        checks = pier_checks(known, building, under, planned, around, skirt=skirted(job))
        return judge(known, option, "piers", checks, around, (*pier_measures(planned, known.clean), *roof))
    known = _known(job, "slab")
    return judge(
        known, option, "slab", slab_checks(known, building, planned, around, told=told), around, roof
    )


def _known(job: Job, kind: str) -> Known:
    """Gather what the job says of wood, frost, ground and prices."""
    framing, ground = None if job.piers is None else job.piers.floor, job.soil.ground
    return Known(
        us=specs.drainage_rule(job).us,
        floor=_floor(job),
        treated=None if framing is None else framing.treated,
        frost=specs.frost_rule(job),
        firm=None if ground is None else ground == "firm",
        priced=job.asked != (kind,) or not prices_missing(job),
        clean=specs.stone(job, "clean"),
    )


def _floor(job: Job) -> FloorBuildUp:
    """Give what a building brings with it, on a pad as on piers, asked for or not."""
    return FloorBuildUp() if job.piers is None else pier_spec(job, job.piers).floor


def option_of(job: Job, building: Outline | None, under: Pieces, planned: Foundation) -> Option:
    """Give what is planned as an option, before anything is bought for it.

    Without the building it does not tell how high the floor is above the ground along its sides.
    """
    if isinstance(planned, Pad):
        prices = price_list(job).for_pad(planned.spec.material)
        return option_of_pad(planned, prices, building, under, _floor(job))
    if isinstance(planned, Piers):
        return option_of_piers(planned, building)
    return option_of_slab(planned, building, under)


def ordered(job: Job, surface: Surface, nearby: Nearby, planned: Foundation, around: Around | None) -> Order:
    """Order what one foundation takes, with a stake for each on its sheet: as many at any level."""
    stakes = stakes_near(job, surface, nearby, planned, 0.0, laid=laid_beside(around, planned))
    return order_for(job, nearby.building, planned, around, stakes, surface)


# The level: where the one by its rule cannot be built, the gate is asked at others.


class Yard(NamedTuple):
    """What every foundation of a job shares; ``under``: the ground of the building."""

    job: Job
    surface: Surface
    nearby: Nearby
    under: Pieces


class Fitted(NamedTuple):
    """What came of asking: the foundation at another level, None where its own stays, with what was found
    there (None: to be looked at); the level ``nearest`` to one that is given at which it can be built."""

    planned: Foundation | None = None
    found: Found | None = None
    nearest: Judged | None = None


WITH_SWALES = ("floor above ground", "siding", "water")
"""Checks that a swale may let hold."""


def looked_at(
    yard: Yard,
    planned: Foundation,
    *,
    beside: bool = True,
    priced: bool = True,
    around: Around | None = None,
) -> Found:
    """Judge one, and look around it unless told not to, or what is ``around`` is known already; what it costs
    is not worked out unless ``priced``."""
    job, building = yard.job, yard.nearby.building
    if beside and around is None:
        around = look_around(job, yard.surface, yard.nearby, planned)
    option, order = option_of(job, None, yard.under, planned), None
    if priced:
        order = ordered(job, yard.surface, yard.nearby, planned, around)
        option = paying(job, option, order, price_list(job), around)
    judged = judge_one(job, building, yard.under, option, planned, around, told=priced)
    money = option.money if priced and option.planned else math.inf
    return Found(math.nan if judged.level is None else judged.level, judged, around, order, money)


def judged_at(yard: Yard, planned: Foundation, *, priced: bool = True) -> Found:
    """The same; where something fails that nothing beside it mends, there is no need to look around."""
    alone = looked_at(yard, planned, beside=False, priced=False)
    mends = all(check.check in WITH_SWALES for check in alone.judged.false)
    return looked_at(yard, planned, beside=mends, priced=priced) if mends or priced else alone


def asking(yard: Yard, kind: str, like: Foundation, *, priced: bool) -> Ask:
    """What the gate says of a foundation ``like`` that one at another level."""

    def ask(level: float) -> Found:
        try:
            given = specs.at_level(yard.job, kind, level)
            building = yard.nearby.building
            planned = plan_one(kind, given, yard.surface, building, in_full=False, like=like)
            return judged_at(yard, planned, priced=priced)
        except (InputError, CheckError):  # it leaves the survey, or its ground does not close: not there
            return Found(level, unplanned(kind), None)

    return ask


def fit(yard: Yard, kind: str, planned: Foundation, own: Found, *, near: float = NEAR) -> Fitted:
    """Put a foundation at the level that its rule asks for among those that can be built; one that is given
    stays. ``near`` [m]: how close."""
    ask, judged = asking(yard, kind, planned, priced=False), own.judged
    if isinstance(planned, Pad) and planned.spec.rule == "least cost":
        return _cheapest_pad(yard, planned, asking(yard, kind, planned, priced=True))
    if judged.buildable or isinstance(planned, Piers) or judged.level is None:
        return Fitted()
    if isinstance(planned, Slab):
        low = min(float(side.ground.min()) for side in planned.sides)
        # at the low side siding stays clear of the ground as it is; higher up the edge would show bare
        lower, upper, given = low + SIDING, low + planned.spec.edge_depth, planned.spec.level is not None
    else:
        lower = max(limit.level for limit in planned.limits if limit.least)
        upper = min(limit.level for limit in planned.limits if not limit.least)
        given = planned.spec.rule != "least fill"
    found = lowest_buildable(ask, judged.level, upper, own=own, near=near)
    if found is None and (given or isinstance(planned, Slab)):
        found = highest_buildable(ask, lower, min(upper, judged.level), slab=kind == "slab")
    if given:
        told = asking(yard, kind, planned, priced=True)
        return Fitted(nearest=None if found is None else told(found.level).judged)
    if found is None:
        return Fitted()
    job, building = yard.job, yard.nearby.building
    fitted: Foundation
    if kind == "slab":
        fitted = plan_slab(specs.at_level(job, kind, found.level), yard.surface, building)
    else:
        fitted = plan_pad(
            job, yard.surface, building, in_full=near < STEP, lowest=found.level,
            like=cast(Pad, planned),
        )  # fmt: skip
    return Fitted(fitted, looked_at(yard, fitted, around=found.around))


def _cheapest_pad(yard: Yard, pad: Pad, ask: Ask) -> Fitted:
    """Put a pad where it is cheapest with what is built beside it; where nothing is, it stands there."""
    lowest = least_fill_level(pad.ground, pad.limits)
    levels = np.union1d(levels_to_ask(pad.ground, lowest, COST_STEP), pad.chosen.level)
    # soil that is heaped beside the pad need not be hauled: without that each is the least it can cost
    at, haul = pad.ground.at(levels), (pad.ground.prices.haul or 0.0) * pad.spec.swell
    least = at.cost - haul * (at.spoil + at.beside - at.refilled)
    found = cheapest_buildable(ask, levels.tolist(), least.tolist())
    if found is None:
        return Fitted()
    level = found.level
    return Fitted(plan_pad(yard.job, yard.surface, yard.nearby.building, cheapest=level, like=pad), found)
