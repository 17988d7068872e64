"""Plain cut and fill of a yard to level planes: from the bytes of the notes, without a job file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.cutfill import CutFill, balance_level, cut_and_fill
from gradework.earthwork.outline import Outline
from gradework.errors import Faults, Finding
from gradework.fieldnotes import LetteredGrid, read_spots
from gradework.ground.gaps import find_gaps
from gradework.ground.surface import build_surface
from gradework.survey import Stations, stations_from_spots
from gradework.units import Display, Unit

BALANCE = "balance"
"""Asks for the level where cut equals fill, instead of a level in metres."""

FARTHEST_LEVEL = 30.0
"""A level farther from the ground than this [m] is a slip of unit or datum, not a pad."""

Level = float | Literal["balance"]


@dataclass(frozen=True)
class NotesForm:
    """How notes are to be read where they do not say so themselves."""

    unit: Unit | None = None
    columns: str | None = None
    grid: LetteredGrid | None = None
    decimal: Literal[".", ","] | None = None


@dataclass(frozen=True)
class Wanted:
    """What is asked of the ground: an outline, and levels [m] or "balance"."""

    outline: Outline
    levels: Sequence[Level]


@dataclass(frozen=True)
class PlainCutFill:
    """The answers, one for each level asked for, in that order."""

    outline: Outline
    answers: tuple[CutFill, ...]
    findings: tuple[Finding, ...]
    show: Display


def read_stations(notes: bytes, file: str, form: NotesForm) -> Stations:
    """Read notes into stations; raises ``InputError`` with every fault."""
    spots = read_spots(
        notes, file, unit=form.unit, columns=form.columns, grid=form.grid, decimal=form.decimal
    )
    return stations_from_spots(spots)


def plain_cut_and_fill(
    notes: bytes, file: str, form: NotesForm, wanted: Callable[[Display], Wanted]
) -> PlainCutFill:
    """Compute cut and fill against level planes.

    ``wanted`` is called with the unit system once the notes have told it, because what is asked for may be
    written in bare numbers. Raises ``InputError``.
    """
    stations = read_stations(notes, file, form)
    asked = wanted(stations.show)
    surface = build_surface(stations)
    pieces = clip(surface, asked.outline)
    _check_levels(asked.levels, pieces, stations.show)
    levels = [balance_level(pieces) if level == BALANCE else level for level in asked.levels]
    findings = (*surface.findings, *find_gaps(surface, asked.outline.rings))
    return PlainCutFill(
        asked.outline, cut_and_fill(pieces, levels), unique(findings, stations.findings), stations.show
    )


def _check_levels(levels: Sequence[Level], pieces: Pieces, show: Display) -> None:
    """Refuse levels so far from the ground that the unit must be wrong."""
    faults = Faults()
    for level in levels:
        if level != BALANCE:
            check_level(level, pieces, faults, show)
    faults.raise_if_any()


def check_level(level: float, pieces: Pieces, faults: Faults, show: Display) -> None:
    """Note ``level-far-from-ground`` for a level over 30 m above or below all ground inside the outline."""
    above, below = level - pieces.highest, pieces.lowest - level
    if max(above, below) > FARTHEST_LEVEL:
        side = "above" if above > below else "below"
        faults.add(
            "level-far-from-ground",
            f"a level of {show.elevation(level)}, {show.elevation(max(above, below))} {side} the ground",
            f"a level near {show.elevation(pieces.lowest)} to {show.elevation(pieces.highest)}",
            "check the unit and the datum: levels are elevations on the same datum as the shots",
        )


def unique(*groups: Sequence[Finding]) -> tuple[Finding, ...]:
    """Put findings of several stages together, each once, in the order of the work."""
    return tuple(dict.fromkeys(finding for group in groups for finding in group))
