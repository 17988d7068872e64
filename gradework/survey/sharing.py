"""How an allowed misclosure is shared out over an unbroken run of levels, equally per set-up or by length.

Each set-up's forward readings share one correction, that of the place along the line where the set-up ends.
A correction is kept as the part it takes of what each known mark missed, so that its error is known too.
"""

from __future__ import annotations

import bisect
import itertools
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.level_notes import LevelRow
    from gradework.survey.setups import Setup

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
