"""A profile by straightedge and level: one step after the other, each a level run and a rise.

Errors add up along the line, so it should end on a mark of known elevation; what it misses there is shared
out by the runs, as far as it is allowed.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, visible
from gradework.survey.heights import Heights, make_heights
from gradework.survey.instruments import INSTRUMENTS
from gradework.survey.mark_checks import MARKS_MET, MarkCheck, check_findings, mark_check
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.height_notes import Step
    from gradework.units import Unit

STRAIGHTEDGE = INSTRUMENTS["straightedge"]


_HINT = "Look for a missing minus, a step left out or one that was measured from another point."


@dataclass(frozen=True, slots=True)
class Profile:
    """Places along a straight line, (n,) arrays, read-only: level distance from the start, elevation, ``raw``
    elevation (unadjusted), sd [m].

    ``misclosure``: computed minus known at the last place [m], None when that is no mark. ``checks``: every
    mark that was met, and every point that was met again; ``shared``: whether what the marks miss was.
    """

    names: tuple[str, ...]
    along: NDArray[np.float64]
    elevation: NDArray[np.float64]
    raw: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: tuple[int, ...]
    misclosure: float | None
    checks: tuple[MarkCheck, ...] = ()
    shared: bool = False


def step_profile(
    steps: Sequence[Step],
    start: float | None,
    *,
    known: Mapping[str, float] | None = None,
    step_sd: float = STRAIGHTEDGE.reading_sd,
    file: str = "",
) -> Profile:
    """Follow the steps from elevation ``start`` [m], past the ``known`` marks [m] among their ends.

    Without ``start`` the first of the marks holds the line. What the others miss, each since the mark before,
    is shared by the runs between them where all of it is allowed; beyond the last it stays as there. A point
    that is met again is a check too, but shares nothing. ``sd`` grows with the root of the steps from a mark,
    or bulges between two. Raises InputError for a step without a run above 0 or a finite rise, and for no
    steps; ValueError without any elevation to hang on.

    >>> from gradework.fieldnotes.height_notes import Step
    >>> steps = [Step("A", 2.0, -0.1), Step("B", 2.0, -0.2)]
    >>> step_profile(steps, 30.0).elevation.round(3).tolist()
    [29.9, 29.7]
    >>> step_profile(steps, None, known={"A": 29.0}).elevation.round(3).tolist()
    [29.0, 28.8]
    """
    marks = known or {}
    _check(steps, start, marks, file)
    rise = np.cumsum([0.0, *(s.rise for s in steps)])
    along = np.cumsum([0.0, *(s.run for s in steps)])
    held = [(i, marks[s.station]) for i, s in enumerate(steps, start=1) if s.station in marks]
    if start is not None:
        held.insert(0, (0, start))
    if not held:
        raise ValueError("steps need the elevation of their start, or of a mark among their ends")
    hung, level = held[0]
    raw = level + (rise - rise[hung])
    missed = [float(raw[i]) - z for i, z in held]
    checks = _marks_met(steps, raw, held, missed)
    shared = len(held) > 1 and all(c.within for c in checks)
    checks = tuple(sorted((*checks, *_met_again(steps, raw, marks)), key=lambda c: c.line))
    at = raw.copy()
    if shared:
        at -= np.interp(along, along[[i for i, _ in held]], missed)
    sd = step_sd * _spread(along, [i for i, _ in held] if shared else [hung])
    for i, z in held:
        at[i], sd[i] = z, 0.0
    last = missed[-1] if held[-1][0] == len(steps) and len(held) > 1 else None
    along, at, raw, sd = (array[1:] for array in (along, at, raw, sd))
    for array in (along, at, raw, sd):
        array.setflags(write=False)
    names, lines = tuple(s.station for s in steps), tuple(s.line for s in steps)
    return Profile(names, along, at, raw, sd, lines, last, checks, shared)


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
            MARKS_MET["steps"],
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
                MARKS_MET["steps"],
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


def profile_heights(profile: Profile, *, file: str, unit: Unit) -> Heights:
    """The profile as heights, one for each step, with what the marks say."""
    return make_heights(
        profile.names,
        profile.elevation.tolist(),
        profile.sd.tolist(),
        profile.lines,
        file=file,
        unit=unit,
        findings=check_findings(profile.checks, Display(unit), hint=_HINT),
    ).adjusted(profile.raw.tolist(), profile.checks, "runs" if profile.shared else "no")


def _check(steps: Sequence[Step], start: float | None, marks: Mapping[str, float], file: str) -> None:
    faults = Faults(file)
    if not steps or not all(map(math.isfinite, (start or 0.0, *marks.values()))):
        faults.add(
            "steps-unusable",
            "no steps, or no elevation to begin on",
            "the elevation of the start and at least one step",
            "give run and rise of each step from a known mark",
        )
    for s in steps:
        if not (math.isfinite(s.run) and s.run > 0 and math.isfinite(s.rise)):
            faults.add(
                "steps-unusable",
                f"the step to {visible(s.station)}",
                "a run above 0 and a rise (minus for a fall)",
                "check run and rise",
                line=s.line,
            )
    faults.raise_if_any()
