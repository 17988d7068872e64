"""From a level book and places to stations one can trust, or not.

Reduce, join, compare second looks at a point with each other and every shot with its neighbours, and say in
one word how far to trust the result. Its parts serve every other way of levelling too.
"""

from __future__ import annotations

import difflib
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, Finding, visible
from gradework.survey.duplicates import (
    EQUAL,
    SAME_PLACE,
    check_numbers,
    check_spread,
    far_places,
    merge_doubles,
)
from gradework.survey.levelling.readings import Written
from gradework.survey.levelling.reduce import READING_SD
from gradework.survey.outliers import MOST_SHOTS, levels_by_ground, misread_findings
from gradework.survey.repeat_findings import look_findings
from gradework.survey.repeats import ELEVATIONS, READINGS, unchecked_heights
from gradework.survey.stations import Stations, name_key
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.levels import LevelNotes
    from gradework.survey.levelling.heights import Heights
    from gradework.survey.placing.tape import Places

    Differ = Callable[[int, int], tuple[str, str] | None]


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
    level = _by_key(heights.names, heights.lines, faults, _two_elevations(heights))
    faults.file = places.file
    place = _by_key(places.names, places.lines, faults, _two_places(places))
    shared = [key for key in level if key in place]
    if not shared:
        faults.add(
            "stations-do-not-join",
            f"no station of {heights.file or 'the heights'} in {places.file or 'the places'}",
            "the same station names in both",
            "write the names alike in both files",
        )
    faults.raise_if_any()
    optional = {name_key(m) for m in marks}
    findings = [*heights.findings, *places.findings]
    findings += _missing(
        "station-without-place", "place", level, place, heights.names, places.names, optional
    )
    findings += _missing(
        "station-without-height", "height", place, level, places.names, heights.names, optional
    )
    rows = [level[key] for key in shared]
    xy = places.xy[[place[key] for key in shared]]
    xyz = np.column_stack([xy, heights.elevation[rows]])
    names = [heights.names[i] for i in rows]
    findings += far_places(
        names,
        xy,
        [places.lines[place[key]] for key in shared],
        Display(places.unit),
        file=places.file if places.file != heights.file else "",
    )
    lines = np.array([heights.lines[i] for i in rows], dtype=np.int64)
    return _checked(names, xyz, heights.sd[rows], lines, heights, findings)


def _checked(
    names: list[str],
    xyz: NDArray[np.float64],
    sd: NDArray[np.float64],
    lines: NDArray[np.int64],
    heights: Heights,
    findings: list[Finding],
) -> Stations:
    """The stations after the same checks that plain spot elevations go through."""
    show = Display(heights.unit)
    faults = Faults(heights.file)
    check_numbers(names, xyz, lines, faults, show)
    faults.raise_if_any()
    merged = merge_doubles(names, xyz, lines, faults, show)
    faults.raise_if_any()
    keep = merged.keep.tolist()
    names, sd, lines, xyz = [names[i] for i in keep], np.array(sd[keep]), lines[keep], np.array(merged.xyz)
    check_spread(names, xyz, lines, heights.file, show)
    for array in (xyz, sd, lines):
        array.setflags(write=False)
    return Stations(tuple(names), xyz, sd, lines, heights.file, heights.unit, (*findings, *merged.findings))


def _two_elevations(heights: Heights) -> Differ:
    """What is wrong with two rows of heights for one station, if anything."""
    show, level = Display(heights.unit), heights.elevation

    def differ(one: int, other: int) -> tuple[str, str] | None:
        if abs(float(level[one] - level[other])) <= EQUAL:
            return None
        first, second = (show.elevation(float(level[i])) for i in (one, other))
        return "same-name-two-elevations", f"{first} on line {heights.lines[one]} and {second} here"

    return differ


def _two_places(places: Places) -> Differ:
    """What is wrong with two rows of places for one station, if anything."""
    show, xy = Display(places.unit), places.xy

    def differ(one: int, other: int) -> tuple[str, str] | None:
        if float(np.hypot(*(xy[one] - xy[other]))) <= SAME_PLACE:
            return None
        first, second = (show.place(*xy[i].tolist()) for i in (one, other))
        return "same-name-two-places", f"{first} on line {places.lines[one]} and {second} here"

    return differ


def _by_key(names: Sequence[str], lines: Sequence[int], faults: Faults, differ: Differ) -> dict[str, int]:
    """The row of each station, by its name without regard to case."""
    found: dict[str, int] = {}
    for index, name in enumerate(names):
        key = name_key(name)
        if key in found and name == names[found[key]]:
            wrong = differ(found[key], index)
            if wrong is not None:
                code, both = wrong
                faults.add(
                    code,
                    f"station {visible(name)} twice, at {both}",
                    "one of each for each name",
                    "delete the wrong row, or give one of the two another name",
                    line=lines[index],
                )
        elif key in found:
            faults.add(
                "station-names-alike",
                f"{visible(name)}, which is {visible(names[found[key]])} but for capitals or spaces",
                "one name for one station",
                "write it alike everywhere, or give one of the two another name",
                line=lines[index],
            )
        found.setdefault(key, index)
    return found


def _missing(
    code: str,
    what: str,
    have: dict[str, int],
    want: dict[str, int],
    names: Sequence[str],
    other: Sequence[str],
    optional: Collection[str],
) -> list[Finding]:
    lost = [key for key in have if key not in want and key not in optional]
    if not lost:
        return []
    told = []
    for key in lost[:_MOST_NAMED]:
        near = difflib.get_close_matches(key, [k for k in want if k not in have], n=1, cutoff=0.5)
        guess = f" (is it {visible(other[want[near[0]]])}?)" if near else ""
        told.append(visible(names[have[key]]) + guess)
    more = f" and {len(lost) - _MOST_NAMED} more" if len(lost) > _MOST_NAMED else ""
    return [
        Finding(
            code,
            "warning",
            visible(names[have[lost[0]]]),
            float(len(lost)),
            0.0,
            f"No {what} for {', '.join(told)}{more}: left out. Measure the {what}, or correct the name.",
        )
    ]


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
