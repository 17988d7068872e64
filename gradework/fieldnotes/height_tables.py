"""Notes of the simple ways of levelling, typed as tables: string, water level, straightedge, laser.

The columns are told by their first row; nothing is computed but the halves of a row put together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from gradework.errors import Finding
from gradework.fieldnotes.dialect import DecimalMark
from gradework.fieldnotes.headers import NOTE, STATION, Field
from gradework.fieldnotes.height_notes import Difference, Drop, RodReading, Step, WaterPair
from gradework.fieldnotes.level_table import KNOWN, READING
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.units import Unit

Record = TypeVar("Record")

STRING = Field("string", ("string", "line", "cord", "string line"))
ALONG = Field("along", ("along", "along the string", "from first end", "chainage", "at"), "length")
DROP = Field("drop", ("drop", "drops", "down", "below", "below the string", "down to ground"), "length")
SAG = Field("sag", ("sag", "sag in the middle"), "length")
FROM = Field("from", ("from", "mark", "bm", "start"))
FIRST = Field(
    "mark reading",
    (
        "mark reading",
        "at the mark",
        "at the bm",
        "reading at the mark",
        "first",
        "from reading",
        "bm reading",
    ),
    "length",
)
SECOND = Field(
    "station reading",
    ("station reading", "at the station", "reading at the station", "second", "to reading"),
    "length",
)
TO = Field("station", (*STATION.words, "to", "end"))
HIGHER = Field(
    "higher", ("higher", "higher by", "difference", "diff", "above mark", "above the mark"), "length"
)
RUN = Field("run", ("run", "along", "step", "level distance"), "length")
RISE = Field("rise", ("rise", "up", "height"), "length")


@dataclass(frozen=True, slots=True)
class Readings(Generic[Record]):
    """Records in the order of the file, with the unit they were written in."""

    rows: tuple[Record, ...]
    file: str
    unit: Unit
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class StringNotes:
    """One string: the drops below it, its supports as (place along it, elevation) [m], and its sag [m]."""

    name: str
    drops: tuple[Drop, ...]
    supports: tuple[tuple[float | None, float], ...]
    sag: float | None
    line: int


def read_strings(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[StringNotes]:
    """Read drops below one or several strings.

    Columns: ``station``, ``drop``, and as far as measured ``string`` (which one), ``along`` (from its first
    end), ``known`` (the elevation of the string at a support: a row without a drop), ``sag`` (on any row).

    >>> text = b"station,along,drop,known\\npeg,0,,31\\npeg 2,8,,31\\nA,2,0.4,\\n"
    >>> (string,) = read_strings(text, "s.csv", unit="m").rows
    >>> string.supports, string.drops[0].drop
    (((0.0, 31.0), (8.0, 31.0)), 0.4)
    """
    fields = (STATION, STRING, ALONG, DROP, KNOWN, SAG, NOTE)
    table = read_table(
        data, file, fields=fields, needed=(STATION.name, DROP.name), unit=unit, decimal=decimal
    )
    groups: dict[str, list[Row]] = {}
    for row in table.rows:
        groups.setdefault(table.text(row, STRING.name), []).append(row)
    strings = tuple(_string(table, name, rows) for name, rows in groups.items())
    table.faults.raise_if_any()
    return Readings(strings, file, _unit(table, (DROP, KNOWN)), table.findings)


def _string(table: Table, name: str, rows: Sequence[Row]) -> StringNotes:
    drops: list[Drop] = []
    supports: list[tuple[float | None, float]] = []
    sag = None
    for row in rows:
        along, drop, known = (_length(table, row, field) for field in (ALONG, DROP, KNOWN))
        sag = _length(table, row, SAG) if sag is None else sag
        if drop is not None:
            drops.append(Drop(_name(table, row), drop, along, row.line))
        elif known is not None:
            supports.append((along, known))
        elif not table.text(row, DROP.name) and not table.text(row, KNOWN.name):
            table.fault(
                row,
                DROP.name,
                code="string-row-empty",
                found="a row without a drop and without a known elevation",
                expected="the drop at a station, or the elevation of the string at a support",
                mend="write it, or delete the row",
            )
    return StringNotes(name, tuple(drops), tuple(supports), sag, rows[0].line)


def read_water(
    data: bytes, file: str, *, unit: Unit | None, mark: str, decimal: DecimalMark | None = None
) -> Readings[WaterPair | Difference]:
    """Read a water level: pairs of readings, or differences from one mark.

    Columns: ``station``, ``mark reading``, ``station reading`` (and ``from`` where not every pair starts on
    ``mark``); or ``station``, ``higher``.
    """
    fields = (FIRST, SECOND, HIGHER, FROM, TO, NOTE)
    table = read_table(data, file, fields=fields, needed=(TO.name,), unit=unit, decimal=decimal)
    pairs = table.has(FIRST.name) and table.has(SECOND.name)
    if not pairs and not table.has(HIGHER.name):
        table.faults.stop(
            "water-level-columns",
            f"the columns {', '.join(table.columns.index)}",
            "station, mark reading and station reading, or station and higher",
            "name the columns in the first row",
            line=table.columns.line,
        )
    rows: list[WaterPair | Difference] = []
    for row in table.rows:
        name = _name(table, row)
        if pairs:
            first, second = (table.needed_length(row, field.name) for field in (FIRST, SECOND))
            if first is not None and second is not None:
                start = table.text(row, FROM.name) or mark
                rows.append(WaterPair(start, first, name, second, row.line))
        else:
            higher = table.needed_length(row, HIGHER.name)
            if higher is not None:
                rows.append(Difference(name, higher, row.line))
    table.faults.raise_if_any()
    return Readings(tuple(rows), file, _unit(table, (FIRST, HIGHER)), table.findings)


def read_steps(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[Step]:
    """Read straightedge steps: ``station``, ``run``, ``rise`` (minus for a fall)."""
    table = read_table(
        data,
        file,
        fields=(STATION, RUN, RISE, NOTE),
        needed=(STATION.name, RUN.name, RISE.name),
        unit=unit,
        decimal=decimal,
    )
    rows = []
    for row in table.rows:
        run, rise = table.needed_length(row, RUN.name), table.needed_length(row, RISE.name)
        if run is not None and rise is not None:
            rows.append(Step(_name(table, row), run, rise, row.line))
    table.faults.raise_if_any()
    return Readings(tuple(rows), file, _unit(table, (RISE, RUN)), table.findings)


def read_rod(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[RodReading]:
    """Read rod readings below one plane of known elevation: ``station``, ``reading``."""
    table = read_table(
        data,
        file,
        fields=(STATION, READING, NOTE),
        needed=(STATION.name, READING.name),
        unit=unit,
        decimal=decimal,
    )
    rows = []
    for row in table.rows:
        reading = table.needed_length(row, READING.name)
        if reading is not None:
            rows.append(RodReading(_name(table, row), reading, row.line))
    table.faults.raise_if_any()
    return Readings(tuple(rows), file, _unit(table, (READING,)), table.findings)


def _length(table: Table, row: Row, field: Field) -> float | None:
    return table.length(row, field.name) if table.has(field.name) else None


def _name(table: Table, row: Row) -> str:
    name = table.text(row, STATION.name)
    if not name:
        table.fault(
            row,
            STATION.name,
            code="levels-no-station",
            found="a row without a station",
            expected="a name on each row",
            mend="name the station or the mark",
        )
    return name


def _unit(table: Table, fields: Sequence[Field]) -> Unit:
    """The declared unit, or that of the first cell that carries its own."""
    if table.unit is not None:
        return table.unit
    cells = (table.text(row, field.name) for row in table.rows for field in fields)
    first = next((cell for cell in cells if cell), "m")
    return "m" if "m" in first.lower() else "ft"
