"""A level book typed as a table: station with BS, IS and FS, or with one reading of a single set-up."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from gradework.errors import Finding, visible
from gradework.fieldnotes.headers import BACKSIGHT, KNOWN, NOTE, READING, STATION, Field, X, Y, column_named
from gradework.fieldnotes.places import optional_length, station_name
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.fieldnotes.text import DecimalMark
from gradework.units.lengths import Unit


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One line of the level book. A turning point carries its foresight and the next backsight on one line.

    ``backsight``, ``intermediate``, ``foresight``: rod readings [m]; negative for an inverted rod.
    ``known``: the given elevation of the mark [m]. ``booked``: the elevation worked out by hand [m].
    ``distance``: length of the sight on this line, or of the leg since the last turning point [m] (which of
    them, ``survey.levelling.setups.sight_lengths`` tells). ``back_distance``: length of the backsight where
    the line also holds a foresight [m]. ``line`` counts from 1; 0 means none.
    """

    station: str
    backsight: float | None = None
    intermediate: float | None = None
    foresight: float | None = None
    known: float | None = None
    distance: float | None = None
    back_distance: float | None = None
    booked: float | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class LevelNotes:
    """A level book: its lines in order, the file and the unit it was written in.

    ``single``: it was written as one column of readings, so that it has no BS, IS and FS to be named.
    """

    rows: tuple[LevelRow, ...]
    file: str = ""
    unit: Unit = "m"
    findings: tuple[Finding, ...] = ()
    single: bool = False


INTERMEDIATE = column_named(
    "IS",
    "is, i s, int sight, is -, intermediate sight, intermediate, inter, intermediate fs, ifs, side shot, ss",
    "length",
)
FORESIGHT = column_named("FS", "fs, f s, fs -, foresight, fore sight, fore, minus, -", "length")
DISTANCE = column_named(
    "distance",
    "distance, dist, sight, sight length, fs distance, length, section, section length, leg",
    "length",
)
BACK_DISTANCE = column_named("back distance", "back distance, bs distance, backsight distance", "length")
BOOKED = column_named(
    "elevation",
    "elevation, elev, el, level, rl, r l, reduced level, booked, booked elevation, height",
    "length",
)
INSTRUMENT = column_named(
    "HI", "hi, h i, height of instrument, instrument height, collimation, line of sight"
)
RISE = column_named("rise", "rise, rise +")
FALL = column_named("fall", "fall, fall -")

MOST_LEVEL_ROWS = 20_000
"""So many readings are not one yard."""

LEVEL_FIELDS = (
    STATION, BACKSIGHT, INTERMEDIATE, FORESIGHT, READING, KNOWN, DISTANCE, BACK_DISTANCE, BOOKED, INSTRUMENT,
    RISE, FALL, NOTE, X, Y,
)  # fmt: skip


def read_levels(
    data: bytes,
    file: str,
    *,
    unit: Unit | None,
    decimal: DecimalMark | None = None,
    known: Mapping[str, float] | None = None,
) -> LevelNotes:
    """Read a level book.

    Columns: ``station`` with ``BS``, ``IS``, ``FS``, or with one ``reading`` for a single set-up: the first
    row is then the backsight, a later row on the same mark the closing foresight. ``known`` holds the given
    elevation of a mark, ``distance`` (with ``back distance``) the length of a sight or a leg, ``elevation``
    what was worked out by hand; HI, rise, fall, x and y may stand there and are not used. ``known`` [m] by
    name adds to what the file gives. Raises ``InputError`` with every fault of the file.

    >>> notes = read_levels(b"station,BS,IS,FS\\nBM,1.5,,\\nA,,1.2,\\nBM,,,1.5\\n", "book.csv", unit="m")
    >>> [(row.station, row.backsight, row.foresight) for row in notes.rows]
    [('BM', 1.5, None), ('A', None, None), ('BM', None, 1.5)]
    """
    table = read_table(
        data,
        file,
        fields=LEVEL_FIELDS,
        needed=(STATION.name,),
        unit=unit,
        decimal=decimal,
        most=MOST_LEVEL_ROWS,
    )
    single = READING.name in table.columns
    _check_columns(table, single=single)
    rows = [_row(table, row) for row in table.rows]
    if single and not table.faults.all:
        rows = _single_setup(rows)
    rows = _with_known(table, rows, known or {})
    table.faults.raise_if_any()
    return LevelNotes(tuple(rows), file, table.unit, table.findings, single)


def _check_columns(table: Table, *, single: bool) -> None:
    several = [f.name for f in (BACKSIGHT, INTERMEDIATE, FORESIGHT) if f.name in table.columns]
    line, held = table.columns.line, ", ".join(table.columns.index)
    if single and several:
        table.faults.halt("levels-columns", variant="both", line=line, others=" and ".join(several))
    if not single and (BACKSIGHT.name not in several or len(several) == 1):
        table.faults.halt("levels-columns", line=line, columns=held)


def _row(table: Table, row: Row) -> LevelRow:
    def length(field: Field) -> float | None:
        return optional_length(table, row, field)

    return LevelRow(
        station=station_name(table, row),
        backsight=length(BACKSIGHT),
        intermediate=length(READING) if table.has(READING.name) else length(INTERMEDIATE),
        foresight=length(FORESIGHT),
        known=length(KNOWN),
        distance=length(DISTANCE),
        back_distance=length(BACK_DISTANCE),
        booked=length(BOOKED),
        line=row.line,
    )


def _single_setup(rows: Sequence[LevelRow]) -> list[LevelRow]:
    """The readings of one set-up as a book: the first is the backsight, the last on its mark a foresight."""
    read = [i for i, row in enumerate(rows) if row.intermediate is not None]
    made = list(rows)
    if read:
        first, last = read[0], read[-1]
        made[first] = replace(rows[first], backsight=rows[first].intermediate, intermediate=None)
        if last > first + 1 and rows[last].station == rows[first].station:
            made[last] = replace(rows[last], foresight=rows[last].intermediate, intermediate=None)
    return made


def _with_known(table: Table, rows: list[LevelRow], known: Mapping[str, float]) -> list[LevelRow]:
    """Give the marks their elevations; one that the notes do not have is a fault."""
    made = list(rows)
    for name, level in known.items():
        at = next((i for i, row in enumerate(rows) if row.station == name), None)
        if at is None:
            near = difflib.get_close_matches(name, [row.station for row in rows], n=1, cutoff=0.5)
            mark = visible(name)
            if near:
                table.faults.note("levels-mark-missing", variant="near", mark=mark, near=visible(near[0]))
            else:
                table.faults.note("levels-mark-missing", mark=mark)
        elif made[at].known is None:
            made[at] = replace(made[at], known=level)
        elif made[at].known != level:
            table.faults.note("levels-mark-twice", variant="beside", line=made[at].line, mark=visible(name))
    return made
