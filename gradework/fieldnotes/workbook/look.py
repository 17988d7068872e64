"""What a cell shows beside its value: an error, a formula without a result, a unit or a percent sign.

The reader of cells gives values only: an error and a formula that was never worked out are empty there, and a
length written 12.25 in by its format is 12.25. Each kind of workbook is looked through for these first, and
for how far its cells reach, so that a small file cannot ask for a huge sheet.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import NoReturn

from gradework.errors import Faults
from gradework.units.lengths import unit_named

MOST_ROWS = 1_048_576
MOST_COLUMNS = 16_384
"""What the largest sheet of today's spreadsheets has."""

MOST_CELLS = 4_000_000
"""Rows times columns of the cells of a sheet, empty ones among them; each takes about 30 bytes."""

_LITERAL = r'"([^"]*)"|\\(.)|_.|\*.'
"""Words of a number format: in quotes, or one letter behind a backslash; a gap; a filling letter."""

_PART = rf"(?:{_LITERAL}|[^;])+"
"""One of the formats, apart by semicolons, for numbers above zero, below and at it, or as each one says."""

_FIGURE = r"(?i:[0#?]|general)"
"""Where a number format shows the number."""

_CONDITION = r"\[[<>=][^\]]*\]"


@dataclass
class Look:
    """How far the cells of a sheet reach, and what to show of them; rows and columns count from 0.

    ``texts``: the whole text of a cell, in place of its value. ``behind``: what stands behind its number, a
    unit or a percent sign.
    """

    rows: int = 0
    columns: int = 0
    texts: dict[tuple[int, int], str] = field(default_factory=dict)
    behind: dict[tuple[int, int], str] = field(default_factory=dict)

    def reach(self, row: int, column: int, faults: Faults) -> None:
        """Note that there is a cell; halts where the sheet would become too large."""
        self.rows, self.columns = max(self.rows, row + 1), max(self.columns, column + 1)
        if self.rows > MOST_ROWS or self.columns > MOST_COLUMNS or self.rows * self.columns > MOST_CELLS:
            too_large(self.rows, self.columns, faults)


def too_large(rows: int, columns: int, faults: Faults) -> NoReturn:
    """Stop: a cell stands further out than any table of notes has one."""
    faults.halt(
        "workbook-too-large",
        variant="sheet",
        rows=f"{rows:,}",
        columns=f"{columns:,}",
        most=f"{MOST_CELLS:,}",
    )


def shown_behind(code: str) -> str:
    """What a number format shows behind the number: ``%``, a unit of length, or nothing.

    Where one of several units is shown as the number is small or large, all are given, so that the cell is
    refused: which of them holds is not known here.

    >>> shown_behind('0.00" ft"'), shown_behind("0.0%"), shown_behind("# ?/?"), shown_behind('0.00" (est.)"')
    (' ft', '%', '', '')
    >>> shown_behind('[<1]0.0" in";0.0" ft"')
    ' in or ft'
    """
    parts = [match[0] for match in re.finditer(_PART, code)]
    if not re.search(_CONDITION, code):
        return _behind(parts[0]) if parts else ""
    shown = dict.fromkeys(_behind(part) for part in parts if re.search(_FIGURE, _without_brackets(part)))
    if len(shown) > 1:
        return " " + " or ".join(one.strip() or "no unit" for one in shown)
    return next(iter(shown), "")


def _without_brackets(part: str) -> str:
    """A format without conditions, colours and languages."""
    return re.sub(r"\[[^\]]*\]", "", part)


def _behind(part: str) -> str:
    first = _without_brackets(part)
    if "%" in re.sub(_LITERAL, "", first):
        return "%"
    last = max((match.end() for match in re.finditer(_FIGURE, first)), default=0)
    words = "".join(match[1] or match[2] or "" for match in re.finditer(_LITERAL, first[last:]))
    bare = re.sub(_LITERAL, "", first[last:])
    words = words or bare
    return words if unit_named(words.strip()) else ""
