"""The ``[setout]`` table: what is known in the yard when the stakes go in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple, cast

from pydantic import PlainValidator

from gradework.errors import Fault, Finding, InputError
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.fieldnotes.places import Tie
from gradework.project.job.bounds import OFFSET, ROD, SIDE, SPREAD, TOLERANCE
from gradework.project.job.values import (
    Angle,
    Elevation,
    HeightOrNone,
    LayerOrNone,
    Marks,
    Place,
    SideLength,
    Table,
    Taped,
    Words,
    choice,
    placed,
    side_word,
    thick,
    thin,
)
from gradework.project.stations.forms import SHARES, ReadingsForm
from gradework.project.stations.join import SurveyForm
from gradework.project.stations.method import METHODS
from gradework.project.stations.placing import PLACINGS, PlacesForm, Point
from gradework.survey.levelling.peg_test import PegSetup
from gradework.survey.levelling.string_and_straightedge import String
from gradework.survey.levelling.tolerances import INSTRUMENTS, KINDS_OF_WORK
from gradework.survey.levelling.water_and_laser import RECEIVERS
from gradework.survey.placing.ties import tie_places
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.places import Side


# The keys of ``[survey]`` that say how heights and places were found, and what they ask of the survey.

CIRCLES = ("clockwise", "anticlockwise")


def _one_of(*words: str) -> PlainValidator:
    def check(value: object) -> str:
        return choice(value, words)

    return PlainValidator(check)


class StringTable(Table):
    """A string: its elevation at both ends, its span, the sag at its middle."""

    first: Elevation
    second: Elevation
    span: SideLength | None = None
    sag: LayerOrNone | None = None


class PegTable(Table):
    """One set-up of a two-peg test: the readings on both pegs, and how far each is away."""

    a: Annotated[float, placed(ROD)]
    b: Annotated[float, placed(ROD)]
    to_a: Annotated[float, placed(SIDE)]
    to_b: Annotated[float, placed(SIDE)]


class PegsTable(Table):
    """The two set-ups of a two-peg test: usually midway, then close to one peg."""

    first: PegTable
    second: PegTable


class ReadingsTable(Table):
    """How heights and places were found. None means: told by the notes, or not needed."""

    method: Annotated[str, _one_of(*METHODS)] | None = None
    benchmark: Words | None = None
    known: dict[str, Elevation] | None = None
    instrument: Annotated[str, _one_of(*INSTRUMENTS)] | None = None
    work: Annotated[str, _one_of(*KINDS_OF_WORK)] = "yard"
    share: Annotated[str, _one_of(*SHARES)] = "setups"
    two_peg: PegsTable | None = None
    hi: Elevation | None = None
    string: StringTable | None = None
    strings: dict[str, StringTable] | None = None
    places: Words | None = None
    placing: Annotated[str, _one_of(*PLACINGS)] | None = None
    marks: Marks | None = None
    side: Annotated[str, PlainValidator(side_word)] | None = None
    baseline: tuple[Place, Place] | None = None
    seat: Place | None = None
    zero: Angle = 0.0
    circle: Annotated[str, _one_of(*CIRCLES)] = "clockwise"
    crs: Words | None = None
    origin: Words | None = None
    receiver: Annotated[str, _one_of(*RECEIVERS)] | None = None
    height_sd: Annotated[float, thin(SPREAD)] | None = None


def survey_form(
    table: ReadingsTable,
    grid: LetteredGrid | None,
    places: bytes | None,
    shown: str,
    marks: Mapping[str, Point],
) -> SurveyForm:
    """Say how the survey of a job is to be read; ``places`` are the bytes of its table of places, if any,
    ``marks`` its known marks (x, y) [m]."""
    readings = ReadingsForm(
        method=cast(Any, table.method),
        known=table.known or {},
        benchmark=table.benchmark,
        hi=table.hi,
        string=None if table.string is None else _string(table.string),
        strings={name: _string(one) for name, one in (table.strings or {}).items()},
        instrument=table.instrument,
        work=table.work,
        share=cast(Any, table.share),
        pegs=None if table.two_peg is None else (_peg(table.two_peg.first), _peg(table.two_peg.second)),
    )
    where = PlacesForm(
        method=cast(Any, table.placing),
        grid=grid,
        data=places,
        file=shown,
        marks=marks,
        baseline=table.baseline,
        seat=table.seat,
        zero=table.zero,
        clockwise=table.circle == "clockwise",
        side=cast(Any, table.side),
        crs=table.crs,
        origin=table.origin,
    )
    return SurveyForm(readings, where, table.receiver, table.height_sd)


def tied_to(table: ReadingsTable) -> tuple[str, ...]:
    """The marks that the stations are taped from; none where their places are known otherwise."""
    taped = table.placing == "ties" or (table.placing is None and table.places and not table.baseline)
    return tuple(table.marks or ()) if taped and table.seat is None and table.crs is None else ()


def _string(table: StringTable) -> String:
    return String(table.first, table.second, table.span, table.sag)


def _peg(table: PegTable) -> PegSetup:
    return PegSetup(table.a, table.b, table.to_a, table.to_b)


# One place of a job that was taped from known marks, found and checked as stations are.


def tied_place(
    name: str,
    ties: Mapping[str, float],
    marks: Mapping[str, Point],
    side: Side | None,
    show: Display,
    *,
    seen: Sequence[str] = (),
) -> tuple[Point, tuple[Finding, ...]]:
    """Find the place called ``name`` from its distances [m] to known marks, and what its ties say of it.

    ``side``: on which hand it lies, from the first of the marks ``seen`` to the second (of all marks, where
    none is named). Raises ``InputError``.
    """
    found = tie_places(
        [Tie(name, mark, distance) for mark, distance in ties.items()],
        marks,
        side=side,
        seen=seen,
        unit=show.unit,
    )
    x, y = found.xy[0].tolist()
    return (x, y), found.findings


# A building whose first corner was taped from known marks: the keys of ``[building]``, and its place.

MOST_APART = 0.05
"""The taped places of two corners may be so much nearer or farther than the building is long [m]: 2 in."""


class TiedTable(Table):
    """Distances of the first corner from known marks, in place of ``corner``; of the second in place of
    ``turn``; on which ``side`` they lie, from the first mark of ``ties`` to the second."""

    ties: dict[str, Taped] | None = None
    second_ties: dict[str, Taped] | None = None
    side: Annotated[str, PlainValidator(side_word)] | None = None


class TiedPlace(NamedTuple):
    """The first ``corner`` (x, y) [m] of a building, its ``turn`` [degrees], what the ties say of them."""

    corner: Point
    turn: float
    findings: tuple[Finding, ...]


def place_of(
    table: TiedTable, along: float, marks: Mapping[str, Point], turn: float, show: Display
) -> TiedPlace:
    """Find the place of a building ``along`` [m] that was tied, its turn where only one corner was.

    Raises ``InputError``: ties that do not meet, marks that are not known, two corners that are not as far
    apart as the building is long.
    """
    assert table.ties is not None
    side = cast("Side | None", table.side)
    seen = list(table.ties)
    first, told = tied_place("first corner", table.ties, marks, side, show, seen=seen)
    if table.second_ties is None:
        return TiedPlace(first, turn, told)
    second, more = tied_place("second corner", table.second_ties, marks, side, show, seen=seen)
    apart = math.dist(first, second)
    if abs(apart - along) > MOST_APART:
        raise InputError(
            [
                Fault(
                    "corners-apart",
                    f"two tied corners {show.length(apart)} apart",
                    f"the length of the building, {show.length(along)}",
                    "measure the ties again, or check on which side of the marks the corners lie",
                )
            ]
        )
    turn = math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))
    return TiedPlace(first, turn, (*told, *more))


def tie_clashes(building: Mapping[str, Any]) -> list[tuple[str, str, str, str]]:
    """Find keys of the raw table that contradict ties: key, what was found, what was expected, the fix."""
    found = []
    if "ties" in building:
        found += [
            (key, f"{key} beside ties", f"ties or {key}", f"take out {key} or ties")
            for key in ("corner", "outline")
            if key in building
        ]
        if "second_ties" in building and "turn" in building:
            found.append(("turn", "turn beside second_ties", "one of the two", "take out one of them"))
    else:
        found += [
            (key, f"{key} without ties", "ties of the first corner", f"add ties, or take out {key}")
            for key in ("second_ties", "side")
            if key in building
        ]
    return found


class SetoutTable(Table):
    """Marks, given or taped, for ties; benchmarks with their elevations, for the instrument.

    ``offset`` is how far batter boards stand outside the building, ``string`` how high the string hangs above
    the finished level, ``tolerance`` what tops may differ between neighbours; None means the default.
    """

    marks: Marks | None = None
    benchmarks: dict[str, Elevation] | None = None
    offset: Annotated[float, thick(OFFSET)] | None = None
    string: HeightOrNone | None = None
    tolerance: Annotated[float, thick(TOLERANCE)] | None = None
