"""What a field sheet already says: its rows in the order of the walk, and the line for the job file."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from gradework.project.field_sheet import FieldSheet
from gradework.survey.levelling.tolerances import INSTRUMENTS, KINDS_OF_WORK
from gradework.survey.levelling.ways import Method
from gradework.units.display import Display

# The reading table of each way of levelling: its columns, rows and arithmetic check. No drawing here.

BENCHMARK = "BM"
"""What the sheet calls the benchmark, in the table as in the notes typed in later."""

Kind = Literal["station", "mark", "turn", "band", "spare"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of a reading table: ``cells`` are the words already in it; ``band`` runs over all columns."""

    kind: Kind
    cells: tuple[str, ...] = ()
    shut: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, a second line under it, its share of the width [-]."""

    heading: str
    under: str
    share: float


@dataclass(frozen=True, slots=True)
class Check:
    """One line of the arithmetic check, a figure goes where ``_`` stands; ``last``: on the last page only."""

    parts: tuple[str, ...]
    last: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """What to print for one way of levelling.

    ``advice``: how to go about it; ``opening``: the line to fill in above the table, ``carried``: the same on
    the pages after the first; ``blocks``: how many tables stand side by side; ``csv``: the header of the
    notes to type in.
    """

    words: str
    advice: tuple[str, ...]
    opening: tuple[str, ...]
    carried: tuple[str, ...]
    columns: tuple[Column, ...]
    checks: tuple[Check, ...]
    remark: str
    csv: str
    blocks: int = 1


def reading_table(method: Method, show: Display) -> Table:
    """Give the table of ``method`` in the user's unit."""
    tables = {
        "level": _level,
        "laser": _laser,
        "water-level": _water,
        "string": _string,
        "steps": _steps,
        "spots": _spots,
    }
    return tables[method](show)


def _allowed(show: Display, setups: int) -> str:
    limit = KINDS_OF_WORK["yard"].limit(setups=setups)
    assert limit is not None
    return show.elevation(limit)


def _round(show: Display, metres: float) -> str:
    """A distance to whole feet or metres, down: a rule of thumb needs no decimals."""
    return f"{math.floor(show.in_units(metres))} {show.unit_name}"


def _unit(show: Display) -> str:
    return f"({show.written_unit})"


def _level(show: Display) -> Table:
    u = _unit(show)
    allowed = ", ".join(f"{_allowed(show, n)} for {n}" for n in (1, 2, 4))
    return Table(
        words="level and rod",
        advice=(
            "BS: the first reading of each set-up, on the BM or a turning point. HI = elevation + BS.",
            "IS: a ground shot. FS: the last reading before the instrument moves, and on the BM at the end.",
            "Elevation = HI - IS, or HI - FS. Keep BS and FS about equally far from the instrument.",
        ),
        opening=(f"Elevation of BM _ {u}",),
        carried=(f"HI from the page before _ {u}",),
        columns=(
            Column("Station", "", 20),
            Column("BS +", u, 24),
            Column("IS -", u, 24),
            Column("FS -", u, 24),
            Column("HI", u, 27),
            Column("Elevation", u, 29),
            Column("Note", "", 39),
        ),
        checks=(
            Check(("Sum of BS: this page _", "+ pages before _", "= _")),
            Check(("Sum of FS: this page _", "+ pages before _", "= _")),
            Check(("Sum BS - sum FS = _", "last - first elevation = _", "both agree exactly"), last=True),
            Check(("BM at the end - BM at the start = _", f"allowed: {allowed} set-ups"), last=True),
        ),
        remark="IS are left out of the sums: shoot a doubtful one twice.",
        csv="station,BS,IS,FS,known,note",
    )


def _laser(show: Display) -> Table:
    u = _unit(show)
    return Table(
        words="rotating laser and rod, one set-up",
        advice=(
            "Let the laser level itself, then read the rod on the BM first: HI = elevation of BM + reading.",
            "Elevation = HI - reading. If the laser moves or is bumped, begin a new sheet.",
            "Read the BM again at the end, before the laser comes down.",
        ),
        opening=("Elevation of BM _", "+ first reading on BM _", f"= HI _ {u}"),
        carried=(f"HI _ {u}",),
        columns=(
            Column("Station", "", 20),
            Column("Reading", u, 25),
            Column("Elevation", u, 27),
            Column("Note", "", 20),
        ),
        checks=(
            Check(("Readings added up _", "+ elevations added up _", "= rows filled _", "x HI _")),
            Check(
                ("BM again at the end _", "- at the start _", "= _", f"allowed: {_allowed(show, 1)}"),
                last=True,
            ),
        ),
        remark="More than allowed at the end: the laser moved. Shoot again.",
        csv="station,reading,note",
        blocks=2,
    )


def _water(show: Display) -> Table:
    u = _unit(show)
    reach = _round(show, INSTRUMENTS["water level"].reach)
    return Table(
        words="water level",
        advice=(
            "No bubble in the tube, both ends open; hold the ends side by side first: they must read alike.",
            f"Write both readings at the same moment. Hops of at most {reach}; the whole tube in the shade.",
            "Higher by = water at the BM - water at the station. Elevation = elevation of BM + higher by.",
        ),
        opening=(f"Elevation of BM _ {u}", "both ends side by side: _", "and _"),
        carried=(f"Elevation of BM _ {u}",),
        columns=(
            Column("Station", "", 20),
            Column("At the BM", f"water above it {u}", 32),
            Column("At the station", f"water above it {u}", 32),
            Column("Higher by", f"minus if lower {u}", 30),
            Column("Elevation", u, 32),
            Column("Note", "", 41),
        ),
        checks=(
            Check(("Sum at the BM _", "- sum at the stations _", "= sum of higher by _")),
            Check(("Rows filled _", "x elevation of BM _", "+ sum of higher by _", "= sum of elev. _")),
        ),
        remark="Both lines agree exactly. The last row, both ends on the BM, gives 0.",
        csv="station,higher,note",
    )


def _string(show: Display) -> Table:
    u = _unit(show)
    reach = _round(show, INSTRUMENTS["line level"].reach)
    return Table(
        words="below a level string",
        advice=(
            f"One string for each row of the grid, pulled tight, at most {reach}, the level hung half way.",
            "Elevation of each end: from the BM. Sag: how far the middle hangs below a straight sight.",
            "Measure the drop plumb, from the string to the ground. Elevation = string there - drop.",
        ),
        opening=(f"Elevation of BM _ {u}",),
        carried=(f"Elevation of BM _ {u}",),
        columns=(
            Column("Station", "", 20),
            Column("Along", f"from first end {u}", 32),
            Column("String there", f"elevation {u}", 34),
            Column("Drop", u, 30),
            Column("Elevation", u, 32),
            Column("Note", "", 39),
        ),
        checks=(Check(("Sum of string there _", "- sum of drops _", "= sum of elevations _")),),
        remark="The check agrees exactly on every page. Do it before the strings come down.",
        csv="station,string,along,drop,note (the string is the letter of its row)",
    )


def _steps(show: Display) -> Table:
    u = _unit(show)
    reach = _round(show, INSTRUMENTS["straightedge"].reach)
    return Table(
        words="straightedge and level",
        advice=(
            f"Level the straightedge from point to point, at most {reach} long; measure at the low end.",
            "Run: level, from the point before. Rise: minus for a fall. Turn the level end for end at times.",
            "Walk back along every second row, as the table does, and end on the BM.",
        ),
        opening=(f"Elevation of BM _ {u}",),
        carried=(f"Elevation of the last point _ {u}",),
        columns=(
            Column("Station", "", 20),
            Column("Run", f"level {u}", 34),
            Column("Rise", f"minus if lower {u}", 36),
            Column("Elevation", u, 36),
            Column("Note", "", 61),
        ),
        checks=(
            Check(("Sum of rises: this page _", "+ pages before _", "= _")),
            Check(("Elevation of BM _", "+ sum of rises _", "= last elevation _"), last=True),
        ),
        remark="It agrees exactly; what the BM misses at the end is the error of the steps.",
        csv="station,run,rise,note (leave out the row of the BM at the start)",
    )


def _spots(show: Display) -> Table:
    u = _unit(show)
    return Table(
        words="elevations read directly",
        advice=(
            "For a rod or receiver that shows elevations. Shoot the BM first, at the end, and now and then.",
            "x and y are those of the taped grid; where a station had to move, strike them out and measure.",
        ),
        opening=("Elevation of BM _", "shown at the start _", f"at the end _ {u}"),
        carried=(f"Elevation of BM _ {u}",),
        columns=(
            Column("Station", "", 19),
            Column("x", u, 15),
            Column("y", u, 15),
            Column("Elevation", u, 25),
            Column("Note", "", 18),
        ),
        checks=(
            Check(("Shot again: station _", "first _", "again _", "differs by _")),
            Check(("Shot again: station _", "first _", "again _", "differs by _")),
        ),
        remark=f"Two shots of one place differ by at most {_allowed(show, 1)}; else look for the reason now.",
        csv="station,x,y,elevation,note",
        blocks=2,
    )


def tie_table(marks: Sequence[str], show: Display) -> Table:
    """Give the table for the places of stations taped from ``marks``, a column for each."""
    u = _unit(show)
    half = "5 mm" if show.metric else "half an inch"
    return Table(
        words="places by tape",
        advice=(
            f"Tape from each mark to the station, level and tight, to {half}; two marks at least, a third "
            "checks them.",
            "Ties that cross at a right angle are best; under 30 degrees take another mark.",
            "Side: seen from the first mark to the second, the station lies left (L) or right (R).",
        ),
        opening=tuple(f"{a} to {b} _ {u}" for a, b in pairwise(marks)),
        carried=("The same marks as on the page before",),
        columns=(
            Column("Station", "", 20),
            *(Column(mark, f"from it {u}", 28) for mark in marks),
            Column("Side", "L or R", 14),
            Column("Note", "", 34),
        ),
        checks=(Check(("Taped again: station _", "from _", "first _", "again _")),),
        remark=f"A length taped twice agrees to {half}, or the tape was not level.",
        csv=",".join(["station", *marks, "side", "note"]),
    )


def entries(sheet: FieldSheet) -> Iterator[Entry]:
    """Run through the rows of the table in the order of the walk, one row of the grid after another."""
    method, width = sheet.method, len(reading_table(sheet.method, sheet.show).columns)
    if method == "level":
        yield Entry("mark", (BENCHMARK, "", "", "", "", "", "start: BS"), shut=(2, 3))
    if method == "laser":
        yield Entry("mark", (BENCHMARK, "", "", "first"))
    if method == "steps":
        yield Entry("mark", (BENCHMARK, "0", "0", "", "start here"))
    for number, names in enumerate(sheet.names):
        if method == "level" and number:
            yield Entry("turn", ("", "", "", "", "", "", "if moved: turning point"))
        if method == "string":
            yield Entry("band", (f"String {names[0].rstrip('0123456789')}",))
        order = range(len(names))
        # a straightedge goes from point to point: back along every second row
        for column in reversed(order) if method == "steps" and number % 2 else order:
            yield Entry("station", _cells(sheet, names[column], number, column, width))
    if method == "level":
        yield Entry("mark", (BENCHMARK, "", "", "", "", "", "end: FS on the BM"), shut=(1, 2, 4))
    if method == "laser":
        yield Entry("mark", (BENCHMARK, "", "", "again"))
    if method == "water-level":
        yield Entry("mark", (BENCHMARK, "", "", "", "", "again: 0"))
    if method == "steps":
        yield Entry("mark", (BENCHMARK, "", "", "", "back on the BM"))


def _cells(sheet: FieldSheet, name: str, row: int, column: int, width: int) -> tuple[str, ...]:
    if sheet.method != "spots":
        return (name, *[""] * (width - 1))
    x, y = sheet.grid.place(row, column)
    figures = [sheet.show.short_number(v) for v in (x, y)]
    return (name, *("0" if f == "-0" else f for f in figures), "", "")


def tie_entries(sheet: FieldSheet) -> Iterator[Entry]:
    """Run through the stations of the table of ties."""
    width = len(sheet.ties) + 3
    for names in sheet.names:
        for name in names:
            yield Entry("station", (name, *[""] * (width - 1)))


def job_lines(sheet: FieldSheet) -> str:
    """Write the grid as the job file takes it."""
    show, grid = sheet.show, sheet.grid

    figure = show.job_number
    spacing = figure(grid.spacing[0])
    if grid.spacing[0] != grid.spacing[1]:
        spacing = f"[{spacing}, {figure(grid.spacing[1])}]"
    parts = [f"spacing = {spacing}"]
    if any(grid.origin):
        parts.append(f"origin = [{figure(grid.origin[0])}, {figure(grid.origin[1])}]")
    if grid.turn:
        parts.append(f"turn = {grid.turn:g}")
    return f"grid = {{ {', '.join(parts)} }}"
