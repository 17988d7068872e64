"""From a level book and places to stations one can trust, or not.

Reduce, join, compare repeat readings at a point with each other and every shot with those around it, and say
in one word how far to trust the result. Its parts serve every other way of levelling too.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, Finding, finding, visible
from gradework.survey.breaklines import creases, with_breaklines
from gradework.survey.duplicates import (
    EQUAL,
    SAME_PLACE,
    check_numbers,
    check_spread,
    distant_points,
    merge_doubles,
)
from gradework.survey.levelling.readings import Written
from gradework.survey.levelling.reduce import READING_SD
from gradework.survey.outliers import MOST_SHOTS, levels_by_ground, misread_findings
from gradework.survey.repeat_findings import repeat_findings
from gradework.survey.repeats import ELEVATIONS, READINGS, unchecked_heights
from gradework.survey.stations import Stations, name_key, number_of, numbered
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.columns import BreaklinePoint
    from gradework.fieldnotes.levels import LevelNotes
    from gradework.survey.levelling.heights import Heights
    from gradework.survey.placing.tape import Places


# Heights and places brought together by station name into the stations of the yard.
#
# A station with a height but no place, or the other way round, is named and left out; marks that only
# served the levels or the ties are not missed.

_MOST_NAMED = 8


def join(heights: Heights, places: Places, *, marks: Collection[str] = ()) -> Stations:
    """Stations that have both, in the order of the heights.

    ``marks``: benchmarks, turning points and tie marks that need not have both. Names are compared without
    regard to case and outer spaces. ``lines`` are those of the heights. Findings: those of both, and who is
    missing on either side with the nearest name there, and who stands very far from all others. A station
    that is listed twice alike counts once. Raises InputError where nothing joins, where two names of one
    file differ only in case, where one name has two places or two elevations, and for what
    ``stations_from_spots`` refuses in places.
    """
    faults = Faults(heights.file)
    level = _elevation_rows(heights, faults)
    faults.file = places.file
    place = _place_rows(places, faults)
    shared = [key for key in level if key in place]
    if not shared:
        faults.note(
            "stations-do-not-join",
            heights=heights.file or "the heights",
            places=places.file or "the places",
        )
    faults.raise_if_any()
    optional = {name_key(m) for m in marks}
    findings = [*heights.findings, *places.findings]
    findings += [
        finding("station-without-place", "warning", where, count, 0.0, stations=told)
        for where, count, told in _missing(level, place, heights.names, places.names, optional)
    ]
    findings += [
        finding("station-without-height", "warning", where, count, 0.0, stations=told)
        for where, count, told in _missing(place, level, places.names, heights.names, optional)
    ]
    rows = [level[key] for key in shared]
    xy = places.xy[[place[key] for key in shared]]
    xyz = np.column_stack([xy, heights.elevation[rows]])
    names = [heights.names[i] for i in rows]
    findings += distant_points(
        names,
        xy,
        [places.lines[place[key]] for key in shared],
        Display(places.unit),
        file=places.file if places.file != heights.file else "",
    )
    lines = np.array([heights.lines[i] for i in rows], dtype=np.int64)
    made = _checked(names, xyz, heights.sd[rows], lines, heights, findings)
    return made if places.frame is None else replace(made, frame=places.frame)


def _checked(
    names: list[str],
    xyz: NDArray[np.float64],
    sd: NDArray[np.float64],
    lines: NDArray[np.int64],
    heights: Heights,
    findings: list[Finding],
) -> Stations:
    """The stations after the same checks that plain spot elevations go through."""
    show = heights.show
    faults = Faults(heights.file)
    check_numbers(names, xyz, lines, faults, show)
    faults.raise_if_any()
    keep, merged, doubled = merge_doubles(names, xyz, lines, faults, show)
    faults.raise_if_any()
    names = [names[i] for i in keep.tolist()]
    sd, lines, xyz = np.array(sd[keep]), lines[keep], np.array(merged)
    check_spread(names, xyz, lines, heights.file, show)
    for array in (xyz, sd, lines):
        array.setflags(write=False)
    return Stations(tuple(names), xyz, sd, lines, heights.file, heights.unit, (*findings, *doubled))


def _elevation_rows(heights: Heights, faults: Faults) -> dict[str, int]:
    """The row of each station of the heights; a fault for one with two elevations."""
    show, level = heights.show, heights.elevation.tolist()
    rows, repeats = _by_key(heights.names, heights.lines, faults)
    for i, j in repeats:
        if not abs(level[i] - level[j]) <= EQUAL:
            faults.note(
                "same-name-two-elevations",
                line=heights.lines[j],
                name=visible(heights.names[j]),
                first=show.elevation(level[i]),
                before=heights.lines[i],
                second=show.elevation(level[j]),
            )
    return rows


def _place_rows(places: Places, faults: Faults) -> dict[str, int]:
    """The row of each station of the places; a fault for one with two places."""
    show, xy = Display(places.unit), places.xy.tolist()
    rows, repeats = _by_key(places.names, places.lines, faults)
    for i, j in repeats:
        if not math.dist(xy[i], xy[j]) <= SAME_PLACE:
            faults.note(
                "same-name-two-places",
                line=places.lines[j],
                name=visible(places.names[j]),
                first=show.place(*xy[i]),
                before=places.lines[i],
                second=show.place(*xy[j]),
            )
    return rows


def _by_key(
    names: Sequence[str], lines: Sequence[int], faults: Faults
) -> tuple[dict[str, int], list[tuple[int, int]]]:
    """The first row of each station, by its name without regard to case; and pairs of rows of one name."""
    rows: dict[str, int] = {}
    repeats: list[tuple[int, int]] = []
    for index, name in enumerate(names):
        first = rows.setdefault(name_key(name), index)
        if name != names[first]:
            faults.note(
                "station-names-alike",
                line=lines[index],
                name=visible(name),
                other=visible(names[first]),
                before=lines[first],
            )
        elif first != index:
            repeats.append((first, index))
    return rows, repeats


def _missing(
    have: dict[str, int],
    want: dict[str, int],
    names: Sequence[str],
    other: Sequence[str],
    optional: Collection[str],
) -> Iterator[tuple[str, float, str]]:
    """The stations of ``have`` that ``want`` lacks, if any: the first, how many, and a list of them, each
    with the nearest name that is missing here."""
    lost = [key for key in have if key not in want and key not in optional]
    told = []
    for key in lost[:_MOST_NAMED]:
        near = difflib.get_close_matches(key, [k for k in want if k not in have], n=1, cutoff=0.5)
        guess = f" (is it {visible(other[want[near[0]]])}?)" if near else ""
        told.append(visible(names[have[key]]) + guess)
    if lost:
        more = f" and {len(lost) - _MOST_NAMED} more" if len(lost) > _MOST_NAMED else ""
        yield visible(names[have[lost[0]]]), float(len(lost)), ", ".join(told) + more


def compared_repeats(
    heights: Heights, stations: Stations | None = None, *, reading_sd: float = READING_SD
) -> tuple[tuple[Finding, ...], frozenset[str]]:
    """What repeat readings at a point say, and the names of the stations whose level they put in doubt.

    ``stations``: where the points stand, so that the ground around them helps to tell which look is wrong.
    ``reading_sd`` [m] of one reading.
    """
    found, doubted = repeat_findings(heights.readings, heights.unit, reading_sd)
    if not doubted or stations is None or len(stations) > MOST_SHOTS:
        return found, doubted
    return repeat_findings(
        heights.readings,
        heights.unit,
        reading_sd,
        levels_by_ground(
            stations.names, stations.xyz, doubted, creases(stations) if stations.breaklines else None
        ),
    )


def searched_stations(
    heights: Heights,
    places: Places,
    written: Mapping[str, Written],
    *,
    marks: Collection[str] = (),
    reading_sd: float = READING_SD,
    breaklines: Sequence[BreaklinePoint] = (),
    breaklines_file: str = "",
) -> Stations:
    """Join heights and places, compare repeat readings, look for misreadings by what is ``written`` for each
    station, and tell where nothing checks them; ``reading_sd`` [m] of one reading; ``breaklines``: the points
    of those that were told, and in which file."""
    stations = join(heights, places, marks=marks)
    kept = _stood_for(stations, places) if breaklines else {}
    stations = with_breaklines(stations, breaklines, breaklines_file, kept=kept)
    compared, doubted = compared_repeats(heights, stations, reading_sd=reading_sd)
    misread = misread_findings(stations, written, aside=doubted)
    rod = any(one.rod for one in written.values()) or bool(heights.readings)
    alone = unchecked_heights(heights, len(stations) - len(doubted), what=READINGS if rod else ELEVATIONS)
    return replace(stations, findings=(*stations.findings, *compared, *misread, *alone))


def _stood_for(stations: Stations, places: Places) -> dict[str, str]:
    """The stations that stand for shots which were merged with them, by the names of those."""
    known, found = numbered(stations.names), dict[str, str]()
    for name, place in zip(places.names, places.xy, strict=True):
        if number_of(name, known) is None:
            away = np.hypot(*(stations.xyz[:, :2] - place).T)
            if away.min() <= SAME_PLACE:
                found[name_key(name)] = stations.names[int(away.argmin())]
    return found


def turned_on(notes: LevelNotes) -> frozenset[str]:
    """Names of benchmarks and turning points, which need no place."""
    return frozenset(
        r.station
        for r in notes.rows
        if r.backsight is not None or r.foresight is not None or r.known is not None
    )
