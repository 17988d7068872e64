"""What was built against the plan: tops as read, sides and diagonals as measured, and what to do about it."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, cast

from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.foundations.checks.check import cited
from gradework.project.setout import finished_level
from gradework.project.tops import Tops, pier_names, plain_name
from gradework.sitework.asbuilt import (
    LEVEL_TOLERANCE,
    PLAN_TOLERANCE,
    LevelCheck,
    NoFourCornersError,
    SquareCheck,
    allowed,
    apart,
    check_levels,
    check_square,
    high_or_low,
    neighbouring_piers,
)
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.plan import Piers
    from gradework.project.plan import Plan
    from gradework.units.display import Display


# What the check of a built foundation finds: neighbours, the whole and the plan, corners, tops not read.


def built_findings(
    check: LevelCheck, square: SquareCheck | None, missing: Sequence[str], show: Display, *, tied: bool
) -> Iterator[Finding]:
    """Give the findings: level among neighbours and as a whole, against the plan, square, all read.

    Readings that nothing ties to the datum of the plan say nothing about the level, and so never pass.
    """
    off = [pair for pair in check.pairs if not pair.ok]
    if off:
        worst = max(off, key=lambda pair: abs(pair.difference))
        yield finding(
            "asbuilt-not-level",
            "stop",
            f"{worst.first}, {worst.second}",
            abs(worst.difference),
            check.tolerance,
            dialect=show.dialect,
            first=worst.first,
            second=worst.second,
            apart=apart(abs(worst.difference), show),
            allowed=allowed(check.tolerance, show),
            count=check.reworked,
            all=len(check.points),
            level=show.elevation(check.best),
            source=cited("24 CFR 3285.6", us=show.us),
        )
    else:
        yield from _leaning(check, show)
    if tied:
        yield from _off_plan(check, show)
    else:
        yield finding("asbuilt-height-not-checked", "stop", "all tops", planned=show.elevation(check.plan))
    if square is not None and not square.passed:
        yield finding(
            "asbuilt-not-square",
            "stop",
            "corners",
            square.difference,
            square.tolerance,
            apart=apart(square.difference, show),
            allowed=allowed(square.tolerance, show),
            corners=counted(len(square.moves), "corners"),
        )
    if missing:
        named = ", ".join(missing[:8]) + (f" and {len(missing) - 8} more" if len(missing) > 8 else "")
        yield finding("asbuilt-not-read", "stop", named, float(len(missing)), 0.0)


def _leaning(check: LevelCheck, show: Display) -> Iterator[Finding]:
    """Tell of tops that add up to a slope although every two neighbours agree."""
    high, low = check.spread
    fall = high.measured - low.measured
    if fall > check.tolerance + 1e-9:
        yield finding(
            "asbuilt-leans",
            "warning",
            f"{high.name}, {low.name}",
            fall,
            check.tolerance,
            dialect=show.dialect,
            high=high.name,
            low=low.name,
            fall=apart(fall, show),
        )


def _off_plan(check: LevelCheck, show: Display) -> Iterator[Finding]:
    """Tell of a whole that stands off its planned level: in small measure a warning, in large it fails."""
    off = check.middle - check.plan
    if abs(off) <= check.tolerance + 1e-9:
        return
    most = max(PLAN_TOLERANCE, check.tolerance)
    far = abs(off) > most + 1e-9
    yield finding(
        "asbuilt-off-plan",
        "stop" if far else "warning",
        "all tops",
        abs(off),
        most,
        level=show.elevation(check.middle),
        off=high_or_low(off, show),
        planned=show.elevation(check.plan),
        allowed=allowed(most, show),
        source=cited("ACI 117 for slabs on ground", us=show.us),
    )


@dataclass(frozen=True)
class AsBuilt:
    """The verdict: ``levels`` and ``square`` (None when not measured), tops that were not read, findings.

    ``ignored`` are names in the readings that are neither piers nor marks. ``tied`` is False where the
    readings begin on nothing of known elevation: then tops are compared with each other only.
    """

    plan: Plan
    kind: str
    levels: LevelCheck
    square: SquareCheck | None
    missing: tuple[str, ...]
    ignored: tuple[str, ...]
    tied: bool
    findings: tuple[Finding, ...]

    @property
    def passed(self) -> bool:
        """True when every top was read, all agree, what was measured is square, and the readings hold."""
        return not any(told.severity == "stop" for told in self.findings)


@dataclass(frozen=True)
class Measured:
    """Sides in order and both diagonals of the four corners [m]; empty when they were not measured."""

    sides: Sequence[float] = ()
    diagonals: Sequence[float] = ()


NOT_MEASURED = Measured()


def check_built(
    plan: Plan,
    tops: Tops,
    file: str,
    *,
    kind: str | None = None,
    measured: Measured = NOT_MEASURED,
    tolerance: float | None = None,
) -> AsBuilt:
    """Compare what was built with the plan; ``tolerance`` [m] is what neighbours may differ.

    Piers go by their names, with or without the word "pier"; points of a pad or slab by any name, neighbours
    in the order they were read. Without ``kind`` the names tell piers, else it is what the plan chose.
    Raises ``InputError``.
    """
    kind = kind_of(plan, tops, kind)
    level = finished_level(plan, kind)
    piers = plan.foundations.piers if kind == "piers" else None
    named, ignored = by_pier(tops, piers, file) if piers is not None else (dict(tops.levels), [])
    if not named:
        case = "piers" if kind == "piers" else ""
        raise InputError([fault("asbuilt-nothing-read", variant=case, file=file)])
    missing = () if piers is None else tuple(p.name for p in piers.piers if p.name not in named)
    check = check_levels(
        named,
        neighbouring_piers(piers) if piers is not None else _ring(list(named)),
        plan=level,
        show=plan.job.show.fine,
        tolerance=tolerance or plan.job.setout.tolerance or LEVEL_TOLERANCE,
        piers=piers,
        built=cast(Any, kind),
    )
    square = _square(plan, kind, measured) if measured.sides or measured.diagonals else None
    findings = (*tops.findings, *built_findings(check, square, missing, plan.job.show.fine, tied=tops.tied))
    return AsBuilt(plan, kind, check, square, missing, tuple(ignored), tops.tied, findings)


def kind_of(plan: Plan, tops: Tops, kind: str | None) -> str:
    """Give the foundation that was read: the one said, else piers where names tell them, else the chosen."""
    return kind or ("piers" if _name_piers(plan, tops) else plan.foundations.chosen)


def _name_piers(plan: Plan, tops: Tops) -> bool:
    """Say whether most of the tops bear the names of piers."""
    names = pier_names(plan)
    return 2 * sum(plain_name(name) in names for name in tops.levels) > len(tops.levels)


def by_pier(tops: Tops, piers: Piers, file: str) -> tuple[dict[str, float], list[str]]:
    """Give the tops under the names of the plan, and what names no pier; a near miss is a fault."""
    names = {pier.name.casefold(): pier.name for pier in piers.piers}
    found: dict[str, float] = {}
    ignored: list[str] = []
    faults = []
    for name, level in tops.levels.items():
        plain = plain_name(name)
        if plain in names:
            found[names[plain]] = level
            continue
        near = difflib.get_close_matches(plain, names, n=1, cutoff=0.8)
        if near:
            top, pier, line = repr(visible(name, 40)), repr(names[near[0]]), tops.lines[name]
            faults.append(fault("asbuilt-pier-unknown", file=file, line=line, top=top, pier=pier))
        else:
            ignored.append(name)
    if faults:
        raise InputError(faults)
    return found, ignored


def _ring(names: Sequence[str]) -> list[tuple[str, str]]:
    """Make each point of a pad the neighbour of the next as they were read, the last of the first."""
    pairs = list(pairwise(names))
    return [*pairs, (names[-1], names[0])] if len(names) > 2 else pairs


def _outline(plan: Plan, kind: str) -> Outline:
    if kind == "slab" and plan.foundations.slab is not None:
        return plan.foundations.slab.outline
    return plan.foundations.pad.outline if kind == "pad" else plan.building


def _square(plan: Plan, kind: str, measured: Measured) -> SquareCheck:
    """Check the four corners; only a rectangle can be checked so."""
    ring = _outline(plan, kind).rings[0]
    show = plan.job.show
    if len(ring) != 4:
        raise InputError([fault("asbuilt-not-rectangle", count=len(ring))])
    long = float(((ring[1] - ring[0]) ** 2).sum() ** 0.5)
    wide = float(((ring[2] - ring[1]) ** 2).sum() ** 0.5)
    try:
        return check_square(measured.sides, measured.diagonals, size=(long, wide))
    except ValueError as problem:
        # lengths that are far from any four corners have no best place for them, so no figure to tell
        longest = max(*measured.sides, *measured.diagonals)
        misfit = problem.misfit if isinstance(problem, NoFourCornersError) else longest
        off = f": off by {show.length(misfit)}" if misfit < longest else ""
        told = fault("asbuilt-lengths", off=off, long=show.length(long), wide=show.length(wide))
        raise InputError([told]) from None
