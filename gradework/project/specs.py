"""One list of prices for every foundation: the job's own, and invented ones where it has none."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from gradework.earthwork.materials import (
    DEFAULT_GRAVEL,
    DEFAULT_SOIL,
    Gravel,
    Soil,
    find_gravel,
    find_soil,
    with_factors,
)
from gradework.earthwork.outline import Outline
from gradework.errors import Fault, Finding, InputError, visible
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.foundations.pad.spec import PadPrices, PadSpec
from gradework.foundations.piers.spec import FrostRule, PierSpec
from gradework.foundations.prices import PriceList
from gradework.foundations.slab.quantities import ConcreteSale
from gradework.foundations.slab.spec import SlabSpec
from gradework.project.cutfill import NotesForm
from gradework.project.job.foundations import PiersTable, SlabTable
from gradework.project.job.model import LEVEL_RULES, Job
from gradework.project.job.survey import place_of, survey_form, tied_place, tied_to
from gradework.project.job.values import TiedMark, taped
from gradework.sitework.drainage import RULES, DrainageRule
from gradework.sitework.supplier import Supplier
from gradework.units.lengths import parse_length
from gradework.units.numbers import LengthError, QuantityError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gradework.fieldnotes.places import Side

    Point = tuple[float, float]


# The known marks of a job with their places: those that are given, then those that were taped from them.


class KnownMarks(NamedTuple):
    """``places``: (x, y) [m] by name, in the order they are named, ``[setout]`` first; ``findings`` about
    the taped ones."""

    places: Mapping[str, Point]
    findings: tuple[Finding, ...]


def known_marks(job: Job) -> KnownMarks:
    """Find the places of all marks of ``[survey]`` and ``[setout]``; a name in both counts as in the survey.

    A taped mark may be tied from any other, also from one that is taped itself. Its side is its own, seen
    from the first of its marks to the second, or that of ``[survey]``, seen from the first mark with a given
    place to the second. Raises ``InputError`` that points into the job: ties that fix no place, an unknown
    mark, marks that are tied in a circle.
    """
    tables = {"setout": job.setout.marks or {}, "survey": job.survey.marks or {}}
    named = {**tables["setout"], **tables["survey"]}
    home = {name: table for table, marks in tables.items() for name in marks}
    waiting = taped(named)
    placed: dict[str, Point] = {name: place for name, place in named.items() if name not in waiting}
    given = list(placed)
    findings: list[Finding] = []
    while waiting:
        ready = [name for name, mark in waiting.items() if not waiting.keys() & mark.ties.keys()]
        if not ready:
            raise InputError(fault for problem in _circle(job, waiting, home) for fault in problem.faults)
        for name in ready:
            mark = waiting.pop(name)
            side = mark.side or cast("Side | None", job.survey.side)
            seen = list(mark.ties) if mark.side else given
            try:
                placed[name], told = tied_place(name, mark.ties, placed, side, job.show, seen=seen)
            except InputError as problem:
                raise job.located(problem, (home[name], "marks", name)) from None
            findings += told
    return KnownMarks({name: placed[name] for name in named}, tuple(findings))


def _circle(job: Job, waiting: Mapping[str, TiedMark], home: Mapping[str, str]) -> list[InputError]:
    """A fault for each mark that waits for another that waits for it, each at its line."""
    found = []
    for name, mark in waiting.items():
        others = ", ".join(visible(other) for other in mark.ties if other in waiting)
        fault = Fault(
            "mark-ties-circle",
            f"{visible(name)} is tied from {others}, which in turn waits for it",
            "marks that lead back to given places",
            "give one of these marks its place as [x, y], or tie it from marks that have one",
        )
        found.append(job.located(InputError([fault]), (home[name], "marks", name)))
    return found


# From the tables of a job to what each room asks for; what is left out keeps the default.


def notes_form(job: Job, places: bytes | None = None) -> NotesForm:
    """Say how the notes of this job are to be read; ``places`` are the bytes of its table of places.

    Raises ``InputError`` that points into the job, for marks whose ties give no place.
    """
    table = job.survey.grid
    grid = (
        None if table is None else LetteredGrid(spacing=table.spacing, origin=table.origin, turn=table.turn)
    )
    return NotesForm(
        unit=job.unit,
        columns=job.survey.columns,
        grid=grid,
        decimal=cast(Any, job.survey.decimal),
        survey=survey_form(job.survey, grid, places, job.survey.places or "", _own_marks(job)),
    )


def taped_from(job: Job) -> dict[str, tuple[float, float]]:
    """Give the marks that the stations of this job are taped from; none where they are found otherwise."""
    names = tied_to(job.survey)
    return {name: place for name, place in _own_marks(job).items() if name in names}


def _own_marks(job: Job) -> dict[str, tuple[float, float]]:
    """Give the marks that the survey names, in its order."""
    own = job.survey.marks
    if not own:
        return {}
    places = known_marks(job).places
    return {name: places[name] for name in own}


class PlacedBuilding(NamedTuple):
    """The outline of the building, and what the ties say that it and the marks were taped by."""

    outline: Outline
    findings: tuple[Finding, ...]


def placed_building(job: Job) -> PlacedBuilding:
    """Give the building where it stands; raises ``InputError`` that points into the job."""
    building, marks = job.building, known_marks(job)
    told = marks.findings
    try:
        if building.outline is not None:
            return PlacedBuilding(
                Outline.polygon([building.outline, *building.holes], show=job.show), marks.findings
            )
        assert building.size is not None
        corner, turn = building.corner, building.turn
        if corner is None:
            corner, turn, more = place_of(building, building.size[0], marks.places, turn, job.show)
            told = (*told, *more)
        return PlacedBuilding(Outline.rectangle(corner, building.size, turn, show=job.show), told)
    except InputError as problem:
        raise job.located(problem, ("building",)) from None


def building_outline(job: Job) -> Outline:
    """Give the outline of the building; raises ``InputError`` that points into the job."""
    return placed_building(job).outline


def soil(job: Job) -> Soil:
    """Give the soil that is dug, with the job's own factors."""
    kind = find_soil(job.soil.kind) if job.soil.kind else DEFAULT_SOIL
    return with_factors(kind, job.soil.swell, job.soil.compaction)


def stone(job: Job, words: str | None) -> Gravel:
    """Give a stone by its name, else the usual one, with the supplier's own density where the job has it."""
    kind = find_gravel(words) if words else DEFAULT_GRAVEL
    own = (job.supplier.density or {}).get(kind.key)
    return kind if own is None else kind.with_compacted(own)


def supplier(job: Job) -> Supplier:
    """Give what the yard sells, with the defaults of the user's trade."""
    return job.supplier.resolved(us=job.show.us)


def pad_spec(job: Job) -> PadSpec:
    """Say what is asked of the pad."""
    pad, yard = job.pad, supplier(job)
    given: dict[str, Any] = {
        name: value
        for name, value in pad.model_dump(exclude={"level", "material"}).items()
        if value is not None
    }
    given["material"] = stone(job, pad.material)
    rule, level = (pad.level, None) if isinstance(pad.level, str) else ("given", pad.level)
    return replace(
        PadSpec.usual(us=job.show.us),
        **given,
        soil=soil(job),
        rule=cast(Any, rule),
        level=level,
        board=yard.board.face,
        lift=yard.lift,
    )


def pad_prices(job: Job) -> PadPrices:
    """Give what the parts of a pad cost, as far as the job says.

    Stone is paid by the weighbridge, water and all; a dry kilogram costs what it weighs there.
    """
    prices, spec = job.prices, pad_spec(job)
    own = job.supplier.moisture
    water = spec.material.moisture.value if own is None else own
    gravel = None if prices.gravel is None else prices.gravel * (1.0 + water)
    return PadPrices(dig=prices.dig, haul=prices.haul, gravel=gravel, boards=prices.boards)


def drainage_rule(job: Job) -> DrainageRule:
    """Give the drainage rule in force, with the user's own reach and fall in it."""
    table = job.drainage
    return RULES[table.rule].changed(reach=table.reach, fall=table.fall)


# From the tables of piers and slab, with what the job says of the yard, to what is asked of them.


def pier_spec(job: Job, table: PiersTable) -> PierSpec:
    """Say what is asked of the piers. Raises ``InputError`` for figures that cannot be."""
    spec, rule = table.spec(us=job.show.us), frost_rule(job)
    return replace(spec, frost=replace(spec.frost, depth=rule.depth, eave=rule.eave))


def slab_spec(job: Job, table: SlabTable) -> SlabSpec:
    """Say what is asked of the slab, on the soil that is dug."""
    return replace(table.spec(us=job.show.us), soil=soil(job), frost=frost_rule(job))


def frost_rule(job: Job) -> FrostRule:
    """Give the one rule about frost for all foundations of a job, so that they compare.

    Depth and eaves may stand in the table of piers instead; then they hold for the slab all the same.
    """
    piers = job.piers or PiersTable()
    depth = piers.frost if job.site.frost is None else job.site.frost
    eave = piers.eave if job.building.eave is None else job.building.eave
    return FrostRule(depth=depth) if eave is None else FrostRule(depth=depth, eave=eave)


# Another rule or level than the job's own, to see what it would give without changing the job.


def with_level(job: Job, text: str) -> Job:
    """Put a rule ("balanced") or an elevation in the unit of the job in place of the pad's level.

    Raises ``QuantityError`` for anything else, and for a job that asks for no pad.
    """
    if "pad" not in job.asked:
        raise QuantityError("a level for a pad", "a job with a table [pad]", "add the line [pad] to the job")
    words = " ".join(text.lower().split())
    level: str | float = words
    if words not in LEVEL_RULES:
        try:
            level = parse_length(text, job.unit)
        except LengthError as problem:
            expected = f"an elevation in {job.unit}, or one of: {', '.join(LEVEL_RULES)}"
            raise QuantityError(f"'{visible(text)}'", expected, problem.fix) from None
    other = job.model_copy(update={"pad": job.pad.model_copy(update={"level": level})})
    return other.given_by({("pad", "level"): "--level"})


PRICED = (
    "dig",
    "haul",
    "gravel",
    "earth",
    "boards",
    "forms",
    "film",
    "mesh",
    "concrete",
    "short_load",
    "concrete_bag",
)
"""The keys of ``[prices]`` that a comparison uses."""


SALE_METRIC = ConcreteSale(
    bag=25.0, bag_price=4.70, mix_price=235.0, mix_step=0.25, short_load=2.5, short_charge=120.0
)
"""Concrete as sold in metres: bags of 25 kg, ready-mix by the quarter m³ (memory); invented prices."""


def price_list(job: Job, gravel: Gravel = DEFAULT_GRAVEL) -> PriceList:
    """Give the job's prices over the invented defaults.

    Stone is paid by the weighbridge, water and all, so a dry kilogram costs what it weighs there; ``gravel``
    says how much water that is.
    """
    prices = job.prices
    start = PriceList() if job.show.us else PriceList(concrete=SALE_METRIC)
    own: dict[str, Any] = {
        name: getattr(prices, name)
        for name in ("dig", "haul", "earth", "boards", "forms", "film", "mesh")
        if getattr(prices, name) is not None
    }
    if prices.gravel is not None:
        water = job.supplier.moisture if job.supplier.moisture is not None else gravel.moisture.value
        own["gravel"] = prices.gravel * (1.0 + water)
    sale: dict[str, Any] = {}
    if prices.concrete is not None:
        sale["mix_price"] = prices.concrete
    if prices.short_load is not None:
        sale["short_charge"] = prices.short_load
    if prices.concrete_bag is not None:
        sale["bag_price"], sale["bag"] = prices.concrete_bag
    if prices.date is not None:
        own["date"] = prices.date
    return replace(start, concrete=replace(start.concrete, **sale), invented=bool(prices_missing(job)), **own)


def prices_missing(job: Job) -> tuple[str, ...]:
    """Name the prices that the job does not give and the foundations asked for would need."""
    wanted = {
        "pad": ("dig", "haul", "gravel", "boards"),
        "piers": ("dig", "haul", "gravel"),
        "slab": ("dig", "haul", "gravel", "forms", "film", "mesh", "concrete", "short_load", "concrete_bag"),
    }
    needed = {name for kind in job.asked for name in wanted[kind]}
    if job.slab is not None and job.slab.fill == "earth":
        needed.add("earth")
    return tuple(name for name in PRICED if name in needed and getattr(job.prices, name) is None)
