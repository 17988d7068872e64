"""Was anything of a survey checked? Where nothing was, that is a finding: not wrong is not yet right.

A check is a known mark that was met, a second route, a second look at a point, or so many shots that each
could be compared with its neighbours. What the checks say is told elsewhere.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.errors import Finding
from gradework.survey.blunders import MOST_SHOTS
from gradework.survey.left_out import FEWEST
from gradework.survey.looks import read_twice
from gradework.survey.second_looks import MOST_LOOKS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gradework.survey.heights import Heights

TOLD = frozenset(
    {
        "misclosure",
        "misclosure-too-large",
        "misclosure-without-rule",
        "levels-adjusted",
        "levels-not-closed",
        "routes-disagree",
        "only-three-shots",
    }
)
"""Findings that tell of a check, or that there was none."""

READINGS, ELEVATIONS = "the readings", "the elevations"
"""What was written down, and is not checked."""


def unchecked_heights(heights: Heights, compared: int = 0, *, what: str = READINGS) -> list[Finding]:
    """One warning (`survey-not-checked`) where nothing checks these heights; ``compared``: how many stations
    were compared with their neighbours; ``what`` was noted of them."""
    looked = read_twice(heights.looks)
    if heights.spare or 0 < looked <= MOST_LOOKS:
        return []
    return unchecked(heights.findings, compared, what)


def unchecked(findings: Iterable[Finding], compared: int, what: str) -> list[Finding]:
    """The same for shots of which no more is known than these ``findings``; ``what`` was noted of them."""
    if FEWEST <= compared <= MOST_SHOTS or any(f.code in TOLD for f in findings):
        return []
    enough = f"compared with their neighbours only where there are {FEWEST} to {MOST_SHOTS}"
    if what == READINGS:
        advice = (
            f"No known mark is left to check by, no point was read twice, and shots are {enough} with a "
            "place: nothing checks these readings, and a slip would not show. End on a known mark, or read a "
            "few points again."
        )
    else:
        advice = (
            f"Shots are {enough}: nothing checks these elevations, and a slip would not show. Measure a few "
            "points again, and look at the contours for single peaks and pits."
        )
    return [Finding("survey-not-checked", "warning", what, float(compared), float(FEWEST), advice)]
