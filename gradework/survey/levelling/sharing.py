"""Reduction by rise and fall: the second way, which never sees a height of instrument.

From one reading to the next in a set-up the ground rises by the earlier reading minus the later one. The
first way (``levels``) and this one share no arithmetic, so they check each other.
"""

from __future__ import annotations

import bisect
import itertools
import math
from collections import Counter
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.levels import LevelRow
    from gradework.survey.levelling.setups import Hang, Setup

    Row = NDArray[np.float64]


# How an allowed misclosure is shared out over an unbroken run of levels, equally per set-up or by length.
#
# Each set-up's forward readings share one correction, that of the place along the line where the set-up
# ends. A correction is kept as the part it takes of what each known mark missed, so that its error is
# known too.

Sharing = Literal["setups", "distance"]

Share = tuple[tuple[int, float], ...]
"""What is taken from an elevation: parts of the misses of forward readings on known marks, by their rows."""


def share_out(
    rows: Sequence[LevelRow], run: Sequence[Setup], known: Mapping[str, float], *, by: int, share: Sharing
) -> dict[int, Share]:
    """Share out what the known marks of a run miss, by row; the run hangs on a mark itself, by row ``by``.

    Straight between the marks along the line. Beyond the last, and before the first where the run hangs on
    that, as there; from a mark that the run begins on it grows. A known mark takes all of its own miss.
    """
    opening = run[0].back.row
    steps = [s.leg or 0.0 for s in run] if by_length(run, share) else [1.0] * len(run)
    stops: list[float] = []
    misses: list[Share] = []
    if by == opening:
        stops, misses = [0.0], [()]
    places = list(itertools.accumulate(steps))
    for setup, place in zip(run, places, strict=True):
        on = [x.row for x in setup.forward if rows[x.row].station in known]
        if on:
            stops.append(place)
            misses.append(tuple((row, 1 / len(on)) for row in on))
    taken = {opening: _between(0.0, stops, misses)}
    for setup, place in zip(run, places, strict=True):
        here = _between(place, stops, misses)
        for sight in setup.forward:
            taken[sight.row] = ((sight.row, 1.0),) if rows[sight.row].station in known else here
    return taken


def by_length(run: Sequence[Setup], share: Sharing) -> bool:
    """Whether a run is shared by length: asked for, and every leg measured."""
    return share == "distance" and all(setup.leg for setup in run)


def _between(place: float, stops: Sequence[float], misses: Sequence[Share]) -> Share:
    """The miss at a place of the line, straight between those at the rising ``stops``."""
    after = bisect.bisect_left(stops, place)
    if after in (0, len(stops)):
        return misses[min(after, len(stops) - 1)]
    part = (place - stops[after - 1]) / (stops[after] - stops[after - 1])
    weighed = ((1 - part, misses[after - 1]), (part, misses[after]))
    return tuple((row, w * weight) for w, miss in weighed if w for row, weight in miss)


# Standard errors of a level book, propagated from the readings through the sharing of the misclosure.
#
# Every elevation is a sum of readings, so its error is a row of coefficients on them; a correction takes
# away a share of what known marks missed, which is again such a row. Known marks carry no error of their
# own.


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


def rises(setups: Sequence[Setup]) -> dict[int, float]:
    """Rise to each forward reading from the one before it [m], negative for a fall, by row of the notes.

    >>> from gradework.survey.levelling.setups import Setup, Sight
    >>> rises([Setup(1, 0, Sight(0, 2.191), (Sight(1, 2.507), Sight(2, 2.325)))])[1].__round__(3)
    -0.316
    """
    found: dict[int, float] = {}
    for setup in setups:
        before = setup.back.reading
        for sight in setup.forward:
            found[sight.row] = before - sight.reading
            before = sight.reading
    return found


def rise_fall_elevations(setups: Sequence[Setup], starts: Mapping[int, float]) -> dict[int, float]:
    """Elevation of every forward reading by rise and fall [m], by row of the notes.

    ``starts``: elevation of the mark each run begins on [m], by run. A set-up that continues a run begins
    where the one before it turned.
    """
    change = rises(setups)
    found: dict[int, float] = {}
    standing: dict[int, float] = dict(starts)
    for setup in setups:
        at = standing[setup.run]
        for sight in setup.forward:
            at += change[sight.row]
            found[sight.row] = at
        standing[setup.run] = at
    return found


def rise_fall_sums(setups: Sequence[Setup]) -> tuple[float, float]:
    """Sum of rises and sum of falls [m], both positive, over the set-ups given."""
    change = rises(setups).values()
    return math.fsum(c for c in change if c > 0), math.fsum(-c for c in change if c < 0)
