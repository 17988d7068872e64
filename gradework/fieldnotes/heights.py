"""Tables of the simple ways of levelling: drops below a string, water levels, straightedge steps, a laser."""

from __future__ import annotations

from dataclasses import dataclass

from gradework.fieldnotes.headers import DROP, FIRST, KNOWN, NOTE, READING, RUN, Field
from gradework.fieldnotes.places import (
    ALONG,
    PLACE,
    Records,
    needed_length,
    optional_length,
    records_of,
    station_name,
)
from gradework.fieldnotes.table import read_table
from gradework.fieldnotes.text import DecimalMark
from gradework.units.lengths import Unit

# Readings of the simple ways of levelling as they were written down: metres, nothing computed.
#
# ``line`` counts from 1; 0 means none. ``known``: the given elevation of the station, where it is a mark
# [m].


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


HIGHER = Field("higher", ("higher", "difference", "above mark", "higher than mark", "rise"), "length")
RISE = Field("rise", ("rise", "step", "up"), "length")
STRING = Field("string", ("string", "line", "string line"))
START = Field("from", ("from", "start", "first point"))
END = Field("to", ("to", "end", "second point"))
SECOND = Field("water at to", ("water at to", "second", "reading to", "water to", "second reading"), "length")


def read_drops(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Drop]:
    """Read ``station, drop`` below a string, with ``along`` from its first end where it was noted, and
    ``string`` its name where there are several.

    >>> read_drops(b"station,drop\\nA,0.4\\n", "d.csv", unit="m").rows
    (Drop(station='A', drop=0.4, along=None, line=2, string='', known=None),)
    """
    table = read_table(
        data,
        file,
        fields=(PLACE, DROP, ALONG, STRING, KNOWN, NOTE),
        needed=(PLACE.name, DROP.name),
        unit=unit,
        decimal=decimal,
    )
    rows = [
        Drop(
            station_name(table, r),
            needed_length(table, r, DROP),
            optional_length(table, r, ALONG),
            r.line,
            table.text(r, STRING.name) if table.has(STRING.name) else "",
            optional_length(table, r, KNOWN),
        )
        for r in table.rows
    ]
    return records_of(table, rows)


def read_differences(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Difference]:
    """Read ``station, higher``: how much higher than the mark by the water level, minus where lower."""
    table = read_table(
        data,
        file,
        fields=(PLACE, HIGHER, KNOWN, NOTE),
        needed=(PLACE.name, HIGHER.name),
        unit=unit,
        decimal=decimal,
    )
    return records_of(
        table,
        [
            Difference(
                station_name(table, r),
                needed_length(table, r, HIGHER),
                r.line,
                optional_length(table, r, KNOWN),
            )
            for r in table.rows
        ],
    )


def read_water_pairs(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[WaterPair]:
    """Read ``from, water at from, to, water at to``: the water above two points at the same time.

    >>> text = b"from,water at from,to,water at to\\nBM,1.2,A,1.35\\n"
    >>> read_water_pairs(text, "w.csv", unit="m").rows
    (WaterPair(start='BM', first=1.2, end='A', second=1.35, line=2),)
    """
    fields = (START, FIRST, END, SECOND, NOTE)
    table = read_table(
        data, file, fields=fields, needed=[f.name for f in fields[:4]], unit=unit, decimal=decimal
    )
    rows = [
        WaterPair(
            table.text(r, START.name),
            needed_length(table, r, FIRST),
            table.text(r, END.name),
            needed_length(table, r, SECOND),
            r.line,
        )
        for r in table.rows
    ]
    for r, row in zip(table.rows, rows, strict=True):
        for field, name in ((START, row.start), (END, row.end)):
            if not name:
                table.fault(
                    r,
                    field.name,
                    code="levels-no-station",
                    found="a row without a station",
                    expected="a name on each row",
                    fix="name the point",
                )
    return records_of(table, rows)


def read_steps(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[Step]:
    """Read ``station, run, rise``: one straightedge step after the other along a line."""
    needed = (PLACE.name, RUN.name, RISE.name)
    table = read_table(
        data, file, fields=(PLACE, RUN, RISE, KNOWN, NOTE), needed=needed, unit=unit, decimal=decimal
    )
    rows = [
        Step(
            station_name(table, r),
            needed_length(table, r, RUN),
            needed_length(table, r, RISE),
            r.line,
            optional_length(table, r, KNOWN),
        )
        for r in table.rows
    ]
    return records_of(table, rows)


def read_laser(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[RodReading]:
    """Read ``station, reading`` below a laser of known height."""
    table = read_table(
        data,
        file,
        fields=(PLACE, READING, KNOWN, NOTE),
        needed=(PLACE.name, READING.name),
        unit=unit,
        decimal=decimal,
    )
    return records_of(
        table,
        [
            RodReading(
                station_name(table, r),
                needed_length(table, r, READING),
                r.line,
                optional_length(table, r, KNOWN),
            )
            for r in table.rows
        ],
    )
