"""A profile by straightedge and level: one step after the other, each a level run and a rise.

Errors add up along the line, so it should end on a mark of known elevation; what it misses there is shared
out by the runs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, visible
from gradework.survey.closure import corrections
from gradework.survey.instruments import INSTRUMENTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.height_notes import Step

STRAIGHTEDGE = INSTRUMENTS["straightedge"]


@dataclass(frozen=True, slots=True)
class Profile:
    """Places along a straight line, (n,) arrays, read-only: level distance from the start, elevation, sd [m].

    ``misclosure``: computed minus known at the end [m], None when the end is not a mark.
    """

    names: tuple[str, ...]
    along: NDArray[np.float64]
    elevation: NDArray[np.float64]
    sd: NDArray[np.float64]
    lines: tuple[int, ...]
    misclosure: float | None


def step_profile(
    steps: Sequence[Step],
    start: float,
    *,
    end: float | None = None,
    step_sd: float = STRAIGHTEDGE.reading_sd,
    file: str = "",
) -> Profile:
    """Follow the steps from elevation ``start`` [m]; with ``end`` [m] the miss is shared by the runs.

    ``sd`` grows with the root of the steps, or bulges between the two marks. Raises InputError for a step
    without a run above 0 or a finite rise, and for no steps.

    >>> from gradework.fieldnotes.height_notes import Step
    >>> step_profile([Step("A", 2.0, -0.1), Step("B", 2.0, -0.2)], 30.0).elevation.round(3).tolist()
    [29.9, 29.7]
    """
    _check(steps, start, end, file)
    along = np.cumsum([s.run for s in steps])
    raw = start + np.cumsum([s.rise for s in steps])
    count = np.arange(1, len(steps) + 1)
    if end is None:
        miss, level = None, raw
        sd = step_sd * np.sqrt(count)
    else:
        miss = float(raw[-1]) - end
        level = raw + corrections(along, [along[-1]], [miss])
        share = along / along[-1]
        sd = step_sd * np.sqrt(np.maximum(count * (1 - share) ** 2 + (len(steps) - count) * share**2, 0.0))
    for array in (along, level, sd):
        array.setflags(write=False)
    return Profile(tuple(s.station for s in steps), along, level, sd, tuple(s.line for s in steps), miss)


def _check(steps: Sequence[Step], start: float, end: float | None, file: str) -> None:
    faults = Faults(file)
    if not steps or not math.isfinite(start) or not (end is None or math.isfinite(end)):
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
