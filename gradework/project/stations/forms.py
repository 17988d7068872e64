"""What is said of a survey: how its notes are to be read, which keys do not go together, which are unused."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, cast

from gradework.errors import Faults
from gradework.project.stations.method import Placing, Share
from gradework.survey.levelling.tolerances import INSTRUMENTS
from gradework.survey.levelling.ways import WAYS, Method
from gradework.units.display import Display
from gradework.units.form import Form

if TYPE_CHECKING:
    from gradework.fieldnotes.columns import BreaklinePoint
    from gradework.fieldnotes.lettered import LetteredGrid
    from gradework.fieldnotes.places import Side
    from gradework.fieldnotes.text import DecimalMark
    from gradework.survey.levelling.field_book import FieldBook
    from gradework.survey.levelling.given import PegSetup, String
    from gradework.survey.levelling.heights import Heights
    from gradework.survey.levelling.readings import Written
    from gradework.survey.stations import Benchmark
    from gradework.units.lengths import Unit

    Point = tuple[float, float]
    Unheaded = Literal["elevations", "readings"]


@dataclass(frozen=True)
class ReadingsForm:
    """How readings become elevations; what is None is told by the notes or has its default.

    ``known``: given elevations of marks [m]. ``benchmark``: the mark that water level and steps start on.
    ``hi``: elevation of a laser's plane [m]. ``string``: the ends of a string, ``strings`` of
    those that the notes name. ``work``, ``share``: see
    ``survey.levelling.reduce.reduce_levels``. ``pegs``: the two set-ups of a two-peg test.
    ``instrument``: a name in ``INSTRUMENTS``. ``unheaded``: what heights without a header are. ``steep``:
    ground steeper than yards are is not doubted.
    """

    method: Method | None = None
    known: Mapping[str, float] = field(default_factory=dict)
    benchmark: str | None = None
    hi: float | None = None
    string: String | None = None
    strings: Mapping[str, String] = field(default_factory=dict)
    instrument: str | None = None
    work: str = "yard"
    share: Share = "setups"
    pegs: tuple[PegSetup, PegSetup] | None = None
    unheaded: Unheaded | None = None
    steep: bool = False

    @classmethod
    def asked(cls, method: str | None, **others: Any) -> ReadingsForm:
        """The form by the word for its method: a way, or one of ``UNHEADED``, which say what heights without
        a header are."""
        if method == "elevations":
            return cls("spots", unheaded="elevations", **others)
        if method == "readings":
            return cls(None, unheaded="readings", **others)
        return cls(cast("Method | None", method), **others)


@dataclass(frozen=True)
class PlacesForm:
    """How the places are known; what is None is told by the notes.

    ``data`` and ``file``: a table of its own, None where the places stand beside the readings or follow from
    the names (``grid``). ``marks``: known marks (x, y) [m]. ``baseline``: for offsets. ``seat``: where the
    circle stood, ``zero``: the direction in which it reads 0 [degrees anticlockwise from +x]. ``side``: on
    which hand of the first two ``marks`` tied stations lie where no tie says it. ``crs``: a reference system.
    ``origin``: the station (of a crs) at which x and y are zero. ``receiver``: what read satellite places.
    ``decimal``: the decimal mark of the tables; ``columns``: the order of columns of coordinates of a
    system, in a table without header.
    """

    method: Placing | None = None
    grid: LetteredGrid | None = None
    data: bytes | None = None
    file: str = ""
    marks: Mapping[str, Point] = field(default_factory=dict)
    baseline: tuple[Point, Point] | None = None
    seat: Point | None = None
    zero: float = 0.0
    clockwise: bool = True
    side: Side | None = None
    crs: str | None = None
    origin: str | None = None
    receiver: str | None = None
    decimal: DecimalMark | None = None
    columns: str | None = None


class Breaklines(NamedTuple):
    """The ``points`` of breaklines, and the ``file`` of its own they were told in, if any."""

    points: tuple[BreaklinePoint, ...] = ()
    file: str = ""


_NONE_TOLD = Breaklines()


@dataclass(frozen=True)
class SurveyForm:
    """How a survey of readings is to be read: readings, places, and the receiver of satellite heights.

    ``receiver``: "phone", "hand-held" or "survey-grade", None where no satellite was used, or that is not
    said; ``height_sd``: the standard error of heights that its report states [m]. ``breaklines``: those told
    beside the notes.
    """

    readings: ReadingsForm = field(default_factory=ReadingsForm)
    places: PlacesForm = field(default_factory=PlacesForm)
    receiver: str | None = None
    height_sd: float | None = None
    breaklines: Breaklines = _NONE_TOLD


@dataclass(frozen=True)
class NotesForm:
    """How notes are to be read where they do not say so themselves."""

    unit: Unit | None = None
    columns: str | None = None
    grid: LetteredGrid | None = None
    decimal: Literal[".", ","] | None = None
    survey: SurveyForm | None = None
    show: Form | None = None


@dataclass(frozen=True)
class Reduced:
    """Elevations by name, and how they came about.

    ``book``: the reduced level book, None for the other ways. ``written``: what the notes say of each
    station, for the search for misreadings. ``marks``: names that need no place of their own.
    ``reading_sd`` [m]: standard error of one reading with the instrument. ``benchmarks``: the marks among
    them that a later set-up can begin on.
    """

    method: Method
    heights: Heights
    book: FieldBook | None
    written: Mapping[str, Written]
    marks: frozenset[str]
    reading_sd: float
    benchmarks: tuple[Benchmark, ...] = ()

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote the notes."""
        return self.heights.show


def way_of(form: ReadingsForm, method: Method) -> Method:
    """How notes of readings are reduced that the columns, or the form, call ``method``."""
    if form.method is None and method == "level" and form.hi is not None:
        return "laser"  # the height of the plane was given, so the first reading is no backsight
    if method == "laser" and form.hi is None:
        return "level"  # one set-up that begins on a mark: reduced, closed and checked as a level book
    return method


def reading_sd(form: ReadingsForm, usual: float) -> float:
    """Standard error of one reading [m]: that of the instrument, or the usual one."""
    return usual if form.instrument is None else INSTRUMENTS[form.instrument].reading_sd


# Keys of ``[survey]`` that contradict or miss each other: told before the notes are read.

_BY_METHOD: Mapping[str, Sequence[str]] = {
    key: [method for method, way in WAYS.items() if key in way.keys]
    for key in dict.fromkeys(key for way in WAYS.values() for key in way.keys)
}
"""Keys that only some ways of finding heights use."""

_BY_PLACING: Mapping[str, Sequence[str]] = {
    "baseline": ("offsets",),
    "seat": ("rays",),
    "zero": ("rays",),
    "circle": ("rays",),
    "side": ("ties",),
    "crs": ("crs",),
    "origin": ("crs",),
    "grid": ("grid",),
}
"""Keys that only some ways of finding places use."""

_NEEDS: Mapping[str, Sequence[str]] = {
    "height_sd": ("receiver",),
    "origin": ("crs",),
    "zero": ("seat",),
    "circle": ("seat",),
    "baseline": ("places",),
    "seat": ("places",),
    "places_sheet": ("places",),
}
"""Keys that say nothing without another."""

_APART = (("hi", "string"), ("hi", "strings"), ("hi", "two_peg"), ("grid", "crs"), ("baseline", "seat"))
"""Keys that belong to different ways of measuring, whatever the columns of the notes tell."""


class SurveyClash(NamedTuple):
    """A key of ``[survey]`` that does not go with another, or not without it.

    ``other`` is the key it clashes with: the one it needs ("missing"), the one it excludes ("apart"), or the
    one whose value is not among the ``ways`` that use it ("way").
    """

    key: str
    other: str
    kind: Literal["way", "missing", "apart"]
    ways: tuple[str, ...] = ()


def find_clashes(survey: Mapping[str, Any]) -> Iterator[SurveyClash]:
    """Run through the keys that do not go together, whatever they are called where they were written."""
    for chooser, table in (("method", _BY_METHOD), ("placing", _BY_PLACING)):
        way = survey.get(chooser)
        if way == "readings":  # on a rod, below one plane or in a level book: the columns tell
            continue
        for key, ways in table.items():
            if key in survey and isinstance(way, str) and way not in ways:
                yield SurveyClash(key, chooser, "way", tuple(ways))
    if (
        "receiver" in survey
        and survey.get("method") not in (None, "spots", "elevations")
        and "crs" not in survey
    ):
        yield SurveyClash("receiver", "crs", "missing")
    for key, needed in _NEEDS.items():
        for other in needed:
            if key in survey and other not in survey:
                yield SurveyClash(key, other, "missing")
    if survey.get("placing") in ("ties", "offsets", "rays") and "places" not in survey:
        yield SurveyClash("placing", "places", "missing")
    for first, second in _APART:
        if first in survey and second in survey:
            yield SurveyClash(second, first, "apart")


def refuse_unused(readings: ReadingsForm, method: Method, file: str) -> None:
    """Refuse what belongs to another way of levelling than the one the columns of the notes tell.

    Figures without a header that are readings, below one plane, use its height only. A value that was left
    out and one that is the usual one cannot be told apart here, and pass.
    """
    unheaded = method == "spots" and readings.unheaded == "readings"
    if readings.hi is not None:
        method = way_of(readings, method)
    said: dict[str, Any] = {
        "hi": None if unheaded else readings.hi,
        "string": readings.string,
        "strings": readings.strings or None,
        "two_peg": readings.pegs,
        "work": None if readings.work == "yard" else readings.work,
        "share": None if readings.share == "setups" else readings.share,
        "benchmark": readings.benchmark,
    }
    used = {key: value for key, value in said.items() if value is not None}
    faults = Faults(file)
    for clash in find_clashes({**used, "method": method}):
        if clash.kind != "way":
            continue
        ways = " or ".join(way.notes for method, way in WAYS.items() if method in clash.ways)
        option = clash.key.replace("_", "-").replace("strings", "string")
        notes = "figures without a header" if unheaded else WAYS[method].notes
        faults.note("survey-key-unused", key=clash.key, option=option, notes=notes, ways=ways)
    faults.raise_if_any()
