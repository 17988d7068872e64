"""Checks of a level line: what each known mark says, the foot of the page, and the second way of reducing."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import CheckError
from gradework.survey import rise_fall
from gradework.survey.field_book import Closure, PageCheck

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.level_notes import LevelRow
    from gradework.survey.closure import Allowance
    from gradework.survey.setups import Setup

AGREE = 1e-9
"""The two ways of reducing agree to a nanometre plus rounding; more is a fault of the arithmetic [m]."""


def runs(setups: Sequence[Setup]) -> list[list[Setup]]:
    """The set-ups of each unbroken run, in order."""
    return [list(group) for _, group in itertools.groupby(setups, key=lambda s: s.run)]


class Way(NamedTuple):
    """The way to a point since the last known mark: what that ``missed`` [m], and from there the set-ups and
    their length [m], None unless every leg is known."""

    missed: float = 0.0
    setups: int = 0
    length: float | None = 0.0

    def over(self, setup: Setup) -> Way:
        """The way and one more set-up."""
        length = None if self.length is None or setup.leg is None else self.length + setup.leg
        return Way(self.missed, self.setups + 1, length)


def close_marks(
    rows: Sequence[LevelRow],
    run: Sequence[Setup],
    raw: Mapping[int, float],
    known: Mapping[str, float],
    allowance: Allowance,
    *,
    by: int,
    before: Way,
) -> tuple[list[Closure], dict[int, Way]]:
    """What every forward reading on a known mark says, one closure each in the order of the notes; and the
    way to each point, by row.

    Each is measured from the last set-up before it that met a known mark, or from where the run hangs: on the
    point of row ``by``, which was reached the way ``before``. A mark that the run hangs on checks nothing.
    """
    found: list[Closure] = []
    hung = next((i for i, s in enumerate(run) if any(x.row == by for x in s.forward)), 0)
    way = {by: before} if by == run[0].back.row else _way_back(run[: hung + 1], before)
    here, begun = before, rows[by].station
    for setup in run[hung:]:
        here = here.over(setup)
        missed: list[float] = []
        met = begun
        for sight in setup.forward:
            name = rows[sight.row].station
            if name not in known:
                continue
            total = raw[sight.row] - known[name]
            missed.append(total)
            if sight.row != by:
                loop = name == begun
                found.append(
                    _closure(rows[sight.row], raw[sight.row], known[name], here, allowance, loop=loop)
                )
            met = name
        if missed:
            begun = met
            here = Way(math.fsum(missed) / len(missed))
        way |= dict.fromkeys((x.row for x in setup.forward), here)
    return found, way


def _way_back(setups: Sequence[Setup], before: Way) -> dict[int, Way]:
    """The way to the points of ``setups`` from one that the last of them reads, against their order."""
    way: dict[int, Way] = {}
    for setup in reversed(setups):
        before = before.over(setup)
        way |= dict.fromkeys((x.row for x in setup.forward), before)
    return {setups[0].back.row: before, **way}


def _closure(
    row: LevelRow, computed: float, known: float, way: Way, allowance: Allowance, *, loop: bool
) -> Closure:
    total = computed - known
    limit = allowance.limit(setups=way.setups, distance=way.length, loop=loop)
    return Closure(
        row.station, row.line, way.setups, way.length, computed, known, total - way.missed, total, limit
    )


def page_check(
    rows: Sequence[LevelRow], run: Sequence[Setup], start: float, raw: Mapping[int, float]
) -> PageCheck:
    """The sums at the foot of the page for one run; CheckError when the two ways of reducing disagree."""
    up, down = rise_fall.sums(run)
    check = PageCheck(
        run=run[0].run,
        first_line=rows[run[0].back.row].line,
        last_line=rows[run[-1].turn.row].line,
        backsights=math.fsum(s.back.reading for s in run),
        foresights=math.fsum(s.turn.reading for s in run),
        rises=up,
        falls=down,
        first=start,
        last=raw[run[-1].turn.row],
    )
    sights = math.fsum(abs(s.reading) for setup in run for s in (setup.back, *setup.forward))
    bound = AGREE + 1e-12 * (abs(start) + sights)  # rounding grows with every reading on the way
    second = rise_fall.elevations(run, {run[0].run: start})
    apart = max(abs(second[s.row] - raw[s.row]) for setup in run for s in setup.forward)
    if max(abs(check.by_instrument), abs(check.by_rise_and_fall), apart) > bound:
        raise CheckError(
            f"height of instrument and rise and fall disagree by {apart:.3g} m "
            f"(page sums by {check.by_instrument:.3g} m and {check.by_rise_and_fall:.3g} m)"
        )
    return check
