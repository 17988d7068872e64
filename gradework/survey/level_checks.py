"""Checks of a level line: what each known mark says, the foot of the page, and the second way of reducing."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

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


def close_marks(
    rows: Sequence[LevelRow],
    run: Sequence[Setup],
    raw: Mapping[int, float],
    known: Mapping[str, float],
    allowance: Allowance,
) -> list[Closure]:
    """What every forward reading on a known mark says, one closure each, in the order of the notes.

    Each is measured from the last set-up before it that met a known mark, or from the start of the run.
    """
    found: list[Closure] = []
    since, since_setup, at_setup = 0.0, run[0].number - 1, run[0].number - 1
    missed: list[float] = []
    for setup in run:
        if missed and setup.number > at_setup:
            since, since_setup, missed = math.fsum(missed) / len(missed), at_setup, []
        for sight in setup.forward:
            name = rows[sight.row].station
            if name not in known:
                continue
            total = raw[sight.row] - known[name]
            count, length = _stretch(run, since_setup, setup.number)
            limit = allowance.limit(setups=count, distance=length)
            found.append(
                Closure(
                    name,
                    rows[sight.row].line,
                    count,
                    length,
                    raw[sight.row],
                    known[name],
                    total - since,
                    total,
                    limit,
                )
            )
            missed.append(total)
            at_setup = setup.number
    return found


def _stretch(run: Sequence[Setup], after: int, upto: int) -> tuple[int, float | None]:
    """Number of set-ups in (after, upto] and their length together [m], None unless every leg is known."""
    part = [s for s in run if after < s.number <= upto]
    legs = [s.leg for s in part]
    known = [leg for leg in legs if leg is not None]
    return len(part), math.fsum(known) if len(known) == len(legs) else None


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
    bound = AGREE + 1e-12 * (abs(start) + check.backsights + abs(check.foresights))
    second = rise_fall.elevations(run, {run[0].run: start})
    apart = max(abs(second[s.row] - raw[s.row]) for setup in run for s in setup.forward)
    if max(abs(check.by_instrument), abs(check.by_rise_and_fall), apart) > bound:
        raise CheckError(
            f"height of instrument and rise and fall disagree by {apart:.3g} m "
            f"(page sums by {check.by_instrument:.3g} m and {check.by_rise_and_fall:.3g} m)"
        )
    return check
