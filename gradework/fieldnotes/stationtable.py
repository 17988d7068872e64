"""A table of stations to shots: blocks of plain rows at once, the others row by row."""

from __future__ import annotations

from collections.abc import Sequence

from gradework.fieldnotes.cells import CellReader, is_total
from gradework.fieldnotes.columns import metres_of
from gradework.fieldnotes.gather import Gathered
from gradework.fieldnotes.headers import Columns, Field
from gradework.fieldnotes.opening import Header
from gradework.fieldnotes.rows import Block, blocks
from gradework.fieldnotes.table import check_amount
from gradework.units import Unit

_LENGTHS = ("x", "y", "elevation")
_LAST = 50


def read_stations(
    gathered: Gathered, header: Header, fields: Sequence[Field], *, needed: Sequence[str], unit: Unit | None
) -> Unit:
    """Read the rows below the header into ``gathered``; return the unit to show results in.

    Stations without a name are named after their line. Without any declared unit each cell must carry its
    own; results are then shown in feet if the first elevation is written so, else in metres.
    """
    columns = header.columns
    reader = CellReader(
        gathered.notes, gathered.dialect, columns, fields, unit=unit, needed=needed, faults=gathered.faults
    )
    for block in blocks(gathered.notes, gathered.dialect, gathered.faults, first_line=header.body_line):
        if unit is None or not _add_whole(block, gathered, columns, unit):
            _add_rows(block, gathered, reader)
        check_amount(len(gathered), gathered.faults)
    return unit or gathered.shown or "m"


def _add_whole(block: Block, gathered: Gathered, columns: Columns, unit: Unit) -> bool:
    """Add a block of which every row is a shot in plain decimals; else False, and nothing is added."""
    cells = block.columns(columns.count)
    if cells is None:
        return False
    values: dict[str, list[float]] = {}
    for name in _LENGTHS:
        if name in columns:
            metres = metres_of(cells[columns.index[name]], unit, decimal_comma=gathered.dialect.decimal_comma)
            if metres is None:
                return False
            values[name] = metres
    if "station" in columns:
        # Totals stand at the end; in the first block (the whole of most files) all names are looked at.
        names = cells[columns.index["station"]]
        if any(map(is_total, names[-_LAST:] if len(gathered) else names)):
            return False
    count = len(cells[0])
    if any(set(cells[i]) != {""} for i in columns.empty):
        return False
    lines = block.lines(count)
    if "note" in columns:
        gathered.remark([note.strip() for note in cells[columns.index["note"]]])
    names = _names(cells[columns.index["station"]], lines) if "station" in columns else _by_line(lines)
    gathered.add(names, values.get("x", ()), values.get("y", ()), values["elevation"], lines)
    return True


def _names(names: list[str], lines: Sequence[int]) -> list[str]:
    joined = "".join(names)
    if "" in names or " " in joined or "\t" in joined or not joined.isascii():
        return [name.strip() or f"line {line}" for name, line in zip(names, lines, strict=True)]
    return names


def _by_line(lines: Sequence[int]) -> list[str]:
    return [f"line {line}" for line in lines]


def _add_rows(block: Block, gathered: Gathered, reader: CellReader) -> None:
    columns = reader.columns
    asked = [name for name in _LENGTHS if name in columns]
    names: list[str] = []
    remarks: list[str] = []
    lines: list[int] = []
    values: dict[str, list[float]] = {name: [] for name in _LENGTHS}
    for line, cells in block.rows():
        gathered.comments.see(line, cells)
        fitted = reader.fit(line, cells)
        if fitted is None:
            continue
        metres = [reader.length(line, fitted, name) for name in asked]
        for name, value in zip(asked, metres, strict=True):
            values[name].append(0.0 if value is None else value)
        names.append(reader.text(fitted, "station") or f"line {line}")
        remarks.append(reader.text(fitted, "note"))
        lines.append(line)
        gathered.see_unit([reader.text(fitted, "elevation")])
    gathered.remark(remarks)
    gathered.add(names, values["x"], values["y"], values["elevation"], lines)
