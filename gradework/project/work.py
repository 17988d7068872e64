"""The one place that knows the whole order of work: from a job and its notes to everything that is known.

Nothing is read, drawn, written or shown here; each stage hands on what it found, frozen.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.footprint import Footprint, describe_footprint
from gradework.earthwork.outline import Outline
from gradework.errors import Finding
from gradework.foundations.gravelpad import BatteredEdge, BoxedEdge, Pad, PadSpec, design_pad
from gradework.ground.gaps import find_gaps
from gradework.ground.levels import flat_site
from gradework.ground.shape import SiteShape, site_shape
from gradework.ground.surface import Surface, build_surface
from gradework.project import specs
from gradework.project.choosing import Foundations, Water, design_foundations, orders_of_others, top_of
from gradework.project.job import Job
from gradework.project.noticed import noticed
from gradework.project.plain import read_stations, unique
from gradework.project.pointing import pointing_into
from gradework.sitework.boards import EdgeSide
from gradework.sitework.cautions import cautions
from gradework.sitework.drainage import Drainage, check_drainage
from gradework.sitework.drainage_findings import WALL_CODES
from gradework.sitework.fall_rays import PadTop
from gradework.sitework.order import Order
from gradework.sitework.order_gravel import GravelNeed, gravel_need
from gradework.sitework.order_haul import Haul, haul_of
from gradework.sitework.order_marking import marking_lines
from gradework.sitework.order_pad import PadQuantities, order_pad
from gradework.sitework.staking import stakes_to_set
from gradework.survey import Stations
from gradework.survey.coverage import coverage_findings
from gradework.survey.trust import Trust, judge


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
    trust: Trust
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]

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
        stations = read_stations(notes, job.survey.notes, specs.notes_form(job, places))
    with noticed(stations.findings):
        return _planned(job, stations)


def _planned(job: Job, stations: Stations) -> Plan:
    building, taped = specs.placed_building(job)
    surface = build_surface(stations)
    with pointing_into(job, "building"):
        footprint = describe_footprint(surface, building)
    with pointing_into(job, "pad"):
        pad = design_pad(surface, building, _pad_spec(job), specs.pad_prices(job), job.show)
    found = design_foundations(job, surface, building, pad, _water(job, surface, building))
    missing = coverage_findings(
        stations,
        building.rings[0],
        margin=pad.spec.margin,
        marks=specs.taped_from(job),
        built={"piers": "building"}.get(found.chosen, found.chosen),
    )
    yard = specs.supplier(job)
    stone = pad.spec.material
    orders = {"pad": order_pad(pad_quantities(pad), stone, pad.spec.soil, yard, job.show)}
    orders |= orders_of_others(job, found)
    orders = {kind: _marked(order, kind, building, found, surface, job) for kind, order in orders.items()}
    drainage = _drainage(job, surface, building, found)
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
        trust=judge((*stations.findings, *taped, *missing)),
        findings=_findings(job, surface, (*taped, *missing), found, drainage),
        cautions=_cautions(found),
    )


def _marked(
    order: Order, kind: str, building: Outline, found: Foundations, surface: Surface, job: Job
) -> Order:
    """Add what the setting out takes, where anything is built: a stake for each one on its sheet."""
    built = {"pad": found.pad, "piers": found.piers, "slab": found.slab}[kind]
    if not order.lines or built is None:
        return order
    stakes = stakes_to_set(surface, building, built, found.pad.chosen.level)  # how many, at any level
    return order.plus(*marking_lines(building, len(stakes), job.show))


def _pad_spec(job: Job) -> PadSpec:
    """Ask for no more ground than the building covers where no pad is asked for."""
    spec = specs.pad_spec(job)
    return spec if "pad" in job.asked else replace(spec, margin=0.0)


def _drainage(job: Job, surface: Surface, building: Outline, found: Foundations) -> Drainage:
    rule = specs.drainage_rule(job)
    top = top_of(found.chosen, found.pad, found.slab)
    return check_drainage(surface, building, show=job.show, rule=rule, pad=top)


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


def pad_quantities(pad: Pad) -> PadQuantities:
    """Hand the chosen pad to the order: each course of boards by itself, soil that stays counted in place."""
    chosen, edge = pad.chosen, pad.edge
    boards: tuple[EdgeSide, ...] = ()
    if isinstance(edge, BoxedEdge):
        boards = tuple(
            EdgeSide(f"{side.name}, course {number}", length, 1)
            for side in edge.sides
            for number, length in enumerate(side.courses, start=1)
            if length > 0
        )
    thickness, mixed = _layered(pad)
    return PadQuantities(
        gravel=CompactedVolume(chosen.gravel),
        excavation=BankVolume(chosen.excavation),
        thickness=thickness,
        outline=pad.outline,
        sides=boards,
        reused=BankVolume(chosen.excavation - chosen.spoil),
        slopes=edge.slopes.filled if isinstance(edge, BatteredEdge) else (),
        over_soil=mixed,
    )


def _layered(pad: Pad) -> tuple[float, bool]:
    """Tell how thick the gravel lies at the most [m], and whether soil that runs short is part of it."""
    chosen, edge = pad.chosen, pad.edge
    if chosen.native <= 0.0:
        return chosen.deepest_gravel, False
    slopes = edge.slopes.fill_area if isinstance(edge, BatteredEdge) else 0.0
    least = pad.spec.gravel * pad.pieces.area + pad.spec.strip * slopes
    if chosen.gravel > least * (1.0 + 1e-9):
        return chosen.deepest_gravel, True
    # soil makes all fill: gravel is its least layer, and what replaces the strip under filled slopes
    return max(pad.spec.gravel, pad.spec.strip if slopes else 0.0), False


def _findings(
    job: Job, surface: Surface, survey: Sequence[Finding], found: Foundations, drainage: Drainage
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
        drainage.findings,
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
