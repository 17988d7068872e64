"""The one place that knows the whole order of work: from a job and its notes to everything that is known.

Nothing is read, drawn, written or shown here; each stage hands on what it found, frozen.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from gradework.earthwork.conditions import BankVolume, CompactedVolume
from gradework.earthwork.footprint import Footprint, describe_footprint
from gradework.earthwork.outline import Outline
from gradework.errors import Finding, InputError
from gradework.foundations.gravelpad import BoxedEdge, Pad, design_pad
from gradework.ground.gaps import find_gaps
from gradework.ground.levels import flat_site
from gradework.ground.shape import SiteShape, site_shape
from gradework.ground.surface import Surface, build_surface
from gradework.project import specs
from gradework.project.job import Job
from gradework.project.plain import read_stations, unique
from gradework.sitework.boards import EdgeSide
from gradework.sitework.cautions import cautions
from gradework.sitework.drainage import Drainage, check_drainage
from gradework.sitework.fall_rays import PadTop
from gradework.sitework.order import Order
from gradework.sitework.order_gravel import GravelNeed, gravel_need
from gradework.sitework.order_pad import PadQuantities, order_pad
from gradework.survey import Stations


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
    order: Order
    drainage: Drainage
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]


def plan(job: Job, notes: bytes) -> Plan:
    """Work out a whole job from the bytes of its notes.

    Raises ``InputError`` with every fault of the stage that cannot go on, ``CheckError`` when the arithmetic
    disagrees with itself.
    """
    stations = read_stations(notes, job.survey.notes, specs.notes_form(job))
    building = specs.building_outline(job)
    surface = build_surface(stations)
    with pointing_into(job, "building"):
        footprint = describe_footprint(surface, building)
    with pointing_into(job, "pad"):
        pad = design_pad(surface, building, specs.pad_spec(job), specs.pad_prices(job), job.show)
    yard = specs.supplier(job)
    drainage = check_drainage(
        surface,
        building,
        show=job.show,
        rule=specs.drainage_rule(job),
        pad=PadTop(pad.chosen.level, pad.outline),
    )
    return Plan(
        job=job,
        stations=stations,
        surface=surface,
        shape=site_shape(surface),
        building=building,
        footprint=footprint,
        pad=pad,
        gravel=gravel_need(CompactedVolume(pad.chosen.gravel), pad.spec.material, yard),
        order=order_pad(pad_quantities(pad), pad.spec.material, pad.spec.soil, yard, job.show),
        drainage=drainage,
        findings=_findings(job, surface, pad, drainage),
        cautions=_cautions(pad),
    )


@contextmanager
def pointing_into(job: Job, *path: str) -> Iterator[None]:
    """Let the faults raised inside, which know no file, point at a line of the job."""
    try:
        yield
    except InputError as problem:
        raise job.located(problem, path) from None


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
    return PadQuantities(
        gravel=CompactedVolume(chosen.gravel),
        excavation=BankVolume(chosen.excavation),
        thickness=chosen.deepest_gravel,
        outline=pad.outline,
        sides=boards,
        reused=BankVolume(chosen.excavation - chosen.spoil),
    )


def _findings(job: Job, surface: Surface, pad: Pad, drainage: Drainage) -> tuple[Finding, ...]:
    """Gather what every stage noticed, each once, in the order of the work."""
    stations = surface.stations
    elevations = stations.xyz[:, 2]
    flat = flat_site(float(elevations.min()), float(elevations.max()), job.show)
    return unique(
        stations.findings,
        surface.findings,
        () if flat is None else (flat,),
        find_gaps(surface, pad.outline.rings),
        pad.findings,
        drainage.findings,
    )


def _cautions(pad: Pad) -> tuple[str, ...]:
    held = pad.edge.greatest if isinstance(pad.edge, BoxedEdge) else 0.0
    return cautions(
        deepest_dig=max(pad.chosen.deepest_cut, 0.0),
        retained=max(held, 0.0),
        clay="clay" in pad.spec.soil.key,
    )
