"""A table of notes as a whole: header, rows, typed access; each fault with its line and column.

Every reader of notes but the one for spot elevations (which may be millions) builds on it::

    table = read_table(data, "levels.csv", fields=LEVEL_FIELDS, needed=("station",), unit="ft")
    for row in table.rows:
        backsight = table.length(row, "BS")     # metres; None when the cell is empty
    table.faults.raise_if_any()
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from gradework.errors import Faults, Finding, visible
from gradework.fieldnotes.headers import Columns, Field, agreed_unit, refuse_uneven, shown_unit, unit_findings
from gradework.fieldnotes.opening import (
    MOST_TITLES,
    Header,
    header_or_order,
    no_rows,
    open_notes,
    units_in_titles,
)
from gradework.fieldnotes.plausible import refuse_impossible
from gradework.fieldnotes.rows import (
    MOST_FAULTS,
    Comments,
    blocks,
    column_of_cell,
    is_blank,
    is_comment,
    is_sheet_error,
)
from gradework.fieldnotes.text import (
    MOST_ROWS,
    DecimalMark,
    NotesText,
    Punctuation,
    decide_punctuation,
    read_text,
)
from gradework.units.display import counted
from gradework.units.lengths import ColumnUnit, Unit, parse_length_exact
from gradework.units.numbers import QuantityError, parse_number

_TOTALS = (
    r"(?i)(?:grand )?(?:totals?|sums?|average|avg|mean|min(?:imum)?|max(?:imum)?|count|median|σ|∑)\b[.:]?"
)
_NOTES = r"(?i)(?:notes?|remarks?|comments?|legend|drawn|surveyed|measured|checked|datum|units?)\b.*"


def is_total(name: str) -> bool:
    """True for a name that stands for a sum or an average, never for a place.

    >>> is_total("Total"), is_total("Grand total:"), is_total("Totem")
    (True, True, False)
    """
    return re.fullmatch(_TOTALS, name.strip()) is not None


def _as_figure(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


_HALVES = Fraction(254, 10_000) / 16 * Fraction(1_000_001, 1_000_000), Fraction(1525, 10_000_000)
"""[m] Half of the last figure that a table of results has, a hair more for what binary figures miss: of an
eighth of an inch, and of a thousandth of a foot."""


def _half_a_figure(cell: str) -> Fraction:
    return _HALVES[0] if "'" in cell or '"' in cell else _HALVES[1]


_NAMES = ("station", "from", "to", "mark")
"""Columns of names of points."""


class CellReader:
    """Reads the cells of one table: ``fit`` a row to the columns, then ask for its values by field name.

    Faults are collected in ``faults``; a value that cannot be read is None. ``needed`` are the fields that
    a row must hold.
    """

    __slots__ = ("columns", "faults", "needed", "notes", "punctuation", "unit")

    def __init__(
        self,
        notes: NotesText,
        punctuation: Punctuation,
        columns: Columns,
        *,
        unit: Unit | None,
        needed: Sequence[str],
        faults: Faults,
    ) -> None:
        self.notes = notes
        self.punctuation = punctuation
        self.columns = columns
        self.unit = unit
        self.needed = tuple(name for name in needed if name in columns)
        self.faults = faults

    def fit(self, line: int, cells: list[str]) -> list[str] | None:
        """Return the row with exactly one cell a column; None for blank rows, comments and faulty rows."""
        if is_blank(cells) or is_comment(cells):
            return None
        if self._is_totals_or_notes(line, cells) or self._names_nothing(line, cells):
            return None
        count = self.columns.count
        held = len(cells)
        if held < count:
            missing = " and ".join(n for n in self.needed if self.columns.index[n] >= held)
            if missing:
                cut, wanted = counted(held, "cells"), counted(count, "cells")
                self.faults.note(
                    "notes-ragged-row", variant="short", line=line, cells=cut, missing=missing, wanted=wanted
                )
                return None
            return cells + [""] * (count - held)
        if not is_blank(cells[count:]) or any(cells[i].strip() for i in self.columns.empty):
            cut, wanted = counted(held, "cells"), counted(count, "cells")
            self.faults.note("notes-ragged-row", variant="long", line=line, cells=cut, wanted=wanted)
            return None
        return cells[:count] if len(cells) > count else cells

    def _is_totals_or_notes(self, line: int, cells: Sequence[str]) -> bool:
        filled = [cell.strip() for cell in cells if cell.strip()]
        first = filled[0]
        readable = sum(1 for name in self.needed if self._holds_something(cells, name))
        if is_total(first) or (re.match(_TOTALS, first) and readable < len(self.needed)):
            totals = True
        elif (len(filled) == 1 and len(self.needed) > 1) or (
            re.fullmatch(_NOTES, first) and readable < len(self.needed)
        ):
            totals = False
        else:
            return False
        row = visible(" ".join(filled))
        self.faults.note("notes-not-a-shot", variant="totals" if totals else "notes", line=line, row=row)
        return True

    def _names_nothing(self, line: int, cells: Sequence[str]) -> bool:
        """Note each name that is an error of the sheet: the row would belong to a point that nobody knows."""
        wrong = [name for name in _NAMES if is_sheet_error(self.text(cells, name))]
        for name in wrong:
            found, column = visible(self.text(cells, name)), self.column(line, self.columns.index[name])
            self.faults.note("notes-cell", variant="name", line=line, column=column, name=name, found=found)
        if len(self.faults.all) >= MOST_FAULTS:
            self.faults.raise_if_any()
        return bool(wrong)

    def _holds_something(self, cells: Sequence[str], name: str) -> bool:
        i = self.columns.index[name]
        return i < len(cells) and bool(cells[i].strip())

    def text(self, cells: Sequence[str], name: str) -> str:
        """The text of a cell without outer spaces; empty if there is no such column."""
        i = self.columns.index.get(name)
        return cells[i].strip() if i is not None and i < len(cells) else ""

    def length(self, line: int, cells: Sequence[str], name: str) -> float | None:
        """The length in a cell [m], rounded once from the exact value; None if it cannot be read.

        Where the row says it again in full, that figure is taken if it rounds to what the cell says: a table
        of results gives back what it was made of, and a cell that somebody changed stays as it was changed.
        """
        index = self.columns.index[name]
        unit = self.columns.unit_of(name, self.unit)
        metres = self.length_at(line, cells[index], index, name, unit)
        if metres is None:
            return None
        again = self.columns.full.get(name)
        full = _as_figure(cells[again]) if again is not None else None
        if full is not None and abs(Fraction(full) - metres) <= _half_a_figure(cells[index]):
            return full
        return float(metres)

    def length_at(
        self, line: int, cell: str, index: int, name: str, unit: ColumnUnit | None
    ) -> Fraction | None:
        """The length in cell ``index`` of a row [m], exact; bare numbers in ``unit``."""
        try:
            return self.exact(cell, unit)
        except QuantityError as error:
            self.refuse(line, name, error, index)
            return None

    def exact(self, cell: str, unit: ColumnUnit | None) -> Fraction:
        """The length in a cell [m]; raises ``QuantityError`` for what is none."""
        mark = self.punctuation
        return parse_length_exact(cell, unit, decimal_comma=mark.decimal_comma, grouped=mark.grouped)

    def number(self, line: int, cells: Sequence[str], name: str) -> float | None:
        """The plain number in a cell, rounded once; None if it cannot be read."""
        index = self.columns.index[name]
        try:
            return float(
                parse_number(
                    cells[index],
                    decimal_comma=self.punctuation.decimal_comma,
                    grouped=self.punctuation.grouped,
                )
            )
        except QuantityError as error:
            self.refuse(line, name, error, index)
            return None

    def refuse(self, line: int, name: str, error: QuantityError, index: int) -> None:
        """Note why cell ``index`` of field ``name`` cannot be read; stop at the first without any unit."""
        column = self.column(line, index)
        if error.cause == "no-unit":
            told = {"line": line, "column": column, "name": name, "found": error.found}
            if name not in self.columns.lengths:
                self.faults.halt("notes-no-unit", variant="grid", **told)  # type: ignore[arg-type]
            heads = " and ".join(f"{one} (ft)" for one in self.columns.unitless)
            self.faults.halt("notes-no-unit", heads=heads, **told)  # type: ignore[arg-type]
        self.faults.note(
            "notes-cell",
            variant="empty" if error.cause == "nothing" else "",
            line=line,
            column=column,
            name=name,
            found=error.found,
            expected=error.expected,
            fix=error.fix,
        )
        if len(self.faults.all) >= MOST_FAULTS:
            self.faults.raise_if_any()

    def column(self, line: int, index: int) -> int:
        """The column (from 1) in which cell ``index`` of ``line`` begins, for a message."""
        return column_of_cell(self.notes, line, index, self.punctuation.separator)


MOST_TABLE_ROWS = 100_000
"""Rows of a table that is read cell by cell; each takes about 0.1 ms."""


class Row(NamedTuple):
    """One row of notes: its line in the file and one cell for each column of the header."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of notes. ``rows`` are the filled rows in the order of the file; ``unit`` is the one to show
    results in: the declared one, else that of the header or of the first length.

    Values are asked for by row and field name; what cannot be read becomes a fault in ``faults``, which
    the reader raises at its end (``table.faults.raise_if_any()``), so that all are shown at once.
    """

    file: str
    unit: Unit
    columns: Columns
    rows: tuple[Row, ...]
    faults: Faults
    findings: tuple[Finding, ...]
    _reader: CellReader = field(repr=False)

    def has(self, name: str) -> bool:
        """True if the table has a column for field ``name``."""
        return name in self.columns

    def text(self, row: Row, name: str) -> str:
        """The text of a cell without outer spaces; empty if there is no such column."""
        return self._reader.text(row.cells, name)

    def length(self, row: Row, name: str) -> float | None:
        """The length in a cell [m]; None if the cell is empty, or (with a fault) not a length."""
        return self._reader.length(row.line, row.cells, name) if self.text(row, name) else None

    def needed_length(self, row: Row, name: str) -> float | None:
        """The length in a cell [m]; an empty cell is a fault too."""
        return self._reader.length(row.line, row.cells, name)

    def number(self, row: Row, name: str) -> float | None:
        """The plain number in a cell; None if the cell is empty, or (with a fault) not a number."""
        return self._reader.number(row.line, row.cells, name) if self.text(row, name) else None

    def column(self, row: Row, name: str) -> int:
        """The column (from 1) in which the cell of field ``name`` begins, for a message."""
        return self._reader.column(row.line, self.columns.index[name])

    def refuse(self, row: Row, name: str, error: QuantityError) -> None:
        """Note why the cell of field ``name`` cannot be read."""
        self._reader.refuse(row.line, name, error, self.columns.index[name])


def read_table(
    data: bytes,
    file: str,
    *,
    fields: Sequence[Field],
    needed: Sequence[str],
    unit: Unit | None,
    columns: str | None = None,
    decimal: DecimalMark | None = None,
    most: int = MOST_TABLE_ROWS,
) -> Table:
    """Read a table of notes whose columns are recognised by ``fields``.

    ``needed`` are the fields without which the table is useless: a header that lacks one is a fault.
    ``unit`` is the declared unit (None: the header or each cell must say it); a column whose header names
    another is read in that. ``columns`` gives the order of the columns of a file without header. A file of
    more than ``most`` rows is refused before it is read.

    Raises
    ------
    InputError
        when the text, the punctuation or the header cannot be used. Faults of rows and cells are in
        ``Table.faults``: go on reading, then raise them together.
    """
    notes = read_text(data, file)
    faults = Faults(file)
    _refuse_long(notes, most, faults)
    punctuation = decide_punctuation(notes, faults, decimal=decimal)
    opening = open_notes(notes, punctuation)
    header = header_or_order(opening, fields, columns, faults, first_line=punctuation.first_line)
    require_columns(header.columns, needed, faults)
    refuse_uneven(header.columns, unit, faults)
    faults.raise_if_any()
    declared = agreed_unit(header.columns, unit)
    reader = CellReader(notes, punctuation, header.columns, unit=declared, needed=needed, faults=faults)
    rows, comments = _body(notes, punctuation, header, reader)
    units = (
        *unit_findings(header.columns, unit, file),
        *units_in_titles(opening, header.columns, unit, file),
    )
    findings = (*notes.findings, *punctuation.findings(file), *header.findings, *units, *comments)
    faults.noticed = findings
    if not rows:
        faults.raise_if_any()
        no_rows(faults, header.columns, fields)
    _refuse_impossible(reader, rows)
    shown = shown_unit(header.columns, unit) or _unit_seen(header.columns, rows)
    return Table(file, shown, header.columns, rows, faults, findings, reader)


_MOST_UNREAD = 20


def _unit_seen(columns: Columns, rows: Sequence[Row]) -> Unit:
    """The unit to show results in where nothing declares one: that of the first length as it is written."""
    cells = (row.cells[columns.index[name]].lower() for row in rows for name in columns.lengths)
    first = next((cell for cell in cells if cell.strip()), "m")
    return "m" if "m" in first else "ft"


def _refuse_impossible(reader: CellReader, rows: Sequence[Row]) -> None:
    """Refuse lengths that no rod, string or water level has; cells that are no lengths are told later."""
    columns = reader.columns
    for name in columns.lengths:
        index, unit = columns.index[name], columns.unit_of(name, reader.unit)
        found: list[tuple[int, int, float]] = []
        unread = 0
        for row in rows:
            if not row.cells[index].strip():
                continue
            try:
                found.append((row.line, index, float(reader.exact(row.cells[index], unit))))
            except QuantityError:
                unread += 1
                if unread > _MOST_UNREAD:
                    return  # a refusal costs a hundred times what a number does
        refuse_impossible(name, found, unit, reader.faults, reader.column)


def _refuse_long(notes: NotesText, most: int, faults: Faults) -> None:
    """A first look: lines that are not empty are counted before any is cut."""
    if notes.text.count("\n") - notes.text.count("\n\n") > most + MOST_TITLES + 1:
        faults.halt("notes-too-many-rows", variant="table", most=f"{most:,}")


def _body(
    notes: NotesText, punctuation: Punctuation, header: Header, reader: CellReader
) -> tuple[tuple[Row, ...], tuple[Finding, ...]]:
    rows: list[Row] = []
    comments = Comments(notes)
    for block in blocks(notes, punctuation, reader.faults, first_line=header.body_line):
        for line, cells in block.rows():
            comments.see(line, cells)
            fitted = reader.fit(line, cells)
            if fitted is not None:
                rows.append(Row(line, tuple(fitted)))
        check_amount(len(rows), reader.faults)
    return tuple(rows), tuple(comments.findings())


def check_amount(rows: int, faults: Faults) -> None:
    """Stop at more rows than any yard has, and at more faults than anyone reads."""
    if rows > MOST_ROWS:
        faults.halt("notes-too-many-rows", most=f"{MOST_ROWS:,}")
    if len(faults.all) >= MOST_FAULTS:
        faults.raise_if_any()


def require_columns(columns: Columns, needed: Sequence[str], faults: Faults) -> None:
    """Note a fault that names every needed column the table lacks."""
    missing = [name for name in needed if name not in columns]
    if missing and not any(fault.code == "notes-unknown-column" for fault in faults.all):
        present = ", ".join(columns.index) or "none"
        faults.note(
            "notes-column-missing",
            line=columns.line,
            missing=" and ".join(missing),
            present=present,
            needed=", ".join(needed),
        )
