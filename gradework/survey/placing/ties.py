"""Places by tape from known marks: two distances cross at two points, more of them fix one and check each
other.

Which of the two crossings is meant is told by the side that was said, or by a third tie. A station with ties
to spare gets residuals; where one tie alone spoils the rest it is named, never left out by itself.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, Finding, finding, visible
from gradework.survey.misreadings import explain
from gradework.survey.placing.tape import TAPE_SD, Places, TieCheck, make_places, reduced_lengths
from gradework.survey.placing.tie_fit import (
    AGREE,
    Reason,
    SaidSide,
    TieFit,
    choose,
    circle_crossings,
    circle_gap,
    fit_ties,
    own_side,
    said_side,
    touching_point,
)
from gradework.survey.stations import located
from gradework.units.display import METRIC, Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from gradework.fieldnotes.places import Side, Tie

    Floats = NDArray[np.float64]
    Point = tuple[float, float]


# What ties to spare say: whether they agree, which one is off, and whether they cross too flat to trust.

FLATTEST = 3.0
"""Ties cross too flat where the place is this many times worse than one tie: about 20 degrees between two."""


def tie_findings(
    name: str, ties: Sequence[Tie], at: Floats, taped: Floats, fit: TieFit, sd: float, show: Display
) -> list[Finding]:
    """Findings about one station; ``at`` (k, 2) its marks and ``taped`` (k,) level distances [m]."""
    found: list[Finding] = []
    if len(ties) > 2 and fit.misfit > AGREE * sd:
        found.append(_disagree(name, ties, at, taped, fit, sd, show))
    if fit.sd > FLATTEST * sd:
        nowhere = math.isinf(fit.sd)
        found.append(
            finding(
                "ties-cross-flat",
                "warning",
                visible(name),
                None if nowhere else fit.sd,
                FLATTEST * sd,
                variant="infinite" if nowhere else "",
                name=visible(name),
                error=show.length(fit.sd),
            )
        )
    return found


def _other_side(ties: Sequence[Tie], side: SaidSide, fit: TieFit) -> Finding:
    """What is told of a station whose ties agree on the side that was not said."""
    return finding(
        "tie-other-hand",
        "warning",
        located(ties[0].station, ties[0].line),
        abs(side.off(fit)),
        0.0,
        name=visible(ties[0].station),
        side=side.words,
        count=len(ties),
        other=side.other,
    )


def _disagree(
    name: str, ties: Sequence[Tie], at: Floats, taped: Floats, fit: TieFit, sd: float, show: Display
) -> Finding:
    suspect, error = likely_blunder(at, taped, fit.xy, sd)
    worst = float(np.abs(fit.residuals).max())
    limit = AGREE * sd
    if suspect is None:
        shown = show.taped(worst)
        return finding(
            "ties-disagree", "warning", visible(name), worst, limit, name=visible(name), worst=shown
        )
    tie = ties[suspect]
    slip = _slip(tie.distance, error, sd, show)
    return finding(
        "ties-disagree",
        "warning",
        located(name, tie.line),
        worst,
        limit,
        variant="slip" if slip else "one",
        name=visible(name),
        mark=visible(tie.mark),
        error=show.taped(abs(error)),
        long="long" if error > 0 else "short",
        slip=slip,
    )


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


def _slip(written: float, error: float, sd: float, show: Display) -> str:
    """The usual slip that explains a tie known to be wrong, with what was written; empty where none does."""
    usual = [
        m
        for m in explain(written, error, sd, show.unit)
        if m.kind in _SLIPS_OF_A_TAPE and abs(written - m.likely - error) < _NEAR * sd
    ]
    if not usual:
        return ""
    best = usual[0]
    return f"{best.kind}: {show.taped(written)} written for {show.taped(best.likely)}"


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


JUST_MISS = 3.0
"""Two ties that miss each other by up to so many standard errors of one tie meet in a point on their line."""

MOST_OF_ONE = 100
"""Ties of one station; more are a name filled down by mistake."""

SAME = 1e-6
"""Two fits this near to each other are one place [m]."""


def tie_places(
    ties: Sequence[Tie],
    marks: Mapping[str, Point],
    *,
    side: Side | None = None,
    seen: Sequence[str] = (),
    file: str = "",
    show: Display = METRIC,
    sd: float = TAPE_SD,
) -> Places:
    """Places of all stations of a set of ties, in the order they first appear.

    ``marks``: (x, y) [m] of the known marks by name. ``side``: the side on which stations are that have none
    of their own, from the first of the marks ``seen`` to the second (the first two of ``marks`` where
    none are named), whichever marks a station is tied from. Distances with a rise are reduced to level.
    Findings: ties that do not agree (with the one tie that spoils them, where that can be told), a side that
    the ties contradict, ties that cross too flat. Raises InputError with every fault: unknown mark, one tie
    only, no side, sides that contradict each other, ties that do not meet, the same mark twice.
    """
    faults = Faults(file)
    lengths = reduced_lengths(ties, faults)
    groups: dict[str, list[int]] = {}
    for index, tie in enumerate(ties):
        groups.setdefault(tie.station, []).append(index)
        if tie.mark not in marks:
            known = ", ".join(visible(m) for m in list(marks)[:6]) or "none"
            faults.note("tie-mark-unknown", line=tie.line, name=visible(tie.mark), marks=known)
    for name, members in groups.items():
        if len(members) > MOST_OF_ONE:
            line, count = ties[members[0]].line, f"{len(members):,}"
            faults.note("ties-too-many", line=line, count=count, name=visible(name), most=MOST_OF_ONE)
        _one_side(name, [ties[i] for i in members], faults)
    faults.raise_if_any()
    for_all = None if side is None else said_side(side, seen or list(marks), marks)
    xy, spread, findings, checks = [], [], [], []
    for name, members in groups.items():
        mine, taped = [ties[i] for i in members], [lengths[i] for i in members]
        fit, told = _fix(mine, taped, marks, own_side(mine, marks) or for_all, faults, show, sd)
        if fit is None:
            continue
        xy.append((float(fit.xy[0]), float(fit.xy[1])))
        spread.append(fit.sd)
        at = np.array([marks[t.mark] for t in mine], dtype=float)
        findings += [*told, *tie_findings(name, mine, at, np.array(taped), fit, sd, show)]
        if len(mine) > 2:
            left = zip(mine, taped, fit.residuals.tolist(), strict=True)
            checks += [TieCheck(name, t.mark, length, off, t.line) for t, length, off in left]
    faults.raise_if_any()
    lines = [ties[members[0]].line for members in groups.values()]
    return make_places(
        list(groups), xy, spread, lines, file=file, unit=show.unit, findings=findings, ties=tuple(checks)
    )


def _one_side(name: str, ties: Sequence[Tie], faults: Faults) -> None:
    """A fault for a station that is said to be on both sides."""
    said = {t.side: t for t in reversed(ties) if t.side is not None}
    if len(said) < 2:
        return
    first, second = sorted(said.values(), key=lambda t: t.line)
    faults.note(
        "tie-sides-differ",
        variant="" if first.line else "unlisted",
        line=second.line,
        name=visible(name),
        first=first.side,
        second=second.side,
        before=first.line,
    )


def _fix(
    ties: Sequence[Tie],
    lengths: list[float],
    marks: Mapping[str, Point],
    side: SaidSide | None,
    faults: Faults,
    show: Display,
    sd: float,
) -> tuple[TieFit | None, list[Finding]]:
    """Fix one station, or note why it cannot be; findings about its side."""
    if len({t.mark for t in ties}) < 2:
        faults.note("tie-single", line=ties[0].line, name=visible(ties[0].station))
        return None, []
    at = [marks[t.mark] for t in ties]
    options = _options(at, lengths, ties, faults, show, sd)
    if not options:
        return None, []
    fit, reason = choose(options, side, sd)
    if fit is None:
        _no_side(ties, side, reason, faults)
        return None, []
    if reason == "other side" and side is not None:
        return fit, [_other_side(ties, side, fit)]
    return fit, []


def _no_side(ties: Sequence[Tie], side: SaidSide | None, reason: Reason, faults: Faults) -> None:
    line, name = ties[0].line, visible(ties[0].station)
    first, second, *_ = dict.fromkeys(visible(t.mark) for t in ties)
    if reason == "neither" and side is not None:
        faults.note(
            "tie-sides-differ",
            variant="ties",
            line=line,
            name=name,
            side=side.words,
            one=first,
            two=second,
            other=side.other,
        )
        return
    faults.note(
        "tie-side-unknown",
        variant="both" if reason == "both" else "",
        line=line,
        name=name,
        first=first,
        second=second,
        side="" if side is None else side.words,
    )


def _options(
    at: list[Point], lengths: list[float], ties: Sequence[Tie], faults: Faults, show: Display, sd: float
) -> list[TieFit]:
    """The one or two places that fit the ties best, from both crossings of the first two that meet."""
    second = next(i for i, t in enumerate(ties) if t.mark != ties[0].mark)
    # one by one: the first that meets ends it, and all pairs of many ties would fill the memory
    pairs = itertools.chain([(0, second)], itertools.combinations(range(len(ties)), 2))
    missed: tuple[int, int, float] | None = None
    for i, j in pairs:
        if ties[i].mark == ties[j].mark:
            continue
        gap = circle_gap(at[i], lengths[i], at[j], lengths[j])
        if gap > JUST_MISS * sd:
            missed = missed or (i, j, gap)
            continue
        if gap > 0:
            starts = (touching_point(at[i], lengths[i], at[j], lengths[j]),) * 2
        else:
            starts = circle_crossings(at[i], lengths[i], at[j], lengths[j])
        one, other = (fit_ties(at, lengths, start, sd=sd) for start in starts)
        return [one] if math.dist(one.xy, other.xy) < SAME else [one, other]
    assert missed is not None  # the first pair is of two marks
    i, j, gap = missed
    faults.note(
        "ties-do-not-meet",
        line=ties[0].line,
        name=visible(ties[0].station),
        first=visible(ties[i].mark),
        second=visible(ties[j].mark),
        gap=show.taped(gap),
    )
    return []
