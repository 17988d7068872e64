"""An outline written down as corners: one x,y row each, a blank row before each hole."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple, cast

from gradework.earthwork.outline import Outline
from gradework.errors import Faults, InputError
from gradework.fieldnotes.text import NotesText, read_text
from gradework.units import Display, LengthError, Unit, counted, parse_length, unit_named


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
            faults.add(fault.code, fault.found, fault.expected, fault.mend, line=fault.line or lines[0][0])
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
            faults.add("outline-row", "a quote that is not closed", "x,y", "mend the quotes", line=number)
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
            faults.add("outline-row", problem.found, problem.expected, problem.mend, line=line)
    if len(values) != 2:
        return None
    first, second = values
    return (second, first) if order.y_first else (first, second)
