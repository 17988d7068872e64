"""From notes of readings to elevations, by whichever way of levelling the columns tell.

Nothing here knows where the stations stand; ``placing`` does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from gradework.errors import Faults, Finding, InputError, fault, finding, visible
from gradework.fieldnotes.headers import FIRST
from gradework.fieldnotes.heights import (
    read_differences,
    read_drops,
    read_laser,
    read_steps,
    read_water_pairs,
)
from gradework.fieldnotes.levels import LevelNotes, read_levels
from gradework.fieldnotes.text import DecimalMark
from gradework.project.stations.forms import ReadingsForm, Reduced, reading_sd, way_of
from gradework.project.stations.marks import (
    Row,
    assume,
    benchmarks_of,
    find_datum,
    given_marks,
    refuse_absent,
)
from gradework.project.stations.method import columns_of, method_of
from gradework.survey.joined import turned_on
from gradework.survey.levelling.field_book import FieldBook
from gradework.survey.levelling.given import PegSetup, String
from gradework.survey.levelling.heights import (
    Heights,
    book_heights,
    make_heights,
    on_known_marks,
    one_each,
)
from gradework.survey.levelling.peg_test import straighten, two_peg_test
from gradework.survey.levelling.readings import Reading, Written, read_once
from gradework.survey.levelling.reduce import READING_SD, reduce_levels
from gradework.survey.levelling.string_and_straightedge import (
    below_string,
    step_profile,
)
from gradework.survey.levelling.tolerances import INSTRUMENTS, KINDS_OF_WORK
from gradework.survey.levelling.water_and_laser import below_laser, from_differences, from_pairs
from gradework.survey.levelling.ways import Method, allowance_of
from gradework.survey.stations import Basis, Benchmark
from gradework.survey.steepness import steep_steps
from gradework.units.display import Display
from gradework.units.lengths import Unit

# The ways of levelling without a book, from notes to heights: laser, water level, string, straightedge.


def laser(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    """Reduce readings below a laser's plane of given elevation, which the known marks among them check."""
    notes = read_laser(data, file, unit=unit, decimal=decimal)
    assert form.hi is not None
    known = _read_marks(form, notes.rows, file)
    sd = reading_sd(form, INSTRUMENTS["rotating laser"].reading_sd)
    heights = on_known_marks(
        below_laser(notes.rows, form.hi, file=file, unit=notes.unit, reading_sd=sd),
        known,
        KINDS_OF_WORK[form.work],
        over="1 set-up",
        way="laser",
    )
    readings = [
        Reading(r.station, 0, form.hi - r.reading, Written(r.reading, -1, r.line)) for r in notes.rows
    ]
    return _reduced("laser", heights, readings, notes.findings, benchmarks_of(known, form), sd)


def water_level(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    """Reduce pairs of readings, or differences from one mark, onto all known marks."""
    if any(columns_of(data, file, (FIRST,))):
        return _water_pairs(data, file, form, unit, decimal)
    sd = reading_sd(form, INSTRUMENTS["water level"].reading_sd)
    notes = read_differences(data, file, unit=unit, decimal=decimal)
    datum = find_datum(
        form, notes.rows, what="all differences were measured from", file=file, unit=notes.unit
    )
    heights = from_differences(notes.rows, datum.level, known=datum.known, file=file, unit=notes.unit, sd=sd)
    readings = [
        Reading(d.station, 0, level, Written(d.higher, 1, d.line))
        for d, level in zip(notes.rows, heights.raw.tolist(), strict=True)
    ]
    found = _reduced(
        "water-level", heights, readings, (*notes.findings, *datum.findings), datum.benchmarks(form), sd
    )
    return replace(found, marks=found.marks | {datum.mark})


def _water_pairs(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    sd = reading_sd(form, INSTRUMENTS["water level"].reading_sd)
    pairs = read_water_pairs(data, file, unit=unit, decimal=decimal)
    names = dict.fromkeys(name for p in pairs.rows for name in (p.start, p.end))
    given: Mapping[str, float] = form.known
    assumed: tuple[Finding, ...] = ()
    refuse_absent([*given, *([] if form.benchmark is None else [form.benchmark])], names, file)
    if not given and names:
        mark = form.benchmark or next(iter(names))
        level, told = assume(mark, pairs.unit)
        given, assumed = {mark: level}, (told,)
    first = form.benchmark if form.benchmark in given else None
    known = {**({} if first is None else {first: given[first]}), **given}
    heights = from_pairs(pairs.rows, known, file=file, unit=pairs.unit, reading_sd=sd)
    written = {p.end: Written(p.second, -1, p.line) for p in pairs.rows}
    found = replace(heights, findings=(*pairs.findings, *assumed, *heights.findings))
    marks = benchmarks_of(known, form, "assumed" if assumed else "given")
    return Reduced("water-level", found, None, written, frozenset(known), sd, marks)


def string(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    """Reduce drops below one string or several, which the known marks under them check."""
    notes = read_drops(data, file, unit=unit, decimal=decimal)
    faults = Faults(file)
    strings = {
        name: _string_named(name, form, faults) for name in dict.fromkeys(d.string for d in notes.rows)
    }
    faults.raise_if_any()
    known = _read_marks(form, notes.rows, file)
    sd = reading_sd(form, INSTRUMENTS["line level"].reading_sd)
    parts = [
        below_string(
            [d for d in notes.rows if d.string == name],
            string,
            file=file,
            unit=notes.unit,
            reading_sd=sd,
            name=name,
        )
        for name, string in strings.items()
        if string is not None
    ]
    heights = on_known_marks(
        _together(parts),
        known,
        allowance_of("string"),
        over="1 string",
        way="string",
    )
    number = {name: k for k, name in enumerate(strings)}
    level = dict(zip(heights.lines, heights.raw.tolist(), strict=True))
    readings = [
        Reading(d.station, number[d.string], level[d.line], Written(d.drop, -1, d.line)) for d in notes.rows
    ]
    return _reduced("string", heights, readings, notes.findings, benchmarks_of(known, form), sd)


def _string_named(name: str, form: ReadingsForm, faults: Faults) -> String | None:
    """The string a drop was hung from; a fault where nothing says at which elevation it is."""
    string = form.strings.get(name) if name else form.string
    if string is None and name:
        faults.note("string-ends-missing", variant="named", string=visible(name))
    elif string is None:
        faults.note("string-ends-missing")
    return string


def _together(parts: Sequence[Heights]) -> Heights:
    """The heights of several strings in the order of their lines."""
    rows = sorted((line, part, i) for part, one in enumerate(parts) for i, line in enumerate(one.lines))
    return make_heights(
        [parts[part].names[i] for _, part, i in rows],
        [float(parts[part].elevation[i]) for _, part, i in rows],
        [float(parts[part].sd[i]) for _, part, i in rows],
        [line for line, _, _ in rows],
        file=parts[0].file,
        unit=parts[0].unit,
        findings=[finding for one in parts for finding in one.findings],
    )


def steps(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    """Follow the steps of a straightedge past all known marks."""
    notes = read_steps(data, file, unit=unit, decimal=decimal)
    datum = find_datum(form, notes.rows, what="the steps start on", file=file, unit=notes.unit)
    sd = reading_sd(form, INSTRUMENTS["straightedge"].reading_sd)
    profile = step_profile(notes.rows, datum.level, known=datum.known, step_sd=sd, file=file, unit=notes.unit)
    heights = one_each(profile)
    written = {s.station: Written(s.rise, 1, s.line) for s in notes.rows}
    told = steep_steps(notes.rows, file=file, unit=notes.unit, steep=form.steep)
    found = replace(heights, findings=(*notes.findings, *datum.findings, *heights.findings, *told))
    marks = datum.benchmarks(form)
    return Reduced("steps", found, None, written, frozenset({datum.mark, *datum.known}), sd, marks)


def _read_marks(form: ReadingsForm, rows: Sequence[Row], file: str) -> dict[str, float]:
    """The given elevations, all of stations that were read."""
    known = given_marks(form, rows, file)
    refuse_absent(known, {row.station for row in rows}, file)
    return known


def _reduced(
    method: Method,
    heights: Heights,
    readings: Sequence[Reading],
    findings: tuple[Finding, ...],
    benchmarks: tuple[Benchmark, ...],
    sd: float,
) -> Reduced:
    """What readings from known planes give: one elevation for each name, and the looks that went into it."""
    one = replace(one_each(heights), readings=tuple(readings), findings=(*findings, *heights.findings))
    marks = frozenset(mark.name for mark in benchmarks)
    return Reduced(method, one, None, read_once(readings), marks, sd, benchmarks)


def reduce_readings(
    data: bytes, file: str, form: ReadingsForm, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Reduced:
    """Reduce notes of readings to elevations.

    Raises ``InputError`` with every fault, among them `readings-unknown` where neither the form nor the
    columns tell the way of levelling.
    """
    method = form.method or method_of(data, file)
    if method is None or method == "spots":
        raise InputError([fault("readings-unknown" if method is None else "readings-none", file=file)])
    way = way_of(form, method)
    reduce = {"level": _level, "laser": laser, "water-level": water_level, "string": string, "steps": steps}[
        way
    ]
    found = reduce(data, file, _with_instrument(form), unit, decimal)
    return replace(found, method=form.method or way)


def _with_instrument(form: ReadingsForm) -> ReadingsForm:
    if form.instrument is None and form.method == "laser":
        return replace(form, instrument="rotating laser")
    return form


def _level(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    notes = read_levels(data, file, unit=unit, decimal=decimal, known=form.known)
    if form.pegs is not None:
        notes = _straightened(notes, form.pegs)
    sd = reading_sd(form, READING_SD)
    book = reduce_levels(notes, work=form.work, share=form.share, reading_sd=sd)
    heights = book_heights(book)
    marks = turned_on(notes) | {book.benchmark}
    return Reduced(
        "level", heights, book, read_once(heights.readings), marks, sd, _marks_of(book, heights, marks, form)
    )


def _marks_of(
    book: FieldBook, heights: Heights, marks: frozenset[str], form: ReadingsForm
) -> tuple[Benchmark, ...]:
    """Give the marks of a level book: given ones, the assumed one, and turning points levelled."""
    given = {line.row.station for line in book.lines if line.row.known is not None}
    own: Basis = "assumed" if book.assumed else "given"
    found: list[Benchmark] = []
    for name, level in zip(heights.names, heights.elevation.tolist(), strict=True):
        if name in marks:
            basis: Basis = "given" if name in given else own if name == book.benchmark else "levelled"
            found += benchmarks_of({name: level}, form, basis)
    return tuple(found)


def _straightened(notes: LevelNotes, pegs: tuple[PegSetup, PegSetup]) -> LevelNotes:
    """Take the slope of the line of sight out of every reading whose length is known, and say so."""
    slope = two_peg_test(*pegs)
    show = Display(notes.unit)
    told = finding(
        "sights-straightened",
        "note",
        "the instrument",
        slope,
        way="up" if slope > 0 else "down",
        rise=show.elevation(abs(slope) * 30),
        run=show.distance(30),
    )
    straight = straighten(notes, slope)
    return replace(straight, findings=(*straight.findings, told))
