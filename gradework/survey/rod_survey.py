"""From a level book and places to stations one can trust, or not.

Reduce, join, compare every shot with its neighbours, look for a moved instrument, and say in one word how far
to trust the result. Its parts serve every other way of levelling too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from gradework.survey.blunders import Written, misread_findings
from gradework.survey.heights import book_heights
from gradework.survey.joining import join
from gradework.survey.levels import READING_SD, reduce_levels
from gradework.survey.repeats import moved_findings
from gradework.survey.trust import Trust, judge

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from gradework.fieldnotes.level_notes import LevelNotes
    from gradework.survey.field_book import FieldBook
    from gradework.survey.heights import Heights
    from gradework.survey.positions import Places
    from gradework.survey.stations import Stations


@dataclass(frozen=True, slots=True)
class RodSurvey:
    """What came of the notes: the reduced book, the stations (with every finding), the verdict."""

    book: FieldBook
    stations: Stations
    trust: Trust


def survey_by_rod(
    notes: LevelNotes,
    places: Places,
    *,
    work: str = "yard",
    share: Literal["setups", "distance"] = "setups",
    reading_sd: float = READING_SD,
    marks: Collection[str] = (),
) -> RodSurvey:
    """Stations from a level book and the places of its stations.

    ``work``, ``share``, ``reading_sd``: see ``reduce_levels``. ``marks``: names that need no place or no
    height besides the turning points, benchmarks and points without an intermediate sight of the book. Raises
    InputError as ``reduce_levels`` and ``join`` do.
    """
    book = checked_book(notes, work=work, share=share, reading_sd=reading_sd)
    stations = searched_stations(book_heights(book), places, rods(notes), marks={*marks, *turned_on(notes)})
    return RodSurvey(book, stations, judge(stations.findings))


def checked_book(
    notes: LevelNotes,
    *,
    work: str = "yard",
    share: Literal["setups", "distance"] = "setups",
    reading_sd: float = READING_SD,
) -> FieldBook:
    """Reduce a level book, and tell too whether the instrument moved while it stood."""
    book = reduce_levels(notes, work=work, share=share, reading_sd=reading_sd)
    return replace(book, findings=(*book.findings, *moved_findings(notes)))


def searched_stations(
    heights: Heights, places: Places, written: Mapping[str, Written], *, marks: Collection[str] = ()
) -> Stations:
    """Join heights and places, and look for misreadings by what is ``written`` for each station."""
    stations = join(heights, places, marks=marks)
    readings = [
        written.get(name) or Written(float(z), 1, int(line), rod=False)
        for name, z, line in zip(stations.names, stations.xyz[:, 2], stations.lines, strict=True)
    ]
    return replace(stations, findings=(*stations.findings, *misread_findings(stations, readings)))


def turned_on(notes: LevelNotes) -> frozenset[str]:
    """Names of benchmarks and turning points, which need no place."""
    return frozenset(
        r.station
        for r in notes.rows
        if r.backsight is not None or r.foresight is not None or r.known is not None
    )


def rods(notes: LevelNotes) -> dict[str, Written]:
    """The forward reading on each station that was read once: the ground falls as it grows."""
    found: dict[str, Written] = {}
    twice: set[str] = set()
    for row in notes.rows:
        reading = row.intermediate if row.intermediate is not None else row.foresight
        if reading is not None:
            if row.station in found:
                twice.add(row.station)
            found[row.station] = Written(reading, -1, row.line)
    return {name: written for name, written in found.items() if name not in twice}
