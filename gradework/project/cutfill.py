"""Plain cut and fill of a yard to level planes: from the bytes of the notes, without a job file."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple, cast

from gradework.earthwork.clip import clip
from gradework.earthwork.likely import PlainSpread, plain_spread
from gradework.earthwork.outline import Outline
from gradework.earthwork.scan import hold_cut_and_fill
from gradework.earthwork.volumes import (
    Amount,
    CutFill,
    balance_level,
    cut_and_fill,
    refuse_far_level,
    volume_in_doubt,
)
from gradework.errors import Faults, Finding, InputError, finding
from gradework.fieldnotes.rows import MOST_FAULTS, is_comment
from gradework.fieldnotes.text import NotesText, read_text
from gradework.ground.gaps import find_gaps
from gradework.ground.surface import build_surface
from gradework.project.job.bounds import LEAST_FLOOR
from gradework.project.stations.notes import noticed, read_stations, unique
from gradework.survey.stations import Stations
from gradework.units.display import Display, counted
from gradework.units.lengths import Unit, parse_length, unit_named
from gradework.units.numbers import LengthError

if TYPE_CHECKING:
    from gradework.project.stations.forms import NotesForm


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
        faults.halt("notes-empty-outline")
    try:
        outline = Outline.polygon(rings, show=show)
    except InputError as problem:
        # what is wrong with the whole outline is told at its first row
        first = lines[0][0]
        raise InputError(replace(f, file=file, line=f.line or first) for f in problem.faults) from None
    named = {
        f"corner {corner}{f' of hole {ring}' if ring else ''}": line
        for ring, own in enumerate(lines)
        for corner, line in enumerate(own, start=1)
    }
    return WrittenOutline(outline, file, named)


_Order = tuple[tuple[Unit, Unit], bool]
"""The units of both columns, and whether y stands first."""


def _rings(
    notes: NotesText, unit: Unit, faults: Faults
) -> tuple[list[list[tuple[float, float]]], list[list[int]]]:
    """The corners, ring after ring, and the line of each."""
    rings: list[list[tuple[float, float]]] = []
    lines: list[list[int]] = []
    order: _Order = (unit, unit), False
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
            faults.halt("file-too-large", variant="outline", most=f"{MOST_CORNERS:,}")
    return rings, lines


def _rows(notes: NotesText, separator: str, faults: Faults) -> Iterator[tuple[int, list[str]]]:
    """Give the number and the cells of each line."""
    for number, line in enumerate(notes.text.split("\n"), start=1):
        if is_comment([line]):
            continue
        try:
            cells = next(csv.reader([line], delimiter=separator, strict=True), [])
        except csv.Error:
            faults.note("outline-row", variant="quote", line=number)
            continue
        yield number, [cell.strip() for cell in cells]


def _header(cells: list[str], unit: Unit) -> _Order | None:
    found = [_HEADER.fullmatch(cell) for cell in cells[:2]]
    names = [m[1].lower() for m in found if m]
    if sorted(names) != ["x", "y"]:
        return None
    units = [(unit_named(m[2]) if m[2] else unit) or unit for m in found if m]
    return (cast("Unit", units[0]), cast("Unit", units[1])), names[0] == "y"


def _corner(
    cells: list[str], line: int, order: _Order, faults: Faults, *, decimal_comma: bool
) -> tuple[float, float] | None:
    if len(cells) < 2 or any(cells[2:]):
        count = len([cell for cell in cells if cell])
        faults.note("outline-row", line=line, values=counted(count, "values"))
        return None
    values, (units, y_first) = [], order
    for cell, unit in zip(cells, units, strict=False):
        try:
            values.append(parse_length(cell, unit, decimal_comma=decimal_comma))
        except LengthError as problem:
            faults.note(
                "outline-row",
                variant="length",
                line=line,
                found=problem.found,
                expected=problem.expected,
                do=problem.fix,
            )
    if len(values) != 2:
        return None
    first, second = values
    return (second, first) if y_first else (first, second)


Level = float | None
"""A level [m], or None for the one where cut equals fill."""


@dataclass(frozen=True)
class Wanted:
    """What is asked of the ground: an outline, or all of the survey (None); levels [m], None for the balance.

    ``written``: the outline as it stands in a file, where it does; ``spread``: whether to tell how sure the
    answers are.
    """

    outline: Outline | None
    levels: Sequence[Level]
    written: WrittenOutline | None = None
    spread: bool = False


@dataclass(frozen=True)
class PlainCutFill:
    """The answers, one for each level asked for, in that order; ``whole``: over all of the survey.

    ``spreads``: how sure each is, where it was asked for.
    """

    outline: Outline
    answers: tuple[CutFill, ...]
    findings: tuple[Finding, ...]
    show: Display
    whole: bool = False
    spreads: tuple[PlainSpread, ...] = ()


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
        outline = asked.outline or Outline.polygon([surface.hull_xy], show=stations.show)
        pieces = clip(surface, outline)
    except InputError as problem:
        raise (problem if asked.written is None else asked.written.located(problem)) from None
    for level in asked.levels:
        if level is not None:
            refuse_far_level(pieces, level, stations.show)
    levels = [balance_level(pieces) if level is None else level for level in asked.levels]
    answers = cut_and_fill(pieces, levels)
    hold_cut_and_fill(surface, outline, answers)
    larger = [max(("cut", one.cut), ("fill", one.fill), key=lambda part: part[1]) for one in answers]
    amounts = [Amount(f"the {name}", volume, pieces.doubt) for name, volume in larger]
    findings = (
        *(() if asked.outline is None else _tiny(outline, stations.show)),
        *surface.findings,
        *find_gaps(surface, outline.rings),
        *volume_in_doubt(surface, pieces, amounts, stations.show),
    )
    return PlainCutFill(
        outline,
        answers,
        unique(findings, stations.findings),
        stations.show,
        asked.outline is None,
        plain_spread(surface, outline, levels) if asked.spread else (),
    )


def _tiny(outline: Outline, show: Display) -> Iterator[Finding]:
    """Tell an outline that holds less than any building: a test pit may, but most often the unit is wrong."""
    if outline.area < LEAST_FLOOR:
        unit = "inches" if show.unit == "in" else show.unit
        yield finding(
            "outline-tiny", "warning", "the outline", outline.area, LEAST_FLOOR,
            area=show.area(outline.area), unit=unit, example="16 ft" if show.us else "4.8 m",
        )  # fmt: skip
