"""What ties to spare say: whether they agree, which one is off, and whether they cross too flat to trust."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, visible
from gradework.survey.misreading import explain
from gradework.survey.tie_fit import fit_ties
from gradework.survey.tie_sides import AGREE
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.place_notes import Tie
    from gradework.survey.tie_fit import TieFit
    from gradework.survey.tie_sides import Hand
    from gradework.units import Unit

    Floats = NDArray[np.float64]

FLATTEST = 3.0
"""Ties cross too flat where the place is this many times worse than one tie: about 20 degrees between two."""


def tie_findings(
    name: str, ties: Sequence[Tie], at: Floats, taped: Floats, fit: TieFit, sd: float, unit: Unit
) -> list[Finding]:
    """Findings about one station; ``at`` (k, 2) its marks and ``taped`` (k,) level distances [m]."""
    found: list[Finding] = []
    show = Display(unit)
    if len(ties) > 2 and fit.misfit > AGREE * sd:
        found.append(_disagree(name, ties, at, taped, fit, sd, unit))
    if fit.sd > FLATTEST * sd:
        worse = (
            "too flat to fix it at all"
            if math.isinf(fit.sd)
            else f"so flat that it is good to {show.length(fit.sd)}"
        )
        found.append(
            Finding(
                "ties-cross-flat",
                "warning",
                visible(name),
                fit.sd if math.isfinite(fit.sd) else None,
                FLATTEST * sd,
                f"The ties to {visible(name)} cross {worse}. Add a tie from a mark off to the side.",
            )
        )
    return found


def other_hand(ties: Sequence[Tie], hand: Hand, fit: TieFit) -> Finding:
    """What is said of a station whose ties agree on the hand that was not said."""
    name, first = visible(ties[0].station), ties[0]
    return Finding(
        "tie-other-hand",
        "warning",
        f"{name}, line {first.line}" if first.line else name,
        abs(hand.off(fit)),
        0.0,
        f"{name} is said to lie {hand.words}, but its {len(ties)} ties fit only {hand.other}: it lies on the "
        "other hand, and is placed there. Correct the side; stations with two ties go by it alone.",
    )


def _disagree(
    name: str, ties: Sequence[Tie], at: Floats, taped: Floats, fit: TieFit, sd: float, unit: Unit
) -> Finding:
    show = Display(unit)
    suspect, error = likely_blunder(at, taped, fit.xy, sd)
    worst = float(np.abs(fit.residuals).max())
    if suspect is None:
        advice = (
            f"The ties to {visible(name)} disagree by up to {show.length(worst)}, and none can be singled "
            "out. Measure them again, with one more mark."
        )
        where = visible(name)
    else:
        tie = ties[suspect]
        where = f"{visible(name)}, line {tie.line}" if tie.line else visible(name)
        longer = "long" if error > 0 else "short"
        advice = (
            f"The ties to {visible(name)} agree but for the one from {visible(tie.mark)}, which is about "
            f"{show.length(abs(error))} too {longer}.{_slip(tie.distance, error, sd, unit)} It was not "
            "changed: measure it again."
        )
    return Finding("ties-disagree", "warning", where, worst, AGREE * sd, advice)


_SLIPS_OF_A_TAPE = frozenset(
    {
        "a whole foot",
        "a whole metre",
        "a whole decimetre",
        "swapped digits",
        "tenths taken for inches",
        "inches taken for tenths",
        "a slipped decimal point",
    }
)
"""The usual misreadings that a tape shares with a rod."""

_NEAR = 2.0
"""A slip explains an error it equals to within so many standard errors of one tie."""


def _slip(written: float, error: float, sd: float, unit: Unit) -> str:
    """The usual slip that explains a tie known to be wrong, as a sentence; empty where none does."""
    usual = [
        m
        for m in explain(written, error, sd, unit)
        if m.kind in _SLIPS_OF_A_TAPE and abs(written - m.likely - error) < _NEAR * sd
    ]
    if not usual:
        return ""
    show, best = Display(unit), usual[0]
    return f" Likely {best.kind}: {show.elevation(written)} written for {show.elevation(best.likely)}."


def likely_blunder(at: Floats, taped: Floats, xy: Floats, sd: float) -> tuple[int | None, float]:
    """The one tie without which the others agree, and by how much it is too long [m]; None where it is not
    clear.

    With four ties or more the others must agree among themselves, and no other tie may explain it nearly as
    well. With three any one could be the culprit, unless just one of the three errors is whole feet or
    whole metres, to within what the tape leaves.
    """
    count = len(taped)
    without = [fit_ties(np.delete(at, i, axis=0), np.delete(taped, i), xy, sd=sd) for i in range(count)]
    errors = [float(taped[i] - math.dist(w.xy, at[i])) for i, w in enumerate(without)]
    if count > 3:
        order = sorted(range(count), key=lambda i: without[i].misfit)
        best, next_best = without[order[0]].misfit, without[order[1]].misfit
        clear = best < AGREE * sd and next_best > max(2 * best, AGREE * sd)
        return (order[0], errors[order[0]]) if clear else (None, math.nan)
    whole = [i for i in range(count) if _is_whole(errors[i], 3 * sd)]
    return (whole[0], errors[whole[0]]) if len(whole) == 1 else (None, math.nan)


def _is_whole(error: float, slack: float) -> bool:
    """Whether an error is one or more whole feet, or whole metres, to within ``slack`` [m]."""
    size = abs(error)
    return any(
        round(size / unit) >= 1 and abs(size - round(size / unit) * unit) < slack for unit in (0.3048, 1.0)
    )
