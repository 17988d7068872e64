"""From notes of readings to elevations: which way of levelling the columns tell, and its reduction.

Nothing here knows where the stations stand; ``placing`` does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from gradework.errors import Fault, Faults, Finding, InputError, visible
from gradework.fieldnotes.dialect import DecimalMark
from gradework.fieldnotes.height_notes import Difference, WaterPair
from gradework.fieldnotes.height_table import (
    read_differences,
    read_drops,
    read_laser,
    read_steps,
    read_water_pairs,
)
from gradework.fieldnotes.level_notes import LevelNotes
from gradework.fieldnotes.level_table import read_levels
from gradework.fieldnotes.reading_columns import FIRST
from gradework.project.levelling_way import Method, columns_of, method_of
from gradework.survey.below_string import String, below_string
from gradework.survey.field_book import FieldBook
from gradework.survey.heights import Heights, book_heights, make_heights
from gradework.survey.instruments import INSTRUMENTS
from gradework.survey.laser import below_laser
from gradework.survey.levels import ASSUMED_FEET, ASSUMED_METRES, READING_SD, reduce_levels
from gradework.survey.looks import Look, Written, read_once
from gradework.survey.rod_survey import turned_on
from gradework.survey.straightedge import step_profile
from gradework.survey.two_peg import PegSetup, straighten, two_peg_test
from gradework.survey.water_level import from_differences, from_pairs
from gradework.units import Display, Unit

SHARES = ("setups", "distance")


@dataclass(frozen=True)
class ReadingsForm:
    """How readings become elevations; what is None is told by the notes or has its default.

    ``known``: given elevations of marks [m]. ``benchmark``: the mark that water level and steps start on.
    ``hi``: elevation of a laser's plane [m]. ``string``: the ends of a string, ``strings`` of
    those that the notes name. ``work``, ``share``: see
    ``survey.levels.reduce_levels``. ``pegs``: the two set-ups of a two-peg test.
    ``instrument``: a name in ``survey.instruments.INSTRUMENTS``.
    """

    method: Method | None = None
    known: Mapping[str, float] = field(default_factory=dict)
    benchmark: str | None = None
    hi: float | None = None
    string: String | None = None
    strings: Mapping[str, String] = field(default_factory=dict)
    instrument: str | None = None
    work: str = "yard"
    share: Literal["setups", "distance"] = "setups"
    pegs: tuple[PegSetup, PegSetup] | None = None


@dataclass(frozen=True)
class Reduced:
    """Elevations by name, and how they came about.

    ``book``: the reduced level book, None for the other ways. ``written``: what the notes say of each
    station, for the search for misreadings. ``marks``: names that need no place of their own.
    ``reading_sd`` [m]: standard error of one reading with the instrument.
    """

    method: Method
    heights: Heights
    book: FieldBook | None
    written: Mapping[str, Written]
    marks: frozenset[str]
    reading_sd: float = READING_SD

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote the notes."""
        return Display(self.heights.unit)


def reduce_readings(
    data: bytes,
    file: str,
    form: ReadingsForm,
    *,
    unit: Unit | None,
    decimal: DecimalMark | None = None,
) -> Reduced:
    """Reduce notes of readings to elevations.

    Raises ``InputError`` with every fault, among them `readings-unknown` where neither the form nor the
    columns tell the way of levelling.
    """
    method = form.method or method_of(data, file)
    if method is None or method == "spots":
        raise InputError([_unknown(file, spots=method == "spots")])
    if form.method is None and method == "level" and form.hi is not None:
        method = "laser"  # the height of the plane was given, so the first reading is no backsight
    if method == "laser" and form.hi is None:
        method = "level"  # one set-up that begins on a mark: reduced, closed and checked as a level book
    reduce = {
        "level": _level,
        "laser": _laser,
        "water-level": _water,
        "string": _string,
        "steps": _steps,
    }[method]
    found = reduce(data, file, _with_instrument(form), unit, decimal)
    return replace(found, method=form.method or method)


def _with_instrument(form: ReadingsForm) -> ReadingsForm:
    if form.instrument is None and form.method == "laser":
        return replace(form, instrument="rotating laser")
    return form


def _reading_sd(form: ReadingsForm, usual: float) -> float:
    return usual if form.instrument is None else INSTRUMENTS[form.instrument].reading_sd


def _level(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    notes = read_levels(data, file, unit=unit, decimal=decimal, known=form.known)
    if form.pegs is not None:
        notes = _straightened(notes, form.pegs)
    sd = _reading_sd(form, READING_SD)
    book = reduce_levels(notes, work=form.work, share=form.share, reading_sd=sd)
    heights = book_heights(book)
    marks = turned_on(notes) | {book.benchmark}
    return Reduced("level", heights, book, read_once(heights.looks), marks, sd)


def _straightened(notes: LevelNotes, pegs: tuple[PegSetup, PegSetup]) -> LevelNotes:
    """Take the slope of the line of sight out of every reading whose length is known, and say so."""
    slope = two_peg_test(*pegs).slope
    show = Display(notes.unit)
    way = "up" if slope > 0 else "down"
    advice = (
        f"By the two-peg test the line of sight runs {way} by {show.elevation(abs(slope) * 30)} in "
        f"{show.distance(30)}. Readings whose sight length is noted are freed of that, here and in the book."
    )
    told = Finding("sights-straightened", "note", "the instrument", slope, None, advice)
    straight = straighten(notes, slope)
    return replace(straight, findings=(*straight.findings, told))


def _laser(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    notes = read_laser(data, file, unit=unit, decimal=decimal)
    assert form.hi is not None
    sd = _reading_sd(form, INSTRUMENTS["rotating laser"].reading_sd)
    heights = below_laser(
        notes.rows,
        form.hi,
        file=file,
        unit=notes.unit,
        reading_sd=sd,
    )
    looks = [Look(r.station, 0, form.hi - r.reading, Written(r.reading, -1, r.line)) for r in notes.rows]
    return _reduced("laser", heights, looks, notes.findings, frozenset(form.known), sd)


def _water(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    sd = _reading_sd(form, INSTRUMENTS["water level"].reading_sd)
    if any(columns_of(data, file, (FIRST,))):
        pairs = read_water_pairs(data, file, unit=unit, decimal=decimal)
        mark = form.benchmark or next(iter(form.known), pairs.rows[0].start)
        known, assumed = _start(form, mark, pairs.unit)
        heights = from_pairs(
            pairs.rows, {**form.known, mark: known}, file=file, unit=pairs.unit, reading_sd=sd
        )
        written = {p.end: Written(p.second, -1, p.line) for p in pairs.rows if isinstance(p, WaterPair)}
        found = _one_each(heights, (*pairs.findings, *assumed))
        return Reduced("water-level", found, None, written, frozenset({mark, *form.known}))
    notes = read_differences(data, file, unit=unit, decimal=decimal)
    mark = form.benchmark or next(iter(form.known), "the mark")
    known, assumed = _start(form, mark, notes.unit)
    heights = from_differences(notes.rows, known, file=file, unit=notes.unit, sd=sd)
    rows = [d for d in notes.rows if isinstance(d, Difference)]
    looks = [Look(d.station, 0, known + d.higher, Written(d.higher, 1, d.line)) for d in rows]
    return _reduced(
        "water-level", heights, looks, (*notes.findings, *assumed), frozenset({mark, *form.known}), sd
    )


def _string(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    notes = read_drops(data, file, unit=unit, decimal=decimal)
    faults = Faults(file)
    strings = {
        name: _string_named(name, form, faults) for name in dict.fromkeys(d.string for d in notes.rows)
    }
    faults.raise_if_any()
    sd = _reading_sd(form, INSTRUMENTS["line level"].reading_sd)
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
    heights = _together(parts)
    number = {name: k for k, name in enumerate(strings)}
    level = dict(zip(heights.lines, heights.elevation.tolist(), strict=True))
    looks = [
        Look(d.station, number[d.string], level[d.line], Written(d.drop, -1, d.line)) for d in notes.rows
    ]
    return _reduced("string", heights, looks, notes.findings, frozenset(form.known), sd)


def _string_named(name: str, form: ReadingsForm, faults: Faults) -> String | None:
    """The string a drop was hung from; a fault where nothing says at which elevation it is."""
    string = form.strings.get(name) if name else form.string
    if string is None and name:
        faults.add(
            "string-ends-missing",
            f"drops below the string {visible(name)}, whose elevation is not given",
            "the elevation of each string at both ends",
            f"say strings.{visible(name)} = {{ first = 101.2, second = 101.2 }} under [survey], or "
            f"--string {visible(name)}=101.2,101.2",
        )
    elif string is None:
        faults.add(
            "string-ends-missing",
            "drops below a string whose elevation is not given",
            "the elevation of the string at both ends",
            "say string = { first = 101.2, second = 101.2 } under [survey], or --string 101.2,101.2",
        )
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


def _steps(
    data: bytes, file: str, form: ReadingsForm, unit: Unit | None, decimal: DecimalMark | None
) -> Reduced:
    notes = read_steps(data, file, unit=unit, decimal=decimal)
    last = notes.rows[-1].station
    mark = form.benchmark or next((name for name in form.known if name != last), "the start")
    start, assumed = _start(form, mark, notes.unit)
    sd = _reading_sd(form, INSTRUMENTS["straightedge"].reading_sd)
    profile = step_profile(notes.rows, start, end=form.known.get(last), step_sd=sd, file=file)
    heights = make_heights(
        profile.names,
        profile.elevation.tolist(),
        profile.sd.tolist(),
        profile.lines,
        file=file,
        unit=notes.unit,
    )
    written = {s.station: Written(s.rise, 1, s.line) for s in notes.rows}
    findings = (*notes.findings, *assumed)
    return Reduced("steps", _one_each(heights, findings), None, written, frozenset({mark, *form.known}))


def _start(form: ReadingsForm, mark: str, unit: Unit) -> tuple[float, tuple[Finding, ...]]:
    """The elevation of the mark everything hangs on: given, or assumed and said so."""
    if mark in form.known:
        return form.known[mark], ()
    level = ASSUMED_METRES if unit == "m" else ASSUMED_FEET
    shown = Display(unit).elevation(level)
    advice = (
        f"{visible(mark)} was given no elevation and is taken as {shown}: every elevation is above or below "
        "that mark, not above the sea. Keep the mark."
    )
    return level, (Finding("benchmark-assumed", "note", visible(mark), level, None, advice),)


def _reduced(
    method: Method,
    heights: Heights,
    looks: Sequence[Look],
    findings: tuple[Finding, ...],
    marks: frozenset[str],
    reading_sd: float,
) -> Reduced:
    """What readings from known planes give: one elevation for each name, and the looks that went into it."""
    one = replace(_one_each(heights, findings), looks=tuple(looks))
    return Reduced(method, one, None, read_once(looks), marks, reading_sd)


def _one_each(heights: Heights, findings: tuple[Finding, ...]) -> Heights:
    """One elevation for each name: the mean where a station was read more than once."""
    order = dict.fromkeys(heights.names)
    if len(order) == len(heights.names):
        return replace(heights, findings=(*findings, *heights.findings))
    rows = {name: [i for i, other in enumerate(heights.names) if other == name] for name in order}
    level = [float(heights.elevation[i].mean()) for i in rows.values()]
    sd = [float(heights.sd[i].mean()) / len(i) ** 0.5 for i in rows.values()]
    lines = [heights.lines[i[0]] for i in rows.values()]
    return make_heights(
        list(order),
        level,
        sd,
        lines,
        file=heights.file,
        unit=heights.unit,
        findings=(*findings, *heights.findings),
    )


def _unknown(file: str, *, spots: bool) -> Fault:
    if spots:
        return Fault(
            "readings-none",
            "elevations, not readings",
            "readings: BS, IS and FS, or reading, drop, higher, or run and rise",
            "there is nothing to reduce: plan and cutfill take these notes as they are",
            file,
        )
    return Fault(
        "readings-unknown",
        "columns that tell no way of levelling",
        "station with BS, IS and FS, or with reading, drop, higher, or run and rise",
        "name the columns in the first row, or say the method",
        file,
    )
