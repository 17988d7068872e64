"""Rows and cells to values, one at a time, each fault with its line and column."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from fractions import Fraction

from gradework.errors import Faults, visible
from gradework.fieldnotes.dialect import Dialect
from gradework.fieldnotes.headers import OWN_UNITS, Columns, Field, HeaderUnit
from gradework.fieldnotes.rows import column_of_cell, is_blank, is_comment
from gradework.fieldnotes.text import NotesText
from gradework.units import QuantityError, Unit, parse_length_exact, parse_number

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


class CellReader:
    """Reads the cells of one table: ``fit`` a row to the columns, then ask for its values by field name.

    Faults are collected in ``faults``; a value that cannot be read is None. ``needed`` are the fields that
    a row must hold.
    """

    __slots__ = ("_by_name", "columns", "dialect", "faults", "needed", "notes", "unit")

    def __init__(
        self,
        notes: NotesText,
        dialect: Dialect,
        columns: Columns,
        fields: Iterable[Field],
        *,
        unit: Unit | None,
        needed: Sequence[str],
        faults: Faults,
    ) -> None:
        self.notes = notes
        self.dialect = dialect
        self.columns = columns
        self.unit = unit
        self.needed = tuple(name for name in needed if name in columns)
        self.faults = faults
        self._by_name = {field.name: field for field in fields}

    def fit(self, line: int, cells: list[str]) -> list[str] | None:
        """Return the row with exactly one cell a column; None for blank rows, comments and faulty rows."""
        if is_blank(cells) or is_comment(cells):
            return None
        if self._is_totals_or_notes(line, cells):
            return None
        count = self.columns.count
        if len(cells) < count:
            missing = [name for name in self.needed if self.columns.index[name] >= len(cells)]
            if missing:
                self._ragged(
                    line, f"{len(cells)} cells, with nothing for {' and '.join(missing)}", "fill the row up"
                )
                return None
            return cells + [""] * (count - len(cells))
        if not is_blank(cells[count:]) or any(cells[i].strip() for i in self.columns.empty):
            mend = "put notes or numbers that hold a separator between quotes, and check for a decimal comma"
            self._ragged(line, f"{len(cells)} cells, one of them under no column name", mend)
            return None
        return cells[:count] if len(cells) > count else cells

    def _ragged(self, line: int, found: str, mend: str) -> None:
        expected = f"{self.columns.count} cells" + (" as in the header" if self.columns.line else "")
        self.faults.add("notes-ragged-row", f"a row of {found}", expected, mend, line=line)

    def _is_totals_or_notes(self, line: int, cells: Sequence[str]) -> bool:
        filled = [cell.strip() for cell in cells if cell.strip()]
        first = filled[0]
        readable = sum(1 for name in self.needed if self._holds_something(cells, name))
        if is_total(first) or (re.match(_TOTALS, first) and readable < len(self.needed)):
            kind = "a row of totals"
        elif (len(filled) == 1 and len(self.needed) > 1) or (
            re.fullmatch(_NOTES, first) and readable < len(self.needed)
        ):
            kind = "a row of notes"
        else:
            return False
        self.faults.add(
            "notes-not-a-shot",
            f"{kind}: '{visible(' '.join(filled))}'",
            "one row for each shot",
            "delete the row, or begin it with #",
            line=line,
        )
        return True

    def _holds_something(self, cells: Sequence[str], name: str) -> bool:
        i = self.columns.index[name]
        return i < len(cells) and bool(cells[i].strip())

    def text(self, cells: Sequence[str], name: str) -> str:
        """The text of a cell without outer spaces; empty if there is no such column."""
        i = self.columns.index.get(name)
        return cells[i].strip() if i is not None and i < len(cells) else ""

    def length(self, line: int, cells: Sequence[str], name: str) -> float | None:
        """The length in a cell [m], rounded once from the exact value; None if it cannot be read."""
        index = self.columns.index[name]
        metres = self.length_at(line, cells[index], index, name, self.columns.units.get(name))
        return None if metres is None else float(metres)

    def length_at(
        self, line: int, cell: str, index: int, name: str, said: HeaderUnit | None = None
    ) -> Fraction | None:
        """The length in cell ``index`` of a row [m], exact."""
        unit = self.unit
        if unit is None and said is not None and said.unit in OWN_UNITS:
            unit = said.unit  # type: ignore[assignment]
        try:
            return parse_length_exact(
                cell, unit, decimal_comma=self.dialect.decimal_comma, grouped=self.dialect.grouped
            )
        except QuantityError as error:
            self._refuse(line, index, name, error, no_unit=unit is None)
            return None

    def number(self, line: int, cells: Sequence[str], name: str) -> float | None:
        """The plain number in a cell, rounded once; None if it cannot be read."""
        index = self.columns.index[name]
        try:
            return float(
                parse_number(
                    cells[index], decimal_comma=self.dialect.decimal_comma, grouped=self.dialect.grouped
                )
            )
        except QuantityError as error:
            self._refuse(line, index, name, error, no_unit=False)
            return None

    def _refuse(self, line: int, index: int, name: str, error: QuantityError, *, no_unit: bool) -> None:
        column = self.column(line, index)
        if no_unit and error.found.endswith("a number without a unit"):
            self.faults.stop(
                "notes-no-unit",
                f"{name} {error.found}, and no unit is declared",
                "the unit of the notes, declared once",
                'say units = "ft", "in" or "m" in the job (or --units), or write it in the header: '
                f"{name} (ft)",
                line=line,
                column=column,
            )
        self.faults.add(
            "notes-cell", f"{name} {error.found}", error.expected, error.mend, line=line, column=column
        )

    def column(self, line: int, index: int) -> int:
        """The column (from 1) in which cell ``index`` of ``line`` begins, for a message."""
        return column_of_cell(self.notes, line, index, self.dialect.separator)

    def fault(self, line: int, name: str, code: str, found: str, expected: str, mend: str) -> None:
        """Note a fault of a reader's own about the cell of field ``name`` on ``line``."""
        self.faults.add(
            code, found, expected, mend, line=line, column=self.column(line, self.columns.index[name])
        )
