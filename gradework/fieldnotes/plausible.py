"""What a length in notes can be: bounds for each kind of column, and the unit likely meant beyond them.

A bound stops a wrong unit or a slipped decimal point before anything is computed from it. Most bounds are
common practice, wide enough for any yard; ``docs/field-notes.md`` shows them to the user in feet or metres.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from gradework.errors import Faults
from gradework.fieldnotes.rows import MOST_FAULTS
from gradework.units.display import Display
from gradework.units.lengths import METRES_PER, METRIC_UNITS, ColumnUnit, base_unit


class Limit(NamedTuple):
    """From ``least`` to ``most`` [m], both allowed; ``usual``: nearly all are no larger [m], which tells the
    unit that was meant; ``what`` has such lengths, ``source`` says so."""

    least: float
    most: float
    usual: float
    what: str
    source: str


_ROD = Limit(-9.2, 9.2, 5.0, "a rod", "rods are sold to 25 ft (7.6 m), staves to 5 m: common practice")
_TAPE = Limit(-500.0, 500.0, 60.0, "a tape or a sight", "common practice")
_WATER = Limit(-3.1, 3.1, 2.0, "the tube of a water level", "as high as a man reads: common practice")
_HEIGHT = Limit(-500.0, 9000.0, 9000.0, "ground on this earth", "Dead Sea shore -430 m, Everest 8,849 m")
_PLACE = Limit(-20e6, 20e6, 20e6, "a place on this earth", "half way round the earth")

LIMITS: Mapping[str, Limit] = {
    **dict.fromkeys(("reading", "BS", "IS", "FS"), _ROD),
    "drop": Limit(0.0, 3.1, 2.0, "a drop below a string", "as high as a string is hung: common practice"),
    **dict.fromkeys(("water at from", "water at to"), _WATER),
    "higher": Limit(-5.0, 5.0, 2.0, "a water level", "common practice"),
    "run": Limit(0.0, 10.0, 4.0, "one step of a straightedge", "boards are sold to 20 ft (6 m)"),
    "rise": Limit(-10.0, 10.0, 1.5, "one step, or the two ends of a tape", "common practice"),
    **dict.fromkeys(("along", "offset", "distance", "back distance"), _TAPE),
    **dict.fromkeys(("elevation", "known"), _HEIGHT),
    **dict.fromkeys(("x", "y"), _PLACE),
}
"""Bounds by the name of the column; rises of single tapes go by "rise"."""

LIKELY: Mapping[bool, Sequence[ColumnUnit]] = {False: ("in", "cm", "mm"), True: ("cm", "mm", "in", "ft")}
"""Units that numbers may be in which were read as feet (False) or as metres (True), the likeliest first."""

_FEW = 3  # one value, or a third of all, are slips one by one; more are a wrong unit, where one explains them

SHOTS_OF_A_ROD = 5.0
"""[m] Heights up to here, all above zero, may be rod readings: staves are sold to 5 m, and most US rods to
16 ft; elevations are mostly counted from 100 ft or 30 m."""


def like_readings(heights: Sequence[float]) -> bool:
    """Whether all ``heights`` [m] are of the size of rod readings.

    >>> like_readings([1.2, 1.9]), like_readings([0.0, 1.9]), like_readings([30.1, 30.9])
    (True, False, False)
    """
    return len(heights) > 0 and min(heights) > 0 and max(heights) <= SHOTS_OF_A_ROD


def refuse_impossible(
    name: str,
    values: Sequence[tuple[int, int, float]],
    unit: ColumnUnit | None,
    faults: Faults,
    column_of: Callable[[int, int], int] | None = None,
) -> None:
    """Note `notes-impossible` for lengths beyond the bounds of their column ``name``.

    ``values``: line, index of the cell and length [m] of each. Where many are beyond and a unit explains
    them, one fault names it; else each is named. ``unit`` of the bare numbers; None where each length names
    its own. ``column_of`` gives the column of a cell in the file, where it is to be told.
    """
    limit = LIMITS.get("rise" if name.startswith("rise") else name)
    if limit is None:
        return
    beyond = [one for one in values if not limit.least <= one[2] <= limit.most]
    if not beyond:
        return
    show = Display(base_unit(unit or "m"))
    likely = None if unit is None else likely_unit([metres for _, _, metres in values], unit, limit)
    many = likely is not None and len(beyond) > max(1, len(values) // _FEW)
    for line, index, metres in beyond[: 1 if many else MOST_FAULTS]:
        small = metres < limit.least
        bound = show.elevation(limit.least if small else limit.most)
        told = {"name": name, "value": show.elevation(metres), "what": limit.what, "bound": bound}
        told |= {"side": "less", "end": "least"} if small else {"side": "more", "end": "most"}
        place = {"line": line, "column": 0 if column_of is None else column_of(line, index)}
        variant = ""
        if small and limit.least == 0:
            variant = "negative"
        elif many:
            variant = "unit"
            told |= {"count": str(len(beyond)), "unit": likely or "", "number": _bare(metres, unit)}
        faults.note("notes-impossible", variant=variant, **place, **told)  # type: ignore[arg-type]


def likely_unit(values: Sequence[float], unit: ColumnUnit, limit: Limit) -> ColumnUnit | None:
    """The unit that ``values`` [m], read in ``unit``, were likely written in; None where none fits.

    >>> likely_unit([0.3048 * 54.5, 0.3048 * 61], "ft", LIMITS["reading"])
    'in'
    >>> likely_unit([1412.0, 1365.0], "m", LIMITS["reading"])
    'mm'
    """
    per = METRES_PER.get(unit, METRES_PER["ft"])
    largest = max(map(abs, values), default=0.0) / float(per)
    for other in LIKELY[unit in METRIC_UNITS]:
        if other != unit and largest * float(METRES_PER[other]) <= limit.usual:
            return other
    return None


def _bare(metres: float, unit: ColumnUnit | None) -> str:
    per = METRES_PER.get(unit or "m", METRES_PER["ft"])
    return f"{metres / float(per):.6g}"
