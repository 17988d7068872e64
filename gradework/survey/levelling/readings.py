"""What was read: the value written down, and each look at a point with where it was read from."""

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
class Look:
    """One reading of ``station`` from one ``standing`` of the instrument (a set-up, a string, a plane).

    ``level`` is the elevation that the reading gives by itself [m]. ``across``: levels from other standings
    may be compared with it as they are; not so where they differ by what the book fails to close. ``back``: a
    backsight.
    """

    station: str
    standing: int
    level: float
    written: Written
    across: bool = True
    back: bool = False


def book_looks(book: FieldBook) -> tuple[Look, ...]:
    """Every backsight, intermediate sight and foresight of a level book, in the order they were read."""
    found: list[Look] = []
    standing = 0
    marks = {line.row.station for line in book.lines if line.row.known is not None} | {book.benchmark}
    for line in book.lines:
        row = line.row
        across = row.station not in marks and book.shared != "network"
        ahead = row.intermediate if row.intermediate is not None else row.foresight
        if ahead is not None:
            found.append(Look(row.station, standing, line.raw, Written(ahead, -1, row.line), across))
        if row.backsight is not None and line.height_of_instrument is not None:
            standing += 1
            level = line.height_of_instrument - row.backsight
            written = Written(row.backsight, -1, row.line)
            found.append(Look(row.station, standing, level, written, across, back=True))
    return tuple(found)


def read_twice(looks: Iterable[Look]) -> int:
    """How many looks are at a station that was looked at more than once; backsights do not count."""
    times = Counter(look.station for look in looks if not look.back)
    return sum(count for count in times.values() if count > 1)


def read_once(looks: Iterable[Look]) -> dict[str, Written]:
    """What is written for each station that was read once; a backsight is no reading of its own."""
    found: dict[str, Written] = {}
    twice: set[str] = set()
    for look in looks:
        if look.back:
            continue
        if look.station in found:
            twice.add(look.station)
        found[look.station] = look.written
    return {name: written for name, written in found.items() if name not in twice}
