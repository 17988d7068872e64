"""The one place that knows the whole order of work: from a job and its notes to everything that is known.

Nothing is read, drawn, written or shown here; each stage hands on what it found, frozen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

from gradework.earthwork.clip import clip
from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.footprint import Footprint, describe_footprint
from gradework.earthwork.likely import Band
from gradework.earthwork.nearby import Nearby
from gradework.earthwork.outline import Outline
from gradework.errors import Finding
from gradework.fieldnotes.workbook.door import notes_in
from gradework.foundations.checks.gate import Judged
from gradework.foundations.checks.nearby import NearLook
from gradework.foundations.checks.nearby_told import near_findings
from gradework.foundations.checks.wall_strips import PadTop
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.likely import PadSpread
from gradework.foundations.pad.quantities import BoxedEdge
from gradework.foundations.piers.likely import PiersSpread
from gradework.foundations.slab.likely import SlabSpread
from gradework.ground.contours import SiteShape, site_shape
from gradework.ground.gaps import find_gaps
from gradework.ground.levels import flat_site
from gradework.ground.spread.left_out import LeftOut, left_out
from gradework.ground.surface import Surface, build_surface
from gradework.project import specs
from gradework.project.access import access_findings
from gradework.project.airborne import AirborneGround, airborne_ground, with_airborne
from gradework.project.benchmarks import known_benchmarks
from gradework.project.buying import hired_for, not_ordered
from gradework.project.days import days_of
from gradework.project.designed import Yard
from gradework.project.elsewhere import elsewhere
from gradework.project.finished import covering, finished_with
from gradework.project.gate_told import stamp_of, with_stops
from gradework.project.held import hold_plan
from gradework.project.job.model import Job
from gradework.project.job.read import pointing_into
from gradework.project.levels import Found
from gradework.project.nearby import nearby_of
from gradework.project.options import Foundations, design_foundations, priced_rules
from gradework.project.placed import leaning_findings, placed_building, taped_from
from gradework.project.siting import Better, better_near
from gradework.project.spread import (
    pier_findings,
    spread_findings,
    spread_of_dig_beside,
    spread_of_pad,
    spread_of_piers,
    spread_of_slab,
)
from gradework.project.stations.notes import noticed, read_stations, unique
from gradework.sitework.catchment import catchments_now, catchments_then
from gradework.sitework.cautions import cautions
from gradework.sitework.days import Days
from gradework.sitework.drainage import NOT_LOOKED, Drainage
from gradework.sitework.drains import Catchment
from gradework.sitework.hire import Hired
from gradework.sitework.order import GravelNeed, Order, gravel_need
from gradework.sitework.past_walls import WallMeasure, led
from gradework.sitework.past_walls_told import measure_findings
from gradework.sitework.rain import Rain, rain_on, standing_findings
from gradework.sitework.roof_water import roof_findings
from gradework.sitework.soil import SoilPlan
from gradework.sitework.trip import Stop, stops_of
from gradework.survey.quality import Trust, coverage_findings, judge
from gradework.survey.stations import Benchmark, Stations


@dataclass(frozen=True, eq=False)
class Plan:
    """Everything that is known about one job: the stages in their order, all in SI.

    ``orders`` has no lines for what cannot be built as drawn; ``anyway``: the one that is chosen is ordered
    all the same, but for what holds and bears.
    """

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
    benchmarks: tuple[Benchmark, ...]
    nearby: Nearby
    near: Mapping[str, tuple[NearLook, ...]]
    rain: Rain
    anyway: bool = False
    airborne: AirborneGround | None = None

    def stops(self, kind: str) -> tuple[Stop, ...]:
        """Part the order for one of the foundations asked for by who sells it, with its loads."""
        return stops_of(self.orders[kind], specs.supplier(self.job))

    def hired(self, kind: str) -> tuple[Hired, ...]:
        """Say what to hire for one of the foundations asked for."""
        return hired_for(self.job, self.foundations.options[kind], self.orders[kind])

    def not_ordered(self, kind: str) -> tuple[str, ...]:
        """Say what the order for one of the foundations asked for does not hold."""
        return not_ordered(self.job, self.foundations.options[kind], self.orders[kind])

    @cached_property
    def days(self) -> Days | None:
        """The work of the foundation that is chosen, over days; None where nothing is ordered."""
        return None if self.held_back else days_of(self.job, self.foundations)

    @property
    def order(self) -> Order:
        """The order for the foundation that is chosen; ``orders`` holds that of each one asked for."""
        return self.orders[self.foundations.chosen]

    @property
    def judged(self) -> Judged | None:
        """What the gate says of the foundation that is chosen."""
        return self.foundations.judged_of(self.foundations.chosen)

    @property
    def measures(self) -> tuple[WallMeasure, ...]:
        """What leads water past the walls of the foundation that is chosen."""
        return self.foundations.measures_of(self.foundations.chosen)

    @property
    def held_back(self) -> bool:
        """Say whether nothing is ordered, since the foundation that is chosen cannot be built as drawn."""
        return _held_back(self.foundations, self.foundations.chosen, anyway=self.anyway)

    def stamp(self, kind: str | None = None) -> str:
        """Give what stands on each page of a foundation that cannot be built as drawn, "" of any other."""
        return stamp_of(self.foundations.judged_of(kind or self.foundations.chosen))

    @cached_property
    def spread(self) -> PadSpread:
        """The 10, 50 and 90 % figures of the pad, over the grounds that the shots leave possible."""
        return spread_of_pad(self.job, self.surface, self.pad)

    @cached_property
    def piers_spread(self) -> PiersSpread | None:
        """The same of the piers, each by itself; None where none are planned."""
        piers = self.foundations.piers
        if piers is None or not piers.piers or not self.foundations.around:
            return None
        return spread_of_piers(self.job, self.surface, piers)

    @cached_property
    def slab_spread(self) -> SlabSpread | None:
        """The same of the slab; None where none is planned."""
        slab = self.foundations.slab
        if slab is None or not self.foundations.around:
            return None
        return spread_of_slab(self.job, self.surface, slab)

    @cached_property
    def beside_spread(self) -> Band | None:
        """The same of what is dug for swales and aprons beside the pad; None without any."""
        return spread_of_dig_beside(self.surface, led(self.foundations.measures_of("pad")))

    @cached_property
    def rules(self) -> Mapping[str, Found]:
        """What the gate says of the pad at the level of each rule, and what all of it costs there; looked at
        when asked."""
        yard = Yard(self.job, self.surface, self.nearby, clip(self.surface, self.building))
        return priced_rules(yard, self.foundations)

    @cached_property
    def left_out(self) -> LeftOut | None:
        """How well the straight surface and a curved one foretell shots; None of few or very many."""
        return left_out(self.surface)

    @cached_property
    def better(self) -> Better | None:
        """A place near where clearly less is to be made up, by the ground alone; looked for when asked."""
        return better_near(self.job, self.surface, self.foundations.chosen)

    @cached_property
    def finished(self) -> Surface:
        """The finished ground of the foundation that is chosen, with the soil that is spread on it."""
        return _finished(self.surface, self.foundations)[0]

    @cached_property
    def catchments(self) -> tuple[tuple[Catchment, ...], tuple[Catchment, ...]]:
        """How much ground drains to each wall as surveyed; then, once it is built, to each wall, to the pad
        or slab and to what is dug beside it: nothing where the ground stays as it is."""
        beyond = None if self.airborne is None else self.airborne.beyond
        now = catchments_now(self.surface, self.building, beyond)
        finished, top = _finished(self.surface, self.foundations)
        if top is None:
            return now, ()
        dug = {one.where: one.dug for one in self.measures if one.dug is not None}
        return now, catchments_then(finished, self.building, top, dug, beyond)

    @property
    def soil(self) -> SoilPlan | None:
        """Where the soil goes that the foundation that is chosen digs; None where that is not known."""
        laid = self.foundations.soils.get(self.foundations.chosen)
        return None if laid is None else laid.soil


def _finished(surface: Surface, found: Foundations) -> tuple[Surface, PadTop | None]:
    """Give the finished ground, and what is level in it; None of piers, which leave the ground as it is."""
    built = found.built.get(found.chosen, found.pad)
    if found.chosen in found.soils:
        ground = found.soils[found.chosen].ground
    else:
        ground = finished_with(surface, built, led(found.measures_of(found.chosen)))
    return ground, covering(built)


def _rain(surface: Surface, building: Outline, found: Foundations) -> Rain:
    """Look at the rain before and after what is chosen is built."""
    drains = [one.dug for one in led(found.measures_of(found.chosen)) if one.kind == "drain"]
    return rain_on(surface, building, *_finished(surface, found), drains)


def plan(
    job: Job,
    notes: bytes,
    places: bytes | None = None,
    breaklines: bytes | None = None,
    *,
    around: bytes | None = None,
    anyway: bool = False,
) -> Plan:
    """Work out a whole job from the bytes of its notes, and of its tables of places and breaklines, if any.
    Without those of its file of airborne ground, ``around``, nothing is known beyond the survey.

    ``anyway``: what is chosen is ordered though a check fails, if that check may be lifted.

    Raises ``InputError`` with every fault of the stage that cannot go on, ``CheckError`` when the arithmetic
    disagrees with itself.
    """
    job, stations = surveyed(job, notes, places, breaklines)
    with noticed(stations.findings):
        return _planned(job, stations, around=around, anyway=anyway)


def surveyed(
    job: Job, notes: bytes, places: bytes | None = None, breaklines: bytes | None = None
) -> tuple[Job, Stations]:
    """Read the notes of a job; the job says lengths back as they were written, unless it says how itself.

    Raises ``InputError`` that points into notes or job.
    """
    with pointing_into(job, "survey"):
        text, file = notes_in(notes, job.survey.notes, job.survey.sheet)
        stations = read_stations(text, file, specs.notes_form(job, places, breaklines))
    form = stations.show.form
    return job if form == job.show.form else job.saying(form), stations


def plan_on(job: Job, stations: Stations, ground: Surface) -> Plan:
    """Work out a job on ground that was made up beyond its stations: no water is led over it.

    Neither gaps nor walls are looked at. Raises ``InputError``.
    """
    return _planned(job.saying(stations.show.form), stations, ground)


def _planned(
    job: Job,
    stations: Stations,
    ground: Surface | None = None,
    *,
    around: bytes | None = None,
    anyway: bool = False,
) -> Plan:
    with pointing_into(job, "setout"):
        benchmarks = known_benchmarks(job, stations)
    building, taped = placed_building(job)
    surface, nearby = ground or build_surface(stations), nearby_of(job, building)
    with pointing_into(job, "building"):
        footprint = describe_footprint(surface, building)
    airborne = None if around is None else airborne_ground(job, surface, around)
    found = design_foundations(job, surface, nearby, beside=ground is None)
    if ground is None and found.stuck:
        found = replace(found, elsewhere=elsewhere(job, surface, nearby, found.judged))
    if ground is None:
        hold_plan(surface, building, footprint, found, partial(specs.stone, job))
    if airborne is not None:
        airborne, found = with_airborne(airborne, found, job.show)
    pad = found.pad
    missing = () if ground else _missing(job, stations, found, nearby)
    yard = specs.supplier(job)
    stone = pad.spec.material
    drainage = found.around[found.chosen].drainage if found.around else NOT_LOOKED
    rain = Rain() if ground else _rain(surface, building, found)
    orders = {
        kind: replace(order, lines=()) if _held_back(found, kind, anyway=anyway) else order
        for kind, order in found.orders.items()
    }
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
        findings=_stopped(found.findings, found, job)
        if ground
        else _findings(job, surface, (*taped, *missing), found, drainage, rain, airborne),
        cautions=_cautions(found),
        benchmarks=benchmarks,
        nearby=nearby,
        near=found.near,
        rain=rain,
        anyway=anyway,
        airborne=airborne,
    )


def _held_back(found: Foundations, kind: str, *, anyway: bool) -> bool:
    """Say whether a foundation is not ordered: a check fails, and nobody may or wants to order it anyway."""
    own = found.judged_of(kind)
    if own is None or own.buildable:
        return False
    return not (anyway and kind == found.chosen and own.level is not None and not own.never)


def _stopped(told: Sequence[Finding], found: Foundations, job: Job) -> tuple[Finding, ...]:
    """Let each check that fails stop the plan."""
    own = found.judged_of(found.chosen)
    return tuple(told) if own is None else with_stops(told, own, job.show)


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


def _wide(job: Job, surface: Surface, found: Foundations) -> Iterator[Finding]:
    """Say where the shots leave the gravel of a pad wide open, and which piers may change."""
    if found.chosen == "pad":
        spread = spread_of_pad(job, surface, found.pad)
        yield from spread_findings(spread, found.pad.chosen.gravel, job.show)
    elif found.chosen == "piers" and found.piers is not None and found.piers.piers:
        yield from pier_findings(spread_of_piers(job, surface, found.piers), found.piers, job.show)


def drawn_with(plan: Plan, kind: str) -> Plan:
    """Give the plan as it looks with another of the foundations asked for; orders and findings stay."""
    found = replace(plan.foundations, chosen=kind)
    around = found.around.get(kind)
    return replace(plan, foundations=found, drainage=NOT_LOOKED if around is None else around.drainage)


def _findings(
    job: Job,
    surface: Surface,
    survey: Sequence[Finding],
    found: Foundations,
    drainage: Drainage,
    rain: Rain,
    airborne: AirborneGround | None,
) -> tuple[Finding, ...]:
    """Gather what every stage noticed, each once, in the order of the work; ``survey``: ties and gaps."""
    stations = surface.stations
    elevations = stations.xyz[:, 2]
    flat = flat_site(float(elevations.min()), float(elevations.max()), job.show)
    told = unique(
        stations.findings,
        surface.findings,
        () if flat is None else (flat,),
        find_gaps(surface, found.pad.outline.rings),
        survey,
        found.findings,
        (*_wide(job, surface, found), *_leaning_and_near(job, found), *standing_findings(rain, job.show)),
        drainage.findings,
        *_led_findings(job, found, airborne),
        tuple(roof_findings(found.roof, job.show)),
        tuple(access_findings(found.access, job.show, led(found.measures_of(found.chosen)))),
    )
    return _stopped(told, found, job)


def _led_findings(
    job: Job, found: Foundations, airborne: AirborneGround | None
) -> Iterator[Sequence[Finding]]:
    """Say what stands in the way of what leads water past, and what comes to it from beyond the survey."""
    followed = () if airborne is None else airborne.measures.get(found.chosen, ())
    walls = [one.measure.where for one in followed]
    yield measure_findings(found.measures_of(found.chosen), job.show, walls)
    yield () if airborne is None else tuple(airborne.findings(found.chosen, job.show))


def _leaning_and_near(job: Job, found: Foundations) -> Sequence[Finding]:
    """Say what stands near, and what the building leans on."""
    return (*leaning_findings(job), *near_findings(found.near[found.chosen], job.show))


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
