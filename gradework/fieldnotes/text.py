"""Bytes of a notes file to text: byte-order marks, old code pages, hostile files.

Line ends of every kind become a plain newline, so that line numbers are those of any editor.
"""

from __future__ import annotations

import codecs
import re
from array import array
from itertools import islice

from gradework.errors import Faults, Finding, visible

LARGEST_FILE = 256 * 1024 * 1024
"""Bytes; two million shots take about 80 MB."""

LONGEST_LINE = 10_000
"""Characters; no row of notes comes near it, and a file of one endless line must not fill the memory."""

MOST_ROWS = 2_000_000
"""Rows in one file; beyond it the surface would not fit a small computer."""

MOST_EMPTY = 100_000
"""Empty lines one after the other or among the rows; each costs time, and nobody leaves so many."""

_NEAR_THE_TOP = 100
"""Lines up to here are found by walking; beyond, a table of all line starts is made once."""


class NotesText:
    """The text of a notes file, with ``file`` for messages and the findings of its decoding."""

    __slots__ = ("_starts", "file", "findings", "text")

    def __init__(self, text: str, file: str, findings: tuple[Finding, ...] = ()) -> None:
        self.text = text
        self.file = file
        self.findings = findings
        self._starts: array[int] | None = None

    def offset(self, number: int) -> int:
        """Where line ``number`` (from 1) begins in ``text``; its end for a line past the last."""
        if number <= 1:
            return 0
        if self._starts is None and number <= _NEAR_THE_TOP:
            return _start_of(self.text, number)
        if self._starts is None:
            self._starts = _line_starts(self.text)
        return self._starts[number - 1] if number <= len(self._starts) else len(self.text)

    def line(self, number: int) -> str:
        """Line ``number`` (from 1) without its newline; empty past the end."""
        start = self.offset(number)
        end = self.text.find("\n", start)
        return self.text[start:] if end < 0 else self.text[start:end]

    def line_at(self, position: int) -> int:
        """The number of the line that holds the character at ``position``."""
        return self.text.count("\n", 0, position) + 1


def _start_of(text: str, number: int) -> int:
    position = 0
    for _ in range(number - 1):
        end = text.find("\n", position)
        if end < 0:
            return len(text)
        position = end + 1
    return position


def _line_starts(text: str) -> array[int]:
    starts = array("q", [0])
    position = text.find("\n") + 1
    while position:
        starts.append(position)
        position = text.find("\n", position) + 1
    return starts


def read_text(data: bytes, file: str) -> NotesText:
    """Decode the bytes of a notes file.

    UTF-8 with or without a byte-order mark and UTF-16 with one are taken as they are; anything else is
    read as Windows text (code page 1252) with the finding ``notes-old-letters`` that names the first
    such place.

    Raises
    ------
    InputError
        for a file over 256 MB, with NUL bytes, in no known encoding, with a line over 10,000 characters, or
        with more lines, or more empty ones, than any notes have.
    """
    faults = Faults(file)
    if len(data) > LARGEST_FILE:
        faults.stop(
            "notes-too-large",
            f"a file of {len(data) // 1024**2} MB",
            f"at most {LARGEST_FILE // 1024**2} MB",
            "split the file, or thin the shots out",
        )
    text, findings = _decoded(data, file, faults)
    if "\0" in text:
        faults.stop(
            "notes-not-text",
            "a NUL character, so this is not a text file",
            "a table saved as text (CSV)",
            "save the sheet from the spreadsheet as 'CSV UTF-8'",
            line=text.count("\n", 0, text.index("\0")) + 1,
        )
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    _check_lines(text, faults)
    _check_count(text, faults)
    return NotesText(text, file, findings)


def _decoded(data: bytes, file: str, faults: Faults) -> tuple[str, tuple[Finding, ...]]:
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return data.decode("utf-16"), ()
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        if error.encoding != "utf-8":
            faults.stop(
                "notes-not-text",
                "bytes that are not UTF-16 although the file begins so",
                "a table saved as text (CSV)",
                "save the sheet from the spreadsheet as 'CSV UTF-8'",
                line=line,
            )
        return _windows_text(data, file, error.start, faults)


def _windows_text(data: bytes, file: str, start: int, faults: Faults) -> tuple[str, tuple[Finding, ...]]:
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError as error:
        faults.stop(
            "notes-not-text",
            f"a byte 0x{data[error.start]:02x} that is neither UTF-8 nor Windows text",
            "a table saved as text (CSV)",
            "save the sheet from the spreadsheet as 'CSV UTF-8'",
            line=data.count(b"\n", 0, error.start) + 1,
        )
    line = text.count("\n", 0, start) + 1
    before = max(text.rfind("\n", 0, start), text.rfind("\r", 0, start), start - 11) + 1
    word = visible(text[before : start + 10].splitlines()[0])
    advice = (
        f"The file is not UTF-8 and was read as Windows text (code page 1252). First place: line {line}, "
        f"'{word}'. If letters look wrong, save it again as 'CSV UTF-8'."
    )
    return text, (Finding("notes-old-letters", "warning", f"{file} line {line}", None, None, advice),)


def has_long_line(text: str, longest: int) -> bool:
    """True if a line of ``text`` is longer than ``longest`` characters."""
    return _long_line(text, longest) >= 0


def _long_line(text: str, longest: int) -> int:
    """Where the first too long line begins, or -1; hops by ``longest``, so it costs almost nothing."""
    position = 0
    while position + longest < len(text):
        end = text.rfind("\n", position, position + longest + 1)
        if end < 0:
            return position
        position = end + 1
    return -1


def _check_lines(text: str, faults: Faults) -> None:
    position = _long_line(text, LONGEST_LINE)
    if position >= 0:
        faults.stop(
            "notes-line-too-long",
            f"a line of more than {LONGEST_LINE:,} characters",
            "one row of notes a line",
            "check that this is a table saved as text (CSV)",
            line=text.count("\n", 0, position) + 1,
        )


def _check_count(text: str, faults: Faults) -> None:
    """A first look: lines are counted before any is cut."""
    # a run of empty lines is counted by twos; only where there may be too many is each one looked at
    empty = text.count("\n\n")
    if empty > MOST_EMPTY // 2:
        empty = sum(1 for _ in islice(re.finditer(r"\n(?=\n)", text), MOST_EMPTY + 1))
    if empty > MOST_EMPTY:
        first = 1 if text.startswith("\n") else text.count("\n", 0, text.index("\n\n")) + 2
        faults.stop(
            "notes-empty-lines",
            f"more than {MOST_EMPTY:,} empty lines",
            "rows of notes",
            "delete the empty lines, and check that this is the right file",
            line=first,
        )
    if text.count("\n") > MOST_ROWS + MOST_EMPTY:
        faults.stop(
            "notes-too-many-rows",
            f"more than {MOST_ROWS:,} rows",
            f"at most {MOST_ROWS:,}",
            "thin the shots out",
        )
