"""From a level book and places to stations one can trust, or not.

Reduce, join, compare second looks at a point with each other and every shot with its neighbours, and say in
one word how far to trust the result. Its parts serve every other way of levelling too.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from gradework.survey.blunders import MOST_SHOTS, misread_findings
from gradework.survey.heights import book_heights
from gradework.survey.joining import join
from gradework.survey.left_out import levels_by_ground
from gradework.survey.levels import READING_SD, reduce_levels
from gradework.survey.look_findings import look_findings
from gradework.survey.looks import Written, read_once
from gradework.survey.trust import Trust, judge
from gradework.survey.unchecked import ELEVATIONS, READINGS, unchecked_heights

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from gradework.errors import Finding
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
    book = reduce_levels(notes, work=work, share=share, reading_sd=reading_sd)
    heights = book_heights(book)
    stations = searched_stations(
        heights,
        places,
        read_once(heights.looks),
        marks={*marks, *turned_on(notes)},
        reading_sd=reading_sd,
    )
    return RodSurvey(book, stations, judge(stations.findings))


def compared_looks(
    heights: Heights, stations: Stations | None = None, *, reading_sd: float = READING_SD
) -> tuple[tuple[Finding, ...], frozenset[str]]:
    """What second looks at a point say, and the names of the stations whose level they put in doubt.

    ``stations``: where the points stand, so that the ground around them helps to tell which look is wrong.
    ``reading_sd`` [m] of one reading.
    """
    found, doubted = look_findings(heights.looks, heights.unit, reading_sd)
    if not doubted or stations is None or len(stations) > MOST_SHOTS:
        return found, doubted
    return look_findings(
        heights.looks, heights.unit, reading_sd, levels_by_ground(stations.names, stations.xyz, doubted)
    )


def searched_stations(
    heights: Heights,
    places: Places,
    written: Mapping[str, Written],
    *,
    marks: Collection[str] = (),
    reading_sd: float = READING_SD,
) -> Stations:
    """Join heights and places, compare second looks, look for misreadings by what is ``written`` for each
    station, and tell where nothing checks them; ``reading_sd`` [m] of one reading."""
    stations = join(heights, places, marks=marks)
    compared, doubted = compared_looks(heights, stations, reading_sd=reading_sd)
    readings = [
        written.get(name) or Written(float(z), 1, int(line), rod=False)
        for name, z, line in zip(stations.names, stations.xyz[:, 2], stations.lines, strict=True)
    ]
    misread = misread_findings(stations, readings, aside=doubted)
    rod = any(one.rod for one in written.values()) or bool(heights.looks)
    alone = unchecked_heights(heights, len(stations) - len(doubted), what=READINGS if rod else ELEVATIONS)
    return replace(stations, findings=(*stations.findings, *compared, *misread, *alone))


def turned_on(notes: LevelNotes) -> frozenset[str]:
    """Names of benchmarks and turning points, which need no place."""
    return frozenset(
        r.station
        for r in notes.rows
        if r.backsight is not None or r.foresight is not None or r.known is not None
    )
