"""Breaklines as they are written down: a table of their own, or a column beside the shots.

A row of the table is one point of a line: ``line`` and ``station``, a shot of the notes; or ``line``, ``x``,
``y`` and ``elevation``, a shot of its own. Rows of one line stand in its order; where ``line`` is empty, the
row goes on with the line above.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from gradework.errors import visible
from gradework.fieldnotes.columns import BreaklinePoint
from gradework.fieldnotes.headers import ELEVATION, NOTE, STATION, X, Y, column_named
from gradework.fieldnotes.places import Records, records_of
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.fieldnotes.text import DecimalMark
from gradework.units.lengths import Unit

LINE = column_named("line", "line, lines, breakline, breaklines, break line, line name, chain")


def read_breaklines(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[BreaklinePoint]:
    """Read a table of breaklines; raises ``InputError`` with every fault of the file.

    >>> read_breaklines(b"line,station\\ntop,B3\\n,B4\\n", "breaklines.csv", unit="m").rows[1][:2]
    ('top', 'B4')
    """
    table = read_table(
        data,
        file,
        fields=(LINE, STATION, X, Y, ELEVATION, NOTE),
        needed=(LINE.name,),
        unit=unit,
        decimal=decimal,
    )
    own = all(table.has(field.name) for field in (X, Y, ELEVATION))
    if not own and not table.has(STATION.name):
        table.faults.note(
            "notes-column-missing",
            line=table.columns.line,
            missing="station, or x, y and elevation,",
            present=", ".join(table.columns.index),
            needed="line and station, or line, x, y, elevation",
        )
        table.faults.raise_if_any()
    return records_of(table, _points(table, own))


def _points(table: Table, own: bool) -> Iterator[BreaklinePoint]:
    line, counts = "", Counter[str]()
    for row in table.rows:
        line = table.text(row, LINE.name) or line
        counts[line.casefold()] += 1
        station = table.text(row, STATION.name)
        at = _at(table, row) if own else None
        if not line:
            table.faults.note("breakline-row", variant="line", line=row.line)
        elif not station and at is None:
            table.faults.note("breakline-row", variant="point", line=row.line, breakline=visible(line))
        else:
            yield BreaklinePoint(line, station or f"{line} {counts[line.casefold()]}", at, row.line)


def _at(table: Table, row: Row) -> tuple[float, float, float] | None:
    """The place and elevation in a row; None where it gives none of them, a part of them is a fault."""
    if not any(table.text(row, field.name) for field in (X, Y, ELEVATION)):
        return None
    x, y, elevation = (table.needed_length(row, field.name) for field in (X, Y, ELEVATION))
    return x or 0.0, y or 0.0, elevation or 0.0
