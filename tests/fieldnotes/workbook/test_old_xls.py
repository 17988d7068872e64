"""Workbooks of the xls before 1997: its names and formats are bytes, in a stream of another name."""

from __future__ import annotations

import io
import struct
from typing import Any

import pytest
from xlwt.CompoundDoc import XlsDoc

from gradework.errors import InputError
from gradework.fieldnotes.spots import read_spots
from gradework.fieldnotes.workbook.door import notes_in

ROWS: list[list[Any]] = [
    ["station", "x", "y", "z"],
    ["A", 0.0, 0.0, 1.5],
    ["B", 5.0, 0.0, (2.5, 1)],
    ["C", 0.0, 5.0, 1.25],
]


def record(kind: int, content: bytes) -> bytes:
    return struct.pack("<2H", kind, len(content)) + content


def begun(kind: int) -> bytes:
    return record(0x0809, struct.pack("<4H", 0x0500, kind, 0, 1995))


def short(text: str) -> bytes:
    letters = text.encode("cp1252")
    return bytes([len(letters)]) + letters


def cell(row: int, column: int, value: Any) -> bytes:
    plain, style = value if isinstance(value, tuple) else (value, 0)
    place = struct.pack("<3H", row, column, style)
    if plain == "#REF!":
        return record(0x0205, place + bytes([23, 1]))
    if isinstance(plain, str):
        letters = plain.encode("cp1252")
        return record(0x0204, place + struct.pack("<H", len(letters)) + letters)
    return record(0x0203, place + struct.pack("<d", plain))


def old_xls(sheets: dict[str, list[list[Any]]], *, codepage: int = 1252) -> bytes:
    """A workbook of BIFF5, written by hand; style 1 shows a number in inches."""
    ended = record(0x000A, b"")
    bodies = []
    for rows in sheets.values():
        cells = [cell(r, c, v) for r, row in enumerate(rows) for c, v in enumerate(row) if v is not None]
        bodies.append(begun(0x0010) + b"".join(cells) + ended)
    head = begun(0x0005) + record(0x0042, struct.pack("<H", codepage))
    head += record(0x041E, struct.pack("<H", 164) + short('0.0" in"'))
    head += b"".join(record(0x00E0, struct.pack("<2H", 0, code).ljust(16, b"\0")) for code in (0, 164))
    at = len(head) + sum(11 + len(name) for name in sheets) + len(ended)
    for name, body in zip(sheets, bodies, strict=True):
        head += record(0x0085, struct.pack("<I2B", at, 0, 0) + short(name))
        at += len(body)
    stream = io.BytesIO()
    XlsDoc().save(stream, head + ended + b"".join(bodies))
    return _renamed(stream.getvalue())


def _renamed(document: bytes) -> bytes:
    """The document with its stream under the name that it had then."""
    at = document.index("Workbook".encode("utf-16-le"))
    name = "Book".encode("utf-16-le").ljust(64, b"\0") + struct.pack("<H", 10)
    return document[:at] + name + document[at + len(name) :]


def test_it_is_read_as_the_later_ones_are() -> None:
    text, file = notes_in(old_xls({"Prices": [["gravel", 38.0]], "Löcher": ROWS}), "old.xls")
    assert file == "old.xls, sheet Löcher"
    notes = read_spots(text, file, unit="m")
    assert notes.names == ("A", "B", "C")
    assert list(notes.elevation) == pytest.approx([1.5, 2.5 * 0.0254, 1.25])


def test_an_error_in_it_is_refused_at_its_cell() -> None:
    rows = [*ROWS, ["D", 5.0, 5.0, "#REF!"]]
    with pytest.raises(InputError) as told:
        read_spots(*notes_in(old_xls({"Yard": rows}), "old.xls"), unit="m")
    assert [str(fault).partition(": error")[0] for fault in told.value.faults] == [
        "old.xls, sheet Yard, cell D5"
    ]


def test_names_of_sheets_in_other_letters_are_not_passed_over() -> None:
    """The errors and units of a sheet are found by its name, so a name that reads otherwise loses them."""
    with pytest.raises(InputError) as told:
        notes_in(old_xls({"Löcher": ROWS}, codepage=1251), "old.xls")
    assert [fault.code for fault in told.value.faults] == ["workbook-unreadable"]
    assert "save it as xlsx" in told.value.faults[0].fix
