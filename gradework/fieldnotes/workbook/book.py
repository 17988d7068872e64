"""The sheets of a workbook, each as text: a line for each row, a tab between two cells."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

from gradework.errors import Faults
from gradework.fieldnotes.workbook import reader
from gradework.fieldnotes.workbook.look import MOST_CELLS, Look

_DIGITS = 15
"""A spreadsheet counts with so many; what stands behind them is rounding."""

_LONGEST = 120.0
"""Seconds; the largest workbook that passes the first look is read in a tenth."""

_UNKNOWN = "a part of it is not what spreadsheets write"

_ODD = re.compile(r"[\0-\x1f\x85\u2028\u2029]")
"""What would end a line or a cell of the text."""


class SheetText(NamedTuple):
    """The text of a sheet (empty where nothing is on it), and how many empty columns stood to its left."""

    name: str
    text: str
    skipped: int


def sheets_as_text(
    data: bytes, looks: Mapping[str, Look], wanted: str | None, faults: Faults
) -> list[SheetText]:
    """The sheet ``wanted``; without it all of cells that are shown, or every one where all are hidden.

    ``looks``: what was seen of the sheets before. Halts on a workbook that cannot be read.
    """
    cells = sum(look.rows * look.columns for look in looks.values())
    if cells > MOST_CELLS:  # most kinds of workbook are read with all their sheets
        faults.halt("workbook-too-large", variant="book", cells=f"{cells:,}", most=f"{MOST_CELLS:,}")
    found = _read(data, wanted, faults)
    if not found.keys() <= looks.keys():  # errors and units would be lost with their sheet
        faults.halt("workbook-unreadable", reason="not all of its sheets can be told by their names")
    some_shown = any(shown for shown, _ in found.values())
    return [
        _as_text(name, rows, looks[name])
        for name, (shown, rows) in found.items()
        if shown or wanted is not None or not some_shown
    ]


def _read(data: bytes, wanted: str | None, faults: Faults) -> dict[str, Any]:
    """Let the reader read, in its own process where there can be one."""
    names = [] if wanted is None else [wanted]
    command = [sys.executable, "-P", str(Path(reader.__file__)), *names]
    try:
        done = subprocess.run(command, input=data, capture_output=True, check=False, timeout=_LONGEST)
    except subprocess.TimeoutExpired:
        faults.halt("workbook-unreadable", reason=f"it takes longer than {_LONGEST:g} seconds")
    except (OSError, ValueError):  # no processes here
        written: str | bytes = reader.as_json(data, names)
    else:
        if done.returncode != 0:
            faults.halt("workbook-unreadable", reason=_UNKNOWN)
        written = done.stdout
    told = json.loads(written)
    if "problem" in told:
        variant = "password" if told["problem"] == "password" else ""
        faults.halt("workbook-unreadable", variant=variant, reason=_UNKNOWN)
    sheets: Any = told["sheets"]
    return dict(sheets)


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
    return _cleaned(str(value))


def _number(value: float) -> str:
    """A number without an exponent: names of stations are numbers too.

    >>> _number(98.72), _number(5.0), _number(0.1 + 0.2), _number(1e-7)
    ('98.72', '5', '0.3', '0.0000001')
    """
    return format(Decimal(f"{value:.{_DIGITS}g}"), "f")


def _cleaned(text: str) -> str:
    """Text on one line and in one cell; half a letter, which no file can hold, is a question mark."""
    plain = text if text.isascii() else text.encode("utf-8", "replace").decode()
    return " ".join(plain.replace("\0", "").split()) if _ODD.search(plain) else plain
