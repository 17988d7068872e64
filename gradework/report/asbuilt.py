"""As built in words: the verdict first, then each top, the neighbours that differ, the corners."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.report.lines import WIDTH, filled
from gradework.report.setout import BUILT
from gradework.report.table import text_table
from gradework.sitework.asbuilt import high_or_low

if TYPE_CHECKING:
    from gradework.project.built import AsBuilt
    from gradework.sitework.asbuilt_square import CornerMove, SquareCheck
    from gradework.units import Display


def asbuilt_text(built: AsBuilt) -> str:
    """Tell whether it is level and square, and what to do. Lines are at most 80 columns."""
    show = built.plan.job.show
    parts = [
        [visible(built.plan.job.name, WIDTH)],
        [_verdict(built)],
        [BUILT[built.kind].capitalize(), *(f"  {line}".rstrip() for line in _levels(built, show))],
    ]
    if built.square is not None:
        parts.append(["Corners", *(f"  {line}".rstrip() for line in _corners(built.square, show))])
    return "\n\n".join("\n".join(part) for part in parts)


_BUT = ("asbuilt-leans", "asbuilt-off-plan")
"""What does not fail, but shall not hide behind a pass."""


def _verdict(built: AsBuilt) -> str:
    if built.passed:
        square = " and square" if built.square is not None else ""
        if any(finding.code in _BUT for finding in built.findings):
            return f"Pass: neighbours are level{square} within what is allowed, with a warning: see below."
        return f"Pass: level{square} within what is allowed."
    return "Not yet: see below what to do."


def _levels(built: AsBuilt, show: Display) -> list[str]:
    check = built.levels
    header = ["point", "elevation", *(["against plan"] if built.tied else []), "against best", "do"]
    rows = [
        [
            visible(point.name, 20),
            show.elevation_number(point.measured),
            *([high_or_low(point.off_plan, show)] if built.tied else []),
            high_or_low(point.off_best, show),
            point.advice,
        ]
        for point in check.points
    ]
    lines = filled(_best(built, show))
    lines += ["", *text_table(header, rows)]
    off = [pair for pair in check.pairs if not pair.ok]
    if off:
        lines += ["", f"Neighbours that differ by more than {show.depth(check.tolerance)}:"]
        for pair in off:
            higher, lower = (pair.first, pair.second) if pair.difference > 0 else (pair.second, pair.first)
            by = show.depth(abs(pair.difference))
            lines += filled(f"- {visible(higher, 20)} is {by} higher than {visible(lower, 20)}", rest="  ")
    if check.passed:
        high, low = check.spread
        fall = high.measured - low.measured
        if fall > check.tolerance + 1e-9:
            words = f"From {visible(high.name, 20)} to {visible(low.name, 20)} tops fall {show.depth(fall)}"
            lines += ["", *filled(f"{words} in small steps: the floor slopes.")]
    if built.ignored:
        names = ", ".join(visible(name, 20) for name in built.ignored[:8])
        lines += ["", *filled(f"Not compared, because they name no pier: {names}.")]
    return lines


def _best(built: AsBuilt, show: Display) -> str:
    check = built.levels
    count = f"{check.reworked} of {len(check.points)}"
    best = f"The level that needs the least work is {show.elevation(check.best)}: {count} to rework."
    if not built.tied:
        return (
            f"The readings begin on nothing of known elevation, so tops are compared with each other. {best}"
        )
    away = check.best - check.plan
    planned = f"Planned {show.elevation(check.plan)}."
    words = high_or_low(away, show)
    return f"{planned} {best}" + ("" if words == "on level" else f" That is {words}, as a whole.")


def _corners(square: SquareCheck, show: Display) -> list[str]:
    first, second = (show.length(value) for value in square.diagonals)
    lines = filled(
        f"Diagonals 1-3 {first} and 2-4 {second}: they differ by {show.depth(square.difference)}, allowed is "
        f"{show.depth(square.tolerance)}."
    )
    if square.misfit > 0.5 * square.tolerance:
        lines += filled(
            f"The six lengths disagree among themselves by {show.depth(square.misfit)}: measure again first."
        )
    if square.moves:
        held = " and ".join(str(corner) for corner in sorted(square.held))
        lines += filled(f"Leave corner {square.held[0]}, and the line of corners {held}.")
        for move in square.moves:
            lines += filled(f"- {_move(move, show)}", rest="  ")
    return lines


def _move(move: CornerMove, show: Display) -> str:
    """Say how far a corner is moved along and square to the side from corner 1 to corner 2."""
    parts = []
    for value, more, less in (
        (move.along, "from corner 1 toward 2", "from corner 2 toward 1"),
        (move.across, "to the left of the line 1-2", "to the right of the line 1-2"),
    ):
        if not math.isclose(value, 0.0, abs_tol=0.0005):
            parts.append(f"{show.depth(abs(value))} {more if value > 0 else less}")
    return f"move corner {move.number} {' and '.join(parts) or 'by a hair'}"
