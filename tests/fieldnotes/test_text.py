"""Bytes of a notes file to text."""

from __future__ import annotations

import codecs

import pytest

from gradework.errors import InputError
from gradework.fieldnotes import text as text_module
from gradework.fieldnotes.text import has_long_line, read_text

TABLE = "station,x,y,elevation\nA,0,0,98.5\n"


@pytest.mark.parametrize(
    "data",
    [
        TABLE.encode(),
        codecs.BOM_UTF8 + TABLE.encode(),
        codecs.BOM_UTF16_LE + TABLE.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + TABLE.encode("utf-16-be"),
        TABLE.replace("\n", "\r\n").encode(),
        TABLE.replace("\n", "\r").encode(),
        b"station,x,y,elevation\r\nA,0,0,98.5\r",
    ],
)
def test_rows_29_30_33_byte_order_marks_and_line_ends_of_every_kind(data):
    assert read_text(data, "yard.csv").text == TABLE
    assert read_text(data, "yard.csv").findings == ()


def test_row_31_old_windows_letters_are_read_with_a_warning_that_names_the_first_place():
    notes = read_text("station,x\nGarten\nBäche,1\n".encode("cp1252"), "yard.csv")
    assert notes.text == "station,x\nGarten\nBäche,1\n"
    (finding,) = notes.findings
    assert (finding.code, finding.severity, finding.where) == (
        "notes-old-letters",
        "warning",
        "yard.csv line 3",
    )
    assert "line 3, 'Bäche,1'" in finding.advice


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b"station,x\nA,\0\n", 2),
        (TABLE.encode("utf-16-le"), 1),
        (TABLE.encode("utf-32"), 1),
        (b"station,x\nA,\x81\n", 2),
        (codecs.BOM_UTF16_LE + b"a", 1),
        (b"PK\x03\x04\0\0\x81\x8d", 1),
    ],
)
def test_row_28_what_is_no_text_is_refused(data, line):
    with pytest.raises(InputError) as caught:
        read_text(data, "yard.csv")
    (fault,) = caught.value.faults
    assert (fault.code, fault.file, fault.line) == ("notes-not-text", "yard.csv", line)
    assert "CSV UTF-8" in fault.fix


def test_row_35_a_line_over_ten_thousand_characters_is_refused():
    read_text(b"a\n" + b"b" * 10_000 + b"\nc\n", "yard.csv")
    with pytest.raises(InputError, match=r"yard\.csv:2: error: a line of more than 10,000 characters"):
        read_text(b"a\n" + b"b" * 10_001 + b"\nc\n", "yard.csv")
    with pytest.raises(InputError, match="10,000 characters"):
        read_text(b"b" * 1_000_000, "yard.csv")


@pytest.mark.parametrize("length", [0, 1, 4, 5, 6, 20])
@pytest.mark.parametrize("before", ["", "ab\n", "abcde\n" * 3])
@pytest.mark.parametrize("after", ["", "\n", "\nabcde\na\n"])
def test_a_long_line_is_found_wherever_it_stands(before, length, after):
    assert has_long_line(before + "x" * length + after, 5) is (length > 5)


def test_row_36_a_file_over_the_limit_is_refused(monkeypatch):
    monkeypatch.setattr(text_module, "LARGEST_FILE", 2**20)
    with pytest.raises(InputError, match="a file of 2 MB; expected at most 1 MB"):
        read_text(bytes(2**21), "yard.csv")


def test_lines_by_number():
    notes = read_text("".join(f"line {i}\n" for i in range(1, 301)).encode(), "yard.csv")
    assert [notes.line(n) for n in (1, 2, 100, 101, 300, 301, 999)] == [
        "line 1",
        "line 2",
        "line 100",
        "line 101",
        "line 300",
        "",
        "",
    ]
    assert notes.line_at(notes.offset(250)) == 250
