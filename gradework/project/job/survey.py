"""The keys of ``[survey]``, ``[building]`` and ``[setout]`` that say how things were measured in the yard."""

from __future__ import annotations

from typing import Annotated

from gradework.project.job.bounds import OFFSET, ROD, SIDE, SPREAD, TOLERANCE
from gradework.project.job.values import (
    SIDES,
    Angle,
    Elevation,
    Flag,
    HeightOrNone,
    LayerOrNone,
    Marks,
    Place,
    SideLength,
    Table,
    Taped,
    Words,
    one_of,
    placed,
    thick,
    thin,
)
from gradework.project.stations.method import PLACINGS, SHARES
from gradework.survey.levelling.tolerances import INSTRUMENTS, KINDS_OF_WORK
from gradework.survey.levelling.water_and_laser import RECEIVERS
from gradework.survey.levelling.ways import UNHEADED, WAYS

# The keys of ``[survey]`` that say how heights and places were found, and what they ask of the survey.

CIRCLES = ("clockwise", "anticlockwise")


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

    method: Annotated[str, one_of(*WAYS, *UNHEADED)] | None = None
    benchmark: Words | None = None
    known: dict[str, Elevation] | None = None
    instrument: Annotated[str, one_of(*INSTRUMENTS)] | None = None
    work: Annotated[str, one_of(*KINDS_OF_WORK)] | None = None
    share: Annotated[str, one_of(*SHARES)] | None = None
    two_peg: PegsTable | None = None
    hi: Elevation | None = None
    string: StringTable | None = None
    strings: dict[str, StringTable] | None = None
    places: Words | None = None
    places_sheet: Words | None = None
    placing: Annotated[str, one_of(*PLACINGS)] | None = None
    marks: Marks | None = None
    side: Annotated[str, one_of(*SIDES)] | None = None
    baseline: tuple[Place, Place] | None = None
    seat: Place | None = None
    zero: Angle | None = None
    circle: Annotated[str, one_of(*CIRCLES)] | None = None
    crs: Words | None = None
    origin: Words | None = None
    receiver: Annotated[str, one_of(*RECEIVERS)] | None = None
    height_sd: Annotated[float, thin(SPREAD)] | None = None
    steep: Flag | None = None
    breaklines: Words | None = None


# A building whose first corner was taped from known marks.


class TiedTable(Table):
    """Distances of the first corner from known marks, in place of ``corner``; of the second in place of
    ``turn``; on which ``side`` they lie, from the first mark of ``ties`` to the second."""

    ties: dict[str, Taped] | None = None
    second_ties: dict[str, Taped] | None = None
    side: Annotated[str, one_of(*SIDES)] | None = None


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
