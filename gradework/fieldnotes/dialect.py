"""How a notes file writes its cells and numbers, decided once for the whole file, never row by row."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Literal, NamedTuple

from gradework.errors import Faults, Finding
from gradework.fieldnotes.text import NotesText

DecimalMark = Literal[".", ","]

_SAMPLE = 50
_SEPARATORS = "\t;,"
_NAMES = {"\t": "tabs", ";": "semicolons", ",": "commas"}
_DECLARED = r'(?i)"?sep=([;,|:\t])"?[\t;, ]*'
_QUOTED_CELL = r'(?:^|(?<=[\t;,]))"(?:[^"]|"")*"'


class Dialect(NamedTuple):
    """``separator`` between cells; whether the comma is the decimal mark; whether ``1,234`` may group.

    ``first_line`` is the line (from 1) on which the table may begin: after a ``sep=;`` line.
    """

    separator: str
    decimal_comma: bool = False
    grouped: bool = False
    first_line: int = 1

    def finding(self, file: str) -> Finding | None:
        """Tell the user what was decided, unless it is the plain case."""
        if self.separator == "," and not self.decimal_comma:
            return None
        mark = "the comma" if self.decimal_comma else "the point"
        advice = (
            f"Read with {_NAMES.get(self.separator, self.separator)} between cells, {mark} as decimal mark."
        )
        return Finding("notes-dialect", "note", file, None, None, advice)


def decide_dialect(notes: NotesText, faults: Faults, *, decimal: DecimalMark | None = None) -> Dialect:
    """Decide separator and decimal mark from the whole file.

    A first line ``sep=;`` decides the separator; otherwise the one of tab, semicolon and comma that most
    of the first rows hold. In comma-separated files the decimal mark is the point. In the others it is
    what the file proves: ``98,72`` or ``0,125`` prove a comma, ``98.72`` a point. Both proved, or only
    such as ``1,234``, which may be either, is a fault unless ``decimal`` is given.
    """
    first = notes.line(1)
    declared = re.fullmatch(_DECLARED, first.strip(" \ufeff"))
    first_line = 2 if declared else 1
    separator = declared[1] if declared else _commonest_separator(notes)
    if separator == "," or decimal is not None:
        return Dialect(separator, decimal == ",", decimal is not None, first_line)
    return Dialect(separator, _comma_is_proved(notes, separator, faults), False, first_line)


def _commonest_separator(notes: NotesText) -> str:
    held = dict.fromkeys(_SEPARATORS, 0)
    for line in _first_rows(notes.text):
        bare = re.sub(_QUOTED_CELL, "", line) if '"' in line else line
        for separator in held:
            held[separator] += separator in bare
    best = max(held.values())
    return next(s for s in _SEPARATORS if held[s] == best) if best else ","


def _first_rows(text: str) -> Iterator[str]:
    position = count = 0
    while position < len(text) and count < _SAMPLE:
        end = text.find("\n", position)
        end = len(text) if end < 0 else end
        line = text[position:end]
        position = end + 1
        if line.strip() and not line.lstrip().startswith("#"):
            count += 1
            yield line


def _comma_is_proved(notes: NotesText, separator: str, faults: Faults) -> bool:
    comma, unclear = _first_number(notes, separator, ",")
    if comma is None and unclear is None:
        return False
    point, _ = _first_number(notes, separator, r"\.")
    if comma is not None and point is not None:
        faults.add(
            "notes-mixed-decimals",
            f"'{comma[1]}' with a decimal comma, but '{point[1]}' with a point on line {point[0]}",
            "one decimal mark in the whole file",
            "write all numbers with the same mark",
            line=comma[0],
        )
    elif comma is None and point is None and unclear is not None:
        whole, shown = unclear[1].replace(",", ""), unclear[1].replace(",", ".")
        faults.stop(
            "notes-unclear-decimals",
            f"'{unclear[1]}', which may be {shown} or {whole}, and no other number that tells",
            "a decimal mark that is certain",
            'say which: decimal = "," or decimal = "." in the job (or --decimal)',
            line=unclear[0],
        )
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
