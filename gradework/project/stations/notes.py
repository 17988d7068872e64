"""From the bytes of any notes to the stations of the yard: spot elevations at once, readings by their way."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from gradework.errors import Finding, InputError, counting_rows, fault, finding
from gradework.fieldnotes.plausible import like_readings
from gradework.fieldnotes.spots import SpotNotes, read_spots
from gradework.fieldnotes.written import written_form
from gradework.project.stations.forms import NotesForm, PlacesForm, ReadingsForm, SurveyForm, refuse_unused
from gradework.project.stations.method import method_of
from gradework.survey.from_spots import stations_from_spots
from gradework.survey.levelling.ways import assumed_level
from gradework.survey.stations import Stations
from gradework.survey.steepness import steep_findings
from gradework.units.display import Display
from gradework.units.form import saying
from gradework.units.lengths import METRIC_UNITS


def read_stations(notes: bytes, file: str, form: NotesForm) -> Stations:
    """Read spot elevations or readings into stations; raises ``InputError`` with every fault.

    What is said of them is said as the notes were written, or as ``form.show`` asks.
    """
    with counting_rows(file), saying(form.show or written_form(notes)):
        return _read(notes, file, form)


def _read(notes: bytes, file: str, form: NotesForm) -> Stations:
    in_system = form.survey is not None and form.survey.places.crs is not None
    readings = (form.columns is None or in_system) and _holds_readings(notes, file, form.survey)
    if form.survey is None and not readings:
        return _spots(notes, file, form)
    # the readers and reductions of readings are many, and spot elevations start without them
    from gradework.project.stations.join import stations_of, with_receiver_and_marks

    survey = form.survey or SurveyForm(places=PlacesForm(grid=form.grid))
    if readings:
        survey = replace(survey, places=replace(survey.places, columns=form.columns))
        return stations_of(notes, file, survey, unit=form.unit, decimal=form.decimal)
    refuse_unused(survey.readings, "spots", file)
    return with_receiver_and_marks(_spots(notes, file, form), survey)


def _spots(notes: bytes, file: str, form: NotesForm) -> Stations:
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    survey = form.survey or SurveyForm()
    readings = survey.readings
    stations = stations_from_spots(_elevations_of(spots, readings), *survey.breaklines)
    told = steep_findings(stations, column="elevation", steep=readings.steep)
    return replace(stations, findings=(*stations.findings, *told))


# Figures without a header, of the size of rod readings: read as elevations, a hollow becomes a hump.


def _elevations_of(spots: SpotNotes, form: ReadingsForm) -> SpotNotes:
    """The elevations of ``spots``; where they are said to be readings, below the plane these were read from.

    Raises ``InputError``: `heights-unclear` where nothing says which of the two they are, `heights-headed`
    where the file itself calls them elevations.
    """
    if form.unheaded == "readings":
        if not spots.unheaded:
            raise InputError([fault("heights-headed", file=spots.file)], spots.findings)
        return _below_plane(spots, form)
    if spots.unheaded and form.method is None and like_readings(spots.elevation):
        show = Display(spots.unit)
        low, high = show.rod(min(spots.elevation)), show.rod(max(spots.elevation))
        unclear = fault("heights-unclear", file=spots.file, line=spots.lines[0], low=low, high=high)
        raise InputError([unclear], spots.findings)
    return spots


def _below_plane(spots: SpotNotes, form: ReadingsForm) -> SpotNotes:
    """Readings taken down from one level plane: of given height, over a known station, else assumed."""
    mark = next((i for i, name in enumerate(spots.names) if name in form.known), None)
    if form.hi is not None:
        plane = form.hi
    elif mark is not None:
        plane = form.known[spots.names[mark]] + spots.elevation[mark]
    else:
        plane = assumed_level(metric=spots.unit in METRIC_UNITS)
    variant = "assumed" if form.hi is None and mark is None else ""
    shown = Display(spots.unit).elevation(plane)
    told = finding("readings-below-plane", "note", spots.file, plane, variant=variant, plane=shown)
    below = array("d", (plane - reading for reading in spots.elevation))
    return replace(spots, elevation=below, findings=(*spots.findings, told))


def _holds_readings(notes: bytes, file: str, survey: SurveyForm | None) -> bool:
    """Tell whether these notes are more than spot elevations with their places."""
    if survey is not None:
        if survey.places.crs is not None or survey.places.data is not None:
            return True
        if survey.readings.method is not None:
            return survey.readings.method != "spots"
    return method_of(notes, file) not in (None, "spots")


@contextmanager
def noticed(findings: Sequence[Finding]) -> Iterator[None]:
    """Let an ``InputError`` raised inside carry ``findings`` too, each once, before its own."""
    try:
        yield
    except InputError as problem:
        raise InputError(problem.faults, dict.fromkeys((*findings, *problem.findings))) from None


def unique(*groups: Sequence[Finding]) -> tuple[Finding, ...]:
    """Put findings of several stages together, each once, in the order of the work."""
    return tuple(dict.fromkeys(finding for group in groups for finding in group))
