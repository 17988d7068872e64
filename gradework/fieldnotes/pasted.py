"""A block of numbers as it is copied from a sheet or a message: a grid without header, its spacing given.

The first number is A1 of a lettered grid and its row is A; the next row is B, further up y. Numbers may stand
apart by spaces only. Where the x positions stand over them and the y positions beside them, it is a grid as
people draw it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from gradework.errors import Faults, cell_name, finding, visible
from gradework.fieldnotes.columns import Gathered
from gradework.fieldnotes.grids import DASHES, MOST_CELLS
from gradework.fieldnotes.headers import Columns, is_figure
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.opening import MOST_TITLES, Opening
from gradework.fieldnotes.rows import blocks, is_blank, is_comment, is_sheet_error
from gradework.fieldnotes.table import CellReader
from gradework.fieldnotes.text import NotesText
from gradework.units.lengths import Unit, parse_length
from gradework.units.numbers import LengthError

_NUMBER = r"(?:[-+\u2212]?[0-9]+(?:[.,][0-9]+)?|[-\u2013\u2014])"
_SPACED = rf" *{_NUMBER}(?: +{_NUMBER})* *"
_LINE_OF_SPACED = re.compile(_SPACED)
_LEFT_OUT = re.compile(rf" *#\S+(?: +{_NUMBER})+ *")
"""A name such as #5, or the error of a sheet, and numbers: cut into cells, so that it can be told of."""
_LONGEST = 20 * MOST_CELLS
"""Letters of a text; a longer one holds more numbers than a grid has."""

_NOT_SHOT = frozenset({"", *DASHES})
"""What stands in a cell that was not shot."""


def without_spaces(notes: NotesText) -> NotesText:
    """Numbers with spaces between them as numbers with tabs; any other text as it is.

    Where the first row is one shorter than all others it holds x positions over the columns of y and heights.
    A dash that stands alone is no such row, but one that was not shot.

    >>> without_spaces(NotesText("  0 5\\n0 1.5 1.6\\n5 1.7 -\\n", "n")).text
    '\\t 0\\t5\\n0\\t1.5\\t1.6\\n5\\t1.7\\t-\\n'
    """
    if "\t" in notes.text or len(notes.text) > _LONGEST:
        return notes
    lines = notes.text.split("\n")
    filled = [at for at, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")]
    others = [at for at, line in enumerate(lines) if _LEFT_OUT.fullmatch(line)]
    spaced = [_LINE_OF_SPACED.fullmatch(lines[at]) is not None for at in filled]
    first = spaced.index(True) if True in spaced[: MOST_TITLES + 1] else len(spaced)
    if not all(spaced[first:]):
        return notes
    rows = [at for at in filled[first:] if lines[at].strip() not in DASHES]
    counts = [len(lines[at].split()) for at in rows]
    if len(counts) < 2 or min(counts[1:]) < 2:
        return notes
    for at in (*filled[first:], *others):
        lines[at] = _tabbed(lines[at])
    if set(counts[1:]) == {counts[0] + 1}:
        lines[rows[0]] = "\t" + lines[rows[0]].removeprefix(" ")
    return NotesText("\n".join(lines), notes.file, notes.findings, tabbed=True)


def _tabbed(line: str) -> str:
    """A tab for the first of the spaces between two numbers, so that each stays in its column."""
    return re.sub(r"(?<=\S) (?= *\S)", "\t", line.rstrip())


def is_block(opening: Opening) -> bool:
    """True where the first row below titles holds figures only, and each of the next rows two or more.

    Places that were not shot and errors of a sheet count as figures; a row may hold one of these alone.
    """
    first = _first_row(opening)
    if first is None:
        return False
    rows = [cells for _, cells in opening.rows[first:]]
    return all(map(_belongs, rows[0])) and all(
        sum(map(_belongs, row)) > 1 or (all(map(_belongs, row)) and not any(map(is_figure, row)))
        for row in rows
    )


def _first_row(opening: Opening) -> int | None:
    """The position of the first row of the block: rows of places that were not shot, or of errors, stand
    above its first figures without being titles."""
    first = opening.first_figures
    while first:
        _, above = opening.rows[first - 1]
        if not all(cell.strip() and _belongs(cell) for cell in above) or all(map(is_figure, above)):
            break
        first -= 1
    return first


def refuse_unclear(opening: Opening, top: int, grid: LetteredGrid, unit: Unit | None, faults: Faults) -> None:
    """Halt where a spacing is given and the row on top, with its first cell empty, does not step by it.

    It may hold x positions, or heights of which the first was not shot.
    """
    if not is_block(opening):
        return
    line, cells = opening.rows[top]
    try:
        steps = [b - a for a, b in pairwise(parse_length(cell, unit) for cell in cells[1:] if cell.strip())]
    except LengthError:
        return  # the reader of the grid will say it better
    if any(abs(step - grid.spacing[1]) > _STEP for step in steps):
        faults.halt("notes-pasted-unclear", line=line, found=visible(" ".join(cells).strip()))


_STEP = 1e-6
"""[m] So near do positions step by the spacing; it covers the rounding of a conversion."""


def _belongs(cell: str) -> bool:
    """Whether a cell is one of a block: a figure, a place not shot, or an error, to be refused."""
    return cell.strip() in _NOT_SHOT or is_figure(cell) or is_sheet_error(cell)


def read_block(gathered: Gathered, opening: Opening, grid: LetteredGrid, unit: Unit | None) -> Unit:
    """Read a block of figures into ``gathered``, named A1, A2 ... and placed; return its unit.

    Raises ``InputError`` for a cell that is no length, for a blank row between two others, which may stand
    for one that was not shot, and for more rows and columns than a grid has.
    """
    at = _first_row(opening) or 0
    line, cells = opening.rows[at]
    faults = gathered.faults
    gathered.findings += opening.title_findings(at, gathered.notes.file)
    reader = CellReader(
        gathered.notes,
        gathered.punctuation,
        Columns({"elevation": 0}, {}, len(cells), (), line),
        unit=unit,
        needed=(),
        faults=faults,
    )
    row = across = blank = 0
    for block in blocks(gathered.notes, gathered.punctuation, faults, first_line=line):
        for number, found in block.rows():
            gathered.comments.see(number, found, figures=1)
            if is_blank(found):
                blank = blank or number
            if is_blank(found) or is_comment(found):
                continue
            if blank:
                faults.halt("notes-pasted-unclear", variant="blank", line=blank)
            across = max(across, len(found))
            if (row + 1) * across > MOST_CELLS:
                _refuse_large(gathered, line, across, row + 1)
            _add_row(gathered, reader, grid, row, number, found)
            row += 1
    told = finding("notes-pasted-grid", "note", gathered.notes.file, rows=row, columns=across)
    gathered.findings.append(told)
    return unit or gathered.shown or "m"


def _refuse_large(gathered: Gathered, line: int, columns: int, rows: int) -> None:
    gathered.faults.halt(
        "notes-too-many-rows",
        variant="grid",
        line=line,
        columns=f"{columns:,}",
        rows=f"{rows:,}",
        most=f"{MOST_CELLS:,}",
    )


def _add_row(
    gathered: Gathered, reader: CellReader, grid: LetteredGrid, row: int, line: int, cells: Sequence[str]
) -> None:
    unit = reader.unit
    shot = [i for i, cell in enumerate(cells) if cell.strip() not in _NOT_SHOT]
    read = [reader.length_at(line, cells[i], i, "elevation", unit) for i in shot]
    for i in shot:
        gathered.see_height(cells[i])
    places = [grid.place(row, i) for i in shot]
    gathered.add(
        [cell_name(i + 1, row + 1) for i in shot],
        [x for x, _ in places],
        [y for _, y in places],
        [0.0 if value is None else float(value) for value in read],
        [line] * len(shot),
    )
