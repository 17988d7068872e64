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
from gradework.survey.positions import TAPE_SD, Places, make_places, reduced_lengths
from gradework.survey.tie_findings import tie_findings
from gradework.survey.tie_fit import TieFit, circle_crossings, circle_gap, fit_ties, touching_point
from gradework.units import Display

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from gradework.fieldnotes.place_notes import Side, Tie
    from gradework.units import Unit

    Point = tuple[float, float]

JUST_MISS = 3.0
"""Two ties that miss each other by up to so many standard errors of one tie meet in a point on their line."""


def tie_places(
    ties: Sequence[Tie],
    marks: Mapping[str, Point],
    *,
    side: Side | None = None,
    file: str = "",
    unit: Unit = "m",
    sd: float = TAPE_SD,
) -> Places:
    """Places of all stations of a set of ties, in the order they first appear.

    ``marks``: (x, y) [m] of the known marks by name. ``side``: the hand on which stations lie that have no
    side of their own. Distances with a rise are reduced to level. Findings: ties that do not agree (with the
    one tie that spoils them, where that can be told), ties that cross too flat. Raises InputError with every
    fault: unknown mark, one tie only, no side, ties that do not meet, the same mark twice.
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
    faults.raise_if_any()
    show = Display(unit)
    xy, spread, findings = [], [], []
    for name, members in groups.items():
        mine = [ties[i] for i in members]
        fit = _fix(mine, [lengths[i] for i in members], marks, side, faults, show, sd)
        if fit is None:
            continue
        xy.append((float(fit.xy[0]), float(fit.xy[1])))
        spread.append(fit.sd)
        at = np.array([marks[t.mark] for t in mine], dtype=float)
        taped = np.array([lengths[i] for i in members])
        findings += tie_findings(name, mine, at, taped, fit, sd, show)
    faults.raise_if_any()
    lines = [ties[members[0]].line for members in groups.values()]
    return make_places(list(groups), xy, spread, lines, file=file, unit=unit, findings=findings)


def _fix(
    ties: Sequence[Tie],
    lengths: list[float],
    marks: Mapping[str, Point],
    side: Side | None,
    faults: Faults,
    show: Display,
    sd: float,
) -> TieFit | None:
    """Fix one station, or note why it cannot be."""
    line, name = ties[0].line, visible(ties[0].station)
    if len({t.mark for t in ties}) < 2:
        faults.add(
            "tie-single",
            f"{name} tied to one mark only",
            "ties from at least two marks",
            "measure to it from a second mark",
            line=line,
        )
        return None
    at = [marks[t.mark] for t in ties]
    fits = _both(at, lengths, ties, faults, show, sd)
    if fits is None:
        return None
    hand = next((t.side for t in ties if t.side is not None), None)
    if hand is not None:
        return fits[hand]
    left, right = fits["left"], fits["right"]
    alike = math.dist(left.xy, right.xy) < 1e-6
    # A third tie decides when the other crossing misses it by far more than a tape can.
    if alike or abs(left.misfit - right.misfit) > max(6 * sd, 2 * min(left.misfit, right.misfit)):
        return left if left.misfit <= right.misfit else right
    if side is not None:
        return fits[side]
    faults.add(
        "tie-side-unknown",
        f"{name} could lie on either side of {visible(ties[0].mark)} and {visible(ties[1].mark)}",
        "left or right as seen from the first mark to the second, or a third tie",
        "name the side, or measure from a third mark that is not in line with them",
        line=line,
    )
    return None


def _both(
    at: list[Point], lengths: list[float], ties: Sequence[Tie], faults: Faults, show: Display, sd: float
) -> dict[str, TieFit] | None:
    """The best fit on the left and on the right of the station's first two marks."""
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
        hands = _hands(at[0], at[second], starts)
        return {hand: fit_ties(at, lengths, start, sd=sd) for hand, start in hands.items()}
    faults.add(
        "ties-do-not-meet",
        worst,
        "two distances that reach a common point",
        "measure both again; one of them is off, or a mark is misnamed or misplaced",
        line=ties[0].line,
    )
    return None


def _hands(first: Point, second: Point, starts: tuple[Point, Point]) -> dict[str, Point]:
    """The two crossings named by the side of the line first to second they lie on."""

    def lean(p: Point) -> float:
        return (second[0] - first[0]) * (p[1] - first[1]) - (second[1] - first[1]) * (p[0] - first[0])

    left, right = sorted(starts, key=lean, reverse=True)
    return {"left": left, "right": right}
