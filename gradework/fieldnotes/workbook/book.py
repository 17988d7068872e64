"""The sheets of a workbook, each as text: a line for each row, a tab between two cells."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from gradework.errors import Faults, visible
from gradework.fieldnotes.workbook.look import MOST_CELLS, Look

if TYPE_CHECKING:
    from python_calamine import CalamineWorkbook

_DIGITS = 15
"""A spreadsheet counts with so many; what stands behind them is rounding."""

_UNKNOWN = "a part of it is not what spreadsheets write"


class SheetText(NamedTuple):
    """The text of a sheet (empty where nothing is on it), and how many empty columns stood to its left."""

    name: str
    text: str
    skipped: int


class Book:
    """An open workbook.

    ``names`` of its sheets of cells, in their order; ``shown``: those that are not hidden, or all where every
    one is.
    """

    def __init__(self, data: bytes, looks: Mapping[str, Look], faults: Faults) -> None:
        cells = sum(look.rows * look.columns for look in looks.values())
        if cells > MOST_CELLS:  # some kinds of workbook are read with all their sheets
            faults.halt("workbook-too-large", variant="book", cells=f"{cells:,}", most=f"{MOST_CELLS:,}")
        self._looks = looks
        self._faults = faults
        self._book = _opened(data, faults)
        self.names, self.shown = _names(self._book)

    def text(self, name: str) -> SheetText:
        """One sheet as text."""
        from python_calamine import CalamineError  # only workbooks need it

        try:
            rows = self._book.get_sheet_by_name(name).to_python(skip_empty_area=False)
        except (CalamineError, ValueError) as problem:
            _unreadable(problem, self._faults)
        except BaseException as problem:
            _refuse_panic(problem, self._faults)
            raise
        return _as_text(name, rows, self._looks.get(name, Look()))


def _opened(data: bytes, faults: Faults) -> CalamineWorkbook:
    from python_calamine import CalamineError, CalamineWorkbook, PasswordError  # only workbooks need it

    try:
        return CalamineWorkbook.from_filelike(io.BytesIO(data))
    except PasswordError:
        faults.halt("workbook-unreadable", variant="password")
    except (CalamineError, OSError, ValueError) as problem:
        _unreadable(problem, faults)
    except BaseException as problem:
        _refuse_panic(problem, faults)
        raise


def _names(book: CalamineWorkbook) -> tuple[list[str], list[str]]:
    """The sheets of cells, charts left out, and those of them that are not hidden (all where each is)."""
    from python_calamine import SheetTypeEnum, SheetVisibleEnum  # as above

    sheets = [one for one in book.sheets_metadata if one.typ == SheetTypeEnum.WorkSheet]
    names = [one.name for one in sheets]
    return names, [one.name for one in sheets if one.visible == SheetVisibleEnum.Visible] or names


def _unreadable(problem: Exception, faults: Faults) -> NoReturn:
    said = (str(problem).splitlines() or [_UNKNOWN])[0]
    faults.halt("workbook-unreadable", reason=visible(said, 100))


def _refuse_panic(problem: BaseException, faults: Faults) -> None:
    """The reader ends in a way of its own where it meets what its makers did not think of."""
    if type(problem).__name__ == "PanicException":
        faults.halt("workbook-unreadable", reason=_UNKNOWN)


def _as_text(name: str, rows: Sequence[Sequence[object]], look: Look) -> SheetText:
    """The rows with each cell as it is shown; empty columns left of the table are left out."""
    written = [
        [_shown(value, look.behind.get((r, c), "")) for c, value in enumerate(row)]
        for r, row in enumerate(rows)
    ]
    for (r, c), text in look.texts.items():  # some stand beyond the last value
        while len(written) <= r:
            written.append([])
        written[r] += [""] * (c + 1 - len(written[r]))
        written[r][c] = _cleaned(text)
    width = max(map(len, written), default=0)
    filled = [c for c in range(width) if any(len(row) > c and row[c] for row in written)]
    if not filled:
        return SheetText(name, "", 0)
    first, after = filled[0], filled[-1] + 1
    lines = [_line(row[first:after], after - first) for row in written]
    while not lines[-1]:
        lines.pop()
    return SheetText(name, "\n".join(lines) + "\n", first)


def _line(cells: Sequence[str], count: int) -> str:
    """A row with a cell for each column; nothing at all where it is blank."""
    if not any(cells):
        return ""
    padded = [*cells, *[""] * (count - len(cells))]
    return "\t".join('"' + cell.replace('"', '""') + '"' if '"' in cell else cell for cell in padded)


def _shown(value: object, behind: str) -> str:
    """A value as its cell shows it; numbers with their own digits, whatever a format rounds them to.

    A date comes as 2026-05-03: where a length should be, it is refused as one.
    """
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        if behind == "%":
            return _number(float(value) * 100.0) + " %"
        return _number(float(value)) + behind
    if isinstance(value, datetime.datetime) and value.time() == datetime.time():
        return value.date().isoformat()
    return _cleaned(str(value))


def _number(value: float) -> str:
    """A number without an exponent: names of stations are numbers too.

    >>> _number(98.72), _number(5.0), _number(0.1 + 0.2), _number(1e-7)
    ('98.72', '5', '0.3', '0.0000001')
    """
    return format(Decimal(f"{value:.{_DIGITS}g}"), "f")


def _cleaned(text: str) -> str:
    """Text on one line and in one cell."""
    return " ".join(text.replace("\0", "").split()) if re.search(r"[\0-\x1f\x85\u2028\u2029]", text) else text
