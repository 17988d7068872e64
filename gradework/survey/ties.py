"""Places by tape from known marks: two distances cross at two points, more of them fix one and check each
other.

Which of the two crossings is meant is said by the hand the station lies on, or by a third tie. A station with
ties to spare gets residuals; where one tie alone spoils the rest it is named, never left out by itself.
"""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Faults, visible
from gradework.survey.positions import TAPE_SD, Places, TieCheck, make_places, reduced_lengths
from gradework.survey.tie_findings import other_hand, tie_findings
from gradework.survey.tie_fit import TieFit, circle_crossings, circle_gap, fit_ties, touching_point
from gradework.survey.tie_sides import Hand, choose, hand_of, own_hand
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.errors import Finding
    from gradework.fieldnotes.place_notes import Side, Tie
    from gradework.units import Unit

    Point = tuple[float, float]

JUST_MISS = 3.0
"""Two ties that miss each other by up to so many standard errors of one tie meet in a point on their line."""

SAME = 1e-6
"""Two fits this near to each other are one place [m]."""


def tie_places(
    ties: Sequence[Tie],
    marks: Mapping[str, Point],
    *,
    side: Side | None = None,
    seen: Sequence[str] = (),
    file: str = "",
    unit: Unit = "m",
    sd: float = TAPE_SD,
) -> Places:
    """Places of all stations of a set of ties, in the order they first appear.

    ``marks``: (x, y) [m] of the known marks by name. ``side``: the hand on which stations lie that have no
    side of their own, from the first of the marks ``seen`` to the second (the first two of ``marks`` where
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
            faults.add(
                "tie-mark-unknown",
                f"a tie from {visible(tie.mark)}",
                f"one of the known marks ({known})",
                "give the mark's place, or correct its name",
                line=tie.line,
            )
    for name, members in groups.items():
        _one_side(name, [ties[i] for i in members], faults)
    faults.raise_if_any()
    show = Display(unit)
    for_all = None if side is None else hand_of(side, seen or list(marks), marks)
    xy, spread, findings, checks = [], [], [], []
    for name, members in groups.items():
        mine, taped = [ties[i] for i in members], [lengths[i] for i in members]
        fit, told = _fix(mine, taped, marks, own_hand(mine, marks) or for_all, faults, show, sd)
        if fit is None:
            continue
        xy.append((float(fit.xy[0]), float(fit.xy[1])))
        spread.append(fit.sd)
        at = np.array([marks[t.mark] for t in mine], dtype=float)
        findings += [*told, *tie_findings(name, mine, at, np.array(taped), fit, sd, unit)]
        if len(mine) > 2:
            left = zip(mine, taped, fit.residuals.tolist(), strict=True)
            checks += [TieCheck(name, t.mark, length, off, t.line) for t, length, off in left]
    faults.raise_if_any()
    lines = [ties[members[0]].line for members in groups.values()]
    return make_places(
        list(groups), xy, spread, lines, file=file, unit=unit, findings=findings, ties=tuple(checks)
    )


def _one_side(name: str, ties: Sequence[Tie], faults: Faults) -> None:
    """A fault for a station that is said to lie on both hands."""
    said = {t.side: t for t in reversed(ties) if t.side is not None}
    if len(said) < 2:
        return
    first, second = sorted(said.values(), key=lambda t: t.line)
    faults.add(
        "tie-sides-differ",
        f"{visible(name)} on the {second.side}"
        + (f", but on the {first.side} on line {first.line}" if first.line else f" and on the {first.side}"),
        "one side for each station, as seen from its first mark to its second",
        "write the same side on every row of the station, or on its first row only",
        line=second.line,
    )


def _fix(
    ties: Sequence[Tie],
    lengths: list[float],
    marks: Mapping[str, Point],
    hand: Hand | None,
    faults: Faults,
    show: Display,
    sd: float,
) -> tuple[TieFit | None, list[Finding]]:
    """Fix one station, or note why it cannot be; findings about its side."""
    line, name = ties[0].line, visible(ties[0].station)
    if len({t.mark for t in ties}) < 2:
        faults.add(
            "tie-single",
            f"{name} tied to one mark only",
            "ties from at least two marks",
            "measure to it from a second mark",
            line=line,
        )
        return None, []
    at = [marks[t.mark] for t in ties]
    options = _options(at, lengths, ties, faults, show, sd)
    if not options:
        return None, []
    choice = choose(options, hand, sd)
    if choice.fit is None:
        _no_side(ties, hand, choice.reason, faults)
        return None, []
    if choice.reason == "other hand" and hand is not None:
        return choice.fit, [other_hand(ties, hand, choice.fit)]
    return choice.fit, []


def _no_side(ties: Sequence[Tie], hand: Hand | None, reason: str, faults: Faults) -> None:
    line, name = ties[0].line, visible(ties[0].station)
    first, second, *_ = dict.fromkeys(visible(t.mark) for t in ties)
    if reason == "neither" and hand is not None:
        faults.add(
            "tie-sides-differ",
            f"{name} is said to lie {hand.words}, but its ties from {first} and {second} do not meet there",
            "a side that the ties can reach",
            f"correct the side, or measure again; both crossings lie {hand.other}",
            line=line,
        )
        return
    found = f"{name} could lie on either side of {first} and {second}"
    if reason == "both" and hand is not None:
        found += f", and both places are {hand.words}"
    faults.add(
        "tie-side-unknown",
        found,
        "left or right as seen from the first mark to the second, or a third tie",
        f"name the side of this station as seen from {first} to {second}, or measure from a third mark that "
        "is not in line with them"
        if reason == "both"
        else "name the side, or measure from a third mark that is not in line with them",
        line=line,
    )


def _options(
    at: list[Point], lengths: list[float], ties: Sequence[Tie], faults: Faults, show: Display, sd: float
) -> list[TieFit]:
    """The one or two places that fit the ties best, from both crossings of the first two that meet."""
    second = next(i for i, t in enumerate(ties) if t.mark != ties[0].mark)
    pairs = [(0, second), *itertools.combinations(range(len(ties)), 2)]
    worst = ""
    for i, j in pairs:
        if ties[i].mark == ties[j].mark:
            continue
        gap = circle_gap(at[i], lengths[i], at[j], lengths[j])
        if gap > JUST_MISS * sd:
            worst = worst or (
                f"the distances from {visible(ties[i].mark)} and {visible(ties[j].mark)} to "
                f"{visible(ties[i].station)} miss each other by {show.length(gap)}"
            )
            continue
        if gap > 0:
            starts = (touching_point(at[i], lengths[i], at[j], lengths[j]),) * 2
        else:
            starts = circle_crossings(at[i], lengths[i], at[j], lengths[j])
        one, other = (fit_ties(at, lengths, start, sd=sd) for start in starts)
        return [one] if math.dist(one.xy, other.xy) < SAME else [one, other]
    faults.add(
        "ties-do-not-meet",
        worst,
        "two distances that reach a common point",
        "measure both again; one of them is off, or a mark is misnamed or misplaced",
        line=ties[0].line,
    )
    return []
