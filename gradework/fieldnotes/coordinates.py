"""Coordinates in a table: those of a reference system, and plain x and y that stand beside the readings."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import cast

from gradework.errors import visible
from gradework.fieldnotes.headers import DROP, ELEVATION, NOTE, STATION, Field, X, Y, column_named
from gradework.fieldnotes.heights import HIGHER, STRING
from gradework.fieldnotes.levels import LEVEL_FIELDS
from gradework.fieldnotes.places import PlainPlace, Records, optional_length, records_of, station_name
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.fieldnotes.text import DecimalMark
from gradework.units.lengths import METRES_PER, ColumnUnit, Unit

_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
_BETWEEN = re.compile("[\\s\u00b0\u00ba:'\u2032\u2019\"\u2033\u201d]*")
"""What may stand between and behind degrees, minutes and seconds: signs of all three, colons, spaces."""

LONGITUDE = column_named("longitude", "longitude, lon, long, lng", "number")
LATITUDE = column_named("latitude", "latitude, lat", "number")


@dataclass(frozen=True, slots=True)
class SystemPlace:
    """A station in a reference system: ``east`` and ``north`` as the system counts (its own unit, or degrees
    of longitude and latitude), and the elevation [m] where it is given."""

    station: str
    east: float
    north: float
    elevation: float | None = None
    line: int = 0


def read_system(
    data: bytes,
    file: str,
    *,
    unit: Unit | None,
    decimal: DecimalMark | None = None,
    columns: str | None = None,
) -> Records[SystemPlace]:
    """Read ``station, east, north`` or ``station, longitude, latitude``, with ``elevation`` where given.

    The names of the columns decide, those of ``columns`` in a file without header; without a column of
    stations each is called by its line. Raises InputError with every fault of the file.

    >>> read_system(b"pt,lat,lon\\nA,44.5,-72.5\\n", "g.csv", unit="m").rows
    (SystemPlace(station='A', east=-72.5, north=44.5, elevation=None, line=2),)
    """
    fields = (STATION, LONGITUDE, LATITUDE, X, Y, ELEVATION, NOTE)
    table = read_table(data, file, fields=fields, needed=(), unit=unit, decimal=decimal, columns=columns)
    named = table.has(STATION.name)
    degrees = table.has(LONGITUDE.name) and table.has(LATITUDE.name)
    if not degrees and not (table.has(X.name) and table.has(Y.name)):
        table.faults.halt("crs-columns", line=table.columns.line, columns=", ".join(table.columns.index))
    pair = (LONGITUDE, LATITUDE) if degrees else (X, Y)
    axes = table.columns.unit_of(X.name, unit) or table.unit
    rows = []
    for row in table.rows:
        east, north = (_value(table, row, field, axes) for field in pair)
        height = optional_length(table, row, ELEVATION)
        if east is not None and north is not None:
            name = station_name(table, row) if named else f"line {row.line}"
            rows.append(SystemPlace(name, east, north, height, row.line))
    return replace(records_of(table, rows), axes=cast("Unit", axes))


def places_beside(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Records[PlainPlace] | None:
    """Read the x and y that stand in a table of readings; None if it has no such columns.

    Rows without both (marks, turning points) are passed over; a station read twice counts once.
    """
    fields = (*LEVEL_FIELDS, DROP, STRING, HIGHER)
    table = read_table(data, file, fields=fields, needed=(STATION.name,), unit=unit, decimal=decimal)
    if not (table.has(X.name) and table.has(Y.name)):
        return None
    found: dict[str, PlainPlace] = {}
    for row in table.rows:
        if table.text(row, X.name) or table.text(row, Y.name):
            x, y = table.needed_length(row, X.name), table.needed_length(row, Y.name)
            if x is None or y is None:
                continue
            place = PlainPlace(station_name(table, row), x, y, row.line)
            first = found.setdefault(place.station, place)
            if (first.x, first.y) != (x, y):
                column, first_line = table.column(row, X.name), first.line
                table.faults.note(
                    "mark-twice",
                    line=row.line,
                    column=column,
                    station=visible(place.station),
                    first=first_line,
                )
    return records_of(table, found.values())


def _value(table: Table, row: Row, field: Field, axes: ColumnUnit) -> float | None:
    """A coordinate as the system counts (``axes``: its unit); an empty cell is a fault."""
    if field.kind == "length":
        metres = table.needed_length(row, field.name)
        return None if metres is None else metres / float(METRES_PER[axes])
    text, column = table.text(row, field.name), table.column(row, field.name)
    if not text:
        table.faults.note("coordinate-empty", line=row.line, column=column, name=field.name)
        return None
    if (degrees := _decimal_degrees(text)) is None:
        return table.number(row, field.name)
    table.faults.note(
        "coordinate-not-decimal",
        line=row.line,
        column=column,
        name=field.name,
        text=visible(text),
        degrees=f"{degrees:.7f}",
    )
    return None


def _decimal_degrees(text: str) -> float | None:
    """Decimal degrees of an angle with minutes, or with a letter for the hand; None for a plain number, and
    for what is neither.

    >>> round(_decimal_degrees("93 12' 36\\" W"), 4), _decimal_degrees("44.5 N"), _decimal_degrees("-93.2")
    (-93.21, 44.5, None)
    """
    bare = text.strip().upper()
    hand = next((letter for letter in (bare[:1], bare[-1:]) if letter and letter in "NSEW"), "")
    bare = bare.strip("NSEW ")
    minus = bare[:1] in ("-", "\N{MINUS SIGN}")
    bare = bare.lstrip("-+\N{MINUS SIGN}")
    parts = [float(part.replace(",", ".")) for part in _NUMBER.findall(bare)]
    if _BETWEEN.fullmatch(_NUMBER.sub("", bare)) is None or not 1 <= len(parts) <= 3:
        return None
    if (len(parts) == 1 and not hand and "\N{DEGREE SIGN}" not in bare) or any(p >= 60 for p in parts[1:]):
        return None
    size = sum(part / 60.0**power for power, part in enumerate(parts))
    return -size if minus or hand in ("W", "S") else size
