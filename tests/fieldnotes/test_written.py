"""In which form notes were written."""

from __future__ import annotations

import pytest

from gradework.fieldnotes.written import written_form

HEAD = "station,x,y,reading\n"


@pytest.mark.parametrize(
    ("rows", "form"),
    [
        ("A,0,0,4' 6 7/8\"\nB,4,0,5'-1/2\"\n", "inches"),
        ("A,0,0,4' 6\"\nB,4,0,5'\n", "inches"),
        ("A,0,0,4 ft 6 in\nB,4,0,5 ft 1 1/2 in\n", "inches"),
        ("A,0,0,12 1/4\nB,4,0,11\n", "inches"),
        ('A,0,0,"4\' 6 7/8"""\nB,4,0,"5\' 1"""\n', "inches"),
        ("A,0,0,4\u2019 6 \u215e\u201d\nB,4,0,5\u2019 1\u201d\n", "inches"),
        ('A,0.5,0.25,54 1/2"\nB,4,0,5\' 1"\n', "inches"),
        ("A,0,0,4.57\nB,4,0,5.01\n", None),
        ("A,0,0,4.57 ft\nB,4,0,5.01'\n", None),
        ("A,0,0,4.57\nB,4,0,5.01\nC,1,1,4.88\nD,0,0,1/2 in\n", None),
        ("1-1,0,0,4.57\n1-2,4,0,5.01\n", None),
        ("1-1,0,0,4\n1-2,4,0,5\n", None),
        ("A,0,0,1393 mm\nB,4,0,139.5 cm\n", "mm"),
        ("A,0,0,1.393 m\nB,4,0,1.395 m\n", None),
        ("", None),
    ],
)
def test_cells_tell_the_form(rows: str, form: str | None) -> None:
    assert written_form((HEAD + rows).encode()) == form


@pytest.mark.parametrize(
    ("head", "form"),
    [("drop (in)", "inches"), ("reading [inches]", "inches"), ("drop (cm)", "mm"), ("reading (mm)", "mm"),
     ("reading (ft)", None), ("reading (m)", None)],
)  # fmt: skip
def test_a_unit_in_the_header_tells_it_too(head: str, form: str | None) -> None:
    assert written_form(f"station,{head}\nA,12\nB,14.5\nC,13.5\n".encode()) == form


def test_remarks_and_what_is_no_text_tell_nothing() -> None:
    assert written_form(b"# read 4' 6\" at the gate\nstation,x\nA,1.5\n") is None
    assert written_form(b"\xff\xfe\x00\x01") is None
