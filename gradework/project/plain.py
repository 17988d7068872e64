"""Plain cut and fill of a yard to level planes: from the bytes of the notes, without a job file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from gradework.earthwork.clip import clip
from gradework.earthwork.cutfill import CutFill, balance_level, cut_and_fill
from gradework.earthwork.far_level import refuse_far_level
from gradework.earthwork.outline import Outline
from gradework.errors import Finding
from gradework.fieldnotes import LetteredGrid, read_spots
from gradework.ground.gaps import find_gaps
from gradework.ground.surface import build_surface
from gradework.project.joined import SurveyForm, holds_readings, stations_of, with_receiver
from gradework.project.placing import PlacesForm
from gradework.survey import Stations, stations_from_spots
from gradework.units import Display, Unit

Level = float | None
"""A level [m], or None for the one where cut equals fill."""


@dataclass(frozen=True)
class NotesForm:
    """How notes are to be read where they do not say so themselves."""

    unit: Unit | None = None
    columns: str | None = None
    grid: LetteredGrid | None = None
    decimal: Literal[".", ","] | None = None
    survey: SurveyForm | None = None


@dataclass(frozen=True)
class Wanted:
    """What is asked of the ground: an outline, and levels [m], None for the balance."""

    outline: Outline
    levels: Sequence[Level]


@dataclass(frozen=True)
class PlainCutFill:
    """The answers, one for each level asked for, in that order."""

    outline: Outline
    answers: tuple[CutFill, ...]
    findings: tuple[Finding, ...]
    show: Display


def read_stations(notes: bytes, file: str, form: NotesForm) -> Stations:
    """Read spot elevations or readings into stations; raises ``InputError`` with every fault."""
    survey = form.survey or SurveyForm(places=PlacesForm(grid=form.grid))
    if form.columns is None and holds_readings(notes, file, survey):
        return stations_of(notes, file, survey, unit=form.unit, decimal=form.decimal)
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    return with_receiver(stations_from_spots(spots), survey)


def plain_cut_and_fill(
    notes: bytes, file: str, form: NotesForm, wanted: Callable[[Display], Wanted]
) -> PlainCutFill:
    """Compute cut and fill against level planes.

    ``wanted`` is called with the unit system once the notes have told it, because what is asked for may be
    written in bare numbers. Raises ``InputError``.
    """
    stations = read_stations(notes, file, form)
    asked = wanted(stations.show)
    surface = build_surface(stations)
    pieces = clip(surface, asked.outline)
    for level in asked.levels:
        if level is not None:
            refuse_far_level(pieces, level, stations.show)
    levels = [balance_level(pieces) if level is None else level for level in asked.levels]
    findings = (*surface.findings, *find_gaps(surface, asked.outline.rings))
    return PlainCutFill(
        asked.outline, cut_and_fill(pieces, levels), unique(findings, stations.findings), stations.show
    )


def unique(*groups: Sequence[Finding]) -> tuple[Finding, ...]:
    """Put findings of several stages together, each once, in the order of the work."""
    return tuple(dict.fromkeys(finding for group in groups for finding in group))
