"""What the check of a built foundation finds: neighbours, the whole and the plan, corners, tops not read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from gradework.errors import Finding
from gradework.sitework.asbuilt import PLAN_TOLERANCE, LevelCheck, high_or_low

if TYPE_CHECKING:
    from gradework.sitework.asbuilt_square import SquareCheck
    from gradework.units import Display


def built_findings(
    check: LevelCheck, square: SquareCheck | None, missing: Sequence[str], show: Display, *, tied: bool
) -> Iterator[Finding]:
    """Give the findings: level among neighbours and as a whole, against the plan, square, all read.

    Without readings ``tied`` to a known elevation nothing is said about the level planned.
    """
    off = [pair for pair in check.pairs if not pair.ok]
    if off:
        worst = max(off, key=lambda pair: abs(pair.difference))
        yield Finding(
            "asbuilt-not-level",
            "stop",
            f"{worst.first}, {worst.second}",
            abs(worst.difference),
            check.tolerance,
            f"{worst.first} and {worst.second} differ by {show.depth(abs(worst.difference))}, neighbours may "
            f"by {show.depth(check.tolerance)} (24 CFR 3285.6). {check.reworked} of {len(check.points)} tops "
            f"need work to come to {show.elevation(check.best)}.",
        )
    else:
        yield from _leaning(check, show)
    if tied:
        yield from _off_plan(check, show)
    if square is not None and not square.passed:
        yield Finding(
            "asbuilt-not-square",
            "stop",
            "corners",
            square.difference,
            square.tolerance,
            f"The diagonals differ by {show.depth(square.difference)}, or a side is off by more than "
            f"{show.depth(square.tolerance)}. Move {len(square.moves)} of the corners as told.",
        )
    if missing:
        yield Finding(
            "asbuilt-not-read",
            "stop",
            ", ".join(missing[:8]) + (f" and {len(missing) - 8} more" if len(missing) > 8 else ""),
            float(len(missing)),
            0.0,
            "These tops were not read, so it cannot be said that the piers are level. Read them too.",
        )


def _leaning(check: LevelCheck, show: Display) -> Iterator[Finding]:
    """Tell of tops that add up to a slope although every two neighbours agree."""
    high, low = check.spread
    fall = high.measured - low.measured
    if fall > check.tolerance + 1e-9:
        yield Finding(
            "asbuilt-leans",
            "warning",
            f"{high.name}, {low.name}",
            fall,
            check.tolerance,
            f"Neighbours agree, but from {high.name}, the highest, to {low.name}, the lowest, tops fall "
            f"{show.depth(fall)}. No published limit covers that; shim the low end if the floor shall not "
            "slope.",
        )


def _off_plan(check: LevelCheck, show: Display) -> Iterator[Finding]:
    """Tell of a whole that stands off its planned level: in small measure a warning, in large it fails."""
    off = check.middle - check.plan
    if abs(off) <= check.tolerance + 1e-9:
        return
    most = max(PLAN_TOLERANCE, check.tolerance)
    far = abs(off) > most + 1e-9
    yield Finding(
        "asbuilt-off-plan",
        "stop" if far else "warning",
        "all tops",
        abs(off),
        most,
        f"As a whole it stands at {show.elevation(check.middle)}, {high_or_low(off, show)}: planned was "
        f"{show.elevation(check.plan)}, and {show.depth(most)} is allowed (ACI 117 for slabs on ground, "
        "memory). Check the elevation the readings begin on; if it stands so, plan again with this level.",
    )
