"""Text to rows of cells, in blocks, with the line of each row.

A file without quotes is cut block by block at the speed of ``str.split``; one with quotes goes through
``csv.reader`` in strict mode, whose complaints become faults that name the line where the quote opened.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from io import StringIO
from itertools import accumulate, chain, islice
from typing import TYPE_CHECKING

from gradework.errors import Faults, Finding, SheetName, at_line, finding, visible
from gradework.fieldnotes.text import NotesText, Punctuation
from gradework.units.numbers import SHEET_ERROR

if TYPE_CHECKING:
    from _csv import Reader

MOST_COMMENTS = 20
"""So many comments that look like shots are told; the last of them counts the rest."""

MOST_FAULTS = 1_000
"""So many faults are collected; a file with more is not worth reading on."""

_BLOCK = 1 << 16
"""Characters; small enough that the cells of a block stay in the processor's cache."""
_QUOTED_ROWS = 512  # read at once: so many are read again where one of them has a bad quote
_FIGURE = r"\s*[-+]?[0-9]+(?:[.,][0-9]+)?\s*"
_NARROW = r"\s*##+\s*[\t,;].*[0-9]"
"""A row whose first number found no room in its column: ###, and figures behind it."""


class Block:
    """Consecutive rows of a file: either a piece of text without quotes, or rows already cut."""

    __slots__ = ("_lines", "_rows", "first_line", "separator", "text")

    def __init__(
        self,
        first_line: int,
        separator: str,
        *,
        text: str | None = None,
        rows: list[list[str]] | None = None,
        lines: Sequence[int] | None = None,
    ) -> None:
        self.first_line = first_line
        self.separator = separator
        self.text = text
        self._rows = rows
        self._lines = lines

    def columns(self, count: int) -> list[list[str]] | None:
        """The cells column by column if every row has just ``count`` cells and none is a comment or blank."""
        if self.text is None:
            rows = self._rows or []
            if set(map(len, rows)) != {count}:
                return None
            columns = [list(column) for column in zip(*rows, strict=True)]
            return None if "\n#" in "\n" + "\n".join(columns[0]) else columns
        text, mark = self.text, self.separator
        # A newline of its own between the rows shows in one comparison that all have the same length.
        cells = text.replace("\n", f"{mark}\n{mark}").split(mark)
        del cells[-1]
        step = count + 1
        if len(cells) % step or set(cells[count::step]) != {"\n"}:
            return None
        columns = [cells[i::step] for i in range(count)]
        return None if "#" in text and any(c.lstrip().startswith("#") for c in columns[0]) else columns

    def lines(self, count: int) -> Sequence[int]:
        """The line of each of the ``count`` rows."""
        return self._lines if self._lines is not None else range(self.first_line, self.first_line + count)

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Each row with its line; blank rows and comments are still there."""
        if self.text is not None:
            rows = (line.split(self.separator) for line in self.text.removesuffix("\n").split("\n"))
            return zip(
                range(self.first_line, self.first_line + self.text.count("\n") + 1), rows, strict=False
            )
        rows_cut = self._rows or []
        return zip(self.lines(len(rows_cut)), rows_cut, strict=True)


def is_blank(cells: Sequence[str]) -> bool:
    """True for a row without any content."""
    return not any(cell and not cell.isspace() for cell in cells)


def is_comment(cells: Sequence[str]) -> bool:
    """True for a row that begins with ``#``, except what spreadsheets write for a number: ``#N/A``, ``###``.

    >>> is_comment(["# by the oak", "5"]), is_comment(["#N/A", "5"]), is_comment(["###", "5"])
    (True, False, False)
    """
    first = cells[0].lstrip() if cells else ""
    if not first.startswith("#") or re.match(SHEET_ERROR, first):
        return False
    return not re.match(_NARROW, "\t".join(cells), re.DOTALL)


def is_sheet_error(cell: str) -> bool:
    """True for a cell that begins with an error word of spreadsheets, or holds ``###``: no length."""
    return re.match(rf"{SHEET_ERROR}|##+$", cell.strip()) is not None


class Comments:
    """Comments that look like shots: a name such as ``#5`` must not make one vanish unseen."""

    __slots__ = ("_count", "_first_uncounted", "_notes", "_told")

    def __init__(self, notes: NotesText) -> None:
        self._notes = notes
        self._told: list[Finding] = []
        self._count = 0
        self._first_uncounted = 0

    def see(self, line: int, cells: Sequence[str], *, figures: int = 2) -> None:
        """Note a row that is a comment and looks like a shot, which holds so many figures beside its name;
        any other is let be."""
        if not is_comment(cells) or not cells[0].strip(" #"):
            return
        if sum(1 for cell in cells[1:] if re.fullmatch(_FIGURE, cell)) < figures:
            return
        self._count += 1
        if self._count == MOST_COMMENTS:
            self._first_uncounted = line
        if self._count <= MOST_COMMENTS:
            text, where = visible(self._notes.line(line).expandtabs(1)), at_line(self._notes.file, line)
            self._told.append(finding("notes-comment-like-shot", "warning", where, row=line, text=text))

    def findings(self) -> list[Finding]:
        """A warning for each; where there are many the last one counts the rest."""
        if self._count <= MOST_COMMENTS:
            return self._told
        row, count = self._first_uncounted, f"{self._count - MOST_COMMENTS + 1:,}"
        where = at_line(self._notes.file, row)
        rest = finding("notes-comment-like-shot", "warning", where, variant="many", row=row, count=count)
        return [*self._told[:-1], rest]


def blocks(
    notes: NotesText, punctuation: Punctuation, faults: Faults, *, first_line: int = 1
) -> Iterator[Block]:
    """Cut the file from ``first_line`` on into blocks of rows.

    Faults of quoting go to ``faults``; reading goes on after the line where the quote opened.
    """
    start = notes.offset(first_line) if first_line > 1 else 0
    if '"' in notes.text:
        yield from _quoted_blocks(notes, punctuation, faults, first_line)
        return
    line = first_line
    for text in _pieces(notes.text, start):
        yield Block(line, punctuation.separator, text=text if text.endswith("\n") else text + "\n")
        line += text.count("\n")


def _pieces(text: str, start: int) -> Iterator[str]:
    while start < len(text):
        end = text.rfind("\n", start, start + _BLOCK) + 1 if start + _BLOCK < len(text) else len(text)
        yield text[start:end]
        start = end


def _quoted_blocks(
    notes: NotesText, punctuation: Punctuation, faults: Faults, first_line: int
) -> Iterator[Block]:
    line = first_line
    reader = _reader(notes, punctuation, line)
    while len(faults.all) < MOST_FAULTS:
        before = reader.line_num
        try:
            rows = list(islice(reader, _QUOTED_ROWS))
            after = line + reader.line_num - before
        except csv.Error:
            # The good rows of this piece are lost with it: read it again up to the bad one.
            rows, after = _rows_to_bad_quote(notes, punctuation, faults, line)
            reader = _reader(notes, punctuation, after)
        if rows:
            yield Block(line, punctuation.separator, rows=rows, lines=_lines_of(rows, line, after))
        elif after == line:
            return
        line = after


def _reader(notes: NotesText, punctuation: Punctuation, line: int) -> Reader:
    lines = _lines(notes.text, notes.offset(line))
    return csv.reader(lines, delimiter=punctuation.separator, strict=True)


def _rows_to_bad_quote(
    notes: NotesText, punctuation: Punctuation, faults: Faults, first_line: int
) -> tuple[list[list[str]], int]:
    """The rows before the next bad quote, whose fault is noted, and the line after it."""
    reader = _reader(notes, punctuation, first_line)
    rows: list[list[str]] = []
    row_line = first_line
    try:
        for row in reader:
            rows.append(row)
            row_line = first_line + reader.line_num
    except csv.Error:
        error_line = first_line + reader.line_num - 1
        return rows, _quote_fault(notes, punctuation.separator, row_line, error_line, faults) + 1
    return rows, row_line


def _lines_of(rows: list[list[str]], first_line: int, after: int) -> Sequence[int]:
    if after - first_line == len(rows):
        return range(first_line, after)
    breaks = (1 + sum(cell.count("\n") for cell in row) for row in rows)
    return list(accumulate(breaks, initial=first_line))[:-1]


def _lines(text: str, start: int) -> Iterator[str]:
    """Lines with their newline; comments blanked, lest a quote in one of them opens a cell."""
    lines = chain.from_iterable(StringIO(piece, newline="\n") for piece in _pieces(text, start))
    if "\n#" not in text and not text.startswith("#"):
        return lines
    return ("\n" if line.startswith("#") and is_comment([line]) and '"' in line else line for line in lines)


def _quote_fault(notes: NotesText, separator: str, row_line: int, error_line: int, faults: Faults) -> int:
    """Note what is wrong with a quote in the row that begins on ``row_line``; return the line it is on."""
    for line in range(row_line, error_line + 1):
        text = notes.line(line)
        column, junk = _bad_quote(text, separator)
        if column:
            cell = visible(text[column - 1 :])
            faults.note(
                "notes-quote", variant="junk" if junk else "open", line=line, column=column, text=cell
            )
            return line
    faults.note("notes-quote", variant="cell", line=row_line)
    return error_line


def _bad_quote(text: str, separator: str) -> tuple[int, bool]:
    """The column of the first quote that opens a cell and stays open, or (True) is followed by junk; or 0."""
    position = 0
    while position <= len(text):
        if text[position : position + 1] == '"':
            closing = _closing(text, position + 1)
            if closing < 0:
                return position + 1, False
            if text[closing + 1 : closing + 2] not in ("", separator):
                return position + 1, True
            position = closing
        position = text.find(separator, position) + 1
        if not position:
            break
    return 0, False


def _closing(text: str, position: int) -> int:
    while True:
        position = text.find('"', position)
        if position < 0 or text[position + 1 : position + 2] != '"':
            return position
        position += 2


def column_of_cell(notes: NotesText, line: int, index: int, separator: str) -> int:
    """The column (from 1) in which cell ``index`` (from 0) begins on ``line``; 0 if there is no such cell.

    On a sheet it is the column of the sheet; text with separators of its own stands in one of these.
    """
    text = notes.line(line)
    if isinstance(notes.file, SheetName):
        return notes.file.skipped + (index if separator == "\t" else 0) + 1
    position = 0
    for _ in range(index):
        if text[position : position + 1] == '"':
            closing = _closing(text, position + 1)
            if closing < 0:
                return 0
            position = closing
        position = text.find(separator, position) + 1
        if not position:
            return 0
    return position + 1
