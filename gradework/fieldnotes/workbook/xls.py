"""What the cells of an xls workbook show beside their values, and how far each sheet reaches.

The file is a compound document: sectors in chains, and in one of these streams the records of the workbook.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from gradework.errors import Faults
from gradework.fieldnotes.workbook.look import Look, shown_behind

_LAST_SECTOR = 0xFFFFFFFA
"""Numbers of sectors from here on mean the end of a chain, or no sector."""

_DAMAGED = (struct.error, IndexError, ValueError)

_BYTES_BEFORE = 0x0600
"""Workbooks of versions before this one (1997) hold bytes of code page 1252 for letters."""


def look_at_xls(data: bytes, faults: Faults) -> dict[str, Look]:
    """Look through the sheets, by name; halts on a damaged or locked file."""
    try:
        stream = _workbook_stream(data, faults)
        if stream is None:
            faults.halt("workbook-unreadable", variant="other")
        return _Records(stream, faults).looks()
    except _DAMAGED:
        faults.halt("workbook-unreadable", reason="a part of it is damaged or cut short")


# The compound document: a header, a table that chains sectors, a directory of streams.


def _workbook_stream(data: bytes, faults: Faults) -> bytes | None:
    """The stream with the records of the workbook; None if there is none."""
    size = 1 << min(struct.unpack_from("<H", data, 30)[0], 16)
    table_sectors, directory, smallest, small_table, more = struct.unpack_from("<2I4x2I4xI", data, 44)
    table_sectors = min(table_sectors, len(data) // size + 1)
    heads = list(struct.unpack_from("<109I", data, 76))
    while more < _LAST_SECTOR and len(heads) < table_sectors:
        *listed, more = struct.unpack_from(f"<{size // 4}I", data, (more + 1) * size)
        heads += listed
    table: list[int] = []
    for head in heads[:table_sectors]:
        if head < _LAST_SECTOR:
            table += struct.unpack_from(f"<{size // 4}I", data, (head + 1) * size)
    entries = _chained(data, table, directory, size, size)
    root = struct.unpack_from("<I", entries, 116)[0]
    for at in range(0, len(entries) - 127, 128):
        length = struct.unpack_from("<H", entries, at + 64)[0] - 2  # without the NUL at its end
        name = entries[at : at + max(0, length)].decode("utf-16-le")
        if name == "EncryptedPackage":  # an xlsx with a password is kept in such a document
            faults.halt("workbook-unreadable", variant="password")
        if name not in ("Workbook", "Book"):
            continue
        first, length = struct.unpack_from("<2I", entries, at + 116)
        if length >= smallest:
            return _chained(data, table, first, size, size)[:length]
        small = _chained(data, table, small_table, size, size)
        within = _chained(data, table, root, size, size)
        chain = list(struct.unpack(f"<{len(small) // 4}I", small))
        return _chained(within, chain, first, 64, 0)[:length]
    return None


def _chained(data: bytes, table: list[int], first: int, size: int, before: int) -> bytes:
    """The sectors of a chain, one after the other; ``before``: bytes that stand before sector 0."""
    parts: list[bytes] = []
    at = first
    while at < _LAST_SECTOR:
        if len(parts) * size > len(data):
            raise IndexError("a chain that never ends")
        parts.append(data[at * size + before : (at + 1) * size + before])
        at = table[at]
    return b"".join(parts)


# The records of the workbook, each with its kind and length.

_FORMULA, _LOCKED, _SHEET, _FORMAT, _STYLE = 0x0006, 0x002F, 0x0085, 0x041E, 0x00E0
_NUMBER, _ERROR, _RK, _MANY_RK = 0x0203, 0x0205, 0x027E, 0x00BD
_TEXTS = (0x0204, 0x00FD, 0x00D6)
_ERRORS = {0: "#NULL!", 7: "#DIV/0!", 15: "#VALUE!", 23: "#REF!", 29: "#NAME?", 36: "#NUM!", 42: "#N/A"}


class _Records:
    """One walk through the records, the sheets among them by name."""

    def __init__(self, stream: bytes, faults: Faults) -> None:
        self._stream = stream
        self._faults = faults
        self._old = struct.unpack_from("<H", stream, 4)[0] < _BYTES_BEFORE
        self._codes = {9: "%", 10: "%"}
        self._styles: list[str] = []

    def looks(self) -> dict[str, Look]:
        sheets: dict[str, int] = {}
        for kind, at, length in self._records(0):
            if kind == _LOCKED:
                self._faults.halt("workbook-unreadable", variant="password")
            elif kind == _FORMAT:
                number = struct.unpack_from("<H", self._stream, at)[0]
                self._codes[number] = shown_behind(self._words(at + 2, at + length, wide=2))
            elif kind == _STYLE:
                number = struct.unpack_from("<H", self._stream, at + 2)[0]
                self._styles.append(self._codes.get(number, ""))
            elif kind == _SHEET:
                name = self._words(at + 6, at + length, wide=1)
                sheets[name] = struct.unpack_from("<I", self._stream, at)[0]
        return {name: self._sheet(start) for name, start in sheets.items()}

    def _records(self, at: int) -> Iterator[tuple[int, int, int]]:
        """Kind, beginning and length of each record up to the end of the part that begins at ``at``."""
        while at + 4 <= len(self._stream):
            kind, length = struct.unpack_from("<2H", self._stream, at)
            if kind == 0x000A:
                return
            yield kind, at + 4, length
            at += 4 + length

    def _words(self, at: int, end: int, *, wide: int) -> str:
        """Text with its length in ``wide`` bytes before it and a mark of how it is written; in old
        workbooks with one byte before it, and no mark."""
        if self._old:
            return self._stream[at + 1 : end][: self._stream[at]].decode("cp1252", "replace")
        count = int.from_bytes(self._stream[at : at + wide], "little")
        letters = self._stream[at + wide + 1 : end]
        if self._stream[at + wide] & 1:
            return letters[: 2 * count].decode("utf-16-le")
        return letters[:count].decode("latin-1")

    def _sheet(self, start: int) -> Look:
        look = Look()
        for kind, at, length in self._records(start):
            if kind in (_FORMULA, _NUMBER, _ERROR, _RK, _MANY_RK, *_TEXTS):
                self._cell(look, kind, at, length)
        return look

    def _cell(self, look: Look, kind: int, at: int, length: int) -> None:
        row, column, style = struct.unpack_from("<3H", self._stream, at)
        if kind == _MANY_RK:
            for i in range((length - 6) // 6):
                style = struct.unpack_from("<H", self._stream, at + 4 + 6 * i)[0]
                self._number(look, row, column + i, style)
        elif kind in (_NUMBER, _RK):
            self._number(look, row, column, style)
        else:
            look.reach(row, column, self._faults)
            what = self._stream[at + 6 : at + 14]
            if kind == _ERROR and what[1]:
                look.texts[row, column] = _ERRORS.get(what[0], "#N/A")
            elif kind == _FORMULA and what[6:] == b"\xff\xff" and what[0] == 2:
                look.texts[row, column] = _ERRORS.get(what[2], "#N/A")
            elif kind == _FORMULA and what[6:] != b"\xff\xff":
                self._number(look, row, column, style)

    def _number(self, look: Look, row: int, column: int, style: int) -> None:
        look.reach(row, column, self._faults)
        behind = self._styles[style] if style < len(self._styles) else ""
        if behind:
            look.behind[row, column] = behind
