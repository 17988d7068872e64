"""What the known marks say of heights found without a level book, as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.lines import bulleted
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.survey.heights import Heights
    from gradework.survey.mark_checks import MarkCheck

_SHARED = {
    "marks": "The mark is taken at the mean of what all known marks say.",
    "runs": "The miss is shared out along the steps, by their runs.",
    "network": "The pairs are adjusted onto all known marks, by least squares.",
}


def marks_met(heights: Heights) -> Iterator[str]:
    """Write each mark that was met with its misclosure and allowance, and how the miss was shared."""
    show = Display(heights.unit)
    yield "Marks met"
    for check in heights.checks:
        yield from bulleted(_check(check, show))
    if heights.shared in _SHARED and any(check.misclosure for check in heights.checks):
        yield _SHARED[heights.shared]
    elif any(check.misclosure for check in heights.checks):
        yield "Nothing is shared out: marks keep their elevations, all else stays as read."


def _check(check: MarkCheck, show: Display) -> str:
    line = f", line {check.line}" if check.line else ""
    before = "before" if check.again else "known"
    words = (
        f"{visible(check.station)}{line}, over {check.over}: computed {show.elevation(check.computed)}, "
        f"{before} {show.elevation(check.known)}, misclosure {show.elevation(check.misclosure)}; "
    )
    if check.allowable is None:
        return f"{words}{check.rule} has no rule for what was measured."
    verdict = "good" if check.within else "too much"
    return f"{words}allowed {show.elevation(check.allowable)} ({check.rule}): {verdict}."
