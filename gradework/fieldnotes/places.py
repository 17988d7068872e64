"""Tables of where things stand: ties to marks, offsets from a baseline, rays, and plain x, y."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Generic, Literal, TypeVar

from gradework.errors import Finding, finding, visible
from gradework.fieldnotes.headers import NOTE, STATION, Field, X, Y, column_named
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.fieldnotes.text import DecimalMark
from gradework.units.amounts import parse_angle
from gradework.units.display import counted
from gradework.units.lengths import Unit
from gradework.units.numbers import QuantityError

# Metres and degrees as they were written down, nothing computed.
#
# ``line`` counts from 1; 0 means none. ``rise`` is the height between the two ends of a distance taped on
# the slope [m], with or without a sign; None where the tape was held level.

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Tie:
    """The distance from a known mark to a station [m].

    ``side``: on which hand the station lies for someone who stands at the station's first mark and looks to
    its second; None where it was not said.
    """

    station: str
    mark: str
    distance: float
    rise: float | None = None
    side: Side | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Offset:
    """Distance ``along`` a baseline from its start [m], and square off it [m]: left positive, right
    negative."""

    station: str
    along: float
    offset: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class Ray:
    """An angle from the zero direction [degrees] and a distance [m] from one place."""

    station: str
    angle: float
    distance: float
    rise: float | None = None
    line: int = 0


Record = TypeVar("Record")

MOST_TIES = 10_000
"""Nobody tapes more; each station is fitted by itself, which takes about half a millisecond."""

# In these tables a mark is what one measures from, not the station itself.
PLACE = replace(STATION, words=tuple(w for w in STATION.words if w != "mark"))
MARK = column_named("mark", "mark, from, from mark, known mark, corner, tied to, to")
TAPED = column_named("distance", "distance, dist, tape, taped, length, slope distance", "length")
RISE = column_named("rise", "rise, rise of ends, height difference, dh, drop along tape", "length")
SIDE = column_named("side", "side, hand, left or right")
ALONG = column_named("along", "along, chainage, stationing, along baseline, distance along", "length")
OFFSET = column_named("offset", "offset, off, square off, offset left", "length")
ANGLE = column_named("angle", "angle, circle, bearing, direction, degrees")


@dataclass(frozen=True, slots=True)
class Records(Generic[Record]):
    """Typed rows of one table, in the order of the file; ``unit`` is that of the notes, ``axes`` that of
    coordinates of a system."""

    rows: tuple[Record, ...]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()
    axes: Unit = "m"


def open_table(
    data: bytes,
    file: str,
    needed: Sequence[Field],
    others: Sequence[Field] = (),
    *,
    unit: Unit | None,
    decimal: DecimalMark | None,
) -> Table:
    """Read a table with the columns ``needed``, and ``others`` (and notes) where they stand."""
    names = [field.name for field in needed]
    return read_table(data, file, fields=(*needed, *others, NOTE), needed=names, unit=unit, decimal=decimal)


def records_of(table: Table, rows: Iterable[Record]) -> Records[Record]:
    """Hand on the rows of a table, unless it has faults: then raise ``InputError`` with all of them."""
    found = tuple(rows)
    table.faults.raise_if_any()
    return Records(found, table.file, table.unit, table.findings)


@dataclass(frozen=True, slots=True)
class PlainPlace:
    """A place as x, y [m]."""

    station: str
    x: float
    y: float
    line: int = 0


def read_ties(
    data: bytes,
    file: str,
    *,
    unit: Unit | None,
    marks: Sequence[str] = (),
    decimal: DecimalMark | None = None,
) -> Records[Tie]:
    """Read tape ties: ``station, mark, distance`` with a row per tie, or a column per mark and a row per
    station.

    ``marks``: names of the known marks; a header cell that is one of them is a column of distances from it,
    where an empty cell is a tie not taken. ``side`` (left, right) and ``rise`` may stand beside either form;
    beside a column per mark each has its own rise, ``rise A`` for A, and one ``rise`` for all of a row is
    noted (`tie-rise-shared`). Raises InputError with every fault of the file.

    >>> read_ties(b"station,A,B,side\\nS1,5,4.5,left\\n", "t.csv", unit="m", marks=["A", "B"]).rows[1]
    Tie(station='S1', mark='B', distance=4.5, rise=None, side='left', line=2)
    """
    wide, rises = columns_of_ties(marks)
    # marks go first: one may be called as another column is
    fields = (*wide, *rises, PLACE, MARK, TAPED, RISE, SIDE, NOTE)
    table = read_table(
        data, file, fields=fields, needed=(PLACE.name,), unit=unit, decimal=decimal, most=MOST_TIES
    )
    columns = [(m, f, r) for m, f, r in zip(marks, wide, rises, strict=True) if table.has(f.name)]
    long_form = table.has(MARK.name) and table.has(TAPED.name)
    if bool(columns) == long_form:
        line, held, named = table.columns.line, ", ".join(table.columns.index), ", ".join(map(visible, marks))
        if marks:
            table.faults.halt("ties-columns", variant="marks", line=line, columns=held, marks=named)
        table.faults.halt("ties-columns", line=line, columns=held)
    if len(columns) * len(table.rows) > MOST_TIES:
        table.faults.halt(
            "notes-too-many-rows", variant="ties", line=table.columns.line,
            rows=f"{len(table.rows):,}", columns=f"{len(columns):,}", most=f"{MOST_TIES:,}",
        )  # fmt: skip
    of_mark = dict(zip(marks, rises, strict=True))
    ties: list[Tie] = []
    shared: list[int] = []
    for row in table.rows:
        station, side, rise = station_name(table, row), _side(table, row), optional_length(table, row, RISE)
        if long_form:
            mark, length = table.text(row, MARK.name), table.needed_length(row, TAPED.name)
            up = optional_length(table, row, of_mark[mark]) if mark in of_mark else None
            taped = [(mark, length, rise if up is None else up)]
        else:
            own = [(m, table.length(row, f.name), optional_length(table, row, r)) for m, f, r in columns]
            taped = [(m, d, rise if up is None else up) for m, d, up in own]
            if rise is not None and sum(d is not None and up is None for _, d, up in own) > 1:
                shared.append(row.line)
        ties += [Tie(station, mark, d, up, side, row.line) for mark, d, up in taped if d is not None]
    found = records_of(table, ties)
    return replace(found, findings=(*found.findings, *_shared_rise(shared, marks)))


def columns_of_ties(marks: Sequence[str]) -> tuple[list[Field], list[Field]]:
    """For each mark the column of distances from it, and that of the rises of those."""
    names = [" ".join(re.sub("[._]", " ", mark.lower()).split()) for mark in marks]
    taped = [Field(f"from {mark}", (name,), "length") for mark, name in zip(marks, names, strict=True)]
    ways = ("rise {}", "rise to {}", "rise from {}", "{} rise")
    rises = [
        Field(f"rise {mark}", tuple(way.format(name) for way in ways), "length")
        for mark, name in zip(marks, names, strict=True)
    ]
    return taped, rises


def _shared_rise(lines: Sequence[int], marks: Sequence[str]) -> list[Finding]:
    """A note where one rise counts for tapes from several marks, which seldom end equally high."""
    if not lines:
        return []
    own = " and ".join(f'"rise {visible(mark)}"' for mark in marks[:2])
    count, where = len(lines), f"line {lines[0]}"
    rows = counted(count, "rows")
    return [finding("tie-rise-shared", "note", where, float(count), 0.0, rows=rows, columns=own)]


def read_offsets(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Offset]:
    """Read ``station, along, offset``: distance along the baseline, and square off it, left positive.

    >>> read_offsets(b"station,along,offset\\nA,3,-1.5\\n", "o.csv", unit="m").rows
    (Offset(station='A', along=3.0, offset=-1.5, line=2),)
    """
    table = open_table(data, file, (PLACE, ALONG, OFFSET), unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        along, offset = needed_length(table, row, ALONG), needed_length(table, row, OFFSET)
        rows.append(Offset(station_name(table, row), along, offset, row.line))
    return records_of(table, rows)


def read_rays(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Ray]:
    """Read ``station, angle, distance`` (and ``rise``): degrees on the circle, and the taped length.

    >>> read_rays(b"station,angle,distance\\nA,90,5.5\\n", "r.csv", unit="m").rows
    (Ray(station='A', angle=90.0, distance=5.5, rise=None, line=2),)
    """
    table = open_table(data, file, (PLACE, ANGLE, TAPED), (RISE,), unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        name, angle = station_name(table, row), _angle(table, row)
        taped, rise = needed_length(table, row, TAPED), optional_length(table, row, RISE)
        rows.append(Ray(name, angle, taped, rise, row.line))
    return records_of(table, rows)


def read_places(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[PlainPlace]:
    """Read ``station, x, y``: places that were measured some other way, or the known marks themselves."""
    table = open_table(data, file, (STATION, X, Y), unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        x, y = needed_length(table, row, X), needed_length(table, row, Y)
        rows.append(PlainPlace(table.text(row, STATION.name), x, y, row.line))
    return records_of(table, rows)


def station_name(table: Table, row: Row) -> str:
    """The name in the station column; a row without one is a fault."""
    name = table.text(row, PLACE.name)
    if not name:
        table.faults.note("levels-no-station", line=row.line, column=table.column(row, PLACE.name))
    return name


def needed_length(table: Table, row: Row, field: Field) -> float:
    """The length in a cell that must be filled [m]; 0 where it is not, and the fault is noted."""
    value = table.needed_length(row, field.name)
    return 0.0 if value is None else value


def optional_length(table: Table, row: Row, field: Field) -> float | None:
    """The length in a cell [m], None where it or the column is empty."""
    return table.length(row, field.name) if table.has(field.name) else None


def _angle(table: Table, row: Row) -> float:
    try:
        return parse_angle(table.text(row, ANGLE.name))
    except QuantityError as error:
        table.refuse(row, ANGLE.name, error)
        return 0.0


def _side(table: Table, row: Row) -> Side | None:
    said = table.text(row, SIDE.name).lower()
    if said in ("left", "l"):
        return "left"
    if said in ("right", "r"):
        return "right"
    if said:
        column = table.column(row, SIDE.name)
        table.faults.note("tie-side-word", line=row.line, column=column, side=visible(said))
    return None
