"""Workbooks that are damaged, locked, or made to fill the memory: a clear fault each, and soon."""

from __future__ import annotations

import io
import random
import struct
import time
import zipfile

import pytest

from gradework.errors import Faults, InputError
from gradework.fieldnotes.workbook import book
from gradework.fieldnotes.workbook.archive import MOST_UNPACKED, unpack
from gradework.fieldnotes.workbook.door import notes_in
from gradework.fieldnotes.workbook.look import shown_behind

SHOTS = [["station", "x", "y", "z"], ["A", 0, 0, 1.5], ["B", 5, 0, (2.5, '0.0" in"')], ["C", 0, 5, "#REF!"]]


def refused(data: bytes, sheet: str | None = None, seconds: float = 10.0) -> str:
    start = time.process_time()
    with pytest.raises(InputError) as told:
        notes_in(data, "yard.xlsx", sheet)
    assert time.process_time() - start < seconds
    (fault,) = told.value.faults
    return str(fault)


def with_part(data: bytes, part: str, content: bytes) -> bytes:
    """The archive with another content of one part."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, content if name == part else old.read(name))
        if part not in old.namelist():
            new.writestr(part, content)
    return stream.getvalue()


def sheet_of(cells: str) -> bytes:
    head = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    return f"{head}{cells}</sheetData></worksheet>".encode()


PART = "xl/worksheets/sheet1.xml"


def test_an_archive_that_unpacks_to_too_much(workbook) -> None:
    bomb = with_part(workbook("xlsx", {"S": SHOTS}), PART, b" " * (MOST_UNPACKED + 1))
    assert len(bomb) < 2**20
    assert "unpacks to more than 64 MB" in refused(bomb)


def test_a_size_that_lies_is_found_out(workbook) -> None:
    bomb = with_part(workbook("xlsx", {"S": SHOTS}), PART, b" " * 1_000_000)
    lying = bomb.replace(struct.pack("<I", 1_000_000), struct.pack("<I", 10))
    assert lying != bomb
    assert "its archive is damaged or cut short" in refused(lying)


def test_very_many_parts() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for number in range(2_001):
            archive.writestr(f"p{number}", "")
    assert "more than 2,000 parts" in refused(stream.getvalue())


@pytest.mark.parametrize(
    "place", ["XFD1048576", "A4000001", "XFE1", "ZZZ9999999"], ids=["far", "deep", "wide", "wild"]
)
def test_a_cell_far_out(place, workbook) -> None:
    cells = f'<row r="1"><c r="A1"><v>1</v></c></row><row><c r="{place}"><v>2</v></c></row>'
    assert "a sheet of" in refused(with_part(workbook("xlsx", {"S": SHOTS}), PART, sheet_of(cells)))


def test_a_cell_far_out_with_nothing_in_it_is_no_matter(workbook) -> None:
    head = '<row r="1"><c r="A1" t="inlineStr"><is><t>station</t></is></c></row>'
    cells = head + '<row><c r="XFD1048576" s="0"/></row>'
    text, _ = notes_in(with_part(workbook("xlsx", {"S": SHOTS}), PART, sheet_of(cells)), "b")
    assert text == b"station\n"


def test_a_cell_without_a_place(workbook) -> None:
    cells = '<row r="1"><c r="1A"><v>1</v></c></row>'
    assert "no place on the sheet" in refused(
        with_part(workbook("xlsx", {"S": SHOTS}), PART, sheet_of(cells))
    )


def test_text_that_grows_without_end(workbook) -> None:
    types = b'<!DOCTYPE worksheet [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    told = refused(with_part(workbook("xlsx", {"S": SHOTS}), PART, types + sheet_of("<row>&b;</row>")))
    assert "a part of it is not what spreadsheets write" in told


@pytest.mark.parametrize(
    "rows",
    [
        '<table:table-row table:number-rows-repeated="1048576"><table:table-cell'
        ' table:number-columns-repeated="16384" office:value-type="float"/></table:table-row>',
        '<table:table-row table:number-rows-repeated="4000000000"><table:table-cell/></table:table-row>',
        '<table:table-row><table:table-cell table:number-columns-repeated="99999999"/></table:table-row>',
    ],
)
def test_cells_that_repeat_too_often(rows, workbook) -> None:
    with zipfile.ZipFile(io.BytesIO(workbook("ods", {"S": SHOTS}))) as archive:
        content = archive.read("content.xml").decode()
    head, _, rest = content.partition("</table:table>")
    bad = with_part(
        workbook("ods", {"S": SHOTS}), "content.xml", f"{head}{rows}</table:table>{rest}".encode()
    )
    assert "a sheet of" in refused(bad)


def test_an_xls_with_a_cell_far_out(workbook) -> None:
    data = workbook("xls", {"S": [["station", "x"], ["A", 1234.5]]})
    number = struct.pack("<4H", 0x027E, 10, 1, 1)
    assert number in data
    told = refused(data.replace(number, struct.pack("<4H", 0x027E, 10, 65_000, 60_000)))
    assert "a sheet of 65,001 rows and 60,001 columns" in told


def test_what_is_no_workbook_or_is_locked(workbook) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("word/document.xml", "<document/>")
    assert "no workbook" in refused(stream.getvalue())
    assert "binary workbook (xlsb)" in refused(with_part(stream.getvalue(), "xl/workbook.bin", b""))
    xls = workbook("xls", {"S": SHOTS})
    assert "locked with a password" in refused(_locked(xls))


def _locked(xls: bytes) -> bytes:
    """The document with its stream under the name that a locked xlsx has."""
    name = "Workbook".encode("utf-16-le")
    at = xls.index(name)
    longer = "EncryptedPackage".encode("utf-16-le")
    return xls[:at] + longer + xls[at + len(longer) : at + 64] + struct.pack("<H", 34) + xls[at + 66 :]


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
def test_cut_short(kind, workbook) -> None:
    data = workbook(kind, {"S": SHOTS})
    for length in (8, 40, 600, len(data) // 2):
        assert "workbook-" in refused(data[:length])


@pytest.mark.parametrize("kind", ["xlsx", "ods", "xls"])
def test_damaged_bytes_end_in_a_fault_or_in_notes(kind, workbook) -> None:
    data = workbook(kind, {"S": SHOTS})
    for seed in range(25):
        wild = random.Random(seed)
        bad = bytearray(data)
        for _ in range(wild.choice([1, 3, 20])):
            bad[wild.randrange(8, len(bad))] = wild.randrange(256)
        assert told(bytes(bad)) <= {"workbook-unreadable", "workbook-too-large", "workbook-sheet"}


def told(data: bytes) -> set[str]:
    """The codes of its faults; none where it gives text."""
    try:
        notes_in(data, "b")[0].decode()
    except InputError as problem:
        return {fault.code for fault in problem.faults}
    return set()


def test_a_reader_that_dies_is_told_as_a_fault(workbook) -> None:
    cells = '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>2</v></c></row>'
    data = with_part(workbook("xlsx", {"S": SHOTS}), PART, sheet_of(cells))
    with pytest.raises(InputError) as told:
        book.sheets_as_text(data, {}, None, Faults("b"))
    assert told.value.faults[0].code == "workbook-unreadable"


def test_two_parts_of_one_name() -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("xl/workbook.xml", "a")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("xl/workbook.xml", "b")
    with pytest.raises(InputError, match="two parts of one name"):
        unpack(stream.getvalue(), Faults("b"))


@pytest.mark.parametrize(
    ("code", "shown"),
    [
        ("General", ""),
        ("0.00", ""),
        ("# ?/?", ""),
        ("0%", "%"),
        ('0" %"', ""),
        ("0.00\\ \\f\\t", " ft"),
        ('[Red]0.00" m";[Blue]-0.00" m"', " m"),
        ('"BM "0.00', ""),
        ('0.00" (est.)"', ""),
        ("0'", "'"),
        ('0.0" in; more or less";0', ""),
        ('[<1]0.0" in";0.0" ft"', " in or ft"),
        ('[<12]0.0;[>=12]0.0" ft"', " no unit or ft"),
        ('[<1]0.0" in";General', " in or no unit"),
        ('[<1]0.0" in";General" ft"', " in or ft"),
        ('[<1]0.0" in";GENERAL" in"', " in"),
        ('"ft "General', ""),
        ('[<0]-0.0" ft";0.0" ft"', " ft"),
        ('[=0]"-";0.0" ft"', " ft"),
        ("[$-409]0.0", ""),
    ],
)
def test_what_a_number_format_shows_behind_the_number(code, shown) -> None:
    assert shown_behind(code) == shown
