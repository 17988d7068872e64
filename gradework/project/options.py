"""Pad, piers and slab of one job: each that is asked for is judged, and one of them is ordered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, TypeAlias

from gradework.earthwork.clip import clip
from gradework.earthwork.grading.finished import finished_ground
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.sides import batter_shapes, room_shape
from gradework.errors import InputError
from gradework.foundations.checks.gate import winner_of
from gradework.foundations.checks.wall_strips import PadTop
from gradework.foundations.comparison import (
    Ways,
    compare,
    option_of_pad,
    option_of_piers,
    option_of_slab,
    steeper_tilt,
)
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.measures import pad_measures
from gradework.foundations.pad.quantities import PIPE, BatteredEdge
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.foundations.slab.design import Slab, design_slab
from gradework.project import specs
from gradework.project.gate import Around, Known, judge, pad_checks, pier_checks, slab_checks, unplanned
from gradework.project.gate_told import with_stops
from gradework.project.job.foundations import PiersTable, SlabTable
from gradework.project.job.model import Job
from gradework.project.job.read import pointing_into
from gradework.project.nearby import near_of
from gradework.project.specs import pier_spec, price_list, prices_missing, slab_spec
from gradework.sitework.drainage import WALL_CODES, check_drainage, with_cures
from gradework.sitework.past_walls import cure_of, led, wall_measures

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.materials import Gravel
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.foundations.checks.gate import Judged
    from gradework.foundations.checks.nearby import NearLook
    from gradework.foundations.comparison import Comparison, Option
    from gradework.foundations.prices import PriceList
    from gradework.ground.surface import Surface


Foundation: TypeAlias = Pad | Piers | Slab


@dataclass(frozen=True, eq=False)
class Foundations:
    """What was asked for and what came of it.

    ``asked`` holds those of "pad", "piers", "slab", in this order, that are asked for and could be planned;
    ``pad`` is worked out in any case, the others are None when not asked for. ``judged`` holds the checks of
    each one asked for; ``around`` what is known of the ground around each that is planned. ``comparison`` is
    None for one alone. ``chosen`` is the one that is ordered and set out; ``instead`` can be built where that
    cannot. ``invented`` names the prices that the job does not give.
    """

    asked: tuple[str, ...]
    pad: Pad
    piers: Piers | None
    slab: Slab | None
    judged: tuple[Judged, ...]
    around: Mapping[str, Around]
    prices: PriceList
    invented: tuple[str, ...]
    comparison: Comparison | None
    chosen: str
    instead: Judged | None

    def __repr__(self) -> str:
        return f"<Foundations: {', '.join(self.asked)}; {self.chosen} chosen>"

    @property
    def built(self) -> dict[str, Foundation]:
        """Each one that is planned, by its kind."""
        every = {"pad": self.pad, "piers": self.piers, "slab": self.slab}
        return {kind: one for kind, one in every.items() if one is not None}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said about the one that is chosen."""
        found = self.built.get(self.chosen)
        return () if found is None else found.findings

    @property
    def near(self) -> dict[str, tuple[NearLook, ...]]:
        """What stands near each of those asked for."""
        return {kind: self.around[kind].near if kind in self.around else () for kind in self.asked}

    @property
    def winner(self) -> Judged | None:
        """The cheapest that can be built as drawn; None where none can."""
        return winner_of(self.judged)


def design_foundations(job: Job, surface: Surface, nearby: Nearby, *, beside: bool = True) -> Foundations:
    """Plan what the job asks for, judge each, compare, and choose.

    The one named by ``build`` is chosen; else the cheapest that can be built as drawn; else the first asked
    for. Without ``beside`` the ground beside the walls is not known, and not looked at. One that leaves the
    survey is no option beside another that does not.
    Raises ``InputError`` pointing into the job.
    """
    building = nearby.building
    planned = _planned(job, surface, building)
    pad, piers, slab = (planned.get(kind) for kind in ("pad", "piers", "slab"))
    under = clip(surface, building)
    around: dict[str, Around] = {}
    if beside:
        around = {kind: look_around(job, surface, nearby, one) for kind, one in planned.items()}
    options = {kind: _option(job, building, under, one) for kind, one in planned.items()}
    judged = tuple(
        judge_one(job, building, under, options[kind], planned[kind], around.get(kind))
        if kind in planned
        else unplanned(kind)
        for kind in job.asked
    )
    best, comparison = winner_of(judged), None
    if len(options) > 1:
        told = [
            _weighed(options[one.foundation], one, _told(job, options, one, around))
            for one in judged
            if one.foundation in options
        ]
        kinds = {option.name: kind for kind, option in options.items()}
        comparison = compare(told, job.show, partial(_on_steeper_ground, job, surface, nearby, kinds))
    chosen = job.build or (best.foundation if best else next(iter(planned)))
    return Foundations(
        tuple(planned),
        pad if isinstance(pad, Pad) else plan_pad(job, surface, building, bare=True),
        piers if isinstance(piers, Piers) else None,
        slab if isinstance(slab, Slab) else None,
        judged,
        around,
        price_list(job),
        prices_missing(job),
        comparison,
        chosen,
        best or _other(job, surface, nearby, under, around),
    )


def _other(
    job: Job, surface: Surface, nearby: Nearby, under: Pieces, around: Mapping[str, Around]
) -> Judged | None:
    """Where nothing asked for can be built, give piers by their defaults if they can."""
    if not around or "piers" in job.asked:
        return None
    try:
        piers = plan_piers(job, surface, nearby.building, in_full=False)
    except InputError:
        return None
    option = _option(job, nearby.building, under, piers)
    look = look_around(job, surface, nearby, piers)
    judged = replace(judge_one(job, nearby.building, under, option, piers, look), cost=None)
    return judged if judged.buildable else None


# What is asked for, planned.

_OUTSIDE = {"outline-outside-survey", "outline-far-from-survey"}


def _planned(job: Job, surface: Surface, building: Outline) -> dict[str, Foundation]:
    """Plan what is asked for, by kind; leave out what leaves the survey, where there is another."""
    found: dict[str, Foundation] = {}
    left: dict[str, InputError] = {}
    for kind in job.asked:
        try:
            found[kind] = plan_one(kind, job, surface, building)
        except InputError as problem:
            if not all(fault.code in _OUTSIDE for fault in problem.faults):
                raise
            left[kind] = problem
    for kind, outside in left.items():
        if not found or kind == job.build:
            raise outside
    return found


def plan_one(kind: str, job: Job, surface: Surface, building: Outline, *, in_full: bool = True) -> Foundation:
    """Plan one foundation; only its chosen level or top without ``in_full``."""
    if kind == "piers":
        return plan_piers(job, surface, building, in_full=in_full)
    if kind == "slab":
        return plan_slab(job, surface, building)
    return plan_pad(job, surface, building, in_full=in_full)


def plan_pad(
    job: Job, surface: Surface, building: Outline, *, in_full: bool = True, bare: bool = False
) -> Pad:
    """Plan the pad.

    ``bare``: one that nobody asks for covers no more ground than the building.
    """
    with pointing_into(job, "pad"):
        spec, prices = specs.pad_spec(job), specs.pad_prices(job)
        spec = replace(spec, margin=0.0) if bare else spec
        return design_pad(surface, building, spec, prices, job.show, in_full=in_full)


def plan_piers(job: Job, surface: Surface, building: Outline, *, in_full: bool = True) -> Piers:
    """Plan the piers, by their defaults where the job has no table of them."""
    gravel = gravel_for(job, "piers")
    prices = price_list(job, gravel).for_piers(gravel, specs.soil(job))
    with pointing_into(job, "piers"):
        spec = pier_spec(job, job.piers or PiersTable())
        return design_piers(surface, building, spec, prices, job.show, in_full=in_full)


def plan_slab(job: Job, surface: Surface, building: Outline) -> Slab:
    """Plan the slab, by its defaults where the job has no table of it."""
    gravel = gravel_for(job, "slab")
    prices = price_list(job, gravel).for_slab(gravel, specs.soil(job))
    with pointing_into(job, "slab"):
        return design_slab(surface, building, slab_spec(job, job.slab or SlabTable()), prices, job.show)


def gravel_for(job: Job, kind: str) -> Gravel:
    """Give the gravel of a foundation: its own, else that of the pad, else the default."""
    own = getattr(getattr(job, kind), "material", None) or job.pad.material
    return specs.stone(job, own)


# The ground around each: how it falls from the walls, and what leads water past them.


def look_around(job: Job, surface: Surface, nearby: Nearby, planned: Foundation) -> Around:
    """Look at the falls from the walls with a foundation in place and at what stands near it, and design what
    leads water past the walls of a pad."""
    building, top = nearby.building, top_of(planned, surface)
    rule = specs.drainage_rule(job)
    drainage = check_drainage(
        surface, building, show=job.show, rule=rule, pad=top, nearby=nearby, under=isinstance(planned, Piers)
    )
    if top is None or not isinstance(planned, Pad):
        return Around(drainage, (), near_of(job, surface, nearby, planned, ()))
    spec, edge, batter = planned.spec, planned.edge, None
    if isinstance(edge, BatteredEdge):
        slopes = edge.slopes
        batter = Batter(spec.batter, slopes.cut, slopes.fill, slopes.cut_area + slopes.fill_area)
    measures = wall_measures(
        surface, building, top, drainage, margin=spec.margin, batter=batter, nearby=nearby
    )
    cures = {wall: cure_of(one) for one in measures for wall in one.cured}
    drainage = with_cures(drainage, cures, top, job.show)
    return Around(drainage, measures, near_of(job, surface, nearby, planned, led(measures)))


def top_of(planned: Foundation, surface: Surface) -> PadTop | None:
    """Give what covers the ground around the walls once it is built; piers leave the ground as it is."""
    if isinstance(planned, Slab):
        return PadTop(planned.level, planned.outline, "slab")
    if isinstance(planned, Piers):
        return None
    spec, level, ring, slopes = planned.spec, planned.chosen.level, planned.outline.rings[0], None
    if planned.ground.room is not None and planned.ground.room.exact:
        wide = planned.outline.grown(spec.room).rings[0] - surface.origin
        return PadTop(level, planned.outline, room=room_shape(wide, level - spec.gravel, spec.face))
    if isinstance(planned.edge, BatteredEdge):
        slopes = batter_shapes(ring - surface.origin, level, spec.batter)
    if slopes is None:
        return PadTop(level, planned.outline)
    made = finished_ground(surface, ring, level, cut=slopes[0], fill=slopes[1])
    return PadTop(level, planned.outline, ground=made.surface)


def _against(around: Around | None) -> tuple[Finding, ...]:
    """Tell what is wrong with the falls from the walls once it is built; what it mends is left out."""
    found = () if around is None else around.drainage.findings
    return tuple(f for f in found if f.code in WALL_CODES and f.severity != "note")


# What the gate says of each.


def judge_one(
    job: Job,
    building: Outline,
    under: Pieces,
    option: Option,
    planned: Foundation,
    around: Around | None,
) -> Judged:
    """Judge one foundation as drawn; ``under``: the ground of the building, ``around`` None where the ground
    beside it is not known."""
    if isinstance(planned, Pad):
        known = _known(job, "pad")
        checks = pad_checks(known, building, planned, around)
        own = pad_measures(planned, price_list(job, planned.spec.material).for_pad())
        return judge(known, option, "pad", checks, around, own)
    if isinstance(planned, Piers):
        known = _known(job, "piers")
        return judge(known, option, "piers", pier_checks(known, building, under, planned), around)
    known = _known(job, "slab")
    return judge(known, option, "slab", slab_checks(known, building, planned, around), around)


def _known(job: Job, kind: str) -> Known:
    """Gather what the job says of wood, frost, ground and prices."""
    framing, ground = None if job.piers is None else job.piers.floor, job.soil.ground
    prices = price_list(job)
    return Known(
        us=specs.drainage_rule(job).us,
        floor=_floor(job),
        treated=None if framing is None else framing.treated,
        frost=specs.frost_rule(job),
        firm=None if ground is None else ground == "firm",
        dig=prices.dig,
        haul=prices.haul * specs.soil(job).swell.value,
        stone=prices.gravel,
        pipe=prices.edge.pipe / PIPE,
        fabric=prices.fabric,
        priced=job.asked != (kind,) or not prices_missing(job),
    )


def _floor(job: Job) -> FloorBuildUp:
    """Give what a building brings with it, on a pad as on piers, asked for or not."""
    return FloorBuildUp() if job.piers is None else pier_spec(job, job.piers).floor


# Side by side.


def _option(job: Job, building: Outline | None, under: Pieces, planned: Foundation) -> Option:
    """Give what is planned as an option.

    Without the building it does not tell how high the floor is above the ground along its sides.
    """
    if isinstance(planned, Pad):
        prices = price_list(job, planned.spec.material).for_pad()
        return option_of_pad(planned, prices, building, under, job.show, _floor(job))
    if isinstance(planned, Piers):
        return option_of_piers(planned, building, job.show, gravel_for(job, "piers"))
    return option_of_slab(planned, building, under, job.show, gravel_for(job, "slab"))


def _on_steeper_ground(
    job: Job, surface: Surface, nearby: Nearby, kinds: Mapping[str, str], more: float
) -> Ways:
    """Say how to plan each of the ``kinds``, by the names of their options, on steeper ground.

    What cannot be planned there is no option; what fails a check there is barred.
    """
    building = nearby.building
    steep = surface.tilted(steeper_tilt(clip(surface, building), building, more))
    under = clip(steep, building)

    def option(kind: str) -> Option | None:
        try:
            planned = plan_one(kind, job, steep, building, in_full=False)
        except InputError:
            return None
        made = _option(job, None, under, planned)
        alone = judge_one(job, building, under, made, planned, None)
        if any(check.check not in _WITH_SWALES for check in alone.false):
            return replace(made, barred=True)  # no need to look around
        return _weighed(
            made, judge_one(job, building, under, made, planned, look_around(job, steep, nearby, planned))
        )

    return {name: partial(option, kind) for name, kind in kinds.items()}


def _told(
    job: Job, options: Mapping[str, Option], judged: Judged, around: Mapping[str, Around]
) -> tuple[Finding, ...]:
    """Tell all that stands against an option; what fails a check stops it, as it would stop the plan."""
    found = (*options[judged.foundation].findings, *_against(around.get(judged.foundation)))
    return with_stops(found, judged, job.show)


def _weighed(option: Option, judged: Judged, findings: Sequence[Finding] = ()) -> Option:
    """Let an option know what the gate says of it, with all that is to be told, and what is built beside
    it."""
    weighed = replace(option, findings=tuple(findings) or option.findings, barred=not judged.buildable)
    more = [one for one in judged.measures if not one.counted]
    if not more:
        return weighed
    return weighed.with_beside(
        sum(one.cut for one in more),
        sum(one.cost for one in more),
        stone=sum(one.stone for one in more),
        pipe=sum(one.pipe for one in more),
    )


_WITH_SWALES = ("floor above ground", "siding", "water")  # a swale may let these hold
