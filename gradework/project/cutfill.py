"""Plain cut and fill of a yard to level planes: from the bytes of the notes, without a job file."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, NamedTuple, cast

from gradework.earthwork.clip import clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import (
    Amount,
    CutFill,
    balance_level,
    cut_and_fill,
    refuse_far_level,
    volume_in_doubt,
)
from gradework.errors import Faults, Finding, InputError
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.rows import MOST_FAULTS
from gradework.fieldnotes.spots import read_spots
from gradework.fieldnotes.text import NotesText, read_text
from gradework.ground.gaps import find_gaps
from gradework.ground.surface import build_surface
from gradework.project.stations.method import method_of
from gradework.survey.from_spots import stations_from_spots
from gradework.survey.stations import Stations
from gradework.units.display import Display, counted
from gradework.units.lengths import Unit, parse_length, unit_named
from gradework.units.numbers import LengthError

if TYPE_CHECKING:
    from gradework.project.stations.join import SurveyForm


# What the notes gave rise to is told also when a later stage cannot go on.


@contextmanager
def noticed(findings: Sequence[Finding]) -> Iterator[None]:
    """Let an ``InputError`` raised inside carry ``findings`` too, each once, before its own."""
    try:
        yield
    except InputError as problem:
        raise InputError(problem.faults, dict.fromkeys((*findings, *problem.findings))) from None


# An outline written down as corners: one x,y row each, a blank row before each hole.


class WrittenOutline(NamedTuple):
    """An outline from a file, with the line of each corner by its name."""

    outline: Outline
    file: str
    lines: Mapping[str, int]

    def located(self, problem: InputError) -> InputError:
        """Point the faults that name no place at the row of their corner, or at the first row."""
        first = min(self.lines.values())
        return InputError(
            fault
            if fault.file
            else replace(
                fault, file=self.file, line=self.lines.get(fault.found.partition(" of the ")[0], first)
            )
            for fault in problem.faults
        )


_HEADER = re.compile(r"\s*([xy])\s*(?:[\[(]?\s*([A-Za-z]+)\s*[\])]?)?\s*", re.IGNORECASE)
MOST_CORNERS = 10_000


def read_outline(data: bytes, file: str, *, show: Display) -> WrittenOutline:
    """Read the corners of an outline; bare numbers are in the unit of ``show`` unless a header names one.

    Ring after ring: the outside first, then holes, each after a blank row. A first row ``x,y`` or ``y,x`` is
    a header, rows that begin with # are remarks. Raises ``InputError`` with every fault.
    """
    notes = read_text(data, file)
    faults = Faults(file)
    rings, lines = _rings(notes, show.unit, faults)
    faults.raise_if_any()
    if not rings:
        faults.stop("notes-empty-outline", "no corners", "x,y rows", "write one corner a row")
    try:
        outline = Outline.polygon(rings, show=show)
    except InputError as problem:
        # what is wrong with the whole outline is told at its first row
        for fault in problem.faults:
            faults.add(fault.code, fault.found, fault.expected, fault.fix, line=fault.line or lines[0][0])
        raise InputError(faults.all) from None
    named = {
        f"corner {corner}{f' of hole {ring}' if ring else ''}": line
        for ring, own in enumerate(lines)
        for corner, line in enumerate(own, start=1)
    }
    return WrittenOutline(outline, file, named)


def _rings(
    notes: NotesText, unit: Unit, faults: Faults
) -> tuple[list[list[tuple[float, float]]], list[list[int]]]:
    """The corners, ring after ring, and the line of each."""
    rings: list[list[tuple[float, float]]] = []
    lines: list[list[int]] = []
    order = _Order((unit, unit), y_first=False)
    fresh = True  # the next corner begins a ring
    separator = next((mark for mark in (";", "\t") if mark in notes.text), ",")
    comma = separator == ";" and "," in notes.text  # where the decimal mark is a comma, ; separates
    for number, cells in _rows(notes, separator, faults):
        if not any(cells):
            fresh = True
            continue
        header = _header(cells, unit) if not lines else None
        if header is not None:
            order = header
            continue
        corner = _corner(cells, number, order, faults, decimal_comma=comma)
        if corner is None:
            if len(faults.all) >= MOST_FAULTS:
                faults.raise_if_any()
            continue
        if fresh:
            rings.append([])
            lines.append([])
            fresh = False
        rings[-1].append(corner)
        lines[-1].append(number)
        if sum(map(len, lines)) > MOST_CORNERS:
            faults.stop(
                "file-too-large",
                f"over {MOST_CORNERS} corners",
                "an outline",
                "check that this is the right file",
            )
    return rings, lines


def _rows(notes: NotesText, separator: str, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    """Give the number and the cells of each line."""
    for number, line in enumerate(notes.text.split("\n"), start=1):
        if line.lstrip().startswith("#"):
            continue
        try:
            cells = next(csv.reader([line], delimiter=separator, strict=True), [])
        except csv.Error:
            faults.add("outline-row", "a quote that is not closed", "x,y", "fix the quotes", line=number)
            continue
        yield number, [cell.strip() for cell in cells]


class _Order(NamedTuple):
    """The units of both columns, and whether y stands first."""

    units: tuple[Unit, Unit]
    y_first: bool


def _header(cells: list[str], unit: Unit) -> _Order | None:
    found = [_HEADER.fullmatch(cell) for cell in cells[:2]]
    names = [m[1].lower() for m in found if m]
    if sorted(names) != ["x", "y"]:
        return None
    units = [(unit_named(m[2]) if m[2] else unit) or unit for m in found if m]
    return _Order((cast("Unit", units[0]), cast("Unit", units[1])), y_first=names[0] == "y")


def _corner(
    cells: list[str], line: int, order: _Order, faults: Faults, *, decimal_comma: bool
) -> tuple[float, float] | None:
    if len(cells) < 2 or any(cells[2:]):
        count = len([cell for cell in cells if cell])
        faults.add(
            "outline-row", counted(count, "values"), "two: x,y", "write one corner a row: x,y", line=line
        )
        return None
    values = []
    for cell, unit in zip(cells, order.units, strict=False):
        try:
            values.append(parse_length(cell, unit, decimal_comma=decimal_comma))
        except LengthError as problem:
            faults.add("outline-row", problem.found, problem.expected, problem.fix, line=line)
    if len(values) != 2:
        return None
    first, second = values
    return (second, first) if order.y_first else (first, second)


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
        from gradework.project.stations.join import SurveyForm, stations_of
        from gradework.project.stations.placing import PlacesForm

        survey = form.survey or SurveyForm(places=PlacesForm(grid=form.grid))
        return stations_of(notes, file, survey, unit=form.unit, decimal=form.decimal)
    if form.survey is not None:
        from gradework.project.stations.forms import refuse_unused  # as above

        refuse_unused(form.survey.readings, "spots", file)
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    stations = stations_from_spots(spots)
    if form.survey is None:
        return stations
    from gradework.project.stations.join import with_receiver  # as above
    from gradework.project.stations.marks import stations_on_marks

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
    amounts = [Amount(f"the {name}", volume, pieces.doubt) for name, volume in larger]
    findings = (
        *surface.findings,
        *find_gaps(surface, asked.outline.rings),
        *volume_in_doubt(surface, pieces, amounts, stations.show),
    )
    return PlainCutFill(asked.outline, answers, unique(findings, stations.findings), stations.show)


def unique(*groups: Sequence[Finding]) -> tuple[Finding, ...]:
    """Put findings of several stages together, each once, in the order of the work."""
    return tuple(dict.fromkeys(finding for group in groups for finding in group))
