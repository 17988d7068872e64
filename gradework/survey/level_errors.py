"""Standard errors of a level book, propagated from the readings through the sharing of the misclosure.

Every elevation is a sum of readings, so its error is a row of coefficients on them; a correction takes away
a share of what known marks missed, which is again such a row. Known marks carry no error of their own.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.survey.hanging import Hang
    from gradework.survey.setups import Setup
    from gradework.survey.sharing import Share

    Row = NDArray[np.float64]


def standard_errors(
    runs: Sequence[Sequence[Setup]], hangs: Sequence[Hang], shares: Mapping[int, Share], reading_sd: float
) -> dict[int, float]:
    """Standard error [m] of the adjusted elevation of every reading ahead and every first backsight of a run,
    by row of the notes.

    ``hangs``: what each of the runs hangs on, in the order of hanging. ``shares``: the adjustment by row; a
    row that is missing there is not adjusted. ``reading_sd`` [m] is that of one reading.
    """
    wanted = {row for share in shares.values() for row, _ in share}
    misses: dict[int, Row] = {}

    def keep(row: int, error: Row) -> None:
        if row in wanted:
            misses[row] = error.copy()

    _walk(runs, hangs, keep)
    found: dict[int, float] = {}

    def finish(row: int, error: Row) -> None:
        left = error.copy()
        for at, weight in shares.get(row, ()):
            left -= weight * misses[at]
        found[row] = reading_sd * float(np.sqrt(left @ left))

    _walk(runs, hangs, finish)
    return found


def _walk(runs: Sequence[Sequence[Setup]], hangs: Sequence[Hang], visit: Callable[[int, Row], None]) -> None:
    """Show ``visit`` the coefficients of every raw elevation on all readings, each with its own row."""
    column: dict[int, int] = {}  # of the first reading of each set-up, by its number
    count = 0
    for setup in (s for run in runs for s in run):
        column[setup.number] = count
        count += 1 + len(setup.forward)
    begins = Counter(hang.on for hang in hangs)
    ends: dict[int, Row] = {}  # kept while a run is still to hang on it: each is as long as the book

    def show(row: int, error: Row) -> None:
        visit(row, error)
        if begins[row]:
            ends[row] = error.copy()

    for hang in hangs:
        run = runs[hang.run]
        if hang.on is None:
            standing = np.zeros(count)
        else:
            begins[hang.on] -= 1
            standing = ends[hang.on].copy() if begins[hang.on] else ends.pop(hang.on)
        if hang.by != run[0].back.row:
            _back_to_start(run, hang.by, column, standing)
        show(run[0].back.row, standing)
        for setup in run:
            at = column[setup.number]
            standing[at] += 1.0
            for number, sight in enumerate(setup.forward, start=at + 1):
                standing[number] -= 1.0
                show(sight.row, standing)
                if sight is not setup.turn:
                    standing[number] += 1.0


def _back_to_start(run: Sequence[Setup], by: int, column: Mapping[int, int], standing: Row) -> None:
    """Turn the error of the point that a run reads on row ``by`` into that of the point it begins on."""
    for setup in run:
        at = column[setup.number]
        standing[at] -= 1.0
        for number, sight in enumerate(setup.forward, start=at + 1):
            if sight.row == by:
                standing[number] += 1.0
                return
        standing[at + len(setup.forward)] += 1.0
