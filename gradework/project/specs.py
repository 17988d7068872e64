"""From the tables of a job to what each room asks for; what is left out keeps the default of that room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.materials import (
    DEFAULT_GRAVEL,
    DEFAULT_SOIL,
    Gravel,
    Soil,
    find_gravel,
    find_soil,
    with_factors,
)
from gradework.errors import visible
from gradework.fieldnotes.breaklines import read_breaklines
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.workbook.door import PLACES_SHEET, notes_in
from gradework.foundations.buying.money import PAID_FOR
from gradework.foundations.buying.pad_prices import EdgePrices, PadPrices
from gradework.foundations.buying.rates import Conditions, Range, labour
from gradework.foundations.checks.drainage_rules import DrainageRule, rule_in_force
from gradework.foundations.pad.basin import TIGHT
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.piers.spec import FrostRule, PierSpec
from gradework.foundations.prices import PriceList
from gradework.foundations.slab.quantities import ConcreteSale
from gradework.project.job.foundations import METRIC_EAVE, PiersTable, SlabTable
from gradework.project.job.model import LEVEL_RULES, Job
from gradework.project.placed import leans_on, survey_marks
from gradework.project.stations.forms import Breaklines, NotesForm, PlacesForm, ReadingsForm, SurveyForm
from gradework.sitework.supplier import Supplier
from gradework.survey.levelling.given import PegSetup, String
from gradework.units.lengths import parse_length
from gradework.units.numbers import LengthError, QuantityError

if TYPE_CHECKING:
    from gradework.foundations.slab.spec import SlabSpec
    from gradework.project.job.survey import PegTable, StringTable


def notes_form(job: Job, places: bytes | None = None, breaklines: bytes | None = None) -> NotesForm:
    """Say how the notes of this job are to be read; ``places``, ``breaklines`` are the bytes of its tables.

    Raises ``InputError`` that points into the job, for marks whose ties give no place, and what
    ``read_breaklines`` refuses.
    """
    table = job.survey.grid
    grid = None if table is None else LetteredGrid(**table.given(LetteredGrid))
    survey = SurveyForm(
        _readings_form(job),
        _places_form(job, grid, places),
        job.survey.receiver,
        job.survey.height_sd,
        _breaklines(job, breaklines),
    )
    return NotesForm(
        unit=job.unit,
        columns=job.survey.columns,
        grid=grid,
        decimal=cast(Any, job.survey.decimal),
        survey=survey,
        show=job.said,
    )


def _readings_form(job: Job) -> ReadingsForm:
    table = job.survey
    own = table.given(ReadingsForm)
    own |= {
        "string": None if table.string is None else _string(table.string),
        "strings": {name: _string(one) for name, one in (table.strings or {}).items()},
        "pegs": None if table.two_peg is None else (_peg(table.two_peg.first), _peg(table.two_peg.second)),
    }
    return ReadingsForm.asked(own.pop("method", None), **own)


def _string(table: StringTable) -> String:
    return String(**table.given(String))


def _peg(table: PegTable) -> PegSetup:
    return PegSetup(table.a, table.b, table.to_a, table.to_b)


def _places_form(job: Job, grid: LetteredGrid | None, places: bytes | None) -> PlacesForm:
    table = job.survey
    file = table.places or ""
    if places is not None:
        places, file = notes_in(places, file, table.places_sheet, key=PLACES_SHEET)
    own = table.given(PlacesForm)
    own |= {"method": table.placing, "grid": grid, "data": places, "file": file, "marks": survey_marks(job)}
    if table.circle is not None:
        own["clockwise"] = table.circle == "clockwise"
    return PlacesForm(**own)


def _breaklines(job: Job, data: bytes | None) -> Breaklines:
    if data is None:
        return Breaklines()
    text, file = notes_in(data, job.survey.breaklines or "", None)
    found = read_breaklines(text, file, unit=job.unit, decimal=cast(Any, job.survey.decimal))
    return Breaklines(found.rows, file)


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
    return replace(job.supplier.resolved(us=job.show.us), clean=stone(job, "clean"))


def pad_spec(job: Job) -> PadSpec:
    """Say what is asked of the pad."""
    pad, yard = job.pad, supplier(job)
    given = {
        **pad.given(PadSpec),
        "material": stone(job, pad.material),
        "soil": soil(job),
        "level": None,
        "board": yard.board.face,
        "timber": yard.timber.face,
        "lift": yard.lift,
    }
    if isinstance(pad.level, str):
        given["rule"] = pad.level
    elif pad.level is not None:
        given |= {"rule": "given", "level": pad.level}
    return replace(PadSpec.usual(us=job.show.us), **given)


def pad_prices(job: Job) -> PadPrices:
    """Give what the parts of a pad cost, as far as the job says.

    Stone is paid by the weighbridge, water and all; a dry kilogram costs what it weighs there.
    """
    prices = job.prices
    gravel = None if prices.gravel is None else price_list(job).dry(stone(job, job.pad.material))
    return PadPrices(prices.dig, prices.haul, gravel, prices.boards, edge_prices(job))


def edge_prices(job: Job) -> EdgePrices:
    """Give what holds an edge besides its boards; a price that the job does not give is invented."""
    return EdgePrices(**job.prices.given(EdgePrices))


def drainage_rule(job: Job) -> DrainageRule:
    """Give the drainage rule in force, with the user's own reach and fall in it."""
    table = job.drainage
    rule = rule_in_force(table.rule, job.site.country, feet=job.show.us)
    return rule.changed(reach=table.reach, fall=table.fall, paved=bool(table.paved))


# From the tables of piers and slab, with what the job says of the yard, to what is asked of them.


def pier_spec(job: Job, table: PiersTable) -> PierSpec:
    """Say what is asked of the piers. Raises ``InputError`` for figures that cannot be."""
    spec, rule, building = table.spec(us=job.show.us), frost_rule(job), job.building
    told = {name: getattr(building, name) for name in ("wall_height", "overhang", "roof")}
    given = {name: value for name, value in told.items() if value is not None}
    return replace(
        spec,
        frost=replace(rule, dig=spec.frost.dig),
        shell=spec.shell._replace(**given),
        wind=job.site.wind,
        ridge=cast(Any, building.ridge) or spec.ridge,
    )


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
    usual = FrostRule(depth=depth, freestanding=not (job.building.attached or leans_on(job)))
    usual = usual if job.show.us else replace(usual, eave=METRIC_EAVE)
    return usual if eave is None else replace(usual, eave=eave)


# Another rule or level than the job's own, to see what it would give without changing the job.


def with_level(job: Job, text: str) -> Job:
    """Put a rule ("balanced") or an elevation in the unit of the job in place of the pad's level.

    Raises ``QuantityError`` for anything else, and for a job that asks for no pad.
    """
    if "pad" not in job.asked:
        raise QuantityError("a level for a pad", "a job with a table [pad]", "add the line [pad] to the job")
    words = " ".join(text.lower().split())
    words = "balanced" if words == "balance" else words
    level: str | float = words
    if words not in LEVEL_RULES:
        try:
            level = parse_length(text, job.unit)
        except LengthError as problem:
            expected = f"an elevation in {job.unit}, or one of: {', '.join(LEVEL_RULES)}"
            raise QuantityError(f"'{visible(text)}'", expected, problem.fix) from None
    other = job.model_copy(update={"pad": job.pad.model_copy(update={"level": level})})
    return other.given_by({("pad", "level"): "--level"})


def at_level(job: Job, kind: str, level: float) -> Job:
    """Put a level [m] in place of that of the pad or the slab."""
    table = job.pad if kind == "pad" else job.slab or SlabTable()
    return job.model_copy(update={kind: table.model_copy(update={"level": level})})


def rates(job: Job) -> Mapping[str, Range]:
    """Give the hours for one of each thing that is worked, in the soil of the job."""
    loose = stone(job, job.pad.material).to_loose(CompactedVolume(1.0)).m3
    return labour(Conditions(soil(job).key, job.days.way(us=job.show.us), loose))


EDGE_PRICES = ("stakes", "screws", "timbers", "pins", "timber_screws")

PRICED = tuple(key for key in PAID_FOR if key != "blocks")
"""The keys of ``[prices]`` that a comparison uses."""


SALE_METRIC = ConcreteSale(
    bag=25.0, bag_price=4.70, mix_price=235.0, mix_step=0.25, short_load=2.5, short_charge=120.0
)
"""Concrete as sold in metres: bags of 25 kg, ready-mix by the quarter m³ (memory); invented prices."""


def price_list(job: Job) -> PriceList:
    """Give the job's prices over the invented defaults, with the water of its supplier's stone."""
    prices, yard = job.prices, supplier(job)
    start = PriceList() if job.show.us else PriceList(concrete=SALE_METRIC)
    own = prices.given(PriceList)
    own.pop("concrete", None)  # ready-mix by the cubic metre is one part of how concrete is sold
    sale: dict[str, Any] = {}
    if prices.concrete is not None:
        sale["mix_price"] = prices.concrete
    if prices.short_load is not None:
        sale["short_charge"] = prices.short_load
    if prices.concrete_bag is not None:
        sale["bag_price"], sale["bag"] = prices.concrete_bag
    own |= {"concrete": replace(start.concrete, **sale), "edge": edge_prices(job)}
    own |= {"water": yard.moisture, "invented": bool(prices_missing(job))}
    return replace(start, **own)


def prices_missing(job: Job) -> tuple[str, ...]:
    """Name the prices that the job does not give and the foundations asked for would need."""
    wanted = {
        "pad": ("boards", "fabric", "seed"),
        "piers": ("shims", "anchor"),
        "slab": ("forms", "stakes", "film", "mesh", "concrete", "short_load", "concrete_bag"),
    }
    needed = {"dig", "haul", "gravel", "setout_stakes", "string", "lumber", "screws"}
    needed |= {name for kind in job.asked for name in wanted[kind]}
    if job.slab is not None and job.slab.fill == "earth":
        needed.add("earth")
    if "pad" in job.asked and job.pad.edge != "battered":
        needed |= set(EDGE_PRICES)
    if "pad" in job.asked and soil(job).key in TIGHT:
        needed.add("pipe")
    if job.piers is not None and job.piers.cover is not False:
        needed.add("fabric")
    if job.drainage.roof_water is not None:
        needed |= {"gutter", "downspout", "pipe"} if job.drainage.roof_water == "gutter" else {"fabric"}
    if job.floor.order and {"pad", "piers"} & set(job.asked):
        needed.add("floor_sheets")
    if all(roll.price is not None for roll in supplier(job).fabrics):
        needed.discard("fabric")
    return tuple(name for name in PRICED if name in needed and getattr(job.prices, name) is None)
