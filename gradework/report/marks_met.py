"""What the known marks say of heights found without a level book, as lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.lines import bulleted
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.survey.field_book import Closure
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
        known = "before" if check.again else "known"
        yield from bulleted(miss_words(check, show, over=check.over, rule=check.rule, known=known))
    if heights.shared in _SHARED and any(check.misclosure for check in heights.checks):
        yield _SHARED[heights.shared]
    elif any(check.misclosure for check in heights.checks):
        yield "Nothing is shared out: marks keep their elevations, all else stays as read."


def miss_words(
    check: MarkCheck | Closure, show: Display, *, over: str, rule: str, known: str = "known"
) -> str:
    """One look at a mark in a line: ``over`` what, against which ``rule``'s allowance, and the verdict."""
    line = f", line {check.line}" if check.line else ""
    words = (
        f"{visible(check.station)}{line}, over {over}: computed {show.elevation(check.computed)}, "
        f"{known} {show.elevation(check.known)}, misclosure {show.elevation(check.misclosure)}; "
    )
    if check.allowable is None:
        return f"{words}{rule} has no rule for what was measured."
    verdict = "good" if check.within else "too much"
    return f"{words}allowed {show.elevation(check.allowable)} ({rule}): {verdict}."
