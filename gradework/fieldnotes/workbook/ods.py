"""What the cells of an ods workbook show beside their values, and how far each sheet reaches."""

from __future__ import annotations

from collections.abc import Mapping

from gradework.errors import Faults
from gradework.fieldnotes.workbook.archive import Attributes, walk
from gradework.fieldnotes.workbook.look import MOST_COLUMNS, MOST_ROWS, Look, too_large
from gradework.units.lengths import unit_named

CONTENT = "content.xml"

_CELLS = ("table-cell", "covered-table-cell")
_NUMBERS = ("float", "percentage", "currency")


def look_at_ods(members: Mapping[str, bytes], faults: Faults) -> dict[str, Look]:
    """Look through the sheets, by name; halts on one that reaches too far, or is locked."""
    if b"encryption-data" in members.get("META-INF/manifest.xml", b""):
        faults.halt("workbook-unreadable", variant="password")
    tables = _Tables(faults)
    walk(members[CONTENT], faults, start=tables.start, end=tables.end, text=tables.text)
    return tables.looks


class _Tables:
    """One walk through all sheets. A cell or a row that repeats is written once, with a count."""

    def __init__(self, faults: Faults) -> None:
        self.looks: dict[str, Look] = {}
        self._faults = faults
        self._look = Look()
        self._row = self._column = 0
        self._rows = self._columns = 1
        self._said: Attributes = {}
        self._written: list[str] = []
        self._row_texts: list[tuple[int, str]] = []
        self._deep = 0
        self._remarks = 0

    def start(self, tag: str, said: Attributes) -> None:
        """Begin a sheet, a row or a cell."""
        if tag == "table":
            self._deep += 1
            if self._deep > 1:
                self._faults.halt("workbook-unreadable", reason="it has a table inside a cell")
            self._look = self.looks.setdefault(said.get("name", ""), Look())
            self._row = 0
        elif tag == "table-row":
            self._rows, self._column, self._row_texts = self._count(said, "number-rows-repeated"), 0, []
        elif tag in _CELLS:
            self._said, self._columns = said, self._count(said, "number-columns-repeated")
            self._written.clear()
        elif tag == "annotation":
            self._remarks += 1

    def text(self, words: str) -> None:
        """Gather what the cell shows."""
        if not self._remarks:
            self._written.append(words)

    def end(self, tag: str) -> None:
        """End a sheet, a row or a cell."""
        if tag == "table":
            self._deep -= 1
        elif tag == "annotation":
            self._remarks -= 1
        elif tag == "table-row":
            for row in range(self._row, self._row + self._rows) if self._row_texts else ():
                self._look.texts.update({(row, column): text for column, text in self._row_texts})
            self._row += self._rows
        elif tag in _CELLS:
            self._finish_cell()
            self._column += self._columns

    def _count(self, said: Attributes, key: str) -> int:
        number = said.get(key, "1")
        most = MOST_ROWS if "rows" in key else MOST_COLUMNS
        if not number.isdecimal() or len(number) > 8 or int(number) > most:
            too_large(most + 1 if "rows" in key else self._row + 1, most + 1, self._faults)
        return int(number)

    def _finish_cell(self) -> None:
        """A cell with content: reach to the last of its repeats, and keep what its value does not say."""
        kind, formula = self._said.get("value-type", ""), self._said.get("formula", "")
        written = " ".join("".join(self._written).split())
        if not (kind or formula or written):
            return
        last_row, last_column = self._row + self._rows - 1, self._column + self._columns - 1
        self._look.reach(last_row, last_column, self._faults)
        shown = self._shown(kind, formula, written)
        if shown:
            self._row_texts += [(column, shown) for column in range(self._column, last_column + 1)]

    def _shown(self, kind: str, formula: str, written: str) -> str:
        """The whole text where the value alone would mislead: an error, no result, a percent sign, a unit."""
        if kind == "error" or (formula and written.startswith(("#", "Err:"))):
            return written or "#N/A"
        if formula and not kind and not written:
            return "=" + formula.partition("=")[2]
        if kind == "percentage":
            return written or f"{self._said.get('value', '')} %"
        if kind in _NUMBERS and (unit := _unit_behind(written)):
            return f"{self._said.get('value', '')}{unit}"
        return ""


def _unit_behind(written: str) -> str:
    """The unit of length that stands behind a number as it is shown."""
    behind = written.lstrip("+-−0123456789.,/ \u00a0\u202f")
    return f" {behind}" if behind and unit_named(behind) else ""
