"""Bytes of a notes file to text, and how it writes its cells and numbers.

Byte-order marks, old code pages and hostile files are met here. Line ends of every kind become a plain
newline, so that line numbers are those of any editor. Separator and decimal mark are decided once for the
whole file.
"""

from __future__ import annotations

import codecs
import re
from array import array
from collections.abc import Iterator
from itertools import chain, islice
from typing import Literal, NamedTuple

from gradework.errors import Faults, Finding, SheetName, at_line, finding, visible

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
    """The text of a notes file, with ``file`` for messages and the findings of its decoding.

    ``tabbed``: tabs stand between its cells for certain, because they were put there.
    """

    __slots__ = ("_starts", "file", "findings", "tabbed", "text")

    def __init__(
        self, text: str, file: str, findings: tuple[Finding, ...] = (), *, tabbed: bool = False
    ) -> None:
        self.text = text
        self.file = file
        self.findings = findings
        self.tabbed = tabbed
        self._starts: array[int] | None = None

    def offset(self, number: int) -> int:
        """Where line ``number`` (from 1) begins in ``text``; its end for a line past the last."""
        if number <= 1:
            return 0
        if self._starts is None and number <= _NEAR_THE_TOP:
            end = next(islice(_newlines(self.text), number - 2, None), None)
            return len(self.text) if end is None else end + 1
        if self._starts is None:
            self._starts = array("q", chain([0], (end + 1 for end in _newlines(self.text))))
        return self._starts[number - 1] if number <= len(self._starts) else len(self.text)

    def line(self, number: int) -> str:
        """Line ``number`` (from 1) without its newline; empty past the end."""
        start = self.offset(number)
        end = self.text.find("\n", start)
        return self.text[start:] if end < 0 else self.text[start:end]

    def line_at(self, position: int) -> int:
        """The number of the line that holds the character at ``position``."""
        return self.text.count("\n", 0, position) + 1


def _newlines(text: str) -> Iterator[int]:
    position = text.find("\n")
    while position >= 0:
        yield position
        position = text.find("\n", position + 1)


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
        size, most = (f"{count // 1024**2}" for count in (len(data), LARGEST_FILE))
        faults.halt("notes-too-large", size=size, most=most)
    text, findings = _decoded(data, file, faults)
    if "\0" in text:
        faults.halt("notes-not-text", variant="nul", line=text.count("\n", 0, text.index("\0")) + 1)
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    _check_lines(text, faults)
    if isinstance(file, SheetName):
        return NotesText(text, file, (*file.findings, *findings), tabbed="\t" in text)
    return NotesText(text, file, findings)


def _decoded(data: bytes, file: str, faults: Faults) -> tuple[str, tuple[Finding, ...]]:
    try:
        if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return data.decode("utf-16"), ()
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError as error:
        if error.encoding != "utf-8":
            faults.halt("notes-not-text", variant="utf16", line=data.count(b"\n", 0, error.start) + 1)
        return _windows_text(data, file, error.start, faults)


def _windows_text(data: bytes, file: str, start: int, faults: Faults) -> tuple[str, tuple[Finding, ...]]:
    """Text of code page 1252; byte ``start`` is the first that is not UTF-8."""
    try:
        text = data.decode("cp1252")
    except UnicodeDecodeError as error:
        byte, line = f"0x{data[error.start]:02x}", data.count(b"\n", 0, error.start) + 1
        faults.halt("notes-not-text", variant="byte", line=line, byte=byte)
    row = text.count("\n", 0, start) + 1
    before = max(text.rfind("\n", 0, start), text.rfind("\r", 0, start), start - 11) + 1
    word = visible(text[before : start + 10].splitlines()[0])
    return text, (finding("notes-old-letters", "warning", at_line(file, row), row=row, word=word),)


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
    """A first look: lines are measured and counted before any is cut."""
    position = _long_line(text, LONGEST_LINE)
    if position >= 0:
        line = text.count("\n", 0, position) + 1
        faults.halt("notes-line-too-long", line=line, most=f"{LONGEST_LINE:,}")
    # a run of empty lines is counted by twos; only where there may be too many is each one looked at
    empty = text.count("\n\n")
    if empty > MOST_EMPTY // 2:
        empty = sum(1 for _ in islice(re.finditer(r"\n(?=\n)", text), MOST_EMPTY + 1))
    if empty > MOST_EMPTY:
        first = 1 if text.startswith("\n") else text.count("\n", 0, text.index("\n\n")) + 2
        faults.halt("notes-empty-lines", line=first, most=f"{MOST_EMPTY:,}")
    if text.count("\n") > MOST_ROWS + MOST_EMPTY:
        faults.halt("notes-too-many-rows", most=f"{MOST_ROWS:,}")


DecimalMark = Literal[".", ","]

_SAMPLE = 50
_SEPARATORS = "\t;,"
_NAMES = {"\t": "tabs", ";": "semicolons", ",": "commas"}
_DECLARED = r'(?i)"?sep=([;,|:\t])"?[\t;, ]*'
_QUOTED_CELL = r'(?:^|(?<=[\t;,]))"(?:[^"]|"")*"'


class Punctuation(NamedTuple):
    """``separator`` between cells; whether the comma is the decimal mark; whether ``1,234`` may group.

    ``first_line`` is the line (from 1) on which the table may begin: after a ``sep=;`` line.
    """

    separator: str
    decimal_comma: bool = False
    grouped: bool = False
    first_line: int = 1

    def findings(self, file: str) -> tuple[Finding, ...]:
        """Tell the user what was decided, unless it is the plain case."""
        plain = isinstance(file, SheetName) or self.separator == ","
        if plain and not self.decimal_comma:
            return ()
        mark = "comma" if self.decimal_comma else "point"
        between = _NAMES.get(self.separator, self.separator)
        return (finding("notes-dialect", "note", file, variant=mark, separator=between),)


def decide_punctuation(
    notes: NotesText, faults: Faults, *, decimal: DecimalMark | None = None
) -> Punctuation:
    """Decide separator and decimal mark from the whole file.

    A first line ``sep=;`` decides the separator; otherwise the one of tab, semicolon and comma that most
    of the first rows hold. In comma-separated files the decimal mark is the point. In the others it is
    what the file proves: ``98,72`` or ``0,125`` prove a comma, ``98.72`` a point. Both proved, or only
    such as ``1,234``, which may be either, is a fault unless ``decimal`` is given.
    """
    first = notes.line(1)
    declared = re.fullmatch(_DECLARED, first.strip(" \ufeff"))
    first_line = 2 if declared else 1
    separator = "\t" if notes.tabbed else declared[1] if declared else _commonest_separator(notes)
    if separator == "," or decimal is not None:
        return Punctuation(separator, decimal == ",", decimal is not None, first_line)
    return Punctuation(separator, _comma_is_proved(notes, separator, faults), False, first_line)


def _commonest_separator(notes: NotesText) -> str:
    held = dict.fromkeys(_SEPARATORS, 0)
    for line in _first_rows(notes.text):
        bare = re.sub(_QUOTED_CELL, "", line) if '"' in line else line
        for separator in held:
            held[separator] += separator in bare
    best = max(held.values())
    return next(s for s in _SEPARATORS if held[s] == best) if best else ","


def _first_rows(text: str) -> Iterator[str]:
    """The first rows that are neither blank nor comments."""
    start = count = 0
    for end in chain(_newlines(text), [len(text)]):
        line = text[start:end]
        start = end + 1
        if line.strip() and not line.lstrip().startswith("#"):
            count += 1
            yield line
        if count == _SAMPLE:
            return


def _comma_is_proved(notes: NotesText, separator: str, faults: Faults) -> bool:
    comma, unclear = _first_number(notes, separator, ",")
    if comma is None and unclear is None:
        return False
    point, _ = _first_number(notes, separator, r"\.")
    if comma is not None and point is not None:
        faults.note(
            "notes-mixed-decimals", line=comma[0], comma=comma[1], point=point[1], other=str(point[0])
        )
    elif comma is None and point is None and unclear is not None:
        line, text = unclear
        point_read, whole = text.replace(",", "."), text.replace(",", "")
        faults.halt("notes-unclear-decimals", line=line, text=text, point=point_read, whole=whole)
    return comma is not None


def _first_number(
    notes: NotesText, separator: str, mark: str
) -> tuple[tuple[int, str] | None, tuple[int, str] | None]:
    """The first number with ``mark`` that proves it a decimal mark, and the first that does not."""
    text = notes.text
    if mark[-1] not in text:
        return None, None
    edge = re.escape(separator)
    pattern = (
        rf'(?m)(?:^|(?<={edge})) *"?([-+\u2212\u2013]?([0-9]*){mark}([0-9]+))(?: ?[a-zA-Z]+)?"? *(?={edge}|$)'
    )
    unclear = None
    for match in re.finditer(pattern, text):
        whole, part = match[2], match[3]
        if len(part) != 3 or not 1 <= len(whole) <= 3 or whole.startswith("0"):
            return (notes.line_at(match.start(1)), match[1]), unclear
        if unclear is None:
            unclear = (notes.line_at(match.start(1)), match[1])
    return None, unclear
