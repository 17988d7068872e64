"""Heights and places in one table or in two, joined by name: the same yard by reduce, cutfill and plan.

Places beside the readings are read where the notes are named as the table of places too; x and y are found
without that.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

SPACING = 3.0
NAMES = [f"{letter}{number}" for letter in "ABCD" for number in (1, 2, 3, 4)]
AT = {name: (10 + SPACING * (int(name[1]) - 1), 5 + SPACING * (ord(name[0]) - 65)) for name in NAMES}
LEVEL = {name: round(30 + 0.03 * (x - 10) + 0.05 * (y - 5), 3) for name, (x, y) in AT.items()}
BARN = {"barn A": (0.0, 0.0), "barn B": (30.0, 0.0)}

Rows = dict[str, str]


def levels() -> Rows:
    """Two set-ups over a turning point whose name could be one of the grid: the cells of each point."""
    rows = {"BM": "1.5,,"} | {n: f",{31.5 - LEVEL[n]:.3f}," for n in NAMES[:8]}
    rows |= {"TP1": "1.7,,0.9"} | {n: f",{32.3 - LEVEL[n]:.3f}," for n in NAMES[8:]}
    return rows


HEIGHTS: dict[str, tuple[str, Rows, list[str], str]] = {
    "level": ("BS,IS,FS", levels(), ["--known", "BM=30"], "known = { BM = 30 }"),
    "laser": (
        "reading", {n: f"{32 - LEVEL[n]:.3f}" for n in NAMES}, ["--hi", "32"], "hi = 32",
    ),
    "string": (
        "drop", {n: f"{32 - LEVEL[n]:.3f}" for n in NAMES}, ["--string", "32,32,8,0"],
        'string = { first = 32, second = 32, span = 8, sag = "0 mm" }',
    ),
    "water level": (
        "higher", {n: f"{LEVEL[n] - 30:.3f}" for n in NAMES}, ["--known", "BM=30"], "known = { BM = 30 }",
    ),
    "spots": ("elevation", {n: f"{LEVEL[n]:.3f}" for n in NAMES}, [], ""),
}  # fmt: skip


def tied(name: str) -> str:
    return ",".join(f"{math.dist(AT[name], mark):.4f}" for mark in BARN.values())


def seen(name: str) -> str:
    x, y = AT[name]
    return f"{math.degrees(math.atan2(x, y)):.5f},{math.hypot(x, y):.4f}"


MARKS = ["--mark", "barn A=0,0", "--mark", "barn B=30,0", "--side", "left"]
PLACES: dict[str, tuple[str, Rows, list[str], str]] = {
    "x and y": ("x,y", {n: f"{x},{y}" for n, (x, y) in AT.items()}, [], ""),
    "offsets": (
        "along,offset", {n: f"{x - 2},{y - 1}" for n, (x, y) in AT.items()}, ["--baseline", "2,1,40,1"],
        "baseline = [[2, 1], [40, 1]]",
    ),
    "ties": (
        "barn A,barn B", {n: tied(n) for n in NAMES}, MARKS,
        'side = "left"\nmarks = { "barn A" = [0, 0], "barn B" = [30, 0] }',
    ),
    "rays": (
        "angle,distance", {n: seen(n) for n in NAMES}, ["--seat", "0,0", "--zero", "90"],
        "seat = [0, 0]\nzero = 90",
    ),
    "east and north": (
        "east,north", {n: f"{484200 + x},{4971850 + y}" for n, (x, y) in AT.items()},
        ["--crs", "EPSG:26915", "--origin", "A1"], 'crs = "EPSG:26915"\norigin = "A1"',
    ),
}  # fmt: skip


def tables(folder: Path, heights: str, places: str, *, one: bool) -> list[str]:
    """Write the notes, in one table or two; return the options."""
    head, rows, options, _ = HEIGHTS[heights]
    columns, cells, more, _ = PLACES[places]
    closing = ["BM,,,2.3"] if heights == "level" else []
    nowhere = "," * columns.count(",")
    if one:
        text = [f"{n},{row},{cells.get(n, nowhere)}" for n, row in rows.items()]
        (folder / "notes.csv").write_text(
            "\n".join([f"station,{head},{columns}", *text, *(f"{row},{nowhere}" for row in closing), ""])
        )
        named = [] if places == "x and y" else ["--places", str(folder / "notes.csv")]
        return [*options, *more, *named]
    text = [f"{n},{row}" for n, row in rows.items()]
    (folder / "notes.csv").write_text("\n".join([f"station,{head}", *text, *closing, ""]))
    (folder / "places.csv").write_text(
        "\n".join([f"station,{columns}", *(f"{n},{cell}" for n, cell in cells.items()), ""])
    )
    return [*options, *more, "--places", str(folder / "places.csv")]


def agrees(found: dict[str, tuple[float, float, float]], zero: tuple[float, float], apart: float) -> None:
    for name in NAMES:
        x, y, z = found[name]
        assert (x + zero[0], y + zero[1]) == pytest.approx(AT[name], abs=apart), name
        assert z == pytest.approx(LEVEL[name], abs=0.0006), name


@pytest.mark.parametrize("one", [True, False], ids=["one table", "two tables"])
@pytest.mark.parametrize("places", PLACES)
@pytest.mark.parametrize("heights", HEIGHTS)
def test_one_table_or_two_give_the_same_yard(
    run: Run, tmp_path: Path, heights: str, places: str, one: bool
) -> None:
    options = tables(tmp_path, heights, places, one=one)
    system = places == "east and north"
    zero = AT["A1"] if system else (0.0, 0.0)
    # The map's scale there is 0.99963 or so: 5 mm over the yard.
    apart = 0.006 if system else 0.001
    corner = (13.5 - zero[0], 7.5 - zero[1])
    notes = tmp_path / "notes.csv"
    if (heights, places, one) != ("spots", "x and y", True):  # there is nothing to reduce
        done = run("reduce", notes, "--units", "m", *options, "--json")
        assert done.status == 0, done.out
        found = {s["station"]: (s["x_m"], s["y_m"], s["elevation_m"]) for s in done.document["stations"]}
        agrees(found, zero, apart)
    asked = ("--level", "30.4", "--corner", f"{corner[0]},{corner[1]}", "--size", "4,3")
    done = run("cutfill", notes, "--units", "m", *options, *asked, "--json")
    assert done.status == 0, done.out
    # The ground is a plane: the volume is the height of its middle over the level, times the area.
    middle = 30 + 0.03 * (corner[0] + zero[0] + 2 - 10) + 0.05 * (corner[1] + zero[1] + 1.5 - 5)
    volume = done.document["cut_m3"] - done.document["fill_m3"]
    assert volume == pytest.approx((middle - 30.4) * 12, abs=0.02)
    if heights == "level" or places == "x and y":
        file = "notes.csv" if one else "places.csv"
        table = "" if one and places == "x and y" else f'places = "{file}"'
        said = [HEIGHTS[heights][3], PLACES[places][3], table]
        survey = "\n".join(['notes = "notes.csv"', *said])
        (tmp_path / "job.toml").write_text(
            f'name = "yard"\nunits = "m"\n[survey]\n{survey}\n'
            f"[building]\nsize = [4, 3]\ncorner = [{corner[0]}, {corner[1]}]\n"
        )
        done = run("plan", tmp_path / "job.toml", "-o", tmp_path / "out")
        assert done.status in (0, 1), done.err
        with (tmp_path / "out" / "stations.csv").open(encoding="utf-8-sig") as rows:
            shots = {row[0] for row in csv.reader(rows) if row[1]}  # marks without a place stand there too
        assert shots == {"station", *NAMES}


def test_a_turning_point_whose_name_fits_the_grid_is_no_station_of_it(run: Run, tmp_path: Path) -> None:
    options = tables(tmp_path, "level", "x and y", one=False)[:2]
    done = run("reduce", tmp_path / "notes.csv", "--units", "m", *options, "--grid", "3", "--json")
    at = {s["station"]: s["y_m"] for s in done.document["stations"]}
    assert (at["D1"], at["TP1"]) == (9.0, None)
    assert "marks-off-grid" in {f["code"] for f in done.document["findings"]}


@pytest.mark.parametrize(
    ("head", "row", "options", "words"),
    [
        ("station,drop", "A,0.5", ["--string", "31,31", "--two-peg", "1,1,9,9,1,1,2,16"], "two_peg ("),
        ("station,higher", "A,0.5", ["--work", "construction"], "work (--work) with notes of a water level"),
        ("station,BS,IS", "A,0.5,", ["--benchmark", "A"], "benchmark (--benchmark) with notes of rod"),
        ("station,BS,IS", "A,0.5,", ["--string", "e=31,31"], "strings (--string)"),
    ],
)  # fmt: skip
def test_what_the_notes_have_no_use_for_is_told(
    run: Run, tmp_path: Path, head: str, row: str, options: list[str], words: str
) -> None:
    (tmp_path / "notes.csv").write_text(f"{head}\n{row}\n")
    done = run("reduce", tmp_path / "notes.csv", "--units", "m", *options)
    assert done.status == 2
    assert words in done.err
    assert "[survey-key-unused]" in done.err


def test_plain_spots_have_no_use_for_a_two_peg_test(run: Run, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("station,x,y,elevation\nA,0,0,1\nB,4,0,1\nC,0,4,1\nD,4,4,1\n")
    asked = ("--units", "m", "--level", "1", "--corner", "1,1", "--size", "2,2")
    done = run("cutfill", tmp_path / "notes.csv", *asked, "--two-peg", "1.5,1.7,25,25,1.4,1.605,2,52")
    assert done.status == 2
    assert "two_peg (--two-peg) with notes of elevations" in done.err
