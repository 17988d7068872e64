"""Plain cut and fill of a yard to level planes: from the bytes of the notes, without a job file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from gradework.earthwork.clip import clip
from gradework.earthwork.cutfill import CutFill, balance_level, cut_and_fill
from gradework.earthwork.far_level import refuse_far_level
from gradework.earthwork.folding import Amount, volume_in_doubt
from gradework.earthwork.outline import Outline
from gradework.errors import Finding, InputError
from gradework.fieldnotes import LetteredGrid, read_spots
from gradework.ground.gaps import find_gaps
from gradework.ground.surface import build_surface
from gradework.project.levelling_way import method_of
from gradework.project.noticed import noticed
from gradework.survey import Stations, stations_from_spots
from gradework.units import Display, Unit

if TYPE_CHECKING:
    from gradework.project.joined import SurveyForm
    from gradework.project.outline_file import WrittenOutline

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
    """What is asked of the ground: an outline, and levels [m], None for the balance.

    ``written``: the outline as it stands in a file, where it does.
    """

    outline: Outline
    levels: Sequence[Level]
    written: WrittenOutline | None = None


@dataclass(frozen=True)
class PlainCutFill:
    """The answers, one for each level asked for, in that order."""

    outline: Outline
    answers: tuple[CutFill, ...]
    findings: tuple[Finding, ...]
    show: Display


def read_stations(notes: bytes, file: str, form: NotesForm) -> Stations:
    """Read spot elevations or readings into stations; raises ``InputError`` with every fault."""
    if form.columns is None and _holds_readings(notes, file, form.survey):
        # the readers and reductions of readings are many, and spot elevations start without them
        from gradework.project.joined import SurveyForm, stations_of
        from gradework.project.placing import PlacesForm

        survey = form.survey or SurveyForm(places=PlacesForm(grid=form.grid))
        return stations_of(notes, file, survey, unit=form.unit, decimal=form.decimal)
    if form.survey is not None:
        from gradework.project.unused_keys import refuse_unused  # as above

        refuse_unused(form.survey.readings, "spots", file)
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    stations = stations_from_spots(spots)
    if form.survey is None:
        return stations
    from gradework.project.joined import with_receiver  # as above
    from gradework.project.known_spots import stations_on_marks

    return stations_on_marks(with_receiver(stations, form.survey), form.survey.readings)


def _holds_readings(notes: bytes, file: str, survey: SurveyForm | None) -> bool:
    """Tell whether these notes are more than spot elevations with their places."""
    if survey is not None:
        if survey.places.crs is not None or survey.places.data is not None:
            return True
        if survey.readings.method is not None:
            return survey.readings.method != "spots"
    return method_of(notes, file) not in (None, "spots")


def plain_cut_and_fill(
    notes: bytes, file: str, form: NotesForm, wanted: Callable[[Display], Wanted]
) -> PlainCutFill:
    """Compute cut and fill against level planes.

    ``wanted`` is called with the unit system once the notes have told it, because what is asked for may be
    written in bare numbers. Raises ``InputError``.
    """
    stations = read_stations(notes, file, form)
    with noticed(stations.findings):
        return _cut_and_fill(stations, wanted(stations.show))


def _cut_and_fill(stations: Stations, asked: Wanted) -> PlainCutFill:
    surface = build_surface(stations)
    try:
        pieces = clip(surface, asked.outline)
    except InputError as problem:
        raise (problem if asked.written is None else asked.written.located(problem)) from None
    for level in asked.levels:
        if level is not None:
            refuse_far_level(pieces, level, stations.show)
    levels = [balance_level(pieces) if level is None else level for level in asked.levels]
    answers = cut_and_fill(pieces, levels)
    larger = [max(("cut", one.cut), ("fill", one.fill), key=lambda part: part[1]) for one in answers]
    amounts = [Amount(f"The {name}", volume, pieces.doubt) for name, volume in larger]
    findings = (
        *surface.findings,
        *find_gaps(surface, asked.outline.rings),
        *volume_in_doubt(surface, pieces, amounts, stations.show),
    )
    return PlainCutFill(asked.outline, answers, unique(findings, stations.findings), stations.show)


def unique(*groups: Sequence[Finding]) -> tuple[Finding, ...]:
    """Put findings of several stages together, each once, in the order of the work."""
    return tuple(dict.fromkeys(finding for group in groups for finding in group))
