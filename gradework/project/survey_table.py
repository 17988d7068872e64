"""The keys of ``[survey]`` that say how heights and places were found, and what they ask of the survey."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, cast

from pydantic import PlainValidator

from gradework.fieldnotes import LetteredGrid
from gradework.project.bounds import ROD, SIDE, SPREAD
from gradework.project.fields import (
    Angle,
    Elevation,
    LayerOrNone,
    Place,
    Side,
    Table,
    Words,
    choice,
    placed,
    thin,
)
from gradework.project.joined import SurveyForm
from gradework.project.levelling_way import METHODS
from gradework.project.mark_table import Marks, side_word
from gradework.project.placing import PLACINGS, PlacesForm, Point
from gradework.project.readings import SHARES, ReadingsForm
from gradework.survey.below_string import String
from gradework.survey.closure import KINDS_OF_WORK
from gradework.survey.gnss import RECEIVERS
from gradework.survey.instruments import INSTRUMENTS
from gradework.survey.two_peg import PegSetup

CIRCLES = ("clockwise", "anticlockwise")


def _one_of(*words: str) -> PlainValidator:
    def check(value: object) -> str:
        return choice(value, words)

    return PlainValidator(check)


class StringTable(Table):
    """A string: its elevation at both ends, its span, the sag at its middle."""

    first: Elevation
    second: Elevation
    span: Side | None = None
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
