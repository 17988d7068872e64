"""The whole way from a level book and places to stations one can trust, or not.

Reduce, join, compare every shot with its neighbours, look for a moved instrument, and say in one word how far
to trust the result.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from gradework.survey.blunders import Blunder, Written, blunder_findings, find_blunders
from gradework.survey.heights import book_heights
from gradework.survey.joining import join
from gradework.survey.levels import READING_SD, reduce_levels
from gradework.survey.repeats import moved_findings
from gradework.survey.trust import Trust, judge

if TYPE_CHECKING:
    from collections.abc import Collection

    from gradework.fieldnotes.level_notes import LevelNotes
    from gradework.survey.field_book import FieldBook
    from gradework.survey.positions import Places
    from gradework.survey.stations import Stations


@dataclass(frozen=True, slots=True)
class RodSurvey:
    """What came of the notes: the reduced book, the stations (with every finding), the blunders, the
    verdict."""

    book: FieldBook
    stations: Stations
    blunders: tuple[Blunder, ...]
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
    book = reduce_levels(notes, work=work, share=share, reading_sd=reading_sd)
    heights = book_heights(book)
    stations = join(heights, places, marks={*marks, *_turned_on(notes)})
    written = _written(book, stations)
    blunders = find_blunders(stations.xyz, stations.unit, written)
    findings = (*stations.findings, *moved_findings(notes), *blunder_findings(stations, blunders, written))
    stations = replace(stations, findings=findings)
    return RodSurvey(book, stations, blunders, judge(findings))


def _turned_on(notes: LevelNotes) -> set[str]:
    """Names of benchmarks and turning points."""
    return {
        r.station
        for r in notes.rows
        if r.backsight is not None or r.foresight is not None or r.known is not None
    }


def _written(book: FieldBook, stations: Stations) -> list[Written]:
    """The rod reading behind each station; its elevation where no single reading is behind it."""
    read: dict[str, list[Written]] = {}
    for line in book.lines:
        row = line.row
        ahead = row.intermediate if row.intermediate is not None else row.foresight
        if ahead is not None:
            read.setdefault(row.station, []).append(Written(ahead, -1, row.line))
    return [
        read[name][0] if len(read.get(name, ())) == 1 else Written(float(z), 1, int(line))
        for name, z, line in zip(stations.names, stations.xyz[:, 2], stations.lines, strict=True)
    ]
