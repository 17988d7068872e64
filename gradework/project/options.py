"""Pad, piers and slab of one job: each that is asked for is judged, and one of them is ordered."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, cast

from gradework.earthwork.clip import clip
from gradework.errors import InputError
from gradework.foundations.checks.gate import winner_of
from gradework.foundations.comparison import Way, Ways, compare, steeper_tilt
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.rules import least_money
from gradework.foundations.piers.plan import Piers
from gradework.foundations.slab.design import Slab
from gradework.project.buying import paying, with_soil
from gradework.project.designed import (
    Foundation,
    Yard,
    fit,
    judge_one,
    judged_at,
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
from gradework.project.levels import STEP
from gradework.project.soil import Laid, lay_soil
from gradework.project.specs import PRICED, price_list, prices_missing
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
    planned = _planned(job, surface, building)
    yard = Yard(job, surface, nearby, clip(surface, building))
    found = {kind: looked_at(yard, one, beside=beside, priced=False) for kind, one in planned.items()}
    fitted = {kind: fit(yard, kind, planned[kind], one) for kind, one in found.items() if beside}
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
        _costing(found[kind].judged, options[kind]) if kind in planned else unplanned(kind)
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
    kinds = {option.name: kind for kind, option in options.items()}
    steeper = partial(_on_steeper_ground, yard.job, yard.surface, yard.nearby, kinds, planned)
    return compare(told, yard.job.show, steeper)


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

_OUTSIDE = {"outline-outside-survey", "outline-far-from-survey"}


def _planned(job: Job, surface: Surface, building: Outline) -> dict[str, Foundation]:
    """Plan what is asked for, by kind; leave out what leaves the survey, where there is another."""
    found: dict[str, Foundation] = {}
    left: dict[str, InputError] = {}
    for kind in job.asked:
        try:
            found[kind] = plan_one(kind, job, surface, building, in_full=kind != "pad")
        except InputError as problem:
            if not all(fault.code in _OUTSIDE for fault in problem.faults):
                raise
            left[kind] = problem
    for kind, outside in left.items():
        if not found or kind == job.build:
            raise outside
    return found


def _against(around: Around | None) -> tuple[Finding, ...]:
    """Tell what is wrong with the falls from the walls once it is built; what it mends is left out."""
    found = () if around is None else around.drainage.findings
    return tuple(f for f in found if f.code in WALL_CODES and f.severity != "note")


# Side by side.


def _on_steeper_ground(
    job: Job,
    surface: Surface,
    nearby: Nearby,
    kinds: Mapping[str, str],
    here: Mapping[str, Foundation],
    more: float,
) -> Ways:
    """Say how to plan each of the ``kinds``, by the names of their options, on steeper ground; ``here``: as
    they are planned on the ground as it is.

    What cannot be planned there is no option.
    """
    building = nearby.building
    steep = surface.tilted(steeper_tilt(clip(surface, building), building, more))
    yard = Yard(job, steep, nearby, clip(steep, building))

    def option(kind: str) -> Option | None:
        try:
            planned = plan_one(kind, job, steep, building, in_full=False)
        except InputError:
            return None
        found = judged_at(yard, planned)
        better = fit(yard, kind, planned, found, near=STEP)
        if better.planned is not None:
            planned, found = better.planned, better.found or looked_at(yard, better.planned)
        order, laid = found.order or ordered(job, steep, nearby, planned, found.around), None
        if found.around is not None and order.lines:
            laid = lay_soil(job, steep, nearby, yard.under, planned, found.around)
            order = with_soil(order, laid.soil, job)
        return _weighed(paid_option(yard, None, planned, order, found.around, laid), found.judged)

    def least(kind: str) -> float:
        planned = here[kind]
        if isinstance(planned, Pad):
            prices, spec = price_list(job), planned.spec
            money = prices.for_pad(spec.material)
            return least_money(spec, money, prices.fabric, clip(steep, planned.outline))
        return option_of(job, None, yard.under, planned).least  # the same on any ground

    return {name: Way(partial(option, kind), partial(least, kind)) for name, kind in kinds.items()}


def _told(
    job: Job, options: Mapping[str, Option], judged: Judged, around: Mapping[str, Around]
) -> tuple[Finding, ...]:
    """Tell all that stands against an option; what fails a check stops it, as it would stop the plan."""
    found = (*options[judged.foundation].findings, *_against(around.get(judged.foundation)))
    return with_stops(found, judged, job.show)


def _weighed(option: Option, judged: Judged, findings: Sequence[Finding] = ()) -> Option:
    """Let an option know what the gate says of it, with all that is to be told."""
    return replace(option, findings=tuple(findings) or option.findings, failing=judged.failing)
