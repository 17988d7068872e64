"""The general table that readers of other notes build on."""

from __future__ import annotations

import pytest

from gradework.errors import Faults, InputError
from gradework.fieldnotes.headers import STATION, Field, recognise
from gradework.fieldnotes.table import read_table
from gradework.units.numbers import QuantityError

FIELDS = (
    STATION,
    Field("BS", ("bs", "backsight", "back sight"), "length", "B"),
    Field("FS", ("fs", "foresight"), "length", "F"),
    Field("angle", ("angle", "bearing"), "number", "A"),
)


def read(text, unit="ft", **options):
    return read_table(text.encode(), "levels.csv", fields=FIELDS, needed=("station",), unit=unit, **options)


def test_values_by_row_and_name():
    table = read("Station,Back sight (ft),FS,Bearing\nBM1,4' 6\",,\nTP1,1.5,4.62,90.5\n")
    first, second = table.rows
    assert (table.has("BS"), table.has("IS"), table.unit) == (True, False, "ft")
    assert (table.text(first, "station"), first.line) == ("BM1", 2)
    assert table.length(first, "BS") == 1.3716
    assert table.length(first, "FS") is None
    assert table.length(second, "FS") == 4.62 * 0.3048
    assert table.number(second, "angle") == 90.5
    assert table.number(first, "angle") is None
    assert table.faults.all == []


def test_faults_gather_in_the_table_with_line_and_column():
    table = read("station,BS,FS,angle\nBM1,4.5.6,x,\nTP1,,1,ninety\n")
    for row in table.rows:
        table.length(row, "BS")
        table.length(row, "FS")
        table.number(row, "angle")
    table.needed_length(table.rows[1], "BS")
    last = table.rows[1]
    table.refuse(last, "station", QuantityError("TP1", "a mark", "fix it"))
    assert table.column(last, "angle") == 8
    with pytest.raises(InputError) as caught:
        table.faults.raise_if_any()
    assert [(f.line, f.column) for f in caught.value.faults] == [(2, 5), (2, 11), (3, 1), (3, 5), (3, 8)]


def test_a_quoted_cell_has_its_own_column():
    table = read('station,BS,FS\n"A ""big"", one",x,y\n')
    table.length(table.rows[0], "FS")
    assert (table.faults.all[0].line, table.faults.all[0].column) == (2, 20)


def test_a_needed_column_that_is_missing_stops():
    with pytest.raises(InputError, match="no column for station"):
        read("BS,FS\n1,2\n")
    with pytest.raises(InputError, match="no shots below the header"):
        read("station,BS,FS\n")


def test_letters_in_place_of_a_header():
    table = read("BM1,4.5,\nTP1,,1\n", columns="PBF")
    assert [row.line for row in table.rows] == [1, 2]
    assert table.length(table.rows[0], "BS") == 1.3716


def test_comments_and_blank_rows_keep_their_line_numbers():
    table = read('station,BS,FS\n\n# a "note\n,,\nBM1,1,"2"\n')
    assert [row.line for row in table.rows] == [5]


def test_columns_are_recognised_by_many_words():
    faults = Faults("f.csv")
    columns = recognise(["Stn.", "BACK_SIGHT [m]", " foresight, m", "", "weather"], FIELDS, faults, line=1)
    assert dict(columns.index) == {"station": 0, "BS": 1, "FS": 2}
    assert {name: said.unit for name, said in columns.units.items()} == {"BS": "m", "FS": "m"}
    assert (columns.ignored, columns.empty, faults.all) == (("weather",), (3,), [])


def test_an_unknown_unit_in_brackets_is_not_overlooked():
    faults = Faults("f.csv")
    recognise(["station", "BS (rods)"], FIELDS, faults, line=1)
    assert [f.code for f in faults.all] == ["notes-unknown-column"]
