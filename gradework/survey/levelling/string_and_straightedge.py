"""Elevations below a string, and a profile by straightedge and level: step after step, each a level run and a
rise.

Errors add up along the line, so it should end on a mark of known elevation; what it misses there is shared
out by the runs, as far as it is allowed.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, Finding, finding, visible
from gradework.survey.levelling.given import String
from gradework.survey.levelling.heights import (
    Heights,
    MarkCheck,
    check_findings,
    make_heights,
    mark_check,
)
from gradework.survey.levelling.tolerances import INSTRUMENTS
from gradework.survey.levelling.ways import allowance_of
from gradework.units.display import Display

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.heights import Drop, Step
    from gradework.units.lengths import Unit


# Elevations from drops below a string (or any straight line) stretched between two points of known
# elevation.
#
# A tight string still sags: the drop measured under its middle is too small by the sag, so the ground
# looks too high. A sag measured at the middle is taken out as a parabola, 4·S·t·(1 - t) at the fraction t
# of the span.

LINE_LEVEL = INSTRUMENTS["line level"]

MOST_FALL = 0.005
"""A string meant to be level that falls more than this between its ends was not [-]; a judgement, no
source."""

_MOST_NAMED = 6


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

    >>> from gradework.fieldnotes.heights import Drop
    >>> line = String(first=31.0, second=31.0, span=8.0, sag=0.01)
    >>> below_string([Drop("A", 0.40, 0.0), Drop("B", 0.60, 4.0)], line).elevation.round(4).tolist()
    [30.6, 30.39]
    """
    _check_drops(drops, string, file)
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


def _check_drops(drops: Sequence[Drop], string: String, file: str) -> None:
    faults = Faults(file)
    ends = (string.first, string.second, string.span or 0.0, string.sag or 0.0)
    if not all(math.isfinite(v) for v in ends) or (string.span is not None and string.span <= 0):
        faults.note("string-unusable")
    if string.sag is not None and string.sag < 0:
        faults.note("string-unusable", variant="sag")
    elif string.sag:
        loose = [d for d in drops if d.along is None]
        if loose:
            more = f" and {len(loose) - _MOST_NAMED} more" if len(loose) > _MOST_NAMED else ""
            names = ", ".join(visible(d.station) for d in loose[:_MOST_NAMED]) + more
            faults.note("string-sag-unplaced", line=loose[0].line, names=names)
    for d in drops:
        beyond = (
            d.along is not None and string.span is not None and not -1e-9 <= d.along <= string.span + 1e-9
        )
        if not math.isfinite(d.drop) or beyond or (d.along is not None and string.span is None):
            faults.note("string-drop-unusable", line=d.line, name=visible(d.station))
    faults.raise_if_any()


def _findings(drops: Sequence[Drop], string: String, show: Display, where: str) -> list[Finding]:
    found: list[Finding] = []
    placed = all(d.along is not None for d in drops)
    fall = abs(string.second - string.first)
    if not placed and fall > 1e-9 and (string.span is None or fall > MOST_FALL * string.span):
        lower = show.elevation(fall)
        found.append(finding("string-not-level", "warning", where, fall, 0.0, fall=lower))
    if string.sag is None and (string.span is None or string.span > LINE_LEVEL.reach):
        found.append(
            finding(
                "string-sag-unknown",
                "warning",
                where,
                string.span,
                LINE_LEVEL.reach,
                variant="unmeasured" if string.span is None else "",
                span=show.distance(string.span or 0.0),
                most=show.distance(LINE_LEVEL.reach),
            )
        )
    return found


STRAIGHTEDGE = INSTRUMENTS["straightedge"]


def step_profile(
    steps: Sequence[Step],
    start: float | None,
    *,
    known: Mapping[str, float] | None = None,
    step_sd: float = STRAIGHTEDGE.reading_sd,
    file: str = "",
    unit: Unit = "m",
) -> Heights:
    """Follow the steps from elevation ``start`` [m], past the ``known`` marks [m] among their ends.

    One entry for each step; every mark that was met, and every point that was met again, is a check.

    Without ``start`` the first of the marks holds the line. What the others miss, each since the mark before,
    is shared by the runs between them where all of it is allowed; beyond the last it stays as there. A point
    that is met again is a check too, but shares nothing. ``sd`` grows with the root of the steps from a mark,
    or bulges between two. Raises InputError for a step without a run above 0 or a finite rise, and for no
    steps; ValueError without any elevation to start from.

    >>> from gradework.fieldnotes.heights import Step
    >>> steps = [Step("A", 2.0, -0.1), Step("B", 2.0, -0.2)]
    >>> step_profile(steps, 30.0).elevation.round(3).tolist()
    [29.9, 29.7]
    >>> step_profile(steps, None, known={"A": 29.0}).elevation.round(3).tolist()
    [29.0, 28.8]
    """
    marks = known or {}
    _check_steps(steps, start, marks, file)
    rise = np.cumsum([0.0, *(s.rise for s in steps)])
    along = np.cumsum([0.0, *(s.run for s in steps)])
    held = [(i, marks[s.station]) for i, s in enumerate(steps, start=1) if s.station in marks]
    if start is not None:
        held.insert(0, (0, start))
    if not held:
        raise ValueError("steps need the elevation of their start, or of a mark among their ends")
    first, level = held[0]
    raw = level + (rise - rise[first])
    missed = [float(raw[i]) - z for i, z in held]
    checks = _marks_met(steps, raw, held, missed)
    shared = len(held) > 1 and all(c.within for c in checks)
    checks = tuple(sorted((*checks, *_met_again(steps, raw, marks)), key=lambda c: c.line))
    at = raw.copy()
    if shared:
        at -= np.interp(along, along[[i for i, _ in held]], missed)
    sd = step_sd * _spread(along, [i for i, _ in held] if shared else [first])
    for i, z in held:
        at[i], sd[i] = z, 0.0
    return make_heights(
        [s.station for s in steps],
        at[1:].tolist(),
        sd[1:].tolist(),
        [s.line for s in steps],
        file=file,
        unit=unit,
        findings=check_findings(checks, Display(unit), "steps"),
    ).adjusted(raw[1:].tolist(), checks, "runs" if shared else "no")


def _marks_met(
    steps: Sequence[Step],
    raw: NDArray[np.float64],
    held: Sequence[tuple[int, float]],
    missed: Sequence[float],
) -> tuple[MarkCheck, ...]:
    """What each mark after the first says of the steps since the one before it."""
    return tuple(
        mark_check(
            steps[i - 1].station,
            steps[i - 1].line,
            float(raw[i]),
            z,
            allowance_of("steps"),
            parts=i - before,
            over=_steps(i - before),
            missed=off,
        )
        for ((before, _), off), (i, z) in zip(zip(held, missed, strict=True), held[1:], strict=False)
    )


def _met_again(
    steps: Sequence[Step], raw: NDArray[np.float64], marks: Mapping[str, float]
) -> Iterator[MarkCheck]:
    """Points that no one knows and the line came back to: how far off the time before."""
    seen: dict[str, int] = {}
    for i, step in enumerate(steps, start=1):
        before = seen.get(step.station)
        if before is not None and step.station not in marks:
            check = mark_check(
                step.station,
                step.line,
                float(raw[i]),
                float(raw[before]),
                allowance_of("steps"),
                parts=i - before,
                over=_steps(i - before),
            )
            yield replace(check, again=True)
        seen[step.station] = i


def _steps(count: int) -> str:
    return f"{count} step" + ("s" if count > 1 else "")


def _spread(along: NDArray[np.float64], held: Sequence[int]) -> NDArray[np.float64]:
    """Standard errors in those of one step, of the ends of all steps and the start: held at the indexes
    ``held``."""
    count = np.arange(len(along), dtype=float)
    first, last = held[0], held[-1]
    spread = np.sqrt(np.where(count < first, first - count, np.maximum(count - last, 0.0)))
    for i, j in itertools.pairwise(held):
        k = slice(i, j + 1)
        share = (along[k] - along[i]) / (along[j] - along[i])
        square = (count[k] - i) * (1 - share) ** 2 + (j - count[k]) * share**2
        spread[k] = np.sqrt(np.maximum(square, 0.0))
    return np.asarray(spread, dtype=np.float64)


def _check_steps(steps: Sequence[Step], start: float | None, marks: Mapping[str, float], file: str) -> None:
    faults = Faults(file)
    if not steps or not all(map(math.isfinite, (start or 0.0, *marks.values()))):
        faults.note("steps-unusable", variant="none")
    for s in steps:
        if not (math.isfinite(s.run) and s.run > 0 and math.isfinite(s.rise)):
            faults.note("steps-unusable", line=s.line, name=visible(s.station))
    faults.raise_if_any()
