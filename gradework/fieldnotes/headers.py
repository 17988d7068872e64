"""What the columns of a table mean: plain words in the header, the unit beside them, or letters.

A file that reads its own kind of notes lists its ``Field``s and calls ``recognise``. The columns by which a
table tells how it was levelled stand here too, so that spot elevations are known as such without loading the
readers of readings.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from gradework.errors import Faults, visible
from gradework.units.lengths import Unit, parse_length, unit_named
from gradework.units.numbers import LengthError, plain

Kind = Literal["text", "length", "number"]


@dataclass(frozen=True, slots=True)
class Field:
    """One meaning a column can have: its ``name`` in messages, the header words for it, what its cells hold.

    ``words`` are compared without case, underscores and full stops; ``letters`` stand for it in ``columns``.
    """

    name: str
    words: tuple[str, ...]
    kind: Kind = "text"
    letters: str = ""


def column_named(name: str, words: str, kind: Kind = "text", letters: str = "") -> Field:
    """A field whose words are written with commas between them.

    >>> column_named("drop", "drop, below string", "length").words
    ('drop', 'below string')
    """
    return Field(name, tuple(words.split(", ")), kind, letters)


STATION = column_named(
    "station",
    "station, stations, stn, sta, stake, shot, spot, point, pt, p, point no, pt no, point id, point number, "
    "point name, no, nr, number, id, name, label, mark, place, where",
    letters="PS",
)
X = column_named(
    "x",
    "x, e, east, easting, eastings, x coord, x coordinate, x position, pos x, x east, across",
    "length",
    "XE",
)
Y = column_named(
    "y", "y, n, north, northing, northings, y coord, y coordinate, y position, pos y, y north", "length", "YN"
)
ELEVATION = column_named(
    "elevation",
    "elevation, elevations, elev, el, ele, z, h, height, level, rl, reduced level, ground level, ground, "
    "grade, spot elevation, spot level, ground elevation, z coord, z coordinate, z elevation",
    "length",
    "Z",
)
NOTE = column_named(
    "note",
    "note, notes, d, desc, description, descriptor, code, feature, remark, remarks, comment, comments, what",
    letters="D",
)
BENCHMARK = column_named("benchmark", "benchmark, benchmarks")
SPREAD = column_named("sd", "sd, standard error", "length")
BACKSIGHT = column_named("BS", "bs, b s, bs +, backsight, back sight, back, plus, +", "length")
READING = column_named("reading", "reading, rod, rod reading, staff, staff reading, readings, r", "length")
DROP = column_named("drop", "drop, drop below string, below string, down, depth", "length")
RUN = column_named("run", "run, level distance", "length")
FIRST = column_named(
    "water at from", "water at from, first, reading from, water from, first reading", "length"
)
HIGHER_THAN_MARK = column_named("higher", "higher, higher by, difference, above mark, higher than mark")
KNOWN = column_named("known", "known, known elevation, known level, given, given elevation, datum", "length")

_IGNORED = frozenset({"date", "time", "weather", "observer", "by", "photo", "temperature", "day"})
_DEGREES = frozenset({"lat", "latitude", "lon", "long", "lng", "longitude"})


@dataclass(frozen=True, slots=True)
class HeaderUnit:
    """A unit in the header: its name in ``units.lengths.METRES_PER``, the cell that says so, its index."""

    unit: str
    text: str
    index: int


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column holds which field.

    ``index`` maps field names to column numbers from 0; ``units`` holds units written in the header;
    ``count`` is the number of columns of the header, trailing empty ones included; ``ignored`` are the
    words of columns that hold nothing for us (date, weather ...); ``empty`` are the columns with an empty
    header, whose cells must be empty too; ``line`` is that of the header, 0 for
    letters.
    """

    index: Mapping[str, int]
    units: Mapping[str, HeaderUnit]
    count: int
    ignored: tuple[str, ...] = ()
    line: int = 0
    empty: tuple[int, ...] = ()

    def __contains__(self, name: str) -> bool:
        return name in self.index


def is_figure(cell: str) -> bool:
    """True if a cell can be read as a length, bare or with a unit; then its row is no header.

    >>> is_figure("98.72"), is_figure("5' 3\\""), is_figure("elevation"), is_figure("98,72")
    (True, True, False, True)
    """
    if cell.isascii() and not any(map(str.isdigit, cell)):
        return False
    for decimal_comma in (False, True):
        try:
            parse_length(cell, "ft", decimal_comma=decimal_comma)
        except LengthError:
            continue
        return True
    return False


def _words(text: str) -> str:
    return " ".join(plain(text).lower().replace("_", " ").replace(".", " ").strip(" :#").split())


def _meanings(cell: str) -> Iterator[tuple[str, str | None]]:
    """The ways to read a header cell: its words, and the unit taken off their end if there is one."""
    yield _words(cell), None
    tidy = plain(cell).lower().replace("_", " ").strip(" :")
    if match := re.fullmatch(r"(.*?)[ ,]*[(\[{] ?([^()\[\]{}]+?) ?[)\]}]", tidy):
        yield _words(match[1]), unit_named(match[2]) or f"?{match[2]}"
    elif match := re.fullmatch(r"(.*?)[ ,/-]+(?:in )?(us survey f(?:t|eet|oot)|[a-z]+\.?)", tidy):
        unit = unit_named(match[2])
        if unit is not None:
            yield _words(match[1]), unit


def _field_of(cell: str, fields: Sequence[Field]) -> tuple[Field | None, str | None]:
    for words, unit in _meanings(cell):
        for field in fields:
            if words in field.words or words == field.name:
                if unit is not None and unit.startswith("?"):
                    beside = _words(unit[1:])
                    return (field, None) if beside in field.words else (None, None)
                return field, unit
    return None, None


def means(cell: str, field: Field) -> bool:
    """True if a header cell is one of the words for ``field``, with or without a unit.

    >>> means("Rod (ft)", Field("reading", ("rod", "reading"), "length")), means("", STATION)
    (True, False)
    """
    return bool(cell.strip()) and _field_of(cell, (field,))[0] is not None


def looks_like_header(cells: Sequence[str], fields: Sequence[Field]) -> bool:
    """True if at least half of the filled cells are known column words and none is a figure."""
    filled = [cell for cell in cells if cell.strip()]
    if not filled or any(is_figure(cell) for cell in filled):
        return False
    known = sum(1 for cell in filled if _field_of(cell, fields)[0] is not None or _words(cell) in _DEGREES)
    return known * 2 >= len(filled) and known >= min(2, len(filled))


def recognise(cells: Sequence[str], fields: Sequence[Field], faults: Faults, *, line: int) -> Columns:
    """Find the meaning of each column of a header row.

    Unknown words, one meaning twice, and latitudes are faults; each names what is known and the nearest
    guess. An empty header cell is allowed (its cells must stay empty).
    """
    index: dict[str, int] = {}
    units: dict[str, HeaderUnit] = {}
    ignored: list[str] = []
    for i, cell in enumerate(cells):
        if not cell.strip():
            continue
        field, unit = _field_of(cell, fields)
        words = _words(cell)
        if field is None:
            if words in _IGNORED:
                ignored.append(cell.strip())
            else:
                _unknown_column(cell, words, fields, faults, line)
            continue
        if field.name in index:
            first, second = (visible(one.strip()) for one in (cells[index[field.name]], cell))
            faults.note("notes-column-twice", line=line, field=field.name, first=first, second=second)
            continue
        index[field.name] = i
        if unit is not None and field.kind == "length":
            units[field.name] = HeaderUnit(unit, cell.strip(), i)
    empty = tuple(i for i, cell in enumerate(cells) if not cell.strip())
    return Columns(index, units, len(cells), tuple(ignored), line, empty)


def _unknown_column(cell: str, words: str, fields: Sequence[Field], faults: Faults, line: int) -> None:
    # difflib is only needed to word this fault
    import difflib

    told = visible(cell.strip())
    if words in _DEGREES:
        faults.note("notes-degrees", variant="column", line=line, word=told)
        return
    every = [word for field in fields for word in (field.name, *field.words) if len(word) > 2]
    near = difflib.get_close_matches(words, every, n=1, cutoff=0.6)
    known = ", ".join(field.name for field in fields)
    if near:
        faults.note("notes-unknown-column", variant="near", line=line, word=told, known=known, near=near[0])
    else:
        faults.note("notes-unknown-column", line=line, word=told, known=known)


def columns_from_letters(letters: str, fields: Sequence[Field], faults: Faults) -> Columns:
    """Read the meaning of columns from letters such as ``PNEZD``; ``-`` skips a column.

    >>> from gradework.errors import Faults
    >>> dict(columns_from_letters("PNEZD", (STATION, X, Y, ELEVATION, NOTE), Faults()).index)
    {'station': 0, 'y': 1, 'x': 2, 'elevation': 3, 'note': 4}
    """
    index: dict[str, int] = {}
    for i, letter in enumerate(letters.upper()):
        if letter == "-":
            continue
        field = next((f for f in fields if letter in f.letters), None)
        if field is None or field.name in index:
            known = ", ".join(f"{'/'.join(f.letters)} {f.name}" for f in fields)
            faults.note(
                "notes-column-letters",
                variant="twice" if field else "unknown",
                letters=visible(letters),
                letter=visible(letter),
                known=known,
            )
            continue
        index[field.name] = i
    return Columns(index, {}, len(letters))


OWN_UNITS = ("ft", "in", "m", "ftUS")
"""Units that a whole column may be in."""


def agreed_unit(
    columns: Columns,
    fields: Sequence[Field],
    unit: Unit | None,
    faults: Faults,
    *,
    by_column: bool = False,
) -> Unit | None:
    """The unit of bare lengths: the declared one, or the one that all length columns of the header name.

    A header that says another unit than the declared one is a fault that names both places; so are
    two units in one header. None (nothing declared anywhere) is no fault yet: each cell may carry its own.
    With ``by_column`` a header that names a unit for every length column may name different ones, where
    nothing else is declared; then too the answer is None.
    """
    stated = columns.units
    lengths = [f.name for f in fields if f.kind == "length" and f.name in columns]
    if by_column and unit is None and lengths and all(n in stated for n in lengths):
        own = {stated[name].unit for name in lengths}
        if len(own) > 1 and own <= set(OWN_UNITS):
            return None
    first = next(iter(stated.values())).unit if stated else None
    wrong = [said for said in stated.values() if said.unit != (unit or first)]
    if wrong:
        faults.note(
            "notes-unit-disagrees",
            variant="job" if unit else "columns",
            line=columns.line,
            said=", ".join(f"'{visible(cell.text)}'" for cell in wrong),
            row=columns.line,
            unit=unit or first,
            other=wrong[0].unit,
        )
    if unit is not None or not stated:
        return unit
    if all(name in stated for name in lengths) and first in OWN_UNITS:
        return first  # type: ignore[return-value]
    return None
