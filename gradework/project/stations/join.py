"""Readings and places joined into the stations of the yard, with the search for misreadings."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, InputError, counting_rows, fault
from gradework.fieldnotes.columns import chained
from gradework.fieldnotes.coordinates import LATITUDE, LONGITUDE
from gradework.fieldnotes.headers import BREAKLINE, ELEVATION, FIRST, NOTE, STATION, Field, X, Y
from gradework.fieldnotes.parting import part_columns
from gradework.fieldnotes.places import ALONG, ANGLE, MARK, OFFSET, RISE, SIDE, TAPED, columns_of_ties
from gradework.fieldnotes.table import read_table
from gradework.fieldnotes.written import written_form
from gradework.project.stations.forms import PlacesForm, Reduced, SurveyForm, refuse_unused, way_of
from gradework.project.stations.marks import benchmarks_of, on_marks, stations_on_marks
from gradework.project.stations.method import Placing, columns_of, method_of
from gradework.project.stations.placing import find_places, placing_of, refuse_unsaid_receiver, system_places
from gradework.project.stations.reduce import reduce_readings
from gradework.survey.joined import compared_repeats, searched_stations
from gradework.survey.levelling.heights import Heights, make_heights
from gradework.survey.levelling.readings import Written
from gradework.survey.levelling.reduce import READING_SD
from gradework.survey.levelling.water_and_laser import PLAN_COARSE, gnss_height_sd, plan_only
from gradework.survey.levelling.ways import Method
from gradework.survey.repeats import unchecked_heights
from gradework.survey.stations import Stations
from gradework.survey.steepness import steep_findings
from gradework.units.form import Form, saying
from gradework.units.lengths import Unit

if TYPE_CHECKING:
    from gradework.fieldnotes.text import DecimalMark
    from gradework.survey.placing.tape import Places


# Readings and places in one table: which columns are which, and each reader's part of it.


def parted(
    data: bytes, file: str, form: PlacesForm, method: Method | None
) -> tuple[bytes, bytes, PlacesForm]:
    """Give the part of the notes with the readings, the part with x and y beside them, and the form with the
    places of its own table.

    Where the form names the notes themselves as that table, it gets the columns of the places, and the
    readings the others. Spot elevations with x and y are one table for one reader. ``method``: how the
    readings are to be reduced. Raises ``InputError`` for places beside pairs of a water level.
    """
    if form.data is not None and (form.data != data or form.file != file):
        return data, data, form
    if method == "water-level":
        _refuse_pairs(data, file, form)
    if form.data is not None:
        placing = placing_of(form)
        # in a level book the length of a sight is how far the station lies from the circle
        shared = (TAPED,) if placing == "rays" and method == "level" else ()
        readings, places = part_columns(data, file, _fields(placing, form, method), shared=shared)
        return readings, data, replace(form, data=places)
    if method == "spots" or not any(columns_of(data, file, (X,))):
        return data, data, form
    return (*part_columns(data, file, (X, Y)), form)


def _refuse_pairs(data: bytes, file: str, form: PlacesForm) -> None:
    """A row of a table of pairs has two points, so there is no room for the place of one."""
    wide, _ = columns_of_ties(tuple(form.marks))
    places = (X, Y, LONGITUDE, LATITUDE, OFFSET, ANGLE, *wide)
    if not any(columns_of(data, file, (FIRST,))):
        return
    found = dict.fromkeys(columns_of(data, file, places))
    if found or form.data is not None:
        told = f" ({', '.join(found)})" if found else ""
        raise InputError([fault("places-beside-pairs", file=file, columns=told)])


def _fields(placing: Placing, form: PlacesForm, method: Method | None) -> tuple[Field, ...]:
    """The columns that say where a station stands, by the way it was placed.

    A ``rise`` is that of the tape's ends only where it is none of the readings.
    """
    rise = () if method in ("level", "steps") else (RISE,)
    if placing == "offsets":
        return (ALONG, OFFSET)
    if placing == "rays":
        return (ANGLE, *(() if method == "level" else (TAPED,)), *rise)
    if placing == "ties":
        wide, rises = columns_of_ties(tuple(form.marks))
        return (*wide, *rises, MARK, *(() if method == "level" else (TAPED,)), *rise, SIDE)
    return (LONGITUDE, LATITUDE, X, Y)


NO_SURFACE = frozenset({"too-few-shots", "shots-on-a-line"})
"""Faults of stations that are sound one by one."""


@dataclass(frozen=True)
class YardNotes:
    """What notes of readings give: the reduced heights, places if any are known, the stations that have both.

    ``stations`` is None without places, and the error itself where they are sound but make no surface.
    ``findings``: of the heights, of the places and of joining them, and the misreadings that were found.
    """

    reduced: Reduced
    places: Places | None
    stations: Stations | InputError | None
    findings: tuple[Finding, ...]


def read_yard(
    data: bytes,
    file: str,
    form: SurveyForm,
    *,
    unit: Unit | None,
    decimal: DecimalMark | None = None,
    show: Form | None = None,
) -> YardNotes:
    """Reduce readings, find the places, join both; said as ``show`` asks, else as the notes were written.

    Raises ``InputError`` with every fault of the stage that cannot go on.
    """
    with counting_rows(file), saying(show or written_form(data)):
        return _yard(data, file, form, unit=unit, decimal=decimal)


def _yard(
    data: bytes, file: str, form: SurveyForm, *, unit: Unit | None, decimal: DecimalMark | None
) -> YardNotes:
    form = replace(form, places=replace(form.places, decimal=decimal, receiver=form.receiver))
    data, form = _breaklines_apart(data, file, form)
    readings = form.readings
    method = readings.method or method_of(data, file)
    if method is not None:
        refuse_unused(readings, method, file)
    if method == "spots" and readings.unheaded == "readings":
        raise InputError([fault("heights-headed", file=file)])
    if method in (None, "spots") and form.places.data is None and form.places.crs is not None:
        return _system_spots(data, file, form, unit)
    way = None if method is None else way_of(readings, method)
    data, beside, places = parted(data, file, form.places, way)
    if method == "spots" and places.data is not None:
        reduced = _spots(data, file, form, unit, decimal)
    else:
        reduced = reduce_readings(data, file, readings, unit=unit, decimal=decimal)
    heights = reduced.heights
    found = find_places(places, heights.names, beside, file, unit=heights.unit, marks=reduced.marks)
    if found is not None and method != "spots" and form.receiver in PLAN_COARSE:
        found = replace(found, findings=(*found.findings, plan_only(form.receiver or "")))
    if found is None:
        told = (*heights.findings, *_compared(reduced), *unchecked_heights(heights))
        return YardNotes(reduced, None, None, told)
    return _joined(reduced, found, {*reduced.marks, *places.marks}, form)


def _breaklines_apart(data: bytes, file: str, form: SurveyForm) -> tuple[bytes, SurveyForm]:
    """The notes without the column of breaklines, and the form with those that it tells before its own."""
    if not any(columns_of(data, file, (BREAKLINE,))):
        return data, form
    rest, part = part_columns(data, file, (BREAKLINE,))
    fields = (STATION, BREAKLINE, NOTE)
    table = read_table(
        part, file, fields=fields, needed=(STATION.name,), unit="m", decimal=form.places.decimal
    )
    rows = [(table.text(row, STATION.name), table.text(row, BREAKLINE.name)) for row in table.rows]
    # readings of a station one after another are one point; one that comes back later closes its line
    names, cells = zip(*(row for row, _ in groupby(rows)), strict=True)
    own = chained(names, cells)
    return rest, replace(form, breaklines=form.breaklines._replace(points=(*own, *form.breaklines.points)))


def stations_of(
    data: bytes, file: str, form: SurveyForm, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Stations:
    """Give the stations of notes of readings. Raises ``InputError``, also where no places are known."""
    yard = _yard(data, file, form, unit=unit, decimal=decimal)
    if yard.stations is None:
        raise InputError([fault("places-missing", file=file)])
    if isinstance(yard.stations, InputError):
        raise yard.stations
    return yard.stations


def with_receiver_and_marks(stations: Stations, form: SurveyForm) -> Stations:
    """Give spot elevations of a satellite receiver their standard error (a phone's are refused), then put
    them on the known marks."""
    if form.receiver is not None:
        sd = np.full(len(stations), height_sd(form, stations.unit, stations.file))
        sd.setflags(write=False)
        stations = replace(stations, sd=sd)
    return stations_on_marks(stations, form.readings)


def _joined(reduced: Reduced, places: Places, marks: Collection[str], form: SurveyForm) -> YardNotes:
    """Join, and look for misreadings among the stations, with what stands in the notes for each."""
    try:
        stations = searched_stations(
            reduced.heights,
            places,
            reduced.written,
            marks=marks,
            reading_sd=reduced.reading_sd,
            breaklines=form.breaklines.points,
            breaklines_file=form.breaklines.file,
        )
    except InputError as problem:
        if {told.code for told in problem.faults} <= NO_SURFACE:
            # a profile, or a first few shots: worth reducing, though nothing can be planned on them
            heights = reduced.heights
            told = (*heights.findings, *_compared(reduced), *places.findings, *unchecked_heights(heights))
            return YardNotes(reduced, places, problem, told)
        raise
    told = steep_findings(stations, column=_COLUMNS[reduced.method], steep=form.readings.steep)
    # both readers of one table tell of its titles
    told = tuple(dict.fromkeys((*stations.findings, *told)))
    stations = replace(stations, benchmarks=reduced.benchmarks, findings=told)
    return YardNotes(reduced, places, stations, stations.findings)


_COLUMNS: Mapping[Method, str] = {
    "level": "reading",
    "laser": "reading",
    "water-level": "higher",
    "string": "drop",
    "steps": "rise",
    "spots": "elevation",
}
"""The column that heights come from, by the way of levelling."""


def _compared(reduced: Reduced) -> tuple[Finding, ...]:
    """What repeat readings say where no place is known that could tell more."""
    return compared_repeats(reduced.heights, reading_sd=reduced.reading_sd)[0]


def _spots(
    data: bytes, file: str, form: SurveyForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    """Elevations by name, the places in a table of their own."""
    fields = (STATION, ELEVATION, NOTE)
    table = read_table(
        data, file, fields=fields, needed=(STATION.name, ELEVATION.name), unit=unit, decimal=decimal
    )
    rows = [(table.text(r, STATION.name), table.needed_length(r, ELEVATION.name), r.line) for r in table.rows]
    table.faults.raise_if_any()
    known = table.unit
    sd = height_sd(form, known, file)
    heights = make_heights(
        [name for name, _, _ in rows],
        [level or 0.0 for _, level, _ in rows],
        [sd] * len(rows),
        [line for _, _, line in rows],
        file=file,
        unit=known,
        findings=table.findings,
    )
    return _as_read(heights, form)


def _system_spots(data: bytes, file: str, form: SurveyForm, unit: Unit | None) -> YardNotes:
    """Stations in a reference system with their elevations in the same table.

    Elevations beside degrees are refused without the kind of receiver; beside projected coordinates, which
    may come from a total station, a note asks for it.
    """
    asked = form.places
    read = system_places(
        data,
        file,
        asked.crs,
        unit=unit,
        origin=asked.origin,
        decimal=asked.decimal,
        columns=asked.columns,
    )
    levels, places = read.levels, read.places
    if form.receiver is None and any(level is not None for level in levels):
        if read.degrees:
            refuse_unsaid_receiver(read, file)
        places = read.asked
    sd = height_sd(form, places.unit, file)
    have = [i for i, level in enumerate(levels) if level is not None]
    heights = make_heights(
        [places.names[i] for i in have],
        [levels[i] or 0.0 for i in have],
        [sd] * len(have),
        [places.lines[i] for i in have],
        file=file,
        unit=places.unit,
    )
    return _joined(_as_read(heights, form), places, frozenset(), form)


def _as_read(read: Heights, form: SurveyForm) -> Reduced:
    heights = on_marks(read, form.readings)
    written = {
        name: Written(float(z), 1, line, rod=False)
        for name, z, line in zip(heights.names, heights.raw, heights.lines, strict=True)
    }
    checked = frozenset(check.station for check in heights.checks)
    marks = benchmarks_of(form.readings.known, form.readings)
    return Reduced("spots", heights, None, written, checked, READING_SD, marks)


def height_sd(form: SurveyForm, unit: Unit, file: str) -> float:
    """The standard error of satellite heights [m]; NaN where no satellite is in it. Refuses a phone's."""
    if form.receiver is None:
        return math.nan
    return gnss_height_sd(form.receiver, form.height_sd, unit=unit, file=file)
