"""What is said of notes of readings, and what comes of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from gradework.project.levelling_way import Method
from gradework.survey.below_string import String
from gradework.survey.field_book import FieldBook
from gradework.survey.heights import Heights
from gradework.survey.instruments import INSTRUMENTS
from gradework.survey.levels import READING_SD
from gradework.survey.looks import Written
from gradework.survey.two_peg import PegSetup
from gradework.units import Display

SHARES = ("setups", "distance")


@dataclass(frozen=True)
class ReadingsForm:
    """How readings become elevations; what is None is told by the notes or has its default.

    ``known``: given elevations of marks [m]. ``benchmark``: the mark that water level and steps start on.
    ``hi``: elevation of a laser's plane [m]. ``string``: the ends of a string, ``strings`` of
    those that the notes name. ``work``, ``share``: see
    ``survey.levels.reduce_levels``. ``pegs``: the two set-ups of a two-peg test.
    ``instrument``: a name in ``survey.instruments.INSTRUMENTS``.
    """

    method: Method | None = None
    known: Mapping[str, float] = field(default_factory=dict)
    benchmark: str | None = None
    hi: float | None = None
    string: String | None = None
    strings: Mapping[str, String] = field(default_factory=dict)
    instrument: str | None = None
    work: str = "yard"
    share: Literal["setups", "distance"] = "setups"
    pegs: tuple[PegSetup, PegSetup] | None = None


@dataclass(frozen=True)
class Reduced:
    """Elevations by name, and how they came about.

    ``book``: the reduced level book, None for the other ways. ``written``: what the notes say of each
    station, for the search for misreadings. ``marks``: names that need no place of their own.
    ``reading_sd`` [m]: standard error of one reading with the instrument.
    """

    method: Method
    heights: Heights
    book: FieldBook | None
    written: Mapping[str, Written]
    marks: frozenset[str]
    reading_sd: float = READING_SD

    @property
    def show(self) -> Display:
        """How values are shown back to whoever wrote the notes."""
        return Display(self.heights.unit)


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
