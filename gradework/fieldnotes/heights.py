"""Tables of the simple ways of levelling: drops below a string, water levels, straightedge steps, a laser."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gradework.fieldnotes.headers import DROP, FIRST, KNOWN, READING, RUN, Field, column_named
from gradework.fieldnotes.places import (
    ALONG,
    PLACE,
    Record,
    Records,
    needed_length,
    open_table,
    optional_length,
    records_of,
    station_name,
)
from gradework.fieldnotes.text import DecimalMark
from gradework.units.lengths import Unit

# Metres as they were written down, nothing computed. ``line`` counts from 1; 0 means none. ``known``: the
# given elevation of the station, where it is a mark [m].


@dataclass(frozen=True, slots=True)
class Drop:
    """The drop from a string down to a station [m], how far along from its first end it hangs [m], and the
    name of the string where there are several."""

    station: str
    drop: float
    along: float | None = None
    line: int = 0
    string: str = ""
    known: float | None = None


@dataclass(frozen=True, slots=True)
class WaterPair:
    """The water of a water level above ``start`` and above ``end`` [m], read at the same time."""

    start: str
    first: float
    end: str
    second: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class Difference:
    """How much higher a station is than the mark [m], negative when lower."""

    station: str
    higher: float
    line: int = 0
    known: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One straightedge step to ``station``: level ``run`` [m], above 0; ``rise`` [m], minus for a fall."""

    station: str
    run: float
    rise: float
    line: int = 0
    known: float | None = None


@dataclass(frozen=True, slots=True)
class RodReading:
    """The rod reading at a station, up to one level plane [m]."""

    station: str
    reading: float
    line: int = 0
    known: float | None = None


HIGHER = column_named("higher", "higher, difference, above mark, higher than mark, rise", "length")
RISE = column_named("rise", "rise, step, up", "length")
STRING = column_named("string", "string, line, string line")
START = column_named("from", "from, start, first point")
END = column_named("to", "to, end, second point")
SECOND = column_named("water at to", "water at to, second, reading to, water to, second reading", "length")


def read_drops(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Drop]:
    """Read ``station, drop`` below a string, with ``along`` from its first end where it was noted, and
    ``string`` its name where there are several.

    >>> read_drops(b"station,drop\\nA,0.4\\n", "d.csv", unit="m").rows
    (Drop(station='A', drop=0.4, along=None, line=2, string='', known=None),)
    """
    table = open_table(data, file, (PLACE, DROP), (ALONG, STRING, KNOWN), unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        name, drop = station_name(table, row), needed_length(table, row, DROP)
        along, known = optional_length(table, row, ALONG), optional_length(table, row, KNOWN)
        rows.append(Drop(name, drop, along, row.line, table.text(row, STRING.name), known))
    return records_of(table, rows)


def read_differences(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Difference]:
    """Read ``station, higher``: how much higher than the mark by the water level, minus where lower."""
    return _one_length(data, file, HIGHER, Difference, unit=unit, decimal=decimal)


def _one_length(
    data: bytes,
    file: str,
    field: Field,
    make: Callable[[str, float, int, float | None], Record],
    *,
    unit: Unit | None,
    decimal: DecimalMark | None,
) -> Records[Record]:
    """Read tables of a station and one length, with the known elevation where it is a mark."""
    table = open_table(data, file, (PLACE, field), (KNOWN,), unit=unit, decimal=decimal)
    rows = [
        make(station_name(table, r), needed_length(table, r, field), r.line, optional_length(table, r, KNOWN))
        for r in table.rows
    ]
    return records_of(table, rows)


def read_water_pairs(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[WaterPair]:
    """Read ``from, water at from, to, water at to``: the water above two points at the same time.

    >>> text = b"from,water at from,to,water at to\\nBM,1.2,A,1.35\\n"
    >>> read_water_pairs(text, "w.csv", unit="m").rows
    (WaterPair(start='BM', first=1.2, end='A', second=1.35, line=2),)
    """
    table = open_table(data, file, (START, FIRST, END, SECOND), unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        start, end = table.text(row, START.name), table.text(row, END.name)
        first, second = needed_length(table, row, FIRST), needed_length(table, row, SECOND)
        rows.append(WaterPair(start, first, end, second, row.line))
        for field, name in ((START, start), (END, end)):
            if not name:
                column = table.column(row, field.name)
                table.faults.note("levels-no-station", line=row.line, column=column)
    return records_of(table, rows)


def read_steps(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Step]:
    """Read ``station, run, rise``: one straightedge step after the other along a line."""
    table = open_table(data, file, (PLACE, RUN, RISE), (KNOWN,), unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        name, known = station_name(table, row), optional_length(table, row, KNOWN)
        run, rise = needed_length(table, row, RUN), needed_length(table, row, RISE)
        rows.append(Step(name, run, rise, row.line, known))
    return records_of(table, rows)


def read_laser(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[RodReading]:
    """Read ``station, reading`` below a laser of known height."""
    return _one_length(data, file, READING, RodReading, unit=unit, decimal=decimal)
