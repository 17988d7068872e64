"""CSV that spreadsheets open safely and that our own reader takes back."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.errors import CheckError
from gradework.exchange.tables import order_table, rows_beside, safe_text, stations_table, table_bytes
from gradework.fieldnotes.spots import read_spots
from gradework.sitework.days import Task
from gradework.sitework.hire import Hired
from gradework.sitework.order import OrderLine
from gradework.survey.stations import Stations
from gradework.units.display import Display

NASTY = [
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "\0=1",
    " =1",
    "＝1",
    "＋1",
    "－1",
    "＠x",
]


def rows_of(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("name", NASTY)
def test_no_text_runs_as_a_formula(name: str) -> None:
    # OWASP ASVS 5 item 1.2.10, CWE-1236: = + - @ tab CR, their full-width forms, NUL
    (cell,) = rows_of(table_bytes([], [[name]]))[1]
    assert cell.startswith("'")
    assert "\0" not in cell


@pytest.mark.parametrize("name", ["A1", "gate post", "a=b", "5' 3\"", "'quoted", "ü木🙂", ""])
def test_harmless_text_is_left_alone(name: str) -> None:
    assert safe_text(name) == name


def test_numbers_stay_numbers_also_below_zero() -> None:
    assert rows_of(table_bytes(["a", "b", "c", "d"], [[-0.25, 3, None, math.nan]]))[1] == [
        "-0.25",
        "3",
        "",
        "",
    ]


def test_mark_and_line_ends() -> None:
    data = table_bytes(["a", "b"], [["x", 1.5], ["y, z", 2]])
    assert data == b'\xef\xbb\xbfa,b\r\nx,1.5\r\n"y, z",2\r\n'


@settings(deadline=None, max_examples=60)
@given(st.lists(st.text(max_size=8), min_size=1, max_size=4))
def test_any_text_survives_the_table(cells: list[str]) -> None:
    back = rows_of(table_bytes(["a"] * len(cells), [cells]))[1]
    assert len(back) == len(cells)
    for cell, read in zip(cells, back, strict=True):
        clean = cell.replace("\0", "").encode("utf-8", "replace").decode()
        assert read in (clean, f"'{clean}")
        assert not read.lstrip().startswith(("=", "+", "-", "@"))


def stations(unit: str, names: list[str], sd: float = math.nan) -> Stations:
    xyz = np.array([[0.0, 0.0, 30.858], [3.048, 0.0, 30.5], [3.048, 6.1, 29.997]])
    return Stations(names, xyz, np.array([sd, math.nan, sd]), np.array([2, 3, 4]), "yard.csv", unit)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("unit", "form"),
    [("ft", "tenths"), ("ft", "inches"), ("in", "inches"), ("m", "m"), ("mm", "mm"), ("ftUS", "inches")],
)
def test_stations_read_back_as_notes_to_the_last_figure(unit: str, form: str) -> None:
    made = stations(unit, ["A1", "=B1", "C1"], sd=0.003)
    below = replace(made, xyz=made.xyz - 30.4 + 1 / 3)
    notes = read_spots(stations_table(below, Display(unit, form)), "stations.csv", unit=None)  # type: ignore[arg-type]
    assert list(notes.names) == ["A1", "'=B1", "C1"]
    assert not notes.findings
    assert np.column_stack([notes.x, notes.y, notes.elevation]).tolist() == below.xyz.tolist()


@pytest.mark.parametrize(
    ("form", "cell", "changed", "metres"),
    [
        ("tenths", "100.066,", "100.07,", 100.07 * 0.3048),
        ("inches", "100' 0 3/4\"", "100' 1\"", (1200 + 1) * 0.0254),
    ],
)
def test_a_cell_that_somebody_changed_counts_as_changed(form, cell, changed, metres) -> None:
    """98.414 ft, 100.066 ft and 101.24 ft were shot: the middle one is written anew."""
    made = stations("ft", ["A1", "B1", "C1"])
    level = replace(made, xyz=np.column_stack([made.xyz[:, :2], [30.858, 30.5, 29.997]]))
    written = stations_table(level, Display("ft", form)).decode()
    before, after = (one.replace('"', '""') for one in (cell, changed))
    assert written.count(before) == 1
    notes = read_spots(written.replace(before, after).encode(), "stations.csv", unit=None)
    assert notes.elevation[1] == pytest.approx(metres, abs=1e-12)
    assert (notes.elevation[0], notes.elevation[2]) == (30.858, 29.997)


def test_stations_in_feet_and_inches_run_as_no_formula() -> None:
    made = stations("ft", ["A1", "B1", "C1"])
    low = replace(made, xyz=made.xyz - [[0.0, 7.0, 31.0]])
    head, *rows = rows_of(stations_table(low, Display("ft", "inches")))
    assert head[:4] == ["station", "x (ft in)", "y (ft in)", "elevation (ft in)"]
    assert rows[0][1:4] == [
        '0"',
        "\u221222' 11 5/8\"",
        '\u22125 5/8"',
    ]  # -7 m is -22.966 ft, -0.142 m -5.59 in


def test_standard_errors_have_a_column_where_they_are_known() -> None:
    rows = rows_of(stations_table(stations("m", ["A1", "B1", "C1"], sd=0.003), Display("m")))
    heads = ["station", "x (m)", "y (m)", "elevation (m)", "sd (m)"]
    assert rows[0] == [*heads, "x SI (m)", "y SI (m)", "elevation SI (m)", "sd SI (m)"]
    assert [row[4] for row in rows[1:]] == ["0.003", "", "0.003"]  # not known is empty, not nan
    assert [row[-1] for row in rows[1:]] == ["0.003", "", "0.003"]


def test_stations_stand_in_metres_in_full_beside_their_own_unit() -> None:
    made = stations("ft", ["A1", "B1", "C1"])
    again = replace(made, xyz=made.xyz + 1 / 3)
    first, *rows = rows_of(stations_table(again, Display("ft")))
    assert first[-3:] == ["x SI (m)", "y SI (m)", "elevation SI (m)"]
    assert [[float(cell) for cell in row[-3:]] for row in rows] == again.xyz.tolist()
    assert rows[0][1] == "1.094"


def test_the_order_table() -> None:
    line = OrderLine(
        "crushed stone", 8.0, "short tons", 6.6, 7.6, 0.5, "5 % water, 10 % waste", "why", 7257.48
    ).paid_by("gravel", 7257.48)
    header, row = rows_of(order_table([line]))
    assert header == [
        "item",
        "to buy",
        "unit",
        "calculated",
        "with allowance",
        "allowance",
        "reason",
        "weight (kg)",
        "note",
        "from",
        "to buy SI",
        "calculated SI",
        "with allowance SI",
        "unit SI",
        "weight SI (kg)",
    ]
    assert [float(cell) for cell in (*row[-5:-2], row[-1])] == pytest.approx(
        [8 * 907.18474, 6.6 * 907.18474, 7.6 * 907.18474, 7257.48], rel=1e-15
    )
    assert row[-2] == "kg"
    assert row[:-5] == [
        "crushed stone",
        "8",
        "short tons",
        "6.6",
        "7.6",
        "5 % water, 10 % waste",
        "why",
        "7257.5",
        "",
        "quarry",
    ]
    *_, last = rows_of(order_table([line], (7257.48, "2 truck loads")))
    assert last == ["total", "", "", "", "", "", "", "7257.5", "2 truck loads", "", "", "", "", "", "7257.48"]
    counted = OrderLine("blocks", 12.0, "blocks", 12.0, 12.0, 1.0, "", "", 190.0)
    assert rows_of(order_table([counted]))[1][-5:] == ["12.0", "12.0", "12.0", "blocks", "190.0"]
    order_table([line] * 3, (3 * 7257.48, "all"))  # 21 772.44: the rows make 21 772.5, within their rounding
    with pytest.raises(CheckError, match="add up to"):
        order_table([line], (7257.7, "one load"))


def test_what_stands_beside_an_order_says_what_it_is_in_its_own_columns() -> None:
    task = Task("dig", (2.0, 3.5), "check it", 1, 2, (date(2027, 4, 12), date(2027, 4, 13)))
    soil = [("topsoil, spread", 0.5, 0.625)]
    hired = [Hired("laser level", "8 piers", "laser_day", 1.0)]
    header, *rows = rows_of(
        order_table([], beside=rows_beside(hired, soil, [task], "rent", [("door", "=3 ft wide")]))
    )
    told = [{name: cell for name, cell in zip(header, row, strict=True) if cell} for row in rows]
    assert told == [
        {"item": "rent: laser level", "reason": "8 piers"},
        {
            "item": "soil: topsoil, spread", "reason": "in place, then loose", "calculated SI": "0.5",
            "with allowance SI": "0.625", "unit SI": "m³",
        },
        {"item": "door: =3 ft wide"},
        {
            "item": "work: dig", "reason": "hours, least, then most; day 1-2",
            "note": "Mon 04-12 to Tue 04-13; check it", "calculated SI": "2.0", "with allowance SI": "3.5",
            "unit SI": "h",
        },
    ]  # fmt: skip


def test_rows_without_a_weight_do_not_loosen_the_check_of_the_sum() -> None:
    one = OrderLine("stone", 1.0, "tonnes", 1.0, 1.0, 1.0, "", "", 100.0)
    beside = [["work: dig", *[None] * 14]] * 20
    assert rows_of(order_table([one], (100.04, ""), beside=beside))
    with pytest.raises(CheckError, match="add up"):
        order_table([one], (101.0, ""), beside=beside)
