"""From the bytes of any notes to the stations of the yard: spot elevations at once, readings by their way."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, InputError, fault, finding
from gradework.fieldnotes.plausible import like_readings
from gradework.fieldnotes.spots import SpotNotes, read_spots
from gradework.fieldnotes.written import written_form
from gradework.project.stations.method import method_of
from gradework.survey.from_spots import stations_from_spots
from gradework.survey.stations import Stations
from gradework.survey.steepness import steep_findings
from gradework.units.display import Display, saying
from gradework.units.lengths import METRIC_UNITS

if TYPE_CHECKING:
    from gradework.project.stations.forms import NotesForm, SurveyForm


def read_stations(notes: bytes, file: str, form: NotesForm) -> Stations:
    """Read spot elevations or readings into stations; raises ``InputError`` with every fault.

    What is said of them is said as the notes were written, or as ``form.show`` asks.
    """
    with saying(form.show or written_form(notes)):
        return _read(notes, file, form)


def _read(notes: bytes, file: str, form: NotesForm) -> Stations:
    survey = form.survey
    in_system = survey is not None and survey.places.crs is not None
    if (form.columns is None or in_system) and _holds_readings(notes, file, survey):
        # the readers and reductions of readings are many, and spot elevations start without them
        from gradework.project.stations.forms import PlacesForm, SurveyForm
        from gradework.project.stations.join import stations_of

        survey = survey or SurveyForm(places=PlacesForm(grid=form.grid))
        survey = replace(survey, places=replace(survey.places, columns=form.columns))
        return stations_of(notes, file, survey, unit=form.unit, decimal=form.decimal)
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    spots = _heights_of(spots, survey)
    if survey is not None and survey.readings.unheaded != "readings":
        from gradework.project.stations.forms import refuse_unused  # as above

        refuse_unused(survey.readings, "spots", file)
    stations = stations_from_spots(spots)
    told = steep_findings(stations, column="elevation", steep=survey is not None and survey.steep)
    stations = replace(stations, findings=(*stations.findings, *told))
    if survey is None:
        return stations
    from gradework.project.stations.join import with_receiver  # as above
    from gradework.project.stations.marks import stations_on_marks

    return stations_on_marks(with_receiver(stations, survey), survey.readings)


# Figures without a header, of the size of rod readings: read as elevations, a hollow becomes a hump.


def _heights_of(spots: SpotNotes, survey: SurveyForm | None) -> SpotNotes:
    """The elevations of ``spots``; of readings without a header, below the plane they were read from.

    Raises ``InputError`` (`heights-unclear`) where nothing says which of the two they are.
    """
    said = None if survey is None else survey.readings.unheaded
    if survey is None or said != "readings":
        if spots.unheaded and said is None and like_readings(spots.elevation):
            show = Display(spots.unit)
            low, high = show.rod(min(spots.elevation)), show.rod(max(spots.elevation))
            raise InputError(
                [fault("heights-unclear", file=spots.file, line=spots.lines[0], low=low, high=high)],
                spots.findings,
            )
        return spots
    if not spots.unheaded:
        raise InputError([fault("heights-headed", file=spots.file)])
    from gradework.survey.levelling.reduce import ASSUMED_FEET, ASSUMED_METRES  # as above

    hi, known = survey.readings.hi, survey.readings.known
    mark = next((i for i, name in enumerate(spots.names) if name in known), None)
    assumed = ASSUMED_METRES if spots.unit in METRIC_UNITS else ASSUMED_FEET
    if hi is None:
        hi = assumed if mark is None else known[spots.names[mark]] + spots.elevation[mark]
    plane = Display(spots.unit).elevation(hi)
    variant = "assumed" if survey.readings.hi is None and mark is None else ""
    told = finding("readings-below-plane", "note", spots.file, hi, variant=variant, plane=plane)
    below = array("d", (hi - reading for reading in spots.elevation))
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
