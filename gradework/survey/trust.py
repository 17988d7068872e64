"""Can the survey be trusted? One word and its reasons, each of them a finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from gradework.errors import Finding

Grade = Literal["good", "fair", "poor"]

POOR = frozenset(
    {
        "misclosure-too-large",
        "routes-disagree",
        "shot-misread",
        "shot-off-the-ground",
        "instrument-moved",
        "reading-misread",
        "ties-disagree",
        "tie-other-hand",
        "page-check-fails",
        "booked-elevation-differs",
        "rod-reading-long",
    }
)
"""Something is wrong, and quantities made from the survey are too."""

FAIR = frozenset(
    {
        "levels-not-closed",
        "survey-not-checked",
        "misclosure-without-rule",
        "shots-disagree",
        "reading-error",
        "double-shot-averaged",
        "shots-missing",
        "ties-cross-flat",
        "string-not-level",
        "string-sag-unknown",
        "sights-not-straightened",
        "only-three-shots",
        "gnss-plan-coarse",
        "place-far-off",
        "blunder-check-left-out",
        "station-without-place",
        "station-without-height",
    }
)
"""Something was not checked, or is weaker than it should be."""

UNCHECKED = "survey-not-checked"
"""Nothing was checked at all. Without this finding there was a check, so a good survey has passed one."""


@dataclass(frozen=True, slots=True)
class Trust:
    """``grade`` and the findings that led to it, the weightiest first; none for a good survey."""

    grade: Grade
    reasons: tuple[Finding, ...]

    @property
    def summary(self) -> str:
        """One line: the grade, and because of what.

        >>> Trust("good", ()).summary
        'trust: good, because every check that could be made agrees'
        """
        if not self.reasons:
            return f"trust: {self.grade}, because every check that could be made agrees"
        told = dict.fromkeys(
            f"{r.code.replace('-', ' ')} ({r.where})" for r in self.reasons if r.code != UNCHECKED
        )
        listed = list(told)[:4]
        rest = f" and {len(told) - 4} more" if len(told) > 4 else ""
        because = [f"because of {'; '.join(listed)}{rest}"] if listed else []
        because += [f"because nothing checks {r.where}" for r in self.reasons if r.code == UNCHECKED]
        return f"trust: {self.grade}, {', and '.join(because)}"


def judge(findings: Iterable[Finding]) -> Trust:
    """The grade that the findings of a survey add up to: one of ``POOR`` is poor, one of ``FAIR`` is fair.

    Findings of other codes, and notes, say nothing about trust.
    """
    known = [f for f in findings if f.severity != "note"]
    poor = [f for f in known if f.code in POOR or (f.severity == "stop" and f.code not in FAIR)]
    fair = [f for f in known if f.code in FAIR]
    if poor:
        return Trust("poor", (*poor, *fair))
    return Trust("fair", tuple(fair)) if fair else Trust("good", ())
