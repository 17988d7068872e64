"""The first rows of any notes: titles, the header, a row of units; and what is said where no header is.

Every reader of notes finds its header here, so that titles, blank rows and several likely rows are met in one
way. The header is the row above the shots that holds the most words known as columns; what stands above it is
a title, and is told. A row of two or more figures is a shot, and no header is looked for below one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import islice
from typing import NamedTuple, NoReturn, cast

from gradework.errors import Faults, Finding, Severity, at_line, finding, visible
from gradework.fieldnotes.headers import (
    Columns,
    Field,
    HeaderUnit,
    columns_given,
    header_words,
    is_figure,
    recognise,
)
from gradework.fieldnotes.rows import blocks, is_blank, is_comment
from gradework.fieldnotes.text import NotesText, Punctuation
from gradework.units.lengths import ColumnUnit, Unit, unit_named
from gradework.units.numbers import plain

MOST_TITLES = 12
"""So many rows of title may stand above the table: a place, a date, a name, the weather, the tools."""

_LOOKED_AT = MOST_TITLES + 4


class Opening(NamedTuple):
    """The first filled rows that are no comments, each with its line."""

    rows: tuple[tuple[int, list[str]], ...]

    def after(self, position: int) -> int:
        """The line after row ``position``, whose cells may hold line breaks."""
        line, cells = self.rows[position]
        return line + 1 + sum(cell.count("\n") for cell in cells)

    def header_at(self, fields: Sequence[Field], *, share: float = 0.5) -> int | None:
        """The position of the row above the shots that holds the most words of ``fields``, the first of
        several; None where there is none. At least ``share`` of its cells are such words."""
        best, most = None, 0
        for at, (_, cells) in enumerate(self.rows[: MOST_TITLES + 1]):
            known = header_words(cells, fields, share=share)
            if known > most:
                best, most = at, known
            figures = sum(1 for cell in cells if is_figure(cell))
            if figures > 1 or (figures and most > 1):
                break
        return best

    @property
    def first_figures(self) -> int | None:
        """The position of the first row with two or more figures; None without one among the first rows."""
        rows = enumerate(self.rows[: MOST_TITLES + 1])
        return next((at for at, (_, cells) in rows if sum(map(is_figure, cells)) > 1), None)

    def title_findings(self, position: int, file: str) -> tuple[Finding, ...]:
        """Tell of the title lines above row ``position``; a warning where a figure stands in one."""
        titles = self.rows[:position]
        if not titles:
            return ()
        words = [visible(" ".join(cell.strip() for cell in cells if cell.strip())) for _, cells in titles]
        lines = [f"{line} ('{title}')" for (line, _), title in zip(titles, words, strict=True)]
        where = at_line(file, titles[0][0])
        figures = any(is_figure(cell) for _, cells in titles for cell in cells)
        variant = "figures" if figures else ""
        if len(lines) > 1:
            variant = "many-figures" if figures else "many"
        listed = lines[0] if len(lines) == 1 else f"{', '.join(lines[:-1])} and {lines[-1]}"
        severity: Severity = "warning" if figures else "note"
        return (finding("notes-title-line", severity, where, variant=variant, lines=listed),)


_UNIT_IN_TITLE = re.compile(
    r"(?:\bin|\bunits?\b:?(?: (?:is|are|of|=))?|[(\[]) ?"
    r"(inches|feet|ft|met(?:re|er)s|cm|mm|(?:centi|milli)met(?:re|er)s)\b"
)


def units_in_titles(opening: Opening, columns: Columns, unit: Unit | None, file: str) -> tuple[Finding, ...]:
    """A warning where a title above the header names another unit than bare numbers were read in."""
    if unit is None or (columns.lengths and not columns.unitless):
        return ()
    for line, cells in opening.rows:
        if line >= columns.line:
            break
        match = _UNIT_IN_TITLE.search(plain(" ".join(cells)).lower())
        said = unit_named(match[1]) if match else None
        if said not in (None, unit) and not (said == "ft" and unit == "ftUS"):
            where, word = at_line(file, line), match[1] if match else ""
            return (finding("notes-unit-in-title", "warning", where, row=line, said=word, unit=unit),)
    return ()


def open_notes(notes: NotesText, punctuation: Punctuation) -> Opening:
    """Cut the first few rows; faults of quoting are left to the reading of the whole file."""
    rows = (
        (line, cells)
        for block in blocks(notes, punctuation, Faults(notes.file), first_line=punctuation.first_line)
        for line, cells in block.rows()
        if not is_blank(cells) and not is_comment(cells)
    )
    return Opening(tuple(islice(rows, _LOOKED_AT)))


class Header(NamedTuple):
    """The columns, the line on which the first row after them may begin, and findings on the way."""

    columns: Columns
    body_line: int
    findings: tuple[Finding, ...] = ()


def find_header(opening: Opening, fields: Sequence[Field], faults: Faults) -> Header | None:
    """Find the header among the first rows.

    A second header row that holds only units (``ft``, ``(m)``) is taken as the units of the columns.
    None if there is no header.
    """
    position = opening.header_at(fields)
    if position is None:
        return None
    line, cells = opening.rows[position]
    columns = recognise(cells, fields, faults, line=line)
    findings = [*opening.title_findings(position, faults.file)]
    if columns.ignored:
        where, told = at_line(faults.file, line), ", ".join(map(visible, columns.ignored))
        findings.append(finding("notes-columns-left-out", "note", where, columns=told))
    units = _unit_row(opening, position + 1, columns, faults)
    if units is not None:
        return Header(units, opening.after(position + 1), tuple(findings))
    return Header(columns, opening.after(position), tuple(findings))


_GOES_WITH = (("ftUS", "ft"), ("ft-in", "ft"))
"""Units of the header that say more than another in the row below, and not another thing."""


def _unit_row(opening: Opening, position: int, columns: Columns, faults: Faults) -> Columns | None:
    """The columns with the units of a row of units below the header, or None if there is no such row.

    Notes `notes-unit-disagrees` where header and row name two units for a column.
    """
    if position >= len(opening.rows):
        return None
    line, cells = opening.rows[position]
    named = [unit_named(cell.strip().strip("()[]")) if cell.strip() else "" for cell in cells]
    if not any(named) or None in named:
        return None
    units = dict(columns.units)
    for name in columns.lengths:
        index = columns.index[name]
        unit = named[index] if index < len(named) else None
        if not unit:
            continue
        known = units.setdefault(name, HeaderUnit(cast("ColumnUnit", unit), cells[index].strip()))
        if known.unit != unit and (known.unit, unit) not in _GOES_WITH:
            said, row = visible(known.text), visible(cells[index].strip())
            faults.note("notes-unit-disagrees", variant="row", line=line, name=name, said=said, row=row)
    return replace(columns, units=units)


def header_or_order(
    opening: Opening, fields: Sequence[Field], order: str | None, faults: Faults, *, first_line: int
) -> Header:
    """The columns from the header or, for a file without one, from the ``order`` that was given.

    A header beside such an order must say the same.
    """
    header = find_header(opening, fields, faults)
    if order is None:
        if header is None:
            no_header(opening, fields, faults)
        return header
    given = columns_given(order, fields, faults)
    faults.raise_if_any()
    if header is None:
        below = opening.first_figures or 0
        titles = opening.title_findings(below, faults.file)
        return Header(given, opening.rows[below][0] if opening.rows else first_line, titles)
    if dict(header.columns.index) != dict(given.index):
        faults.halt("notes-columns-disagree", line=header.columns.line, letters=visible(order))
    return header


def no_rows(faults: Faults, columns: Columns, fields: Sequence[Field]) -> NoReturn:
    """Stop: nothing below the header."""
    example = ",".join(f.name for f in fields if f.name in columns) or ",".join(f.name for f in fields)
    faults.halt("notes-no-shots", line=columns.line, example=example)


# No header. The order of columns is never guessed: x and y would be exchanged, and a yard mirrored.

_LARGE = 1000.0
"""Numbers from here on are coordinates of a system, not of a yard."""

_NAMED = ("station", "x", "y", "elevation", "note")
_OF_SYSTEM = ("name", "northing", "easting", "elevation", "description")


def no_header(opening: Opening, fields: Sequence[Field], faults: Faults) -> NoReturn:
    """Stop: the file is empty, or none of its first rows is a header."""
    example = ",".join(field.name for field in fields)
    if not opening.rows:
        faults.halt("notes-no-shots", variant="empty", example=example)
    at = opening.first_figures or 0
    if at and _names_columns(opening.rows[at - 1][1]):
        at -= 1
    line, cells = opening.rows[at]
    filled = [cell.strip() for cell in cells if cell.strip()]
    if len(filled) == 1 and len(filled[0].split()) > 2:
        faults.halt("notes-no-header", variant="one-cell", line=line, example=example)
    if opening.first_figures is None and len(opening.rows) > MOST_TITLES:
        faults.halt("notes-no-header", variant="titles", line=line, example=example, most=MOST_TITLES)
    if any(is_figure(cell) for cell in filled):
        orders = _orders(cells, {field.name for field in fields})
        if orders is None:
            faults.halt("notes-no-header", variant="figures", line=line, example=example)
        variant, first, second = orders
        faults.halt("notes-no-header", variant=variant, line=line, first=first, second=second)
    words = visible(", ".join(filled))
    faults.halt("notes-no-header", variant="words", line=line, example=example, words=words)


def _names_columns(cells: Sequence[str]) -> bool:
    """Whether a row above figures is a header of words that nobody knows, rather than a title."""
    filled = [cell for cell in cells if cell.strip()]
    return len(filled) > 1 and not any(map(is_figure, filled))


def _orders(cells: Sequence[str], known: set[str]) -> tuple[str, str, str] | None:
    """What a row of figures may be: a wording, and two headers that differ in the order of x and y; None
    where nothing can be said, or the reader wants no places."""
    row = [cell.strip() for cell in cells]
    while row and not row[-1]:
        row.pop()
    if len(row) == 2 and "elevation" in known:
        return "heights", "station,elevation", "station,reading"
    if not {"x", "y", "elevation"} <= known or not 3 <= len(row) <= 6:
        return None
    named = len(row) > 3
    if not all(is_figure(cell) for cell in row[named : named + 3]):
        return None
    bare = [cell.replace(",", "").lstrip("-") for cell in row[named : named + 2]]
    large = all(cell.replace(".", "", 1).isdigit() and float(cell) >= _LARGE for cell in bare)
    names = list(_OF_SYSTEM if large else _NAMED)[0 if named else 1 :]
    names = [*names, *["-"] * len(row)][: len(row)]
    x = 1 if named else 0
    other = [*names[:x], names[x + 1], names[x], *names[x + 2 :]]
    return "coordinates" if large else "places", ",".join(names), ",".join(other)
