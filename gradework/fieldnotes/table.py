"""A table of notes as a whole: header, rows, typed access. For notes of a few thousand rows.

Every reader of field notes but the one for spot elevations (which may be millions) builds on it::

    table = read_table(data, "levels.csv", fields=LEVEL_FIELDS, needed=("station",), unit="ft")
    for row in table.rows:
        backsight = table.length(row, "BS")     # metres; None when the cell is empty
    table.faults.raise_if_any()
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple, NoReturn

from gradework.errors import Faults, Finding, visible
from gradework.fieldnotes.cells import CellReader
from gradework.fieldnotes.dialect import DecimalMark, Dialect, decide_dialect
from gradework.fieldnotes.headers import Columns, Field, agreed_unit, columns_from_letters, is_figure
from gradework.fieldnotes.opening import MOST_TITLES, Header, Opening, find_header, open_notes
from gradework.fieldnotes.rows import MOST_FAULTS, Comments, blocks
from gradework.fieldnotes.text import MOST_ROWS, NotesText, read_text
from gradework.units import Unit


class Row(NamedTuple):
    """One row of notes: its line in the file and one cell for each column of the header."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table of notes. ``rows`` are the filled rows in the order of the file.

    Values are asked for by row and field name; what cannot be read becomes a fault in ``faults``, which
    the reader raises at its end (``table.faults.raise_if_any()``), so that all are shown at once.
    """

    file: str
    unit: Unit | None
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

    def fault(self, row: Row, name: str, *, code: str, found: str, expected: str, mend: str) -> None:
        """Note a fault of the reader's own about the cell of field ``name``."""
        self._reader.fault(row.line, name, code, found, expected, mend)


def read_table(
    data: bytes,
    file: str,
    *,
    fields: Sequence[Field],
    needed: Sequence[str],
    unit: Unit | None,
    columns: str | None = None,
    decimal: DecimalMark | None = None,
) -> Table:
    """Read a table of notes whose columns are recognised by ``fields``.

    ``needed`` are the fields without which the table is useless: a header that lacks one is a fault.
    ``unit`` is the declared unit (None: the header or each cell must say it); ``columns`` gives letters for
    a file without header.

    Raises
    ------
    InputError
        when the text, the dialect or the header cannot be used. Faults of rows and cells are in
        ``Table.faults``: go on reading, then raise them together.
    """
    notes = read_text(data, file)
    faults = Faults(file)
    dialect = decide_dialect(notes, faults, decimal=decimal)
    opening = open_notes(notes, dialect)
    header = header_or_letters(opening, fields, columns, faults, first_line=dialect.first_line)
    require_columns(header.columns, needed, faults)
    declared = agreed_unit(header.columns, fields, unit, faults)
    faults.raise_if_any()
    reader = CellReader(notes, dialect, header.columns, fields, unit=declared, needed=needed, faults=faults)
    rows, comments = _body(notes, dialect, header, reader)
    told = dialect.finding(file)
    findings = (*notes.findings, *((told,) if told else ()), *header.findings, *comments)
    faults.noticed = findings
    if not rows:
        faults.raise_if_any()
        no_rows(faults, header.columns, fields)
    return Table(file, declared, header.columns, rows, faults, findings, reader)


def _body(
    notes: NotesText, dialect: Dialect, header: Header, reader: CellReader
) -> tuple[tuple[Row, ...], tuple[Finding, ...]]:
    rows: list[Row] = []
    comments = Comments(notes)
    for block in blocks(notes, dialect, reader.faults, first_line=header.body_line):
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
        faults.stop(
            "notes-too-many-rows",
            f"more than {MOST_ROWS:,} rows",
            f"at most {MOST_ROWS:,}",
            "thin the shots out",
        )
    if len(faults.all) >= MOST_FAULTS:
        faults.raise_if_any()


def header_or_letters(
    opening: Opening, fields: Sequence[Field], letters: str | None, faults: Faults, *, first_line: int
) -> Header:
    """The columns from the header or, for a file without one, from ``letters``.

    A header beside letters must say the same.
    """
    header = find_header(opening, fields, faults)
    if letters is None:
        if header is None:
            no_header(opening, fields, faults)
        return header
    given = columns_from_letters(letters, fields, faults)
    faults.raise_if_any()
    if header is None:
        return Header(given, opening.rows[0][0] if opening.rows else first_line)
    if dict(header.columns.index) != dict(given.index):
        faults.stop(
            "notes-columns-disagree",
            f"a header that does not say the same as the columns '{letters}'",
            "the header and the given columns to agree",
            "leave columns (or --columns) out, or delete the header line",
            line=header.columns.line,
        )
    return header


def require_columns(columns: Columns, needed: Sequence[str], faults: Faults) -> None:
    """Note a fault that names every needed column the table lacks."""
    missing = [name for name in needed if name not in columns]
    if missing and not any(fault.code == "notes-unknown-column" for fault in faults.all):
        present = ", ".join(columns.index) or "none"
        faults.add(
            "notes-column-missing",
            f"no column for {' and '.join(missing)} (there are: {present})",
            "columns for " + ", ".join(needed),
            "add the column, or mend its name in the header",
            line=columns.line,
        )


def no_rows(faults: Faults, columns: Columns, fields: Sequence[Field]) -> NoReturn:
    """Stop: nothing below the header."""
    words = ",".join(f.name for f in fields if f.name in columns) or ",".join(f.name for f in fields)
    faults.stop(
        "notes-no-shots",
        "no shots below the header",
        f"one row per shot: {words}",
        "fill the table in",
        line=columns.line,
    )


def no_header(opening: Opening, fields: Sequence[Field], faults: Faults) -> NoReturn:
    """Stop: the file is empty, or its first row is no header."""
    example = ",".join(field.name for field in fields)
    if not opening.rows:
        faults.stop(
            "notes-no-shots", "an empty file", f"a header and one row per shot: {example}", "fill it in"
        )
    below = opening.first_below_titles
    titled = 0 < below < len(opening.rows)
    where = "the first row below the titles" if titled else "the first row"
    line, cells = opening.rows[below if titled else 0]
    filled = [cell.strip() for cell in cells if cell.strip()]
    if not titled and len(filled) == 1 and len(filled[0].split()) > 2:
        found, mend = "a first row without separators", "write commas between the cells"
    elif below == MOST_TITLES:
        found, mend = f"{MOST_TITLES} rows of title, and no header below them", "delete all but the header"
    elif any(is_figure(cell) for cell in filled):
        found = f"figures in {where}, so no header"
        mend = f'put {example} above it, or say columns = "PNEZD" or the like in the job (or --columns PNEZD)'
    else:
        found = f"unknown words in {where}: '{visible(', '.join(filled))}'"
        mend = "rename the columns"
    faults.stop("notes-no-header", found, f"a header such as {example}", mend, line=line)
