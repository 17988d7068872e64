"""Spot elevations: the three forms in which builders and surveyors write them, told apart by the header.

- **table**: ``station, x, y, elevation, note`` in any order, or point, northing, easting, elevation,
  description; without a header only if letters such as ``PNEZD`` say what the columns are.
- **grid**: the first row holds the x positions, the first column the y positions, the cells the
  elevations; an empty cell was not shot. The shot at x 4, y 8 is named ``x4 y8``, as written.
- **lettered**: ``station, elevation`` with stations A1, A2, ... B1, ...; the spacing is given
  (``LetteredGrid``). The letter is the row (along +y), the number the column (along +x). A block of numbers
  without any header is one too: A1 A2 ..., in the next row B1 B2 ...
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from gradework.errors import Faults, Finding, finding
from gradework.fieldnotes.columns import BreaklinePoint, Gathered, metres_of
from gradework.fieldnotes.grids import grid_top, names_heights, place_lettered, read_grid
from gradework.fieldnotes.headers import (
    BENCHMARK,
    BREAKLINE,
    ELEVATION,
    NOTE,
    SPREAD,
    STATION,
    Columns,
    X,
    Y,
    agreed_unit,
    refuse_uneven,
    shown_unit,
    unit_findings,
)
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.opening import Header, header_or_order, no_rows, open_notes, units_in_titles
from gradework.fieldnotes.pasted import is_block, read_block, refuse_unclear, without_spaces
from gradework.fieldnotes.plausible import LIMITS, like_readings, refuse_impossible
from gradework.fieldnotes.rows import Block, blocks
from gradework.fieldnotes.table import CellReader, check_amount, is_total, require_columns
from gradework.fieldnotes.text import DecimalMark, decide_punctuation, read_text
from gradework.units.display import Display
from gradework.units.lengths import METRES_PER, Unit

SPOT_FIELDS = (STATION, X, Y, ELEVATION, BREAKLINE, NOTE, BENCHMARK, SPREAD)
_LENGTHS = ("x", "y", "elevation")
_LAST = 50  # names at the end of a block that are looked at for totals


def _read_rows(gathered: Gathered, header: Header, *, needed: Sequence[str], unit: Unit | None) -> Unit:
    """Read the rows below the header into ``gathered``; return the unit to show results in.

    Stations without a name are named after their line. Without any declared unit each cell must carry its
    own; results are then shown in feet if the first elevation is written so, else in metres.
    """
    columns = header.columns
    reader = CellReader(
        gathered.notes, gathered.punctuation, columns, unit=unit, needed=needed, faults=gathered.faults
    )
    plain = BENCHMARK.name not in columns  # else a row may be a mark without a place
    for block in blocks(gathered.notes, gathered.punctuation, gathered.faults, first_line=header.body_line):
        if not plain or not _add_whole(block, gathered, columns, unit):
            _add_rows(block, gathered, reader)
        check_amount(len(gathered), gathered.faults)
    return unit or gathered.shown or "m"


def _add_whole(block: Block, gathered: Gathered, columns: Columns, unit: Unit | None) -> bool:
    """Add a block of which every row is a shot in plain decimals; else False, and nothing is added."""
    cells = None if columns.full else block.columns(columns.count)
    if cells is None:
        return False
    values: dict[str, list[float]] = {}
    for name in _LENGTHS:
        if name in columns:
            own, mark = columns.unit_of(name, unit), gathered.punctuation
            metres = own and metres_of(cells[columns.index[name]], own, decimal_comma=mark.decimal_comma)
            if not metres:
                return False
            values[name] = metres
    if "station" in columns:
        # Totals stand at the end; in the first block (the whole of most files) all names are looked at.
        names = cells[columns.index["station"]]
        if any(map(is_total, names[-_LAST:] if len(gathered) else names)) or "#" in "".join(names):
            return False
    count = len(cells[0])
    if any(set(cells[i]) != {""} for i in columns.empty):
        return False
    lines = block.lines(count)
    if "note" in columns:
        gathered.remark([note.strip() for note in cells[columns.index["note"]]])
    names = cells[columns.index["station"]] if "station" in columns else [""] * count
    x, y = values.get("x", ()), values.get("y", ())
    gathered.add(_names(names, lines), x, y, values["elevation"], lines)
    if BREAKLINE.name in columns:
        gathered.chain(cells[columns.index[BREAKLINE.name]])
    return True


def _names(names: list[str], lines: Sequence[int]) -> list[str]:
    joined = "".join(names)
    if "" in names or " " in joined or "\t" in joined or not joined.isascii():
        return [name.strip() or f"line {line}" for name, line in zip(names, lines, strict=True)]
    return names


def _add_rows(block: Block, gathered: Gathered, reader: CellReader) -> None:
    columns = reader.columns
    asked = [name for name in _LENGTHS if name in columns]
    names: list[str] = []
    remarks: list[str] = []
    chains: list[str] = []
    lines: list[int] = []
    values: dict[str, list[float]] = {name: [] for name in _LENGTHS}
    for line, cells in block.rows():
        gathered.comments.see(line, cells)
        fitted = reader.fit(line, cells)
        if fitted is None:
            continue
        if mark := reader.text(fitted, BENCHMARK.name):
            level = reader.length(line, fitted, ELEVATION.name)
            gathered.marks.append((reader.text(fitted, "station") or f"line {line}", level or 0.0, mark))
            if not any(reader.text(fitted, name) for name in ("x", "y") if name in columns):
                continue  # a mark of known elevation needs no place
        metres = [reader.length(line, fitted, name) for name in asked]
        for name, value in zip(asked, metres, strict=True):
            values[name].append(0.0 if value is None else value)
        names.append(reader.text(fitted, "station") or f"line {line}")
        remarks.append(reader.text(fitted, "note"))
        chains.append(reader.text(fitted, BREAKLINE.name))
        lines.append(line)
        gathered.see_height(reader.text(fitted, "elevation"))
    gathered.remark(remarks)
    gathered.add(names, values["x"], values["y"], values["elevation"], lines)
    gathered.chain(chains)


# Whether the figures of a file can be what they are said to be: degrees, dates, feet for inches.

_DEGREE_SPAN = 0.02
"""Units: a yard whose shots lie within this of each other both ways is one in degrees, or no yard."""

_FAR = 100_000.0
"""Units: from here on the survey foot and the foot differ by more than 0.2 ft (2 parts in a million)."""

_STEP_RATIOS = {"inches": 12.0, "metres": 1 / 0.3048}
_SAME_RATIO = 0.001  # steps typed to a thousandth come as near; steps that differ by chance seldom do
_FEW_ENOUGH = 20_000  # shots; a larger file was measured by a machine, whose steps say nothing
_SERIAL = (36_526, 73_050)  # 2000-01-01 and 2100-01-01 as the day numbers of spreadsheets


def doubts(gathered: Gathered, unit: Unit, faults: Faults, *, lettered: bool) -> list[Finding]:
    """Check the gathered shots; what cannot be is a fault, what is unlikely a finding."""
    metres = float(METRES_PER[unit])
    _degrees(gathered, metres, faults)
    _dates(gathered, metres, faults)
    _web_map(gathered, metres, faults)
    limit, heights = LIMITS["elevation"], gathered.elevation or [0.0]
    if not faults.all and not limit.least <= min(heights) <= max(heights) <= limit.most:
        lines = gathered.lines()
        found = [(lines[i], 0, value) for i, value in enumerate(heights)]
        refuse_impossible("elevation", found, unit, faults)
    told = [*_like_readings(gathered, unit)]
    return told if lettered else [*told, *_which_foot(gathered, unit, metres), *_step_ratio(gathered)]


def _span(values: Sequence[float]) -> float:
    return max(values) - min(values) if values else 0.0


def _degrees(gathered: Gathered, metres: float, faults: Faults) -> None:
    if len(gathered) < 3:
        return
    few = slice(None, None, max(1, len(gathered) // 8))
    if max(_span(gathered.x[few]), _span(gathered.y[few])) >= _DEGREE_SPAN * metres:
        return
    spans = _span(gathered.x) / metres, _span(gathered.y) / metres
    reach = max(map(abs, (*gathered.x[:1], *gathered.y[:1]))) / metres
    if 0 < max(spans) < _DEGREE_SPAN and 1 < reach <= 180:
        faults.note("notes-degrees", variant="span", span=f"{max(spans):.6f}")


_WEB_WEST, _WEB_MOST, _GLOBE = -3e6, 20_037_509.0, 6_378_137.0
"""[m] So far west no system for surveying reaches, its origin being put so that a yard lies to the east; the
edges of a map of the web (EPSG:3857), and its radius of the earth."""

_LEAST_FOOT = 0.3  # [m] below it: inches, cm, mm


def _web_map(gathered: Gathered, metres: float, faults: Faults) -> None:
    """Refuse places as maps of the web have them west of the Atlantic, in metres from its middle.

    A job of another unit, of ``metres`` each, has read bare figures of such a map as its own, so the figures
    are looked at first and then the lengths. Not so of units smaller than a foot, in which a site reaches as
    far from its own middle.
    """
    if len(gathered) < 3:
        return
    for per in (metres, 1.0) if metres > _LEAST_FOOT else (1.0,):
        x, y = ([value / per for value in values] for values in (gathered.x, gathered.y))
        if -_WEB_MOST < min(x) <= max(x) < _WEB_WEST and max(map(abs, y)) < _WEB_MOST:
            break
    else:
        return
    east, north = x[0] / _GLOBE, math.atan(math.sinh(y[0] / _GLOBE))
    zone, south = int((math.degrees(east) + 180.0) // 6.0) + 1, north < 0.0
    faults.note(
        "notes-web-map",
        line=gathered.lines()[0],
        x=f"{x[0]:,.0f}",
        y=f"{y[0]:,.0f}",
        stretch=f"{1.0 / math.cos(north):.3g}",
        zone=f"{zone} {'south' if south else 'north'}",
        system=f"EPSG:{32700 + zone if south else 32600 + zone}",
    )


def _dates(gathered: Gathered, metres: float, faults: Faults) -> None:
    """A whole day number among small elevations is a date that a spreadsheet made of a fraction."""
    low, high = _SERIAL
    values = gathered.elevation
    if not values or max(values) < low * metres or len(values) < 3:
        return
    middle = sorted(values)[len(values) // 2]
    if abs(middle) * 10 > low * metres:
        return
    for i, value in enumerate(values):
        number = value / metres
        if low <= number <= high and abs(number - round(number)) < 1e-6:
            line = gathered.lines()[i]
            faults.note("notes-cell", variant="day-number", line=line, number=str(round(number)))


def _like_readings(gathered: Gathered, unit: Unit) -> list[Finding]:
    """A warning where every elevation is of the size of a rod's and written in feet and inches, as on one."""
    if len(gathered) < 3 or gathered.marked < len(gathered) or not like_readings(gathered.elevation):
        return []
    show, file = Display(unit), gathered.notes.file
    low, high = show.rod(min(gathered.elevation)), show.rod(max(gathered.elevation))
    return [finding("elevations-like-readings", "warning", file, low=low, high=high)]


def _which_foot(gathered: Gathered, unit: Unit, metres: float) -> list[Finding]:
    if unit != "ft" or not gathered.x:
        return []
    # A yard far from its origin is far with every shot, so the first one tells.
    reach = max(abs(gathered.x[0]), abs(gathered.y[0])) / metres
    if reach <= _FAR:
        return []
    told = finding(
        "notes-which-foot",
        "warning",
        gathered.notes.file,
        reach * metres,
        _FAR * metres,
        reach=f"{reach:,.0f}",
        difference=f"{reach * 2e-6:.1f}",
    )
    return [told]


def _step_ratio(gathered: Gathered) -> list[Finding]:
    if not 3 < len(gathered) <= _FEW_ENOUGH:
        return []
    across, along = _median_step(gathered.x), _median_step(gathered.y)
    if not across or not along:
        return []
    ratio = max(across, along) / min(across, along)
    for unit, suspect in _STEP_RATIOS.items():
        if abs(ratio / suspect - 1) < _SAME_RATIO:
            larger, file = "x" if across > along else "y", gathered.notes.file
            shown = f"{ratio:.2f}"
            told = finding(
                "notes-step-ratio", "warning", file, ratio, suspect, variant=unit, larger=larger, ratio=shown
            )
            return [told]
    return []


def _median_step(values: Sequence[float]) -> float:
    """The middle gap [m] between neighbouring different positions; 0 if there are fewer than three."""
    different = sorted(set(values))
    gaps = sorted(b - a for a, b in pairwise(different) if b - a > 1e-6)
    return gaps[len(gaps) // 2] if len(gaps) >= 2 else 0.0


@dataclass(frozen=True, slots=True)
class SpotNotes:
    """The shots of a file, in its order; the sequences have one entry per shot.

    ``x``, ``y`` and ``elevation`` [m] are arrays of doubles that numpy views without a copy
    (``numpy.frombuffer(notes.x)``). ``lines`` are line numbers in ``file``; ``notes`` is None when the file
    has none. ``unit`` is the unit of bare numbers, which is also the one to show results in. ``marks`` are
    the rows of known elevation: name, elevation [m], and the word in the column ``benchmark``. ``unheaded``:
    nothing in the file says that these are elevations. ``breaklines``: the points of the lines along which
    the ground breaks.
    """

    names: Sequence[str]
    x: array[float]
    y: array[float]
    elevation: array[float]
    lines: Sequence[int]
    notes: Sequence[str] | None
    unit: Unit
    file: str
    findings: tuple[Finding, ...]
    marks: tuple[tuple[str, float, str], ...] = ()
    unheaded: bool = False
    breaklines: tuple[BreaklinePoint, ...] = ()

    def __len__(self) -> int:
        return len(self.x)


def read_spots(
    data: bytes,
    file: str,
    *,
    unit: Unit | None,
    columns: str | None = None,
    grid: LetteredGrid | None = None,
    decimal: DecimalMark | None = None,
) -> SpotNotes:
    """Read the spot elevations of a notes file.

    ``unit`` is the declared unit of bare numbers (None: the header must say it); ``columns`` letters for a
    file without header; ``grid`` the spacing of a lettered grid; ``decimal`` the decimal mark where
    the file does not prove it. Plain rows are read in bulk (a million in about two seconds), odd cells one
    by one.

    >>> notes = read_spots(b"station,x,y,elevation\\nA,0,0,10\\nB,4,0,10.5\\n", "yard.csv", unit="m")
    >>> notes.names, notes.elevation[1]
    (('A', 'B'), 10.5)

    Raises
    ------
    InputError
        with every fault of the file: unreadable text, unknown columns, cells that are no length, ...
    """
    notes = without_spaces(read_text(data, file))
    faults = Faults(file)
    punctuation = decide_punctuation(notes, faults, decimal=decimal)
    opening = open_notes(notes, punctuation)
    gathered = Gathered(notes, punctuation, faults)
    lettered = False
    top = grid_top(opening) if columns is None else None
    pasted = top is None and grid is not None and columns is None and is_block(opening)
    if top is not None:
        if grid is not None:
            refuse_unclear(opening, top, grid, unit, faults)
        gathered.findings += opening.title_findings(top, file)
        used = read_grid(gathered, opening.rows[top], unit)
    elif grid is not None and pasted:
        lettered, used = True, read_block(gathered, opening, grid, unit)
    else:
        header = header_or_order(opening, SPOT_FIELDS, columns, faults, first_line=punctuation.first_line)
        lettered = X.name not in header.columns and Y.name not in header.columns
        needed = (STATION.name, ELEVATION.name) if lettered else (X.name, Y.name, ELEVATION.name)
        require_columns(header.columns, needed, faults)
        refuse_uneven(header.columns, unit, faults)
        faults.raise_if_any()
        gathered.findings += (*header.findings, *unit_findings(header.columns, unit, file))
        gathered.findings += units_in_titles(opening, header.columns, unit, file)
        gathered.shown = shown_unit(header.columns, unit)
        used = _read_rows(gathered, header, needed=needed, unit=agreed_unit(header.columns, unit))
        if lettered:
            place_lettered(gathered, grid, header.columns)
        if not len(gathered.elevation) and not faults.all:
            no_rows(faults, header.columns, SPOT_FIELDS)
    gathered.findings += gathered.comments.findings()
    if not notes.tabbed or punctuation.decimal_comma:
        gathered.findings += punctuation.findings(file)
    faults.noticed = (*notes.findings, *gathered.findings)
    faults.raise_if_any()
    gathered.findings += doubts(gathered, used, faults, lettered=lettered)
    faults.noticed = (*notes.findings, *gathered.findings)
    faults.raise_if_any()
    return SpotNotes(
        names=tuple(gathered.names),
        x=gathered.x,
        y=gathered.y,
        elevation=gathered.elevation,
        lines=gathered.lines(),
        notes=gathered.notes_or_none(),
        unit=used,
        file=file,
        findings=faults.noticed,
        marks=tuple(gathered.marks),
        breaklines=tuple(gathered.breaklines),
        unheaded=pasted or (top is not None and not names_heights(opening.rows[: top + 1])),
    )
