"""What the cells of an xlsx workbook show beside their values, and how far each sheet reaches."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping

from gradework.errors import Faults
from gradework.fieldnotes.lettered import letters_number
from gradework.fieldnotes.workbook.archive import Attributes, walk
from gradework.fieldnotes.workbook.look import MOST_COLUMNS, MOST_ROWS, Look, shown_behind, too_large

WORKBOOK = "xl/workbook.xml"

_REFERENCE = re.compile(r"([A-Za-z]{1,3})([0-9]{1,7})")
_PERCENT = {"9": "%", "10": "%"}
"""The number formats with a percent sign that every workbook has without writing them."""


def look_at_xlsx(members: Mapping[str, bytes], faults: Faults) -> dict[str, Look]:
    """Look through the sheets, by name; halts on one that reaches too far."""
    behind = _shown_by_style(members, faults)
    return {
        name: _Sheet(behind, faults).look(members[part])
        for name, part in _parts_of_sheets(members, faults).items()
        if part in members
    }


def _parts_of_sheets(members: Mapping[str, bytes], faults: Faults) -> dict[str, str]:
    """The member that holds each sheet, by its name."""
    named: dict[str, str] = {}
    targets: dict[str, str] = {}

    def sheet(tag: str, said: Attributes) -> None:
        if tag == "sheet":
            named[said.get("name", "")] = said.get("id", "")

    def relation(tag: str, said: Attributes) -> None:
        if tag == "Relationship":
            targets[said.get("Id", "")] = said.get("Target", "")

    walk(members[WORKBOOK], faults, start=sheet)
    walk(members.get("xl/_rels/workbook.xml.rels", b"<none/>"), faults, start=relation)
    return {
        name: posixpath.normpath(posixpath.join("/xl", targets.get(key, ""))).lstrip("/")
        for name, key in named.items()
    }


def _shown_by_style(members: Mapping[str, bytes], faults: Faults) -> list[str]:
    """What stands behind a number in each style of the workbook, in their order."""
    codes = dict(_PERCENT)
    styles: list[str] = []
    inside: list[str] = []

    def start(tag: str, said: Attributes) -> None:
        inside.append(tag)
        if tag == "numFmt":
            codes[said.get("numFmtId", "")] = shown_behind(said.get("formatCode", ""))
        elif tag == "xf" and "cellXfs" in inside:
            styles.append(codes.get(said.get("numFmtId", ""), ""))

    def end(_: str) -> None:
        inside.pop()

    walk(members.get("xl/styles.xml", b"<none/>"), faults, start=start, end=end)
    return styles


class _Sheet:
    """One walk through a sheet, cell by cell."""

    def __init__(self, behind: list[str], faults: Faults) -> None:
        self._behind = behind
        self._faults = faults
        self._look = Look()
        self._row = self._column = -1
        self._said: Attributes = {}
        self._formula: str | None = None
        self._kept: str | None = None
        self._text: list[str] = []

    def look(self, content: bytes) -> Look:
        walk(content, self._faults, start=self._start, end=self._end, text=self._text.append)
        return self._look

    def _start(self, tag: str, said: Attributes) -> None:
        if tag == "row":
            number = said.get("r", "")
            self._row = int(number) - 1 if number.isdecimal() and len(number) < 9 else self._row + 1
            self._column = -1
        elif tag == "c":
            self._begin_cell(said)
        self._text.clear()

    def _begin_cell(self, said: Attributes) -> None:
        self._said, self._formula, self._kept = said, None, None
        self._column += 1
        place = said.get("r")
        if place is None:
            return
        match = _REFERENCE.fullmatch(place)
        if match is None:
            self._faults.halt("workbook-unreadable", reason="a cell of it has no place on the sheet")
        self._column = letters_number(match[1])
        self._row = int(match[2]) - 1
        if self._row >= MOST_ROWS or self._column >= MOST_COLUMNS:
            too_large(self._row + 1, self._column + 1, self._faults)

    def _end(self, tag: str) -> None:
        if tag == "f":
            self._formula = "".join(self._text)
        elif tag in ("v", "is", "t"):
            self._kept = "".join(self._text)
        elif tag == "c":
            self._finish_cell()
        self._text.clear()

    def _finish_cell(self) -> None:
        """An error is empty to the reader of cells, and so is a formula that nothing has worked out."""
        at = (max(self._row, 0), self._column)
        kind = self._said.get("t", "n")
        if self._kept is None and self._formula is None:
            return
        self._look.reach(*at, self._faults)
        if self._formula is not None and not self._kept and kind == "n":
            self._look.texts[at] = f"={self._formula}"
        elif kind == "e":
            self._look.texts[at] = self._kept or "#N/A"
        elif kind == "n":
            style = self._said.get("s", "")
            behind = self._behind[int(style)] if style.isdecimal() and int(style) < len(self._behind) else ""
            if behind:
                self._look.behind[at] = behind
