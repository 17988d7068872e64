"""Level books as tables: which columns, one set-up with one reading, known marks, faults by line."""

from __future__ import annotations

import pytest

from gradework.errors import InputError
from gradework.fieldnotes.levels import read_levels
from gradework.survey.levelling.reduce import reduce_levels

FOOT = 0.3048
BOOK = """station,BS,IS,FS,known,note
BM,4.21,,,100.00,nail in the oak
A1,,5.30,,,
TP1,3.10,,6.02,,
A2,,4.44,,,
BM,,,1.29,,
"""


def codes(text: str, **more) -> list[tuple[str, int]]:
    with pytest.raises(InputError) as caught:
        read_levels(text.encode(), "book.csv", unit="ft", **more)
    return [(fault.code, fault.line) for fault in caught.value.faults]


def test_a_book_with_a_turning_point():
    notes = read_levels(BOOK.encode(), "book.csv", unit="ft")
    assert [row.station for row in notes.rows] == ["BM", "A1", "TP1", "A2", "BM"]
    turn = notes.rows[2]
    assert (turn.backsight, turn.foresight) == pytest.approx((3.10 * FOOT, 6.02 * FOOT), abs=1e-15)
    assert turn.line == 4
    assert notes.rows[0].known == 100 * FOOT
    assert notes.unit == "ft"
    assert reduce_levels(notes).misclosure == pytest.approx(0.0, abs=1e-9)  # 4.21 - 6.02 + 3.10 - 1.29 = 0


def test_headers_as_people_write_them():
    text = "Stn;Backsight (m);Int. Sight;Fore Sight;H.I.;Rise;Fall;R.L.;Remarks\n"
    with pytest.raises(InputError, match=r"write IS \(m\) and FS \(m\) in the header"):
        read_levels((text + "BM;1,5;;;;;;;\nA;;1,25;;;;;;\n").encode(), "b.csv", unit="ft")
    text = "Stn;Backsight;Int. sight;Fore Sight;H.I.;Rise;Fall;R.L.;Remarks\n"
    notes = read_levels((text + "BM;1,5;;;31,5;;;30;\nA;;1,25;;;0,25;;30,25;x\n").encode(), "b.csv", unit="m")
    assert notes.rows[1].intermediate == 1.25
    assert [row.booked for row in notes.rows] == [30.0, 30.25]


def test_one_reading_of_a_single_set_up():
    text = "station,reading\nBM,1.500\nA,1.2\nB,1.9\nBM,1.502\n"
    notes = read_levels(text.encode(), "book.csv", unit="m")
    kinds = [(r.backsight, r.intermediate, r.foresight) for r in notes.rows]
    assert kinds == [(1.5, None, None), (None, 1.2, None), (None, 1.9, None), (None, None, 1.502)]
    assert reduce_levels(notes).misclosure == pytest.approx(-0.002)


def test_one_reading_without_a_closing_shot():
    notes = read_levels(b"station,reading\nBM,1.500\nA,1.2\nB,1.9\n", "book.csv", unit="m")
    assert [r.foresight for r in notes.rows] == [None, None, None]
    assert reduce_levels(notes).closures == ()


def test_known_marks_given_beside_the_notes():
    text = "station,BS,IS,FS\nBM,1.5,,\nA,,1.2,\nTBM,,,1.1\n"
    notes = read_levels(text.encode(), "b.csv", unit="m", known={"BM": 50.0, "TBM": 50.4})
    assert [row.known for row in notes.rows] == [50.0, None, 50.4]
    assert codes("station,BS,IS,FS\nBM1,1.5,,\nA,,1.2,\n", known={"BM2": 5.0}) == [("levels-mark-missing", 0)]
    assert codes(BOOK, known={"BM": 99.0}) == [("levels-mark-twice", 2)]
    assert (
        read_levels(BOOK.encode(), "b.csv", unit="ft", known={"BM": 100 * FOOT}).rows[0].known == 100 * FOOT
    )


def test_without_a_declared_unit_each_cell_says_its_own():
    notes = read_levels(b"station,BS,IS\nBM,4' 2 1/2\",\nA,,5' 0\"\n", "book.csv", unit=None)
    assert notes.unit == "ft"
    assert notes.rows[0].backsight == pytest.approx((4 + 2.5 / 12) * FOOT, abs=1e-12)
    assert codes("station,BS,IS\nBM,4.2,\nA,,5.0\n".replace("BS", "BS (m)")) == [("notes-unit-disagrees", 1)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("station,reading,BS\nBM,1,1\n", [("levels-columns", 1)]),
        ("station,BS\nBM,1\n", [("levels-columns", 1)]),
        ("station,IS,FS\nBM,1,\n", [("levels-columns", 1)]),
        ("station,BS,IS\n,1,\nA,,2\n", [("levels-no-station", 2)]),
        ("station,BS,IS\nBM,1,\nA,,two\nB,,3x\n", [("notes-cell", 3), ("notes-cell", 4)]),
        ("station,BS,IS,colour\nBM,1,,red\n", [("notes-unknown-column", 1)]),
        ("BS,IS\n1,\n", [("notes-column-missing", 1)]),
        ("", [("notes-no-shots", 0)]),
    ],
)
def test_what_cannot_be_read_is_told_by_line(text: str, expected: list[tuple[str, int]]):
    assert codes(text) == expected
