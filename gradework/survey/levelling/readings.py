"""What was read: the value written down, and each reading at a point with where it was read from."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gradework.survey.levelling.field_book import FieldBook


@dataclass(frozen=True, slots=True)
class Written:
    """What stands in the notes for a station: the value [m] and whether the ground rises with it (+1) or
    falls (-1); ``rod``: a reading, not an elevation that was worked out from one."""

    value: float
    sense: int = 1
    line: int = 0
    rod: bool = True


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of ``station`` from one ``set-up`` of the instrument (a set-up, a string, a plane).

    ``level`` is the elevation that the reading gives by itself [m]. ``across``: levels from other set-ups
    may be compared with it as they are; not so where they differ by what the book fails to close. ``back``: a
    backsight.
    """

    station: str
    setup: int
    level: float
    written: Written
    across: bool = True
    back: bool = False


def book_readings(book: FieldBook) -> tuple[Reading, ...]:
    """Every backsight, intermediate sight and foresight of a level book, in the order they were read."""
    found: list[Reading] = []
    setup = 0
    marks = {line.row.station for line in book.lines if line.row.known is not None} | {book.benchmark}
    for line in book.lines:
        row = line.row
        across = row.station not in marks and book.shared != "network"
        ahead = row.intermediate if row.intermediate is not None else row.foresight
        if ahead is not None:
            found.append(Reading(row.station, setup, line.raw, Written(ahead, -1, row.line), across))
        if row.backsight is not None and line.height_of_instrument is not None:
            setup += 1
            level = line.height_of_instrument - row.backsight
            written = Written(row.backsight, -1, row.line)
            found.append(Reading(row.station, setup, level, written, across, back=True))
    return tuple(found)


def read_twice(readings: Iterable[Reading]) -> int:
    """How many readings are at a station that was looked at more than once; backsights do not count."""
    times = Counter(reading.station for reading in readings if not reading.back)
    return sum(count for count in times.values() if count > 1)


def read_once(readings: Iterable[Reading]) -> dict[str, Written]:
    """What is written for each station that was read once; a backsight is no reading of its own."""
    found: dict[str, Written] = {}
    twice: set[str] = set()
    for reading in readings:
        if reading.back:
            continue
        if reading.station in found:
            twice.add(reading.station)
        found[reading.station] = reading.written
    return {name: written for name, written in found.items() if name not in twice}
