"""The ties of stations that have more than two: what each misses the place by that fits all of them best."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.lines import filled
from gradework.report.table import text_table
from gradework.units.display import fixed

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from gradework.survey.positions import TieCheck
    from gradework.units import Display

MOST_ROWS = 12
_LONGEST_NAME = 20


def tie_table(ties: Sequence[TieCheck], show: Display) -> Iterator[str]:
    """Lines of a table of residuals, the largest first; of many, the first dozen and how many more."""
    digits = 2 if show.us else 3
    yield from filled(
        f"Ties of stations with more than two, in {show.unit_title}: taped less what the place that fits "
        "all of them best would have, the largest first."
    )
    worst = sorted(ties, key=lambda tie: -abs(tie.residual))
    rows = [
        [
            visible(tie.station, _LONGEST_NAME),
            str(tie.line),
            fixed(show.in_units(tie.length), digits),
            _signed(fixed(show.in_units(tie.residual), 3)),
            f"from {visible(tie.mark, _LONGEST_NAME)}",
        ]
        for tie in worst[:MOST_ROWS]
    ]
    yield from text_table(["Station", "Line", "Taped", "Residual", ""], rows)
    if len(worst) > MOST_ROWS:
        yield f"and {len(worst) - MOST_ROWS} more, each smaller"


def _signed(text: str) -> str:
    return text if text.startswith("-") or float(text) == 0 else f"+{text}"
