"""Elevations from drops below a string (or any straight line) stretched between two points of known
elevation.

A tight string still sags: the drop measured under its middle is too small by the sag, so the ground looks too
high. A sag measured at the middle is taken out as a parabola, 4·S·t·(1 - t) at the fraction t of the span.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import Faults, Finding, visible
from gradework.survey.heights import Heights, make_heights
from gradework.survey.instruments import INSTRUMENTS
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Sequence

    from gradework.fieldnotes.height_notes import Drop
    from gradework.units import Unit

LINE_LEVEL = INSTRUMENTS["line level"]

MOST_FALL = 0.005
"""A string meant to be level that falls more than this between its ends was not [-]; a judgement, no
source."""

_MOST_NAMED = 6


@dataclass(frozen=True, slots=True)
class String:
    """A string: the elevation of the string itself at each end [m], its span [m], the sag at its middle
    [m]."""

    first: float
    second: float
    span: float | None = None
    sag: float | None = None


def below_string(
    drops: Sequence[Drop],
    string: String,
    *,
    file: str = "",
    unit: Unit = "m",
    reading_sd: float = LINE_LEVEL.reading_sd,
    name: str = "",
) -> Heights:
    """Elevation of each station: the string above it, less sag and drop; ``name`` that of the string.

    With ``along`` the string is followed from end to end, level or not; without it the mean of its ends is
    used. A finding tells of a string that is long with its sag unknown, and of one that is not level.
    Raises InputError for a value that is not finite, a sag below 0, a sag that cannot be taken out because a
    drop has no ``along``, a place beyond the ends, or ``along`` without a span.

    >>> from gradework.fieldnotes.height_notes import Drop
    >>> line = String(first=31.0, second=31.0, span=8.0, sag=0.01)
    >>> below_string([Drop("A", 0.40, 0.0), Drop("B", 0.60, 4.0)], line).elevation.round(4).tolist()
    [30.6, 30.39]
    """
    _check(drops, string, file)
    levels = [_at(string, d.along) - d.drop for d in drops]
    return make_heights(
        [d.station for d in drops],
        levels,
        [reading_sd] * len(drops),
        [d.line for d in drops],
        file=file,
        unit=unit,
        findings=_findings(drops, string, Display(unit), f"string {visible(name)}" if name else "string"),
    )


def _at(string: String, along: float | None) -> float:
    """Elevation of the string [m] at a distance from its first end, or its mean."""
    if along is None or string.span is None:
        return (string.first + string.second) / 2
    t = along / string.span
    return string.first + (string.second - string.first) * t - 4 * (string.sag or 0.0) * t * (1 - t)


def _check(drops: Sequence[Drop], string: String, file: str) -> None:
    faults = Faults(file)
    ends = (string.first, string.second, string.span or 0.0, string.sag or 0.0)
    if not all(math.isfinite(v) for v in ends) or (string.span is not None and string.span <= 0):
        faults.add(
            "string-unusable",
            "a string without two elevations, or a span that is not above 0",
            "the elevation of the string at both ends",
            "measure from a known mark up to the string at each end",
        )
    if string.sag is not None and string.sag < 0:
        faults.add(
            "string-unusable",
            "a string with a sag below 0, as if it rose in the middle",
            "how far its middle hangs below the straight line between its ends, 0 or more",
            "take the minus away",
        )
    elif string.sag:
        loose = [d for d in drops if d.along is None]
        if loose:
            faults.add(
                "string-sag-unplaced",
                f"a sag, but no distance along the string for {_named(loose)}",
                "the distance along the string for each drop, and the span: the sag is 0 at the ends",
                "add the column along, or leave the sag out and hang the drops from a shorter string",
                line=loose[0].line,
            )
    for d in drops:
        beyond = (
            d.along is not None and string.span is not None and not -1e-9 <= d.along <= string.span + 1e-9
        )
        if not math.isfinite(d.drop) or beyond or (d.along is not None and string.span is None):
            faults.add(
                "string-drop-unusable",
                f"the drop at {visible(d.station)}",
                "a drop, hung between the two ends of a string of known span",
                "check the drop and its distance along the string",
                line=d.line,
            )
    faults.raise_if_any()


def _named(drops: Sequence[Drop]) -> str:
    more = f" and {len(drops) - _MOST_NAMED} more" if len(drops) > _MOST_NAMED else ""
    return ", ".join(visible(d.station) for d in drops[:_MOST_NAMED]) + more


def _findings(drops: Sequence[Drop], string: String, show: Display, where: str) -> list[Finding]:
    found: list[Finding] = []
    placed = all(d.along is not None for d in drops)
    fall = abs(string.second - string.first)
    if not placed and fall > 1e-9 and (string.span is None or fall > MOST_FALL * string.span):
        found.append(
            Finding(
                "string-not-level",
                "warning",
                where,
                fall,
                0.0,
                f"The string is {show.elevation(fall)} lower at one end, and the drops have no distance "
                "along it, so elevations may be out by half of that. Level the string, or note where each "
                "drop was hung.",
            )
        )
    if string.sag is None and (string.span is None or string.span > LINE_LEVEL.reach):
        span = "" if string.span is None else f" of {show.distance(string.span)}"
        found.append(
            Finding(
                "string-sag-unknown",
                "warning",
                where,
                string.span,
                LINE_LEVEL.reach,
                f"A string{span} sags, and the ground under its middle then looks too high. Keep it under "
                f"{show.distance(LINE_LEVEL.reach)} with the level hung at mid-length, or measure the sag.",
            )
        )
    return found
