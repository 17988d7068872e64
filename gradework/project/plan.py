"""The one place that knows the whole order of work: from a job and its notes to everything that is known.

Nothing is read, drawn, written or shown here; each stage hands on what it found, frozen.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.footprint import Footprint, describe_footprint
from gradework.earthwork.grading.swale import Batter
from gradework.earthwork.materials import Gravel
from gradework.earthwork.nearby import Nearby
from gradework.earthwork.outline import Outline
from gradework.errors import Finding, InputError
from gradework.fieldnotes.workbook.door import notes_in
from gradework.foundations.checks.nearby import NearLook
from gradework.foundations.checks.nearby_told import near_findings
from gradework.foundations.comparison import (
    Comparison,
    Option,
    Ways,
    compare,
    option_of_pad,
    option_of_piers,
    option_of_slab,
    steeper_tilt,
)
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.quantities import BatteredEdge, BoxedEdge
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.foundations.prices import PriceList
from gradework.foundations.slab.design import Slab, design_slab
from gradework.ground.contours import SiteShape, site_shape
from gradework.ground.gaps import find_gaps
from gradework.ground.levels import flat_site
from gradework.ground.surface import Surface, build_surface
from gradework.project import specs
from gradework.project.benchmarks import known_benchmarks
from gradework.project.job.model import Job
from gradework.project.job.read import pointing_into
from gradework.project.nearby import near_of, nearby_of, stakes_near
from gradework.project.placed import placed_building, taped_from
from gradework.project.specs import pier_spec, price_list, prices_missing, slab_spec
from gradework.project.stations.notes import noticed, read_stations, unique
from gradework.sitework.cautions import cautions
from gradework.sitework.drainage import NOT_LOOKED, WALL_CODES, Drainage, check_drainage
from gradework.sitework.fall_rays import PadTop
from gradework.sitework.order import GravelNeed, Haul, Order, gravel_need, haul_of, marking_lines
from gradework.sitework.order_foundations import order_pad, order_piers, order_slab, pad_quantities
from gradework.sitework.swales import SwaleMeasure, swale_findings, swale_measures
from gradework.survey.quality import Trust, coverage_findings, judge
from gradework.survey.stations import Benchmark, Stations

# Pad, piers and slab of one job: each that is asked for, side by side, and the one that is ordered.

Water = Callable[[PadTop | None], Sequence[Finding]]
"""Findings about the falls from the walls, with this in place of the ground."""


@dataclass(frozen=True, eq=False)
class Foundations:
    """What was asked for and what came of it.

    ``asked`` holds "pad", "piers", "slab" in this order; ``pad`` is worked out in any case, the others are
    None when not asked for. ``comparison`` is None for one alone. ``chosen`` is the one that is ordered and
    set out. ``invented`` names the prices that the job does not give.
    """

    asked: tuple[str, ...]
    pad: Pad
    piers: Piers | None
    slab: Slab | None
    prices: PriceList
    invented: tuple[str, ...]
    comparison: Comparison | None
    chosen: str

    def __repr__(self) -> str:
        return f"<Foundations: {', '.join(self.asked)}; {self.chosen} chosen>"

    @property
    def built(self) -> dict[str, Pad | Piers | Slab]:
        """Each one that is planned, by its kind."""
        every = {"pad": self.pad, "piers": self.piers, "slab": self.slab}
        return {kind: one for kind, one in every.items() if one is not None}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said about the one that is chosen."""
        found = self.built.get(self.chosen)
        return () if found is None else found.findings


def design_foundations(
    job: Job, surface: Surface, building: Outline, pad: Pad, water: Water | None = None
) -> Foundations:
    """Plan what the job asks for beside the pad, compare, and choose.

    The one named by ``build`` is chosen; else the cheapest that nothing blocks; else the first asked for.
    ``water`` tells how the ground falls from the walls with each of them, for the comparison.
    Raises ``InputError`` pointing into the job.
    """
    piers, slab = plan_piers(job, surface, building), plan_slab(job, surface, building)
    comparison, kinds = None, {}
    if len(job.asked) > 1:
        under = clip(surface, building)
        options = _options(job, building, under, (pad, piers, slab))
        if water is not None:
            tops = {kind: top_of(kind, pad, slab) for kind in options}
            options = {
                kind: replace(option, findings=(*option.findings, *water(tops[kind])))
                for kind, option in options.items()
            }
        kinds = {option.name: kind for kind, option in options.items()}
        steep = partial(_on_steeper_ground, job, surface, building, kinds)
        comparison = compare(tuple(options.values()), job.show, steep)
    winner = comparison.winner if comparison else None
    chosen = job.build or (kinds[winner.name] if winner else job.asked[0])
    return Foundations(job.asked, pad, piers, slab, price_list(job), prices_missing(job), comparison, chosen)


def top_of(kind: str, pad: Pad, slab: Slab | None) -> PadTop | None:
    """Give what covers the ground around the walls once it is built; piers leave the ground as it is."""
    if kind == "slab" and slab is not None:
        return PadTop(slab.level, slab.outline, "slab")
    return PadTop(pad.chosen.level, pad.outline) if kind == "pad" else None


def plan_piers(job: Job, surface: Surface, building: Outline, *, in_full: bool = True) -> Piers | None:
    """Plan the piers, where the job asks for them; only the chosen top without ``in_full``."""
    if job.piers is None:
        return None
    gravel = gravel_for(job, "piers")
    prices = price_list(job, gravel).for_piers(gravel, specs.soil(job))
    with pointing_into(job, "piers"):
        return design_piers(surface, building, pier_spec(job, job.piers), prices, job.show, in_full=in_full)


def plan_slab(job: Job, surface: Surface, building: Outline) -> Slab | None:
    """Plan the slab, where the job asks for it."""
    if job.slab is None:
        return None
    gravel = gravel_for(job, "slab")
    prices = price_list(job, gravel).for_slab(gravel, specs.soil(job))
    with pointing_into(job, "slab"):
        return design_slab(surface, building, slab_spec(job, job.slab), prices, job.show)


def gravel_for(job: Job, kind: str) -> Gravel:
    """Give the gravel of a foundation: its own, else that of the pad, else the default."""
    own = getattr(getattr(job, kind), "material", None) or job.pad.material
    return specs.stone(job, own)


def orders_of_others(job: Job, found: Foundations) -> dict[str, Order]:
    """Order what piers and slab take, each by itself: one of them is built, the others are only compared."""
    soil, yard = specs.soil(job), specs.supplier(job)
    orders = {}
    if found.piers is not None:
        orders["piers"] = order_piers(found.piers, gravel_for(job, "piers"), soil, yard, job.show)
    if found.slab is not None:
        orders["slab"] = order_slab(found.slab, gravel_for(job, "slab"), soil, yard, job.show)
    return orders


def _options(
    job: Job,
    building: Outline | None,
    under: Pieces,
    planned: tuple[Pad | None, Piers | None, Slab | None],
) -> dict[str, Option]:
    """Give what is asked for and planned as options, by kind, in the order of ``asked``.

    Without the building they do not tell how high the floor is above the ground along its sides.
    """
    pad, piers, slab = planned
    options: dict[str, Option] = {}
    if pad is not None and "pad" in job.asked:
        # on a pad the building brings its own beams and floor as on piers, asked for or not
        floor = FloorBuildUp() if job.piers is None else pier_spec(job, job.piers).floor
        prices = price_list(job, pad.spec.material).for_pad()
        options["pad"] = option_of_pad(pad, prices, building, under, job.show, floor)
    if piers is not None:
        options["piers"] = option_of_piers(piers, building, job.show, gravel_for(job, "piers"))
    if slab is not None:
        options["slab"] = option_of_slab(slab, building, under, job.show, gravel_for(job, "slab"))
    return options


def _on_steeper_ground(
    job: Job, surface: Surface, building: Outline, kinds: Mapping[str, str], more: float
) -> Ways:
    """Say how to plan each of the ``kinds``, by the names of their options, on steeper ground.

    What cannot be planned there is no option.
    """
    steep = surface.tilted(steeper_tilt(clip(surface, building), building, more))
    under = clip(steep, building)

    def option(kind: str) -> Option | None:
        try:
            pad = piers = slab = None
            if kind == "pad":
                spec, prices = specs.pad_spec(job), specs.pad_prices(job)
                pad = design_pad(steep, building, spec, prices, job.show, in_full=False)
            elif kind == "piers":
                piers = plan_piers(job, steep, building, in_full=False)
            else:
                slab = plan_slab(job, steep, building)
        except InputError:
            return None
        return _options(job, None, under, (pad, piers, slab))[kind]

    return {name: partial(option, kind) for name, kind in kinds.items()}


@dataclass(frozen=True, eq=False)
class Plan:
    """Everything that is known about one job: the stages in their order, all in SI."""

    job: Job
    stations: Stations
    surface: Surface
    shape: SiteShape
    building: Outline
    footprint: Footprint
    pad: Pad
    gravel: GravelNeed
    foundations: Foundations
    orders: Mapping[str, Order]
    drainage: Drainage
    swales: tuple[SwaleMeasure, ...]
    trust: Trust
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    benchmarks: tuple[Benchmark, ...]
    nearby: Nearby
    near: Mapping[str, tuple[NearLook, ...]]

    def haul(self, kind: str) -> Haul:
        """Weigh the order for one of the foundations asked for, and count the loads of the job's truck."""
        return haul_of(self.orders[kind], specs.supplier(self.job).truck)

    @property
    def order(self) -> Order:
        """The order for the foundation that is chosen; ``orders`` holds that of each one asked for."""
        return self.orders[self.foundations.chosen]


def plan(job: Job, notes: bytes, places: bytes | None = None) -> Plan:
    """Work out a whole job from the bytes of its notes, and of its table of places where it has one.

    Raises ``InputError`` with every fault of the stage that cannot go on, ``CheckError`` when the arithmetic
    disagrees with itself.
    """
    with pointing_into(job, "survey"):
        text, file = notes_in(notes, job.survey.notes, job.survey.sheet)
        stations = read_stations(text, file, specs.notes_form(job, places))
    form = stations.show.form
    with noticed(stations.findings):
        return _planned(job if form == job.show.form else job.saying(form), stations)


def plan_on(job: Job, stations: Stations, ground: Surface) -> Plan:
    """Work out a job on ground that was made up beyond its stations: no water is led over it.

    Neither gaps nor walls are looked at. Raises ``InputError``.
    """
    return _planned(job.saying(stations.show.form), stations, ground)


def _planned(job: Job, stations: Stations, ground: Surface | None = None) -> Plan:
    with pointing_into(job, "setout"):
        benchmarks = known_benchmarks(job, stations)
    building, taped = placed_building(job)
    surface, nearby = ground or build_surface(stations), nearby_of(job, building)
    with pointing_into(job, "building"):
        footprint = describe_footprint(surface, building)
    with pointing_into(job, "pad"):
        pad = design_pad(surface, building, _pad_spec(job), specs.pad_prices(job), job.show)
    found = design_foundations(
        job, surface, building, pad, None if ground else _water(job, surface, building)
    )
    missing = () if ground else _missing(job, stations, found, nearby)
    yard = specs.supplier(job)
    stone = pad.spec.material
    orders = {"pad": order_pad(pad_quantities(pad), stone, pad.spec.soil, yard, job.show)}
    orders |= orders_of_others(job, found)
    orders = {kind: _marked(order, kind, found, surface, job, nearby) for kind, order in orders.items()}
    drainage = NOT_LOOKED if ground else _drainage(job, surface, building, found)
    swales = () if ground else _swales(job, surface, building, found, drainage)
    near = {kind: near_of(job, surface, nearby, built, swales) for kind, built in found.built.items()}
    return Plan(
        job=job,
        stations=stations,
        surface=surface,
        shape=site_shape(surface),
        building=building,
        footprint=footprint,
        pad=pad,
        gravel=gravel_need(CompactedVolume(pad.chosen.gravel), stone, yard),
        foundations=found,
        orders=orders,
        drainage=drainage,
        swales=swales,
        trust=judge((*stations.findings, *taped, *missing)),
        findings=found.findings
        if ground
        else _findings(
            job,
            surface,
            (*taped, *missing),
            found,
            drainage,
            swales,
            near_findings(near[found.chosen], job.show),
        ),
        cautions=_cautions(found),
        benchmarks=benchmarks,
        nearby=nearby,
        near=near,
    )


def _missing(job: Job, stations: Stations, found: Foundations, nearby: Nearby) -> Sequence[Finding]:
    """Say which ground was not shot; what lies behind a wall or fence nearby nobody can."""
    return coverage_findings(
        stations,
        nearby.building.rings[0],
        margin=found.pad.spec.margin,
        marks=taped_from(job),
        built={"piers": "building"}.get(found.chosen, found.chosen),
        measurable=nearby.measurable if nearby else None,
    )


def _marked(order: Order, kind: str, found: Foundations, surface: Surface, job: Job, nearby: Nearby) -> Order:
    """Add what the setting out takes, where anything is built: a stake for each one on its sheet."""
    built = found.built.get(kind)
    if not order.lines or built is None:
        return order
    stakes = stakes_near(job, surface, nearby, built, found.pad.chosen.level)  # how many, at any level
    return order.plus(*marking_lines(nearby.building, len(stakes), job.show))


def _pad_spec(job: Job) -> PadSpec:
    """Ask for no more ground than the building covers where no pad is asked for."""
    spec = specs.pad_spec(job)
    return spec if "pad" in job.asked else replace(spec, margin=0.0)


def _drainage(job: Job, surface: Surface, building: Outline, found: Foundations) -> Drainage:
    rule = specs.drainage_rule(job)
    top = top_of(found.chosen, found.pad, found.slab)
    return check_drainage(surface, building, show=job.show, rule=rule, pad=top)


def _swales(
    job: Job, surface: Surface, building: Outline, found: Foundations, drainage: Drainage
) -> tuple[SwaleMeasure, ...]:
    """Design what would cure the walls of the pad, where a pad is asked for; the one chosen or not."""
    if "pad" not in found.asked:
        return ()
    pad, top = found.pad, PadTop(found.pad.chosen.level, found.pad.outline)
    if found.chosen != "pad":
        drainage = _drainage(job, surface, building, replace(found, chosen="pad"))
    edge = pad.edge
    batter = None
    if isinstance(edge, BatteredEdge):
        batter = Batter(pad.spec.batter, edge.slopes.cut, edge.slopes.fill)
    return swale_measures(surface, building, top, drainage, margin=pad.spec.margin, batter=batter)


def _water(job: Job, surface: Surface, building: Outline) -> Water:
    """Tell what is wrong with the falls from the walls once something is built; what it mends is left out."""
    rule = specs.drainage_rule(job)

    def look(top: PadTop | None) -> tuple[Finding, ...]:
        seen = check_drainage(surface, building, show=job.show, rule=rule, pad=top)
        return tuple(f for f in seen.findings if f.code in WALL_CODES and f.severity != "note")

    return look


def drawn_with(plan: Plan, kind: str) -> Plan:
    """Give the plan as it looks with another of the foundations asked for; orders and findings stay."""
    found = replace(plan.foundations, chosen=kind)
    water = _drainage(plan.job, plan.surface, plan.building, found)
    return replace(plan, foundations=found, drainage=water)


def _findings(
    job: Job,
    surface: Surface,
    survey: Sequence[Finding],
    found: Foundations,
    drainage: Drainage,
    swales: Sequence[SwaleMeasure],
    near: Sequence[Finding],
) -> tuple[Finding, ...]:
    """Gather what every stage noticed, each once, in the order of the work; ``survey``: ties and gaps."""
    stations = surface.stations
    elevations = stations.xyz[:, 2]
    flat = flat_site(float(elevations.min()), float(elevations.max()), job.show)
    return unique(
        stations.findings,
        surface.findings,
        () if flat is None else (flat,),
        find_gaps(surface, found.pad.outline.rings),
        survey,
        found.findings,
        near,
        drainage.findings,
        swale_findings(swales, job.show) if found.chosen == "pad" else (),
    )


def _cautions(found: Foundations) -> tuple[str, ...]:
    """Give the cautions that the chosen foundation calls for."""
    pad, held = found.pad, 0.0
    deepest = max(pad.chosen.deepest_cut, 0.0)
    if found.chosen == "piers" and found.piers is not None:
        deepest = max((pier.ground_high - pier.bottom for pier in found.piers.piers), default=0.0)
    elif found.chosen == "slab" and found.slab is not None:
        spec = found.slab.spec
        under = found.slab.level - max(spec.thickness + spec.base, spec.edge_depth)
        deepest = max(0.0, found.slab.ground.highest - under)
    elif isinstance(pad.edge, BoxedEdge):
        held = pad.edge.greatest
    return cautions(deepest_dig=deepest, retained=max(held, 0.0), clay="clay" in pad.spec.soil.key)
