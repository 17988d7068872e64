"""From the bytes of any notes to the stations of the yard: spot elevations at once, readings by their way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from gradework.errors import Finding, InputError, counting_rows
from gradework.fieldnotes.spots import read_spots
from gradework.fieldnotes.written import written_form
from gradework.project.stations.forms import NotesForm, PlacesForm, SurveyForm, refuse_unused
from gradework.project.stations.method import method_of
from gradework.survey.from_spots import stations_from_spots
from gradework.survey.stations import Stations
from gradework.units.display import saying


def read_stations(notes: bytes, file: str, form: NotesForm) -> Stations:
    """Read spot elevations or readings into stations; raises ``InputError`` with every fault.

    What is said of them is said as the notes were written, or as ``form.show`` asks.
    """
    with counting_rows(file), saying(form.show or written_form(notes)):
        return _read(notes, file, form)


def _read(notes: bytes, file: str, form: NotesForm) -> Stations:
    readings = form.columns is None and _holds_readings(notes, file, form.survey)
    if form.survey is None and not readings:
        return _spots(notes, file, form)
    # the readers and reductions of readings are many, and spot elevations start without them
    from gradework.project.stations.join import stations_of, with_receiver_and_marks

    survey = form.survey or SurveyForm(places=PlacesForm(grid=form.grid))
    if readings:
        return stations_of(notes, file, survey, unit=form.unit, decimal=form.decimal)
    refuse_unused(survey.readings, "spots", file)
    return with_receiver_and_marks(_spots(notes, file, form), survey)


def _spots(notes: bytes, file: str, form: NotesForm) -> Stations:
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    return stations_from_spots(spots)


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
