"""The first rows of a notes file: where its header is, past title lines, and which rows hold the table."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple

from gradework.errors import Faults, Finding, visible
from gradework.fieldnotes.dialect import Dialect
from gradework.fieldnotes.headers import Columns, Field, HeaderUnit, is_figure, looks_like_header, recognise
from gradework.fieldnotes.rows import blocks, is_blank, is_comment
from gradework.fieldnotes.text import NotesText
from gradework.units import unit_named

MOST_TITLES = 4
"""So many lines of title may stand above the table: a place, a date, a name, the weather."""

_LOOKED_AT = MOST_TITLES + 4


class Opening(NamedTuple):
    """The first filled rows that are no comments, each with its line."""

    rows: tuple[tuple[int, list[str]], ...]

    def after(self, position: int) -> int:
        """The line after row ``position``, whose cells may hold line breaks."""
        line, cells = self.rows[position]
        return line + 1 + sum(cell.count("\n") for cell in cells)

    def below_title(self, is_wanted: Callable[[list[str]], bool]) -> int | None:
        """The position of the first row, or of the first below title lines, if it is as wanted."""
        position = self.first_below_titles
        for at, (_, cells) in enumerate(self.rows[: position + 1]):
            if is_wanted(cells):
                return at
        return None

    @property
    def first_below_titles(self) -> int:
        """The position of the first row that is no title: that has more than one cell, or a figure."""
        for position, (_, cells) in enumerate(self.rows[:MOST_TITLES]):
            filled = [cell for cell in cells if cell.strip()]
            if len(filled) != 1 or is_figure(filled[0]):
                return position
        return min(MOST_TITLES, len(self.rows))

    def title_findings(self, position: int, file: str) -> tuple[Finding, ...]:
        """Tell of the title lines above row ``position``."""
        titles = self.rows[:position]
        if not titles:
            return ()
        shown = [visible(" ".join(cell.strip() for cell in cells if cell.strip())) for _, cells in titles]
        lines = [f"{line} ('{words}')" for (line, _), words in zip(titles, shown, strict=True)]
        if len(lines) == 1:
            advice = f"Line {lines[0]} stands above the table and was taken as a title."
        else:
            listed = f"{', '.join(lines[:-1])} and {lines[-1]}"
            advice = f"Lines {listed} stand above the table and were taken as titles."
        return (Finding("notes-title-line", "note", f"{file} line {titles[0][0]}", None, None, advice),)


def open_notes(notes: NotesText, dialect: Dialect) -> Opening:
    """Cut the first few rows; faults of quoting are left to the reading of the whole file."""
    found: list[tuple[int, list[str]]] = []
    for block in blocks(notes, dialect, Faults(notes.file), first_line=dialect.first_line):
        for line, cells in block.rows():
            if is_blank(cells) or is_comment(cells):
                continue
            found.append((line, cells))
            if len(found) == _LOOKED_AT:
                return Opening(tuple(found))
    return Opening(tuple(found))


class Header(NamedTuple):
    """The columns, the line on which the first row after them may begin, and findings on the way."""

    columns: Columns
    body_line: int
    findings: tuple[Finding, ...] = ()


def find_header(opening: Opening, fields: Sequence[Field], faults: Faults) -> Header | None:
    """Find the header among the first rows: the first one, or the first below title lines.

    A second header row that holds only units (``ft``, ``(m)``) is taken as the units of the columns.
    None if there is no header.
    """
    position = opening.below_title(lambda cells: looks_like_header(cells, fields))
    if position is None:
        return None
    line, cells = opening.rows[position]
    columns = recognise(cells, fields, faults, line=line)
    findings = [*opening.title_findings(position, faults.file)]
    if columns.ignored:
        advice = f"Left out: the columns {', '.join(visible(word) for word in columns.ignored)}."
        findings.append(
            Finding("notes-columns-left-out", "note", f"{faults.file} line {line}", None, None, advice)
        )
    units = _unit_row(opening, position + 1, columns, fields)
    if units is not None:
        return Header(units, opening.after(position + 1), tuple(findings))
    return Header(columns, opening.after(position), tuple(findings))


def _unit_row(opening: Opening, position: int, columns: Columns, fields: Sequence[Field]) -> Columns | None:
    """The columns with the units of a row of units below the header, or None if there is no such row."""
    if position >= len(opening.rows):
        return None
    _, cells = opening.rows[position]
    named = [unit_named(cell.strip().strip("()[]")) if cell.strip() else "" for cell in cells]
    if not any(named) or None in named:
        return None
    lengths = {field.name for field in fields if field.kind == "length"}
    units = dict(columns.units)
    for name, index in columns.index.items():
        unit = named[index] if index < len(named) else None
        if unit and name in lengths and name not in units:
            units[name] = HeaderUnit(unit, cells[index].strip(), index)
    return replace(columns, units=units)
