"""Standard errors of a level line, propagated from the readings through the sharing of the misclosure.

Every elevation is a sum of readings, so its error is a row of coefficients on them; a correction takes away
a share of what each closing mark missed, which is again such a row. Known marks carry no error of their own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.survey.setups import Setup

    Row = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Share:
    """What the adjustment takes from one forward reading: weights on the closing marks' misses, by row."""

    row: int
    weights: tuple[tuple[int, float], ...]


def standard_errors(
    setups: Sequence[Setup], starts: Mapping[int, int | None], shares: Mapping[int, Share], reading_sd: float
) -> dict[int, float]:
    """Standard error [m] of each forward reading's adjusted elevation, by row of the notes.

    ``starts``: for each run the row whose forward reading it begins on, None for a known mark. ``shares``:
    the adjustment by row; a row that is missing there is not adjusted. ``reading_sd`` [m] is one reading's.
    """
    wanted = {row for share in shares.values() for row, _ in share.weights}
    misses: dict[int, Row] = {}

    def keep(row: int, error: Row) -> None:
        if row in wanted:
            misses[row] = error.copy()

    _walk(setups, starts, keep)
    found: dict[int, float] = {}

    def finish(row: int, error: Row) -> None:
        share = shares.get(row)
        left = error.copy()
        if share is not None:
            for at, weight in share.weights:
                left -= weight * misses[at]
        found[row] = reading_sd * float(np.sqrt(left @ left))

    _walk(setups, starts, finish)
    return found


def _walk(
    setups: Sequence[Setup], starts: Mapping[int, int | None], visit: Callable[[int, Row], None]
) -> None:
    """Show ``visit`` the coefficients of every forward reading's raw elevation on all readings."""
    count = sum(1 + len(s.forward) for s in setups)
    begins = {row for row in starts.values() if row is not None}
    ends: dict[int, Row] = {}
    standing = np.zeros(count)
    run, at = -1, 0
    for setup in setups:
        if setup.run != run:
            run = setup.run
            begin = starts[run]
            standing = np.zeros(count) if begin is None else ends[begin].copy()
        standing[at] += 1.0
        at += 1
        for sight in setup.forward:
            standing[at] = -1.0
            visit(sight.row, standing)
            if sight.row in begins:
                ends[sight.row] = standing.copy()
            if sight is not setup.turn:
                standing[at] = 0.0
            at += 1
