"""Grids: one as people draw it, x positions on top and y positions down the side, and a lettered one."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import cast

from gradework.errors import visible
from gradework.fieldnotes.columns import Gathered, metres_of
from gradework.fieldnotes.headers import COLUMN_WORDS, Columns, HeaderUnit, is_figure, unit_findings
from gradework.fieldnotes.lettered import LetteredGrid, row_and_column
from gradework.fieldnotes.opening import Opening, no_rows
from gradework.fieldnotes.rows import blocks, column_of_cell, is_sheet_error
from gradework.fieldnotes.table import CellReader, check_amount
from gradework.units.lengths import ColumnUnit, Unit, base_unit, unit_named
from gradework.units.numbers import plain

_AXIS_WORDS = frozenset({
    "x", "y", "z", "north", "northing", "east", "easting", "n", "e", "across", "along", "elevation", "elev",
    "elevations", "height", "heights", "level", "levels", "grid", "corner", "position", "positions", "in",
    "distance", "to", "from", "and", "of", "right", "up",
})  # fmt: skip

DASHES = ("-", "\u2013", "\u2014")
"""What stands for a place that was not shot."""

MOST_CELLS = 50_000
"""A grid is drawn by hand, or comes from a sheet: 200 positions each way are more than either has."""


def is_grid_top(cells: list[str]) -> bool:
    """True for an empty or axis-labelled corner and two or more figures (the x positions)."""
    positions = _trimmed(cells[1:])
    return len(positions) >= 2 and _is_corner(cells[0]) and all(is_figure(cell) for cell in positions)


def grid_top(opening: Opening) -> int | None:
    """The position of the row of x positions, if the first figures of the notes are such; else None."""
    top = opening.first_figures
    if top is None or not is_grid_top(opening.rows[top][1]):
        return None
    header = opening.header_at(COLUMN_WORDS)
    return top if header is None or sum(1 for cell in opening.rows[header][1] if cell.strip()) < 2 else None


def _is_corner(cell: str) -> bool:
    words = re.findall(r"[^\W_]+|'|\"", plain(cell).lower())
    if cell.strip() in DASHES or is_sheet_error(cell):  # of a block of heights, the first is missing
        return False
    return not any(c.isdigit() for c in cell) and all(w in _AXIS_WORDS or unit_named(w) for w in words)


_HEIGHT_WORDS = frozenset({"elevation", "elevations", "elev", "height", "heights", "level", "levels", "z"})


def names_heights(rows: Sequence[tuple[int, Sequence[str]]]) -> bool:
    """Whether the corner of a grid, or a title above it, says that its cells are elevations."""
    *titles, (_, top) = rows
    cells = [*(cell for _, row in titles for cell in row), top[0]]
    return any(word in _HEIGHT_WORDS for cell in cells for word in re.findall(r"[a-z]+", cell.lower()))


def _corner_unit(cell: str) -> str | None:
    match = re.search(r"[(\[]\s*([^()\[\]]+?)\s*[)\]]\s*$", plain(cell))
    return unit_named(match[1]) if match else None


def _trimmed(cells: Sequence[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


def read_grid(gathered: Gathered, first: tuple[int, list[str]], unit: Unit | None) -> Unit:
    """Read a grid into ``gathered``, row by row as in the file; return its unit.

    The shot under x position ``4`` in the row of y position ``8`` is named ``x4 y8``. Empty cells were not
    shot. A position twice is a fault; the order of the positions is free.
    """
    line, cells = first
    faults = gathered.faults
    across = _trimmed(cells[1:])
    _refuse_large(gathered, line, len(across))
    said = _corner_unit(cells[0])
    units = {"grid": HeaderUnit(cast("ColumnUnit", said), cells[0].strip())} if said else {}
    columns = Columns({"elevation": 0}, units, len(across) + 1, (), line)
    own = columns.unit_of("grid", unit)
    gathered.findings += unit_findings(columns, unit, gathered.notes.file)
    reader = CellReader(gathered.notes, gathered.punctuation, columns, unit=unit, needed=(), faults=faults)
    xs = _positions(reader, line, across, own)
    _read_rows(gathered, reader, across, xs, own)
    if not len(gathered) and not faults.all:
        no_rows(faults, columns, ())
    return unit or (own and base_unit(own)) or gathered.shown or "m"


def _refuse_large(gathered: Gathered, line: int, across: int) -> None:
    """A first look: lines times columns are counted before a cell is read."""
    text = gathered.notes.text
    rows = text.count("\n", gathered.notes.offset(line + 1)) - text.count("\n\n")
    if rows * across > MOST_CELLS:
        gathered.faults.halt(
            "notes-too-many-rows",
            variant="grid",
            line=line,
            columns=f"{across:,}",
            rows=f"{rows:,}",
            most=f"{MOST_CELLS:,}",
        )


def _positions(reader: CellReader, line: int, across: Sequence[str], own: ColumnUnit | None) -> list[float]:
    found: dict[Fraction, int] = {}
    xs = []
    for i, cell in enumerate(across, start=1):
        x = reader.length_at(line, cell, i, "x position", own)
        xs.append(0.0 if x is None else float(x))
        if x is not None and x in found:
            reader.faults.note(
                "notes-position-twice",
                variant="x",
                line=line,
                column=reader.column(line, i),
                position=visible(cell.strip()),
                first=found[x] + 1,
                second=i + 1,
            )
        elif x is not None:
            found[x] = i
    return xs


def _read_rows(
    gathered: Gathered,
    reader: CellReader,
    across: Sequence[str],
    xs: Sequence[float],
    own: ColumnUnit | None,
) -> None:
    rows_at: dict[Fraction, int] = {}
    labels = [f"x{_label(cell)}" for cell in across]
    for block in blocks(
        gathered.notes, gathered.punctuation, gathered.faults, first_line=reader.columns.line + 1
    ):
        for line, cells in block.rows():
            gathered.comments.see(line, cells)
            fitted = reader.fit(line, cells)
            if fitted is None:
                continue
            y = reader.length_at(line, fitted[0], 0, "y position", own)
            if y is None:
                continue
            if y in rows_at:
                position, first = visible(fitted[0].strip()), rows_at[y]
                reader.faults.note(
                    "notes-position-twice",
                    variant="y",
                    line=line,
                    column=reader.column(line, 0),
                    position=position,
                    first=first,
                )
                continue
            rows_at[y] = line
            _add_row(gathered, reader, line, fitted, (float(y), labels, xs), own)
        check_amount(len(gathered), gathered.faults)


def _add_row(
    gathered: Gathered,
    reader: CellReader,
    line: int,
    cells: Sequence[str],
    place: tuple[float, Sequence[str], Sequence[float]],
    own: ColumnUnit | None,
) -> None:
    y, labels, xs = place
    shot = [i for i, cell in enumerate(cells[1:]) if cell.strip()]
    filled = [cells[i + 1] for i in shot]
    values = None
    if own is not None:
        values = metres_of(filled, own, decimal_comma=reader.punctuation.decimal_comma)
    if values is None:
        read = [reader.length_at(line, cells[i + 1], i + 1, "elevation", own) for i in shot]
        values = [0.0 if value is None else float(value) for value in read]
        for cell in filled:
            gathered.see_height(cell)
    row = f" y{_label(cells[0])}"
    gathered.add(
        [labels[i] + row for i in shot], [xs[i] for i in shot], [y] * len(shot), values, [line] * len(shot)
    )


def _label(cell: str) -> str:
    return plain(cell).replace(" ", "")


def place_lettered(gathered: Gathered, grid: LetteredGrid | None, columns: Columns) -> None:
    """Give each gathered shot its place; a missing spacing or a name that is no grid station is a fault."""
    faults = gathered.faults
    if grid is None:
        faults.halt("notes-no-spacing", line=columns.line)
    if not all(math.isfinite(step) and step > 0 for step in grid.spacing):
        faults.halt("notes-no-spacing", variant="zero")
    index = columns.index["station"]
    for name, line in zip(gathered.names, gathered.lines(), strict=True):
        place = row_and_column(name)
        if place is None:
            column = column_of_cell(gathered.notes, line, index, gathered.punctuation.separator)
            faults.note(
                "notes-not-in-grid", variant="station", line=line, column=column, station=visible(name)
            )
            continue
        x, y = grid.place(*place)
        gathered.x.append(x)
        gathered.y.append(y)
