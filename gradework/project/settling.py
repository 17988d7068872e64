"""What has moved since the first readings: which top went down or up by how much, and what levels it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.project.asbuilt import by_pier, kind_of
from gradework.sitework.asbuilt import LEVEL_TOLERANCE, advice_for, apart
from gradework.survey.stations import name_key
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.project.tops import Tops
    from gradework.units.display import Display

MOVED = 0.125 * M_PER_IN
"""Two readings of one top in two set-ups differ by up to this [m] where nothing moved (judgement)."""


@dataclass(frozen=True, slots=True)
class SettledPoint:
    """One top read twice [m]. ``moved``: up (+) or down (-) since the first readings; where these or those
    are on no mark, against the middle of all. ``lift`` brings it back, 0 where it is left."""

    name: str
    first: float
    later: float
    moved: float
    lift: float
    advice: str


@dataclass(frozen=True)
class Settled:
    """The answer: ``base`` [m] is by how much all went down that is left so (0 or negative).

    A shim brings a top back to where it stood against the others. ``tied`` is False where one of the readings
    is on no mark: then it is only known what moved against the others. ``missing`` were read at first only,
    ``ignored`` later only.
    """

    plan: Plan
    kind: str
    base: float
    tolerance: float
    points: tuple[SettledPoint, ...]
    tied: bool
    missing: tuple[str, ...]
    ignored: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def passed(self) -> bool:
        """True where no top has to be lifted, and all were read again."""
        return not self.missing and not any(point.lift for point in self.points)


def check_settled(
    plan: Plan,
    first: Tops,
    later: Tops,
    file: str,
    *,
    kind: str | None = None,
    tolerance: float | None = None,
) -> Settled:
    """Compare two sets of readings of the same tops.

    What all went down together is left; a top that went down by more than half the ``tolerance`` [m] beyond
    that is lifted back to where it stood against the others. One that went up is told and left.
    Raises ``InputError``, too where no top was read both times.
    """
    kind = kind_of(plan, later, kind)
    allowed = tolerance or plan.job.setout.tolerance or LEVEL_TOLERANCE
    before, after, unknown = _named(plan, first, later, file, kind)
    both = [name for name in before if name in after]
    if not both:
        raise InputError([fault("settled-nothing-twice", file=file)])
    tied = first.tied and later.tied
    moves = np.array([after[name] - before[name] for name in both])
    if not tied:
        # without a mark in both only moves against each other are known: the middle one is taken to stand
        moves = moves - np.median(moves)
    base = min(0.0, float(moves.max()))
    points = tuple(
        _point(plan, kind, name, (before[name], after[name]), moved, base, allowed)
        for name, moved in zip(both, moves.tolist(), strict=True)
    )
    missing = tuple(name for name in before if name not in after)
    found = (*later.findings, *_findings(points, missing, plan.job.show, allowed, tied=tied))
    return Settled(plan, kind, base, allowed, points, tied, missing, unknown, found)


def _named(
    plan: Plan, first: Tops, later: Tops, file: str, kind: str
) -> tuple[Mapping[str, float], Mapping[str, float], tuple[str, ...]]:
    """Give both readings under the same names, and what was read later only."""
    piers = plan.foundations.piers
    if kind == "piers" and piers is not None:
        after, ignored = by_pier(later, piers, file)
        return by_pier(first, piers, file)[0], after, tuple(ignored)
    names = {name_key(name): name for name in first.levels}
    known = {names[name_key(n)]: z for n, z in later.levels.items() if name_key(n) in names}
    return first.levels, known, tuple(name for name in later.levels if name_key(name) not in names)


def _point(
    plan: Plan, kind: str, name: str, read: tuple[float, float], moved: float, base: float, allowed: float
) -> SettledPoint:
    lift, show = base - moved, plan.job.show
    if lift <= 0.5 * allowed + 1e-9:
        return SettledPoint(name, *read, moved, 0.0, "leave it")
    piers = plan.foundations.piers if kind == "piers" else None
    if piers is None:
        advice = f"pack it up {show.depth(lift)}"
    else:
        pier = next(pier for pier in piers.piers if pier.name == name)
        advice = advice_for(-lift, pier, piers.spec, show)
    return SettledPoint(name, *read, moved, lift, advice)


def _findings(
    points: tuple[SettledPoint, ...], missing: tuple[str, ...], show: Display, allowed: float, *, tied: bool
) -> Iterator[Finding]:
    down = min(points, key=lambda point: point.moved)
    up = max(points, key=lambda point: point.moved)
    lifted = sum(point.lift > 0.0 for point in points)
    if down.moved < -MOVED:
        yield finding(
            "settled-down",
            "stop" if lifted else "warning",
            visible(down.name),
            down.moved,
            allowed,
            variant="" if tied else "others",
            name=visible(down.name),
            by=apart(-down.moved, show),
            count=lifted,
            all=len(points),
        )
    if up.moved > MOVED:
        yield finding(
            "settled-up",
            "warning",
            visible(up.name),
            up.moved,
            allowed,
            variant="" if tied else "others",
            name=visible(up.name),
            by=apart(up.moved, show),
        )
    if (
        tied
        and len(points) > 1
        and min(abs(down.moved), abs(up.moved)) > allowed
        and down.moved * up.moved > 0
    ):
        yield finding(
            "settled-all", "warning", "all tops", 0.5 * (down.moved + up.moved), allowed,
            way="down" if up.moved < 0 else "up", least=apart(min(abs(down.moved), abs(up.moved)), show),
        )  # fmt: skip
    if not tied:
        yield finding("settled-not-tied", "note", "all tops")
    if missing:
        yield finding("asbuilt-not-read", "stop", ", ".join(missing), float(len(missing)), 0.0)
