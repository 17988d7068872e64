"""From the tables of a job to what each room asks for; what is left out keeps the default."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple, cast

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
from gradework.errors import Finding, InputError
from gradework.fieldnotes import LetteredGrid
from gradework.foundations.gravelpad_spec import PadPrices, PadSpec
from gradework.project.job import Job
from gradework.project.known_marks import known_marks
from gradework.project.plain import NotesForm
from gradework.project.survey_table import survey_form, tied_to
from gradework.project.tied_building import place_of
from gradework.sitework.drainage_rules import RULES, DrainageRule
from gradework.sitework.supplier import Supplier


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
