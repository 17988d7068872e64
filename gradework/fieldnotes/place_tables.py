"""Where things stand, typed as tables: tape ties, station and offset, angle and distance, x, y, degrees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gradework.fieldnotes.dialect import DecimalMark
from gradework.fieldnotes.headers import ELEVATION, NOTE, STATION, Field, X, Y
from gradework.fieldnotes.height_tables import Readings, Record
from gradework.fieldnotes.level_table import LEVEL_FIELDS
from gradework.fieldnotes.place_notes import Offset, Ray, Side, Tie
from gradework.fieldnotes.table import Row, Table, read_table
from gradework.units import METRES_PER, Unit

MARK = Field("mark", ("mark", "from", "corner", "tied to", "tie to", "from mark", "to mark"))
DISTANCE = Field("distance", ("distance", "dist", "tape", "taped", "length"), "length")
RISE = Field("rise", ("rise", "height difference", "up", "fall"), "length")
SIDE = Field("side", ("side", "hand"))
ALONG = Field("along", ("along", "chainage", "along the line", "along baseline", "distance along"), "length")
OFFSET = Field("offset", ("offset", "off", "offset left", "square off"), "length")
ANGLE = Field("angle", ("angle", "circle", "degrees", "horizontal angle"), "number")
LONGITUDE = Field("longitude", ("longitude", "lon", "long", "lng"), "number")
LATITUDE = Field("latitude", ("latitude", "lat"), "number")

_PLACE = Field("station", tuple(word for word in STATION.words if word != "mark"))


_SIDES: dict[str, Side] = {"l": "left", "left": "left", "r": "right", "right": "right"}


@dataclass(frozen=True, slots=True)
class PlainPlace:
    """A station with its two coordinates, [m] or as the reader says; and its elevation [m] if given."""

    station: str
    x: float
    y: float
    elevation: float | None = None
    line: int = 0


def read_ties(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[Tie]:
    """Read tape ties: ``station``, ``mark``, ``distance``, and as far as given ``rise`` and ``side``.

    >>> text = b"station,mark,distance,side\\nA1,barn A,22' 4\\",left\\n"
    >>> read_ties(text, "t.csv", unit="ft").rows[0].side
    'left'
    """
    table = _table(data, file, (_PLACE, MARK, DISTANCE, RISE, SIDE, NOTE), 3, unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        distance = table.needed_length(row, DISTANCE.name)
        side = table.text(row, SIDE.name).lower()
        if side and side not in _SIDES:
            table.fault(
                row,
                SIDE.name,
                code="tie-side",
                found=f"the side '{side}'",
                expected="left or right, seen from the first mark to the second",
                mend="write left or right, or leave it empty where a third tie tells",
            )
        if distance is not None:
            hand = _SIDES.get(side)
            name, mark = _name(table, row), _mark(table, row)
            rows.append(Tie(name, mark, distance, _length(table, row, RISE), hand, row.line))
    return _done(table, rows, (DISTANCE,))


def read_offsets(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[Offset]:
    """Read places off a baseline: ``station``, ``along``, ``offset`` (left positive, right negative)."""
    table = _table(data, file, (STATION, ALONG, OFFSET, NOTE), 3, unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        along, offset = table.needed_length(row, ALONG.name), table.needed_length(row, OFFSET.name)
        if along is not None and offset is not None:
            rows.append(Offset(_name(table, row), along, offset, row.line))
    return _done(table, rows, (ALONG, OFFSET))


def read_rays(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[Ray]:
    """Read angles and distances from one place: ``station``, ``angle`` (degrees), ``distance``, ``rise``."""
    table = _table(data, file, (STATION, ANGLE, DISTANCE, RISE, NOTE), 3, unit=unit, decimal=decimal)
    rows = []
    for row in table.rows:
        angle = table.number(row, ANGLE.name)
        distance = table.needed_length(row, DISTANCE.name)
        if angle is None:
            if not table.text(row, ANGLE.name):
                table.fault(
                    row,
                    ANGLE.name,
                    code="place-cell-empty",
                    found="no angle",
                    expected="degrees",
                    mend="write what the circle read",
                )
        elif distance is not None:
            rows.append(Ray(_name(table, row), angle, distance, _length(table, row, RISE), row.line))
    return _done(table, rows, (DISTANCE,))


def read_xy(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[PlainPlace]:
    """Read plain x and y [m]. Readings may stand in the same file; rows without x and y are passed over."""
    fields = (*LEVEL_FIELDS, Field("drop", ("drop",), "length"), Field("higher", ("higher",), "length"))
    table = read_table(
        data, file, fields=fields, needed=(STATION.name, X.name, Y.name), unit=unit, decimal=decimal
    )
    rows = []
    for row in table.rows:
        if table.text(row, X.name) or table.text(row, Y.name):
            x, y = table.needed_length(row, X.name), table.needed_length(row, Y.name)
            if x is not None and y is not None:
                rows.append(PlainPlace(_name(table, row), x, y, _length(table, row, ELEVATION), row.line))
    return _done(table, rows, (X, Y))


def read_system(
    data: bytes, file: str, *, unit: Unit | None, decimal: DecimalMark | None = None
) -> Readings[PlainPlace]:
    """Read coordinates of a reference system: east and north, or longitude and latitude, with an elevation.

    ``x`` and ``y`` are given back in the unit of the notes (or degrees), as the system counts.
    """
    fields = (STATION, LONGITUDE, LATITUDE, X, Y, ELEVATION, NOTE)
    table = read_table(data, file, fields=fields, needed=(STATION.name,), unit=unit, decimal=decimal)
    degrees = table.has(LONGITUDE.name) and table.has(LATITUDE.name)
    if not degrees and not (table.has(X.name) and table.has(Y.name)):
        table.faults.stop(
            "crs-columns",
            f"the columns {', '.join(table.columns.index)}",
            "station with longitude and latitude, or with east and north",
            "name the columns in the first row",
            line=table.columns.line,
        )
    rows = []
    for row in table.rows:
        if degrees:
            x, y = (_degrees(table, row, field) for field in (LONGITUDE, LATITUDE))
        else:
            x, y = (_in_unit(table.needed_length(row, field.name), table.unit) for field in (X, Y))
        height = _length(table, row, ELEVATION)
        if x is not None and y is not None:
            rows.append(PlainPlace(_name(table, row), x, y, height, row.line))
    return _done(table, rows, (ELEVATION,))


def _degrees(table: Table, row: Row, field: Field) -> float | None:
    value = table.number(row, field.name)
    if value is None and not table.text(row, field.name):
        table.fault(
            row,
            field.name,
            code="place-cell-empty",
            found=f"no {field.name}",
            expected="degrees",
            mend="write it, or delete the row",
        )
    return value


def _in_unit(metres: float | None, unit: Unit | None) -> float | None:
    return None if metres is None else metres / float(METRES_PER[unit or "m"])


def _table(
    data: bytes,
    file: str,
    fields: Sequence[Field],
    needed: int,
    *,
    unit: Unit | None,
    decimal: DecimalMark | None,
) -> Table:
    names = [field.name for field in fields[:needed]]
    return read_table(data, file, fields=fields, needed=names, unit=unit, decimal=decimal)


def _length(table: Table, row: Row, field: Field) -> float | None:
    return table.length(row, field.name) if table.has(field.name) else None


def _name(table: Table, row: Row) -> str:
    return _words(table, row, STATION.name, "the station")


def _mark(table: Table, row: Row) -> str:
    return _words(table, row, MARK.name, "the mark it is measured from")


def _words(table: Table, row: Row, name: str, what: str) -> str:
    text = table.text(row, name)
    if not text:
        table.fault(
            row,
            name,
            code="place-cell-empty",
            found=f"a row without {what}",
            expected="a name on each row",
            mend="write the name",
        )
    return text


def _done(table: Table, rows: list[Record], fields: Sequence[Field]) -> Readings[Record]:
    table.faults.raise_if_any()
    unit = table.unit
    if unit is None:
        cells = (table.text(row, field.name) for row in table.rows for field in fields)
        unit = "m" if "m" in next((cell for cell in cells if cell), "m").lower() else "ft"
    return Readings(tuple(rows), table.file, unit, table.findings)
