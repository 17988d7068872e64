"""The advice given with an error works: each is followed to the letter by a program, then the notes read.

A row of ``CASES`` is an input, the code that it must meet, how its advice is taken from the fix line, and
what must come out in the end. ``LOOK`` lists the advice that only a person can follow, who has the notes.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

import gradework
from gradework.errors import Fault, InputError
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.project.stations.forms import NotesForm, ReadingsForm, SurveyForm
from gradework.project.stations.join import read_yard
from gradework.project.stations.notes import read_stations

FT, IN = 0.3048, 0.0254


@dataclass(frozen=True)
class Run:
    """Notes with the options they are read with; ``elevations`` reads them."""

    text: str
    options: Mapping[str, Any] = field(default_factory=dict)

    def elevations(self) -> dict[str, float]:
        given = dict(self.options)
        unit, decimal = given.get("units"), given.get("decimal")
        steep = bool(given.get("steep"))
        readings = ReadingsForm.asked(given.get("heights"), hi=given.get("hi"), steep=steep)
        survey = SurveyForm(readings)
        if given.get("reduce"):
            heights = read_yard(
                self.text.encode(), "n.csv", survey, unit=unit, decimal=decimal
            ).reduced.heights
            return dict(zip(heights.names, heights.elevation.tolist(), strict=True))
        grid = given.get("grid") and LetteredGrid((float(given["grid"]) * FT,) * 2)
        asked = survey if given.keys() & {"heights", "hi", "steep"} else None
        form = NotesForm(unit, given.get("columns"), grid, decimal, asked)
        stations = read_stations(self.text.encode(), "n.csv", form)
        return dict(zip(stations.names, stations.xyz[:, 2].tolist(), strict=True))

    def line(self, number: int) -> str:
        return self.text.split("\n")[number - 1]

    def with_line(self, number: int, *lines: str) -> Run:
        every = self.text.split("\n")
        every[number - 1 : number] = lines
        return replace(self, text="\n".join(every))

    def with_option(self, name: str, value: Any) -> Run:
        return replace(self, options={**self.options, name: value})


Edit = Callable[[Run, Fault], Run]


def cell(pattern: str, behind: str = "") -> Edit:
    """Write what the fix line proposes (its group) in place of the cell that the fault points at."""

    def edit(run: Run, fault: Fault) -> Run:
        match = re.search(pattern, fault.fix)
        assert match, fault.fix
        text, start = run.line(fault.line), fault.column - 1
        mark = ";" if ";" in text else ","
        rest = text[start:]
        end = re.match(rf'"(?:[^"]|"")*"|[^{mark}]*', rest)
        assert end
        old = end[0].strip('"').replace('""', '"')
        new = (match[1] if match.groups() else old) + behind
        quoted = '"' + new.replace('"', '""') + '"' if mark in new or '"' in new else new
        return run.with_line(fault.line, text[:start] + quoted + rest[end.end() :])

    return edit


def in_cell(old: str, new: str) -> Edit:
    """Change the cell as the fix line says, where it says how and not what."""

    def edit(run: Run, fault: Fault) -> Run:
        text = run.line(fault.line) if fault.line else run.text
        assert old in text
        changed = text.replace(old, new, 1)
        return run.with_line(fault.line, changed) if fault.line else replace(run, text=changed)

    return edit


def header(pattern: str) -> Edit:
    """Rename columns: ``name (unit)`` in the fix line stands in place of ``name`` in the header."""

    def edit(run: Run, fault: Fault) -> Run:
        match = re.search(pattern, fault.fix)
        assert match, fault.fix
        text = run.text
        for head in match[1].split(" and "):
            name = head.split(" (")[0]
            text, count = re.subn(rf"\b{name}\b", head, text, count=1)
            assert count, (name, text)
        return replace(run, text=text)

    return edit


def option(pattern: str, name: str) -> Edit:
    def edit(run: Run, fault: Fault) -> Run:
        match = re.search(pattern, fault.fix)
        assert match, fault.fix
        return run.with_option(name, match[1])

    return edit


def switch(words: str, name: str, value: Any) -> Edit:
    def edit(run: Run, fault: Fault) -> Run:
        assert words in fault.fix
        return run.with_option(name, value)

    return edit


def above(pattern: str) -> Edit:
    """Put the header that the fix line writes above the row it points at."""

    def edit(run: Run, fault: Fault) -> Run:
        match = re.search(pattern, fault.fix)
        assert match, fault.fix
        return run.with_line(fault.line, match[1], run.line(fault.line))

    return edit


def delete_row(run: Run, fault: Fault) -> Run:
    assert "delete" in fault.fix
    return run.with_line(fault.line)


def comment_row(run: Run, fault: Fault) -> Run:
    assert "begin it with #" in fault.fix
    return run.with_line(fault.line, "#" + run.line(fault.line))


def commas(run: Run, fault: Fault) -> Run:
    assert fault.fix == "write commas between the cells"
    return replace(run, text=run.text.replace(" ", ","))


def expected_header(run: Run, fault: Fault) -> Run:
    """Rename the columns as the fault expects them."""
    assert fault.fix == "rename the columns"
    return run.with_line(fault.line, fault.expected.removeprefix("a header such as ").removesuffix(",note"))


def only_header(run: Run, fault: Fault) -> Run:
    assert fault.fix == "delete all but the header"
    return replace(run, text=run.text[run.text.index("station,") :])


def without_column(name: str) -> Edit:
    def edit(run: Run, fault: Fault) -> Run:
        assert "delete" in fault.fix
        rows = [row.split(",") for row in run.text.strip().split("\n")]
        at = rows[0].index(name)
        return replace(run, text="\n".join(",".join(row[:at] + row[at + 1 :]) for row in rows))

    return edit


def reading(text: str, unit: str = "ft", hi: float = 100 * FT, **options: Any) -> Run:
    """Rod readings below a plane at ``hi`` [m]; the first is ``text``."""
    cell = '"' + text.replace('"', '""') + '"' if "," in text or '"' in text else text
    options = {"units": unit, "hi": hi, "reduce": True, **options}
    return Run(f"station,reading\nA,{cell}\nB,1.5\n", options)


def semicolons(text: str, **options: Any) -> Run:
    run = reading("", **options)
    return replace(run, text=f"station;reading\nA;{text}\nB;1,5\n")


def spots(text: str, **options: Any) -> Run:
    return Run(text, {"units": "ft", **options})


YARD = "station,x,y,elevation\nA,0,0,98\nB,10,0,98.5\nC,0,10,98.2\n"
BARE = YARD.split("\n", 1)[1]
ROVER = "1,5000,6000,98,pin\n2,5010,6000,98.5,peg\n3,5000,6010,98.2,peg\n"
GRID = ",0,10\n0,4.1,4.3\n10,4.4,4.9\n"
UP = {"A": 98 * FT}
ROD_A, ROD_B = 100 * FT, 98.5 * FT  # the plane, and the elevation of B

CASES: list[tuple[str, Run, str, Edit, dict[str, float]]] = [
    # how a length is written: the cell, its code, the advice, the elevation of A
    ("inches", reading("12 1/4"), "mixed-fraction", cell(r"write (.+? in) or"), {"A": ROD_A - 12.25 * IN}),
    ("feet", reading("12 1/4"), "mixed-fraction", cell(r"or (\d+' .+?\") or"), {"A": ROD_A - 144.25 * IN}),
    ("tenths", reading("12 1/4"), "mixed-fraction", cell(r"or (\S+ ft)"), {"A": ROD_A - 147 * IN}),
    ("half inch", reading("1/2"), "bare-fraction", cell(r"write (.+? in) or"), {"A": ROD_A - 0.5 * IN}),
    ("half foot", reading("1/2"), "bare-fraction", cell(r"or (\S+ ft)"), {"A": ROD_A - 6 * IN}),
    ("metric", reading("1 1/4", "m", 30.0), "bare-fraction", cell(r"or (\S+ m)"), {"A": 28.75}),
    ("cm", reading("1/4", "cm", 30.0), "bare-fraction", cell(r"(\S+ in) or"), {"A": 30 - IN / 4}),
    ("no value", reading("n/a"), "no-value", delete_row, {"B": ROD_B}),
    (
        "empty",
        replace(reading(""), text="station,reading,note\nA,,oak\nB,1.5,\n"),
        "nothing",
        delete_row,
        {"B": ROD_B},
    ),
    ("a date", reading("2-Jan"), "day-month", cell(r"likely (\S+) or", " in"), {"A": ROD_A - 0.5 * IN}),
    ("a date, feet", reading("2-Jan"), "day-month", cell(r"or (\d+-\d+)\)"), {"A": ROD_A - 14 * IN}),
    ("comma", reading("4,125"), "comma-or-thousands", cell(r"write (\S+) or"), {"A": ROD_A - 4.125 * FT}),
    ("comma 2", reading("4,12"), "comma", cell(r"if (\S+) is meant"), {"A": ROD_A - 4.12 * FT}),
    ("points", reading("4.1.2"), "two-points", cell(r"likely (\S+) or"), {"A": ROD_A - 4.12 * FT}),
    ("space", reading("4 .5"), "space", cell(r"likely (\S+):"), {"A": ROD_A - 4.5 * FT}),
    ("minus", reading("(0.25)"), "brackets", cell(r"write (\S+) for"), {"A": ROD_A + 0.25 * FT}),
    ("doubtful", reading("(0.25)"), "brackets", cell(r", or (\S+) if"), {"A": ROD_A - 0.25 * FT}),
    ("dash", reading("4-3 1/2", "m", 30.0), "dashed-metric", cell(r"write (.+?) if"), {"A": 30 - 51.5 * IN}),
    ("dash in", reading("5-3/4"), "dashed-fraction", cell(r"write (.+? in) or"), {"A": ROD_A - 5.75 * IN}),
    ("dash ft", reading("5-3/4"), "dashed-fraction", cell(r'or (.+?")'), {"A": ROD_A - 60.75 * IN}),
    ("no marks", reading("5 3 1/2"), "no-marks", cell(r"write (.+)"), {"A": ROD_A - 63.5 * IN}),
    ("14 inches", reading("5' 14 1/2\""), "inches", cell(r"write (.+)"), {"A": ROD_A - 74.5 * IN}),
    ("furlong", reading("3 foots"), "unknown-unit", in_cell("foots", "ft"), {"A": ROD_A - 3 * FT}),
    ("underscore", reading("4_.5"), "underscore", in_cell("_", ""), {"A": ROD_A - 4.5 * FT}),
    ("digits", reading("٣"), "other-digits", in_cell("٣", "3"), {"A": ROD_A - 3 * FT}),
    (
        "feet and inches",
        replace(reading("5.6"), text="station,reading (ft-in)\nA,5.6\nB,1' 6\"\n"),
        "bare-feet-inches",
        cell(r"or as (\S+ ft)"),
        {"A": ROD_A - 5.6 * FT, "B": ROD_B},
    ),
    ("point", semicolons("4.25", decimal=","), "point", cell(r"if (\S+) is"), {"A": ROD_A - 4.25 * FT}),
    (
        "point or thousands",
        semicolons("1.234"),
        "point-or-thousands",
        cell(r"write (\S+) or"),
        {"A": ROD_A - 1.234 * FT},
    ),
    # units
    (
        "no unit",
        reading("4.5", unit=None),
        "notes-no-unit",
        option(r"--units (\w+)\)", "units"),
        {"B": ROD_B},
    ),
    ("no unit 2", reading("4.5", unit=None), "notes-no-unit", header(r"header: (.+);"), {"B": ROD_B}),
    ("no unit 3", Run(YARD), "notes-no-unit", header(r"header: (.+);"), UP),
    (
        "no unit 4",
        Run(GRID, {"heights": "elevations"}),
        "notes-no-unit-grid",
        option(r"--units (\w+)\)", "units"),
        {"x0 y0": 4.1 * FT},
    ),
    (
        "no unit 5",
        Run(GRID, {"heights": "elevations"}),
        "notes-no-unit-grid",
        in_cell(",0,10", "(ft),0,10"),
        {"x0 y0": 4.1 * FT},
    ),
    ("one of two", spots(YARD.replace("x", "x (m)")), "notes-unit-disagrees", header(r"write (.+?) in"), UP),
    (
        "one of three",
        spots("station,BS (in),IS,known\nBM,48,,100\nA,,60,\n", reduce=True),
        "notes-unit-disagrees",
        in_cell("IS", "IS (in)"),
        {"A": 99 * FT},
    ),
    (
        "two of one",
        spots(YARD.replace("elevation\n", "elevation (ft)\n,,,cm\n")),
        "notes-unit-disagrees-row",
        in_cell("cm", ""),
        UP,
    ),
    (
        "inches on a rod",
        replace(reading("54.5"), text="station,reading\nA,54.5\nB,61\nC,63 1/4 in\n"),
        "notes-impossible-unit",
        header(r"write (.+?) in the"),
        {"A": ROD_A - 54.5 * IN, "B": ROD_A - 61 * IN},
    ),
    (
        "mm on a staff",
        replace(reading("1", "m", 30.0), text="station,reading\nA,1412\nB,1365\n"),
        "notes-impossible-unit",
        header(r"write (.+?) in the"),
        {"A": 30 - 1.412},
    ),
    (
        "one in inches",
        replace(reading("x"), text="station,reading\nA,54.5\nB,4.2\nC,4.3\nD,4.4\n"),
        "notes-impossible",
        cell("write the unit behind", " in"),
        {"A": ROD_A - 54.5 * IN},
    ),
    (
        "upside down",
        Run("station,run,rise\n1,-2,0.1\n2,2,0.1\n", {"units": "m", "reduce": True, "hi": None}),
        "notes-impossible-negative",
        in_cell("-2", "2"),
        {"1": 30.1, "2": 30.2},
    ),
    # headers
    ("spaces", spots(YARD.replace(",", " ")), "notes-no-header-one-cell", commas, UP),
    ("titles", spots("My yard\n" * 13 + YARD), "notes-no-header-titles", only_header, UP),
    (
        "words",
        spots(YARD.replace("station,x,y,elevation", "alpha,beta,gamma,delta")),
        "notes-no-header-words",
        expected_header,
        UP,
    ),
    ("places", spots(BARE), "notes-no-header-places", above(r"put (\S+) or"), UP),
    ("places 2", spots(BARE), "notes-no-header-places", above(r"or (\S+) above"), UP),
    ("places 3", spots(BARE), "notes-no-header-places", option(r"--columns ([^)]+)\)", "columns"), UP),
    ("rover", spots(ROVER), "notes-no-header-coordinates", above(r"put (\S+) or"), {"1": 98 * FT}),
    ("rover 2", spots(ROVER), "notes-no-header-coordinates", above(r"or (\S+) above"), {"1": 98 * FT}),
    (
        "rover 3",
        spots(ROVER),
        "notes-no-header-coordinates",
        option(r"--columns ([^)]+)\)", "columns"),
        {"1": 98 * FT},
    ),
    (
        "rover 4",
        spots(ROVER),
        "notes-no-header-coordinates",
        option(r"or (\S+) above", "columns"),
        {"1": 98 * FT},
    ),
    (
        "not shot",
        spots("\t98.6\t98.4\n98.5\t98.3\t98.2\n98.4\t98.2\t98.1\n", grid=5),
        "notes-pasted-unclear",
        in_cell("\t98.6", "-\t98.6"),
        {"A2": 98.6 * FT, "B1": 98.5 * FT},
    ),
    (
        "blank row",
        spots("98.6,98.4\n\n98.5,98.3\n", grid=5),
        "notes-pasted-unclear-blank",
        delete_row,
        {"A2": 98.4 * FT, "B1": 98.5 * FT},
    ),
    (
        "blank row 2",
        spots("98.6,98.4\n\n98.5,98.3\n", grid=5),
        "notes-pasted-unclear-blank",
        lambda run, fault: run.with_line(fault.line, "-,-"),
        {"A2": 98.4 * FT, "C1": 98.5 * FT},
    ),
    (
        "two",
        spots("A1,98\nA2,98.5\nB1,98.2\n", grid=5),
        "notes-no-header-heights",
        above(r"put (\S+) above"),
        {"A1": 98 * FT},
    ),
    (
        "two rods",
        spots("A1,4.5\nA2,4.2\nB1,4.0\n", grid=5),
        "notes-no-header-heights",
        above(r", (\S+) if they are rod"),
        {"A1": 100 * FT, "A2": 100.3 * FT},
    ),
    (
        "figures",
        replace(reading("4", heights="laser"), text="A,4.5\nB,1.5\n"),
        "notes-no-header-figures",
        above(r"put (\S+) above"),
        {"A": 95.5 * FT},
    ),
    (
        "letters",
        spots(ROVER, columns="PQEZD"),
        "notes-column-letters",
        option(r"example (\w+),", "columns"),
        {"1": 98 * FT},
    ),
    (
        "letters 2",
        spots(ROVER, columns="PNNZD"),
        "notes-column-letters",
        option(r"example (\w+),", "columns"),
        {"1": 98 * FT},
    ),
    (
        "both",
        spots(YARD, columns="PNEZ"),
        "notes-columns-disagree",
        switch("leave columns (or --columns) out", "columns", None),
        UP,
    ),
    ("both 2", spots(YARD, columns="PNEZ"), "notes-columns-disagree", delete_row, UP),
    (
        "near",
        spots(YARD.replace("elevation", "elevatoin")),
        "notes-unknown-column-near",
        in_cell("elevatoin", "elevation"),
        UP,
    ),
    (
        "unknown",
        spots("station,x,y,elevation,xyz\nA,0,0,98,1\nB,10,0,98.5,2\nC,0,10,98.2,3\n"),
        "notes-unknown-column",
        without_column("xyz"),
        UP,
    ),
    (
        "twice",
        spots("station,x,y,elevation,z\nA,0,0,98,1\nB,10,0,98.5,2\nC,0,10,98.2,3\n"),
        "notes-column-twice",
        without_column("z"),
        UP,
    ),
    # commas and rows
    (
        "unclear",
        spots("station;x;y;elevation\nA;0;0;98,125\nB;10;0;98,500\nC;0;10;98,250\n"),
        "notes-unclear-decimals",
        option(r'decimal = "(,)"', "decimal"),
        {"A": 98.125 * FT},
    ),
    (
        "mixed",
        spots("station;x;y;elevation\nA;0;0;98,5\nB;10;0;98.5\nC;0;10;98\n"),
        "notes-mixed-decimals",
        in_cell("98,5", "98.5"),
        {"A": 98.5 * FT},
    ),
    (
        "short",
        spots(YARD.replace("C,0,10,98.2", "C,0,10")),
        "notes-ragged-row-short",
        in_cell("C,0,10", "C,0,10,98.2"),
        UP,
    ),
    (
        "long",
        spots(YARD.replace("elevation", "elevation,note").replace("98.2", "98.2,oak, big")),
        "notes-ragged-row-long",
        in_cell("oak, big", '"oak, big"'),
        UP,
    ),
    ("total", spots(YARD + "Total,,,294.7\n"), "notes-not-a-shot", delete_row, UP),
    ("total 2", spots(YARD + "Total,,,294.7\n"), "notes-not-a-shot", comment_row, UP),
    # what heights are
    (
        "grid",
        spots(GRID),
        "heights-unclear",
        option(r"--heights (elevations)", "heights"),
        {"x0 y0": 4.1 * FT},
    ),
    (
        "grid 2",
        spots(GRID),
        "heights-unclear",
        option(r"or --heights (readings)", "heights"),
        {"x0 y0": 95.9 * FT},
    ),
    (
        "headed",
        spots(YARD, heights="readings"),
        "heights-headed",
        switch("leave out --heights", "heights", None),
        UP,
    ),
    (
        "headed 2",
        spots(YARD.replace("98", "8"), heights="readings"),
        "heights-headed",
        in_cell("station,x,y,elevation", "station,x,y,reading"),
        {},
    ),
    (
        "steep",
        spots(YARD.replace("98.5", "16").replace("98.2", "28").replace("98", "9")),
        "ground-too-steep-unit",
        header(r"write (.+?) in the"),
        {"A": 9 * IN, "C": 28 * IN},
    ),
    (
        "steep 2",
        spots(YARD.replace("98.5", "16").replace("98.2", "28").replace("98", "9")),
        "ground-too-steep-unit",
        switch("set steep = true", "steep", True),
        {"A": 9 * FT},
    ),
    (
        "steep 3",
        spots(YARD.replace("98.5", "900").replace("98.2", "2000")),
        "ground-too-steep",
        switch("set steep = true", "steep", True),
        UP,
    ),
    (
        "steps",
        Run("station,run,rise\n1,2,3\n2,2,-4\n3,2,5\n", {"units": "ft", "reduce": True}),
        "ground-too-steep-steps-unit",
        header(r"write (.+?) in the"),
        {"1": 100 * FT + 3 * IN, "3": 100 * FT + 4 * IN},
    ),
    (
        "steps 2",
        Run("station,run,rise\n1,2,3\n2,2,-4\n3,2,5\n", {"units": "ft", "reduce": True}),
        "ground-too-steep-steps-unit",
        switch("set steep = true", "steep", True),
        {"1": 103 * FT},
    ),
    # how heights were measured
    (
        "no way",
        Run("station,word\nBM,4\nA,5\n", {"units": "ft", "reduce": True, "hi": 100 * FT}),
        "readings-unknown",
        in_cell("station,word", "station,reading"),
        {"A": 95 * FT},
    ),
]

LOOK = {
    "only the paper notes, or the spreadsheet, tell": (
        "sheet-error", "formula", "date", "not-finite", "size", "large", "long", "other", "whole-fraction",
        "zero-below", "notes-no-spacing", "notes-no-spacing-zero", "notes-not-in-grid-station",
        "notes-not-in-grid-none", "notes-position-twice-x", "notes-position-twice-y", "notes-quote-cell",
        "notes-quote-junk", "notes-quote-open", "notes-no-shots", "notes-column-missing", "levels-columns",
        "levels-columns-both", "readings-none", "ties-columns",
    ),
    "coordinates of a system, which have a test of their own": (
        "notes-degrees", "notes-web-map", "crs-columns",
    ),
    "told in a table as notes-no-unit": ("no-unit",),
    "other figures than lengths": ("bare", "other-unit", "unclear-ton", "no-percent", "sixty"),
    "about the file as a whole": (
        "notes-too-large", "notes-not-text", "notes-line-too-long", "notes-empty-lines", "notes-not-given",
        "notes-too-many-rows", "notes-too-many-rows-grid", "notes-too-many-rows-table",
        "notes-too-many-rows-ties", "notes-empty-outline", "notes-need-memory",
    ),
}  # fmt: skip
"""Advice that no program can follow, and why."""

MESSAGES = tomllib.loads(Path(gradework.__file__).with_name("messages.toml").read_text("utf-8"))
OTHERS = ("heights-unclear", "heights-headed", "ground-too-steep", "levels-columns", "readings-unknown")
OTHERS += ("readings-none", "ties-columns", "crs-columns")


@pytest.mark.parametrize(("run", "code", "edit", "wanted"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_advice_that_is_followed_works(run: Run, code: str, edit: Edit, wanted: dict[str, float]) -> None:
    with pytest.raises(InputError) as caught:
        run.elevations()
    faults = caught.value.faults
    assert code in {wording(fault) for fault in faults}, faults
    for fault in sorted(faults, key=lambda one: (one.line, one.column), reverse=True):
        run = edit(run, fault)
    found = run.elevations()
    for name, elevation in wanted.items():
        assert found[name] == pytest.approx(elevation, abs=1e-9)
    assert found


def wording(fault: Fault) -> str:
    """The wording of a fault: its code with its variant; of a length, the cause it was refused for."""
    code = "quantity-unreadable" if fault.code == "notes-cell" else fault.code
    parts = MESSAGES[code]
    if code == "quantity-unreadable" and fault.found.startswith("no "):
        return "nothing"
    found = fault.found.split(" ", 1)[1] if code == "quantity-unreadable" else fault.found
    variants = {name.partition("-")[2] for name in parts if re.match(r"(?:do|found)\b", name)}
    fits = [v for v in variants if says(parts, "do", v, fault.fix) and says(parts, "found", v, found)]
    assert fits, fault
    best = max(fits, key=lambda v: (len(parts.get(f"found-{v}", "")), len(parts.get(f"do-{v}", ""))))
    if code == "quantity-unreadable":
        return best
    return f"{code}-{best}" if f"do-{best}" in parts else code


def says(parts: Mapping[str, str], part: str, variant: str, text: str) -> bool:
    template = parts.get(f"{part}-{variant}", parts.get(part, ""))
    pattern = re.sub(r"\\\{\w+\\\}", ".+", re.escape(template))
    return re.fullmatch(pattern, text, re.DOTALL) is not None


def test_every_advice_is_followed_by_a_case_or_is_for_a_person() -> None:
    every = {part.removeprefix("do-") for part in MESSAGES["quantity-unreadable"] if part.startswith("do-")}
    for code, message in MESSAGES.items():
        if (
            message.get("kind") == "fault"
            and (code.startswith("notes-") or code in OTHERS)
            and code != "notes-cell"
        ):
            every |= {code + part.removeprefix("do") for part in message if re.match(r"do\b", part)}
    cases = {code for _, _, code, _, _ in CASES}
    people = {code for codes in LOOK.values() for code in codes}
    assert cases & people == set()
    assert every - cases - people == set()
    assert (cases | people) - every == set()
