"""What the columns of a table mean: plain words in the header, the unit beside them, or letters.

A file that reads its own kind of notes lists its ``Field``s and calls ``recognise``. The columns by which a
table tells how it was levelled stand here too, so that spot elevations are known as such without loading the
readers of readings.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, cast

from gradework.errors import Faults, Finding, at_line, finding, visible
from gradework.units.form import Form, form_in_force
from gradework.units.lengths import UNITS, ColumnUnit, Unit, base_unit, parse_length, unit_named
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
    "station, stations, stn, sta, stake, pier, shot, spot, point, pt, p, point no, pt no, point id, "
    "point number, point name, no, nr, number, id, name, label, mark, place, where",
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
BREAKLINE = column_named("breakline", "breakline, breaklines, break line, break lines, chain, chain name")
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

COLUMN_WORDS = (
    STATION, X, Y, ELEVATION, NOTE, BACKSIGHT, READING, DROP, RUN, FIRST, HIGHER_THAN_MARK, KNOWN,
    BREAKLINE,
)  # fmt: skip
"""Fields whose words tell the header of any notes, whatever else stands in it."""

_IGNORED = frozenset({"date", "time", "weather", "observer", "by", "photo", "temperature", "day"})
_DEGREES = frozenset({"lat", "latitude", "lon", "long", "lng", "longitude"})


@dataclass(frozen=True, slots=True)
class HeaderUnit:
    """A unit in the header, and the cell that says so."""

    unit: ColumnUnit
    text: str


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column holds which field.

    ``index`` maps field names to column numbers from 0; ``lengths`` names those that hold lengths, ``units``
    the units that the header gives to some of them;
    ``count`` is the number of columns of the header, trailing empty ones included; ``ignored`` are the
    words of columns that hold nothing for us (date, weather ...); ``empty`` are the columns with an empty
    header, whose cells must be empty too; ``line`` is that of the header, 0 for
    letters; ``full`` names columns that say a length again in metres, in full, as a table of results does.
    """

    index: Mapping[str, int]
    units: Mapping[str, HeaderUnit]
    count: int
    ignored: tuple[str, ...] = ()
    line: int = 0
    empty: tuple[int, ...] = ()
    lengths: tuple[str, ...] = ()
    full: Mapping[str, int] = dataclasses.field(default_factory=dict)

    def __contains__(self, name: str) -> bool:
        return name in self.index

    def unit_of(self, name: str, unit: Unit | None) -> ColumnUnit | None:
        """The unit of bare numbers in a column: that of its header, else the declared ``unit``.

        Where US survey feet are declared, feet in a header are such too.
        """
        said = self.units.get(name)
        if said is None:
            return unit
        return "ftUS" if said.unit == "ft" and unit == "ftUS" else said.unit

    @property
    def unitless(self) -> tuple[str, ...]:
        """The columns of lengths whose header names no unit."""
        return tuple(name for name in self.lengths if name not in self.units)


def is_figure(cell: str) -> bool:
    """True if a cell can be read as a length, bare or with a unit; then its row is no header.

    >>> is_figure("98.72"), is_figure("5' 3\\""), is_figure("elevation"), is_figure("98,72")
    (True, True, False, True)
    """
    if cell.isascii() and not any(map(str.isdigit, cell)):
        return False
    for decimal_comma in (False, True):
        try:
            parse_length(cell, "in", decimal_comma=decimal_comma)
        except LengthError:
            continue
        return True
    return False


def _words(text: str) -> str:
    return " ".join(plain(text).lower().replace("_", " ").replace(".", " ").strip(" :#").split())


_UNITS_AT_END = (
    r"us survey f(?:t|eet|oot)|us ft|f(?:ee)?t\.?[ /&-]+(?:and )?in(?:ches|\.)?",
    r"[a-z]+\.?|['\"]",
)


def _meanings(cell: str) -> Iterator[tuple[str, str | None]]:
    """The ways to read a header cell: its words, and the unit taken off their end if there is one."""
    yield _words(cell), None
    tidy = plain(cell).lower().replace("_", " ").strip(" :")
    if match := re.fullmatch(r"(.*?)[ ,]*[(\[{] ?([^()\[\]{}]+?) ?[)\]}]", tidy):
        yield _words(match[1]), unit_named(match[2]) or f"?{match[2]}"
        return
    for ending in _UNITS_AT_END:
        match = re.fullmatch(rf"(.*?)[ ,/:-]+(?:in )?({ending})", tidy)
        if match and (unit := unit_named(match[2])) is not None:
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


def _said_in_si(cell: str) -> bool:
    """True for a column of a table of results, such as ``x SI (m)``: it says again what ``x`` says."""
    return re.fullmatch(r"(?i).+ SI(?: \(\S+\))?", cell.strip()) is not None


def _said_in_metres(cell: str) -> str | None:
    """What is said again in metres by the column of a table of results: ``x`` by ``x SI (m)``."""
    match = re.fullmatch(r"(?i)(.+) SI \(m\)", cell.strip())
    return match[1] if match else None


def means(cell: str, field: Field) -> bool:
    """True if a header cell is one of the words for ``field``, with or without a unit.

    >>> means("Rod (ft)", Field("reading", ("rod", "reading"), "length")), means("", STATION)
    (True, False)
    """
    return bool(cell.strip()) and _field_of(cell, (field,))[0] is not None


def header_words(cells: Sequence[str], fields: Sequence[Field], *, share: float = 0.5) -> int:
    """How many cells of a row are column words; 0 for one that is no header.

    In a header at least ``share`` of the filled cells are such words, two of them where it has so many cells
    (one where ``share`` is 0, as for those who know a few of the words only), and none is a figure.
    """
    filled = [cell for cell in cells if cell.strip() and not _said_in_si(cell)]
    if not filled or any(is_figure(cell) for cell in filled):
        return 0
    known = sum(1 for cell in filled if _field_of(cell, fields)[0] is not None or _words(cell) in _DEGREES)
    least = max(min(2, len(filled)), share * len(filled)) if share else 1
    return known if known >= least else 0


def recognise(cells: Sequence[str], fields: Sequence[Field], faults: Faults, *, line: int) -> Columns:
    """Find the meaning of each column of a header row.

    Unknown words, one meaning twice, and latitudes are faults; each names what is known and the nearest
    guess. An empty header cell is allowed (its cells must stay empty).
    """
    index: dict[str, int] = {}
    units: dict[str, HeaderUnit] = {}
    full: dict[str, int] = {}
    ignored: list[str] = []
    for i, cell in enumerate(cells):
        if not cell.strip():
            continue
        field, unit = _field_of(cell, fields)
        words = _words(cell)
        if field is None:
            twin = _said_in_metres(cell)
            if twin is not None and (own := _field_of(twin, fields)[0]) is not None:
                full.setdefault(own.name, i)
            elif words in _IGNORED or _said_in_si(cell):
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
            units[field.name] = HeaderUnit(cast("ColumnUnit", unit), cell.strip())
    empty = tuple(i for i, cell in enumerate(cells) if not cell.strip())
    lengths = tuple(field.name for field in fields if field.kind == "length" and field.name in index)
    return Columns(index, units, len(cells), tuple(ignored), line, empty, lengths, full)


def _unknown_column(cell: str, words: str, fields: Sequence[Field], faults: Faults, line: int) -> None:
    # difflib is only needed to word this fault
    import difflib

    told = visible(cell.strip())
    if words in _DEGREES:
        faults.note("notes-degrees", variant="column", line=line, word=told)
        return
    every = [word for field in fields for word in (field.name, *field.words) if len(word) > 2]
    near = difflib.get_close_matches(words, every, n=1, cutoff=0.7)
    known = ", ".join(field.name for field in fields)
    if near:
        faults.note("notes-unknown-column", variant="near", line=line, word=told, known=known, near=near[0])
    else:
        faults.note("notes-unknown-column", line=line, word=told, known=known)


def columns_given(order: str, fields: Sequence[Field], faults: Faults) -> Columns:
    """Read the meaning of columns from words with commas between them, as a header has them, or from letters
    such as ``PNEZD``; ``-`` skips a column.

    >>> from gradework.errors import Faults
    >>> dict(columns_given("PNEZD", (STATION, X, Y, ELEVATION, NOTE), Faults()).index)
    {'station': 0, 'y': 1, 'x': 2, 'elevation': 3, 'note': 4}
    >>> dict(columns_given("name,northing,easting,height (ft)", (STATION, X, Y, ELEVATION), Faults()).index)
    {'station': 0, 'y': 1, 'x': 2, 'elevation': 3}
    """
    if "," in order:
        words = ["" if word.strip() == "-" else word for word in order.split(",")]
        return replace(recognise(words, fields, faults, line=0), empty=())
    index: dict[str, int] = {}
    for i, letter in enumerate(order.upper()):
        if letter == "-":
            continue
        field = next((f for f in fields if letter in f.letters), None)
        if field is None or field.name in index:
            known = ", ".join(f"{'/'.join(f.letters)} {f.name}" for f in fields if f.letters)
            faults.note(
                "notes-column-letters",
                variant="twice" if field else "unknown",
                letters=visible(order),
                letter=visible(letter),
                known=known,
            )
            continue
        index[field.name] = i
    lengths = tuple(f.name for f in fields if f.kind == "length" and f.name in index)
    return Columns(index, {}, len(order), lengths=lengths)


def agreed_unit(columns: Columns, unit: Unit | None) -> Unit | None:
    """The unit of bare lengths: the declared one, or the one that all length columns of the header name.

    None is no fault yet: each column or cell may carry its own.
    """
    said = {columns.units[name].unit if name in columns.units else None for name in columns.lengths}
    if unit is not None or len(said) != 1:
        return unit
    (only,) = said
    return only if only in UNITS else None


def shown_unit(columns: Columns, unit: Unit | None) -> Unit | None:
    """The unit to show results in: the agreed one, else what the user of the first unit in the header thinks
    in, of elevations first; None where the header names none."""
    if (agreed := agreed_unit(columns, unit)) is not None:
        return agreed
    first = columns.units.get("elevation") or next(iter(columns.units.values()), None)
    return None if first is None else base_unit(first.unit)


_TOGETHER = (
    ("x", "y"),
    ("BS", "IS", "FS"),
    ("water at from", "water at to"),
    ("along", "offset"),
)
"""Columns that are measured with one tape or rod, and so in one unit."""


def refuse_uneven(columns: Columns, unit: Unit | None, faults: Faults) -> None:
    """Note `notes-unit-disagrees` where one of two columns that go together is given a unit, other than the
    declared one, and the other none."""
    for group in _TOGETHER:
        held = [name for name in group if name in columns.lengths]
        said = [name for name in held if name in columns.units and columns.unit_of(name, unit) != unit]
        bare = [name for name in held if name not in columns.units]
        if said and bare and unit is not None:
            first = columns.units[said[0]]
            faults.note(
                "notes-unit-disagrees",
                line=columns.line,
                said=visible(first.text),
                others=" and ".join(bare),
                group=" and ".join(held),
                heads=" and ".join(f"{name} ({first.unit})" for name in bare),
            )


_UNIT_WORDS: Mapping[str, str] = {
    "ft": "feet", "in": "inches", "ftUS": "US survey feet", "yd": "yards", "ft-in": "feet and inches",
    "m": "metres", "cm": "centimetres", "mm": "millimetres",
}  # fmt: skip


_FORM_WORDS: Mapping[Form, str] = {
    "inches": "feet and inches",
    "tenths": "decimals of a foot",
    "m": "metres",
    "mm": "metres and millimetres",
}


def unit_findings(columns: Columns, unit: Unit | None, file: str) -> tuple[Finding, ...]:
    """Say back which columns are in units of their own: others than the declared one, or than each other."""
    own = {name: columns.unit_of(name, unit) for name in columns.units}
    if unit is None and len(set(own.values())) < 2:
        return ()
    other = [(name, one) for name, one in own.items() if one is not None and one != unit]
    if not other:
        return ()
    listed = ", ".join(f"{name} in {_UNIT_WORDS[one]}" for name, one in other)
    shown = _FORM_WORDS.get(form_in_force()) or _UNIT_WORDS[base_unit(shown_unit(columns, unit) or "m")]
    where = at_line(file, columns.line)
    return (finding("notes-units-by-column", "note", where, columns=listed, unit=shown),)
