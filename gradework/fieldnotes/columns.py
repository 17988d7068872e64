"""Whole columns of plain decimals to metres at the speed of C, and the growing columns of shots of a file."""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from itertools import chain, repeat
from typing import NamedTuple

from gradework.errors import Faults, Finding, at_line, finding, visible
from gradework.fieldnotes.rows import Comments
from gradework.fieldnotes.text import NotesText, Punctuation, has_long_line
from gradework.units.lengths import LARGEST_METRES, METRES_PER, ColumnUnit, Unit
from gradework.units.numbers import LONGEST

# ``float(text) * 0.3048`` would be wrong in the last place for about every second number. A decimal with
# k places is n / 10^k, and n·381 / (1250·10^k) needs one rounding only, so both ways give the same double.

_SEVEN_PLACES = r"\.[0-9]{7}"
_ELEVEN_PLACES = r"\.[0-9]{11}"
_HALF_STEPS = 1.5 * 2.0**52
"""Adding and subtracting it rounds a double below 2^51 to a whole number."""

_FEET_AND_INCHES = re.compile("['\"\u2032\u2033\u2019\u201d]|[0-9]-[0-9]|(?i:ft|in)")
_EXACT = 2.0**53
_FACTORS = METRES_PER


def metres_of(cells: Sequence[str], unit: ColumnUnit, *, decimal_comma: bool = False) -> list[float] | None:
    """Read cells that all hold plain decimals [unit]; None if any does not, then read them one by one.

    The values [m] are those of ``units.lengths.parse_length``, to the last bit.

    >>> metres_of(["98.72", "-3", "101.005"], "ft")
    [30.089856, -0.9144, 30.786324]
    >>> metres_of(["98.72", "n/a"], "ft") is None
    True
    """
    if unit == "ft-in":
        return None
    joined = "\n".join(cells)
    if not joined.isascii() or "_" in joined or has_long_line(joined, LONGEST):
        return None
    if decimal_comma:
        if "." in joined:
            return None
        joined = joined.replace(",", ".")
        cells = joined.split("\n")
    try:
        values = list(map(float, cells))
    except ValueError:
        return None
    return _metres(values, cells, joined, unit)


def _metres(values: list[float], cells: Sequence[str], joined: str, unit: ColumnUnit) -> list[float] | None:
    # The root of the sum of squares bounds every value, and is not finite if one of them is not.
    bound = math.hypot(*values)
    factor = _FACTORS[unit]
    if not bound * factor < LARGEST_METRES:
        bound = max(map(abs, values)) if math.isfinite(bound) else bound
        if not bound * factor <= LARGEST_METRES:
            return None
    if unit == "m":
        return [value + 0.0 for value in values] if "-" in joined else values
    if "e" in joined or "E" in joined:
        return None
    return _scaled(values, bound, factor, joined) or _place_by_place(cells, unit)


def _scaled(values: list[float], bound: float, factor: Fraction, joined: str) -> list[float] | None:
    """Round each value times 10^k to its integer and divide once; None where doubles would not hold it."""
    top = float(factor.numerator)
    if re.search(_SEVEN_PLACES, joined) is None:
        places = 6
    elif re.search(_ELEVEN_PLACES, joined) is None:
        places = 10
    else:
        return None
    power = 10.0**places
    bottom = factor.denominator * power
    if bottom >= _EXACT:
        return None
    if bound * power * top >= _EXACT / 2 and max(map(abs, values)) * power * top >= _EXACT / 2:
        return None
    near = _HALF_STEPS
    return [(value * power + near - near) * top / bottom for value in values]


def _place_by_place(cells: Sequence[str], unit: ColumnUnit) -> list[float] | None:
    """The integer n of each cell and the number of its decimal places, divided once."""
    top = _FACTORS[unit].numerator
    bottoms = _bottoms(unit)
    try:
        return [
            int(whole + part) * top / bottoms[len(part.rstrip())]
            for whole, _, part in (cell.partition(".") for cell in cells)
        ]
    except ValueError:
        return None


@cache
def _bottoms(unit: ColumnUnit) -> tuple[int, ...]:
    return tuple(_FACTORS[unit].denominator * 10**k for k in range(LONGEST + 1))


BOTH = " + "
"""Between the names of breaklines that meet at one shot: ``top + path``. A ``0+50`` is one name."""


class BreaklinePoint(NamedTuple):
    """One point of the breakline ``line``: a ``station`` by name, or a shot of its own ``at`` x, y, elevation
    [m]; ``row``: the line of the file, 0 where a column beside the shots tells it."""

    line: str
    station: str
    at: tuple[float, float, float] | None = None
    row: int = 0


def chained(names: Sequence[str], cells: Sequence[str]) -> list[BreaklinePoint]:
    """The points of the breaklines that a column beside the shots ``names`` tells, in the order of the shots.

    >>> [point[:2] for point in chained(["A1", "A2", "A3"], ["top", "", "top + path"])]
    [('top', 'A1'), ('top', 'A3'), ('path', 'A3')]
    """
    return [
        BreaklinePoint(line.strip(), name)
        for name, cell in zip(names, cells, strict=True)
        for line in cell.split(BOTH)
        if line.strip()
    ]


LONGEST_NAME = 40
"""Letters of a station name that are kept; the drawing has no room for more."""


class Gathered:
    """Names, places, elevations [m] and lines of the shots read so far, in the order of the file."""

    def __init__(self, notes: NotesText, punctuation: Punctuation, faults: Faults) -> None:
        self.notes = notes
        self.punctuation = punctuation
        self.faults = faults
        self.names: list[str] = []
        self.x = array("d")
        self.y = array("d")
        self.elevation = array("d")
        self.findings: list[Finding] = []
        self.marks: list[tuple[str, float, str]] = []
        """Name, elevation [m] and word of each mark of known elevation, with a place or without."""
        self.breaklines: list[BreaklinePoint] = []
        self.comments = Comments(notes)
        self._lines: list[Sequence[int]] = []
        self._remarks: list[tuple[int, Sequence[str]]] = []
        self._odd_name_told = False
        self.marked = 0
        """How many heights are written in feet and inches."""
        self.shown: Unit | None = None
        """The unit to show results in, where none is declared: of the header, or the first cell's own."""

    def __len__(self) -> int:
        return len(self.elevation)

    def add(
        self,
        names: Sequence[str],
        x: Sequence[float],
        y: Sequence[float],
        elevation: Sequence[float],
        lines: Sequence[int],
    ) -> None:
        """Append shots; the sequences have one entry each (``x`` and ``y`` may be empty until placed)."""
        self.names += self._clean(names, lines)
        # By way of an array of its own: an array takes a list one by one, but another array in one piece.
        self.x.extend(array("d", x))
        self.y.extend(array("d", y))
        self.elevation.extend(array("d", elevation))
        self._lines.append(lines)

    def remark(self, remarks: Sequence[str]) -> None:
        """Keep the notes of the shots that are added next (call it before ``add``)."""
        self._remarks.append((len(self), remarks))

    def chain(self, cells: Sequence[str]) -> None:
        """Keep which breaklines pass the shots that were added last."""
        if any(cells):
            self.breaklines += chained(self.names[-len(cells) :], cells)

    def see_height(self, cell: str) -> None:
        """Note how a height is written: its system, to show results in when none is declared, and whether in
        feet and inches."""
        if self.shown is None and cell:
            self.shown = "m" if "m" in cell.lower() else "ft"
        self.marked += _FEET_AND_INCHES.search(cell) is not None

    def lines(self) -> Sequence[int]:
        """The line of each shot: a range where the file is without gaps, which costs no memory."""
        parts = [part for part in self._lines if len(part)]
        if not parts:
            return ()
        whole = range(parts[0][0], parts[0][0] + len(self))
        if all(isinstance(part, range) for part in parts) and parts[-1][-1] == whole[-1]:
            return whole
        return array("q", chain.from_iterable(parts))

    def notes_or_none(self) -> Sequence[str] | None:
        """The note of each shot, or None if there is none at all."""
        if not any(any(remarks) for _, remarks in self._remarks):
            return None
        filled: list[str] = []
        for start, remarks in self._remarks:
            filled += repeat("", start - len(filled))
            filled += remarks
        filled += repeat("", len(self) - len(filled))
        return tuple(filled)

    def _clean(self, names: Sequence[str], lines: Sequence[int]) -> Sequence[str]:
        joined = "\n".join(names)
        if not has_long_line(joined, LONGEST_NAME) and joined.replace("\n", "").isprintable():
            return names
        cleaned = [visible(name, LONGEST_NAME) for name in names]
        if not self._odd_name_told:
            self._odd_name_told = True
            first = next(i for i, name in enumerate(names) if name != cleaned[i])
            row, most = lines[first], LONGEST_NAME
            where = at_line(self.notes.file, row)
            told = finding("notes-name-changed", "note", where, row=row, name=cleaned[first], most=most)
            self.findings.append(told)
        return cleaned
