"""Pad, piers and slab of one job: each that is asked for is judged, and one of them is ordered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import TYPE_CHECKING, cast

from gradework.earthwork.clip import clip
from gradework.errors import InputError
from gradework.foundations.buying.money import Amount
from gradework.foundations.checks.gate import winner_of
from gradework.foundations.comparison import Way, Ways, compare, steeper_tilt
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.rules import least_money
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.project.buying import gravel_for, more_of, paying, with_soil
from gradework.project.cheapest_top import cheapest_top
from gradework.project.designed import (
    WITH_SWALES,
    Fitted,
    Foundation,
    Yard,
    asking,
    fit,
    judge_one,
    look_around,
    looked_at,
    option_of,
    ordered,
    plan_one,
    plan_pad,
    plan_piers,
)
from gradework.project.gate import Around, unplanned
from gradework.project.gate_told import bound_by, with_stops
from gradework.project.job.model import Job
from gradework.project.soil import Laid, lay_soil
from gradework.project.specs import PRICED, at_level, price_list, prices_missing
from gradework.sitework.drainage import WALL_CODES

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.nearby import Nearby
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.foundations.checks.check import Check
    from gradework.foundations.checks.gate import Judged
    from gradework.foundations.checks.nearby import NearLook
    from gradework.foundations.comparison import Comparison, Option
    from gradework.foundations.prices import PriceList
    from gradework.ground.surface import Surface
    from gradework.project.elsewhere import Elsewhere
    from gradework.project.levels import Found
    from gradework.sitework.access import Access
    from gradework.sitework.order import Order
    from gradework.sitework.past_walls import WallMeasure
    from gradework.sitework.roof_water import RoofWater


@dataclass(frozen=True, eq=False)
class Foundations:
    """What was asked for and what came of it.

    ``asked`` holds those of "pad", "piers", "slab", in this order, that are asked for and could be planned;
    ``pad`` is worked out in any case, the others are None when not asked for. ``judged`` holds the checks of
    each one asked for; ``around`` what is known of the ground around each that is planned, ``orders`` what it
    takes at the yard, ``options`` what that comes to. ``comparison`` is None for one alone. ``chosen`` is the
    one that is ordered and set out; ``instead`` can be built where that cannot, ``nearest`` is what is chosen
    at the level nearest to its own that can. ``elsewhere``: where all of these fail, how it can be moved or
    turned; who plans the job asks for it. ``invented`` names the prices that the job does not give.
    ``soils``: where the soil of each one goes that is planned, none where the ground beside it is not known.
    """

    asked: tuple[str, ...]
    pad: Pad
    piers: Piers | None
    slab: Slab | None
    judged: tuple[Judged, ...]
    around: Mapping[str, Around]
    orders: Mapping[str, Order]
    options: Mapping[str, Option]
    prices: PriceList
    invented: tuple[str, ...]
    comparison: Comparison | None
    chosen: str
    instead: Judged | None
    nearest: Judged | None = None
    elsewhere: tuple[Elsewhere, ...] = ()
    soils: Mapping[str, Laid] = field(default_factory=dict)

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
    def roof(self) -> RoofWater | None:
        """Give where the rain of the roof goes over the one that is chosen; None: not looked at."""
        return self.around[self.chosen].roof if self.chosen in self.around else None

    @property
    def access(self) -> Access | None:
        """Give how one gets in over the one that is chosen; None: the job names no door."""
        return self.around[self.chosen].access if self.chosen in self.around else None

    @property
    def near(self) -> dict[str, tuple[NearLook, ...]]:
        """What stands near each of those asked for."""
        return {kind: self.around[kind].near if kind in self.around else () for kind in self.asked}

    def measures_of(self, kind: str) -> tuple[WallMeasure, ...]:
        """Give what leads water past the walls of one that is planned; none of piers."""
        return self.around[kind].measures if kind in self.around else ()

    def judged_of(self, kind: str) -> Judged | None:
        """Give what the gate says of one of them; None of one that was not asked for."""
        return next((one for one in self.judged if one.foundation == kind), None)

    @property
    def stuck(self) -> bool:
        """Say whether nothing can be built where it stands, at any level."""
        return self.instead is None and self.nearest is None

    @property
    def binds(self) -> tuple[Judged, Check] | None:
        """Where nothing can be built where it stands, the one that fails least and what binds it."""
        return bound_by(self.judged) if self.stuck else None

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
    planned, left = _planned(job, surface, building)
    yard = Yard(job, surface, nearby, clip(surface, building))
    found = {kind: looked_at(yard, one, beside=beside, priced=False) for kind, one in planned.items()}
    fitted = {kind: _fitted(yard, kind, planned[kind], one) for kind, one in found.items() if beside}
    for kind, one in fitted.items():
        if one.planned is not None:
            planned[kind], found[kind] = one.planned, one.found or looked_at(yard, one.planned)
    for kind, looked in found.items():  # one that stays where it was planned
        if looked.order is None:
            stays = planned[kind]
            if isinstance(stays, Pad):
                planned[kind] = plan_pad(job, surface, building, like=stays)
            found[kind] = looked_at(yard, planned[kind], beside=beside, around=looked.around)
    piers, slab = (planned.get(kind) for kind in ("piers", "slab"))
    around = {kind: one.around for kind, one in found.items() if one.around is not None}
    built = dict(planned)
    if "pad" not in built:  # worked out in any case
        built["pad"] = plan_pad(job, surface, building, bare=True)
    known = {kind: one.order for kind, one in found.items() if one.order is not None}
    orders = {
        kind: known[kind] if kind in known else ordered(job, surface, nearby, one, around.get(kind))
        for kind, one in built.items()
    }
    soils = _soils(yard, planned, around, orders)
    orders |= {kind: with_soil(orders[kind], one.soil, job) for kind, one in soils.items()}
    options = {
        kind: paid_option(yard, building, one, orders[kind], around.get(kind), soils.get(kind))
        for kind, one in planned.items()
    }
    judged = tuple(
        _costing(found[kind].judged, options[kind]) if kind in planned else unplanned(kind, left[kind])
        for kind in job.asked
    )
    best, comparison = winner_of(judged), _compared(yard, options, judged, planned, around)
    chosen = job.build or (best.foundation if best else next(iter(planned)))
    instead = best or _other(job, surface, nearby, yard.under, around)
    return Foundations(
        tuple(planned),
        cast(Pad, built["pad"]),
        piers if isinstance(piers, Piers) else None,
        slab if isinstance(slab, Slab) else None,
        judged,
        around,
        orders,
        options,
        price_list(job),
        _invented(job, orders, planned),
        comparison,
        chosen,
        instead,
        fitted[chosen].nearest if chosen in fitted else None,
        soils=soils,
    )


def _fitted(yard: Yard, kind: str, planned: Foundation, own: Found) -> Fitted:
    """Put a pad or slab at its level, and piers under the top at which least is bought."""
    if not isinstance(planned, Piers):
        return fit(yard, kind, planned, own)
    where = yard.job, yard.surface, yard.nearby.building
    more = more_of(yard.job, yard.surface, planned) if planned.piers else None
    top = None if more is None else cheapest_top(*where, planned, gravel_for(yard.job, kind), more)
    return Fitted() if top is None else Fitted(plan_piers(*where, cheapest=top))


def priced_rules(yard: Yard, found: Foundations) -> dict[str, Found]:
    """Give, for each rule of the pad, what the gate says at its level, and the money for all of it: as
    bought, with what leads water past, all soil hauled. None where the ground beside it is not known."""
    pad, around = found.pad, found.around.get("pad")
    if around is None:
        return {}
    ask = asking(yard, "pad", pad, priced=True)
    return {
        one.rule: looked_at(yard, pad, around=around) if one is pad.chosen else ask(one.level)
        for one in pad.choices
    }


def paid_option(
    yard: Yard,
    building: Outline | None,
    planned: Foundation,
    order: Order,
    around: Around | None,
    laid: Laid | None = None,
) -> Option:
    """Give what is planned as an option, with what its order buys, and where its soil is ``laid``."""
    option = option_of(yard.job, building, yard.under, planned)
    soil = None if laid is None else laid.soil
    return paying(yard.job, option, order, price_list(yard.job), around, soil)


def _soils(
    yard: Yard,
    planned: Mapping[str, Foundation],
    around: Mapping[str, Around],
    orders: Mapping[str, Order],
) -> dict[str, Laid]:
    """Say where the soil goes of each one that orders anything, where the ground beside it is known."""
    return {
        kind: lay_soil(yard.job, yard.surface, yard.nearby, yard.under, one, around[kind])
        for kind, one in planned.items()
        if kind in around and orders[kind].lines
    }


def _compared(
    yard: Yard,
    options: Mapping[str, Option],
    judged: Sequence[Judged],
    planned: Mapping[str, Foundation],
    around: Mapping[str, Around],
) -> Comparison | None:
    """Put the options side by side; None of one alone."""
    if len(options) < 2:
        return None
    told = [
        _weighed(options[one.foundation], one, _told(yard.job, options, one, around))
        for one in judged
        if one.foundation in options
    ]
    return compare(told, yard.job.show, SteeperGround(yard, planned, options))


def _costing(judged: Judged, option: Option) -> Judged:
    """Let the gate know what an option costs once its soil has a place."""
    return judged if judged.cost is None else replace(judged, cost=option.money)


def _invented(job: Job, orders: Mapping[str, Order], planned: Iterable[str]) -> tuple[str, ...]:
    """Name the prices that the job does not give and that are used, or bought by an order."""
    lines = [line for kind in planned for line in orders[kind].lines]
    bought = {paid.key for line in lines for paid in line.paid if paid.each is None}
    missing = prices_missing(job)
    return tuple(
        key for key in PRICED if key in missing or (key in bought and getattr(job.prices, key) is None)
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
    option = option_of(job, nearby.building, under, piers)
    look = look_around(job, surface, nearby, piers)
    judged = replace(judge_one(job, nearby.building, under, option, piers, look), cost=None)
    return judged if judged.buildable else None


# What is asked for, planned.

_LEFT_OUT = {
    "outline-outside-survey": "survey",
    "outline-far-from-survey": "survey",
    "piers-overlap": "holes apart",
}
"""Why a foundation cannot be planned though others can: the check that it fails."""


def _planned(job: Job, surface: Surface, building: Outline) -> tuple[dict[str, Foundation], dict[str, str]]:
    """Plan what is asked for, by kind; leave out what leaves the survey, or whose piers stand too close,
    where there is another: then the check that it fails."""
    found: dict[str, Foundation] = {}
    left: dict[str, InputError] = {}
    for kind in job.asked:
        try:
            found[kind] = plan_one(kind, job, surface, building, in_full=kind != "pad")
        except InputError as problem:
            if not all(_may_leave(job, fault.code) for fault in problem.faults):
                raise
            left[kind] = problem
    for kind, outside in left.items():
        if not found or kind == job.build:
            raise outside
    return found, {kind: _LEFT_OUT[problem.faults[0].code] for kind, problem in left.items()}


def _may_leave(job: Job, code: str) -> bool:
    """Say whether a fault leaves a foundation out: places of piers that the job gives are its own fault."""
    own = set() if job.piers is None else job.piers.model_fields_set & {"positions", "spacing", "row_spacing"}
    return code in _LEFT_OUT and not (own and _LEFT_OUT[code] == "holes apart")


def _against(around: Around | None) -> tuple[Finding, ...]:
    """Tell what is wrong with the falls from the walls once it is built; what it mends is left out."""
    found = () if around is None else around.drainage.findings
    return tuple(f for f in found if f.code in WALL_CODES and f.severity != "note")


# What if the ground fell more? Each foundation there, quick enough to be asked several times.


@dataclass(frozen=True, eq=False)
class SteeperGround:
    """How to plan each foundation where the ground falls more.

    ``here``: as they are ``planned`` in the ``yard`` as it is, and what they come to there as ``options``.
    Each stands as far above the level of its rule as here, and takes as much money for what leads water past
    it, for its soil and for hours: to design those anew each time would cost several plans.
    """

    yard: Yard
    planned: Mapping[str, Foundation]
    options: Mapping[str, Option]

    def __call__(self, more: float) -> Ways:
        """The ways to plan them where it falls ``more`` [m] under the building, by the names of options."""
        before = self.yard
        ground = before.surface.tilted(steeper_tilt(before.under, before.nearby.building, more))
        there = before._replace(surface=ground, under=clip(ground, before.nearby.building))
        return {
            option.name: Way(partial(self._plan, there, kind), partial(self._least, there, kind))
            for kind, option in self.options.items()
        }

    def _plan(self, there: Yard, kind: str) -> Option | None:
        """The option there; None where it cannot be planned."""
        job, building = there.job, there.nearby.building
        try:
            planned = plan_one(kind, job, there.surface, building, in_full=False)
            if moved := self._above_rule[kind]:
                given = at_level(job, kind, _level(planned) + moved)
                planned = plan_one(kind, given, there.surface, building, in_full=False, like=planned)
        except InputError:
            return None
        judged, option = _alone(there, planned)
        failing = tuple(one.check for one in judged.false if one.check not in WITH_SWALES)
        paid = {**option.paid, "beside": Amount(self._beside[kind], 1.0)}
        return replace(option, failing=failing, paid=paid)

    def _least(self, there: Yard, kind: str) -> float:
        """The money that it costs there at any level."""
        planned = self.planned[kind]
        bare = option_of(there.job, None, there.under, planned).least  # the same on any ground
        if isinstance(planned, Pad):
            prices, spec = price_list(there.job), planned.spec
            money = prices.for_pad(spec.material)
            bare = least_money(spec, money, prices.fabric, clip(there.surface, planned.outline))
        return bare + self._beside[kind]

    @cached_property
    def _beside(self) -> Mapping[str, float]:
        """Money for all that is not the foundation alone."""
        return {
            kind: option.money - _alone(self.yard, self.planned[kind])[1].money
            for kind, option in self.options.items()
        }

    @cached_property
    def _above_rule(self) -> Mapping[str, float]:
        """How far above the level of its rule [m] each was put, so that it can be built; 0 of piers."""
        job, surface, building = self.yard.job, self.yard.surface, self.yard.nearby.building

        def above(kind: str, planned: Foundation) -> float:
            if isinstance(planned, Piers):
                return 0.0
            return _level(planned) - _level(plan_one(kind, job, surface, building, in_full=False))

        return {kind: above(kind, planned) for kind, planned in self.planned.items()}


def _alone(yard: Yard, planned: Foundation) -> tuple[Judged, Option]:
    """Judge and price one without what lies beside it."""
    judged = looked_at(yard, planned, beside=False, priced=False).judged
    order = ordered(yard.job, yard.surface, yard.nearby, planned, None)
    option = option_of(yard.job, None, yard.under, planned)
    return judged, paying(yard.job, option, order, price_list(yard.job), None)


def _level(planned: Foundation) -> float:
    if isinstance(planned, Piers):
        raise TypeError("piers have a top of their own")
    return planned.chosen.level if isinstance(planned, Pad) else planned.level


def _told(
    job: Job, options: Mapping[str, Option], judged: Judged, around: Mapping[str, Around]
) -> tuple[Finding, ...]:
    """Tell all that stands against an option; what fails a check stops it, as it would stop the plan."""
    found = (*options[judged.foundation].findings, *_against(around.get(judged.foundation)))
    return with_stops(found, judged, job.show)


def _weighed(option: Option, judged: Judged, findings: Sequence[Finding] = ()) -> Option:
    """Let an option know what the gate says of it, with all that is to be told."""
    return replace(option, findings=tuple(findings) or option.findings, failing=judged.failing)
