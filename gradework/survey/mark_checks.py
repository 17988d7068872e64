"""What known marks that were read say of heights found without a level book: computed minus known.

A level book closes by its own rules (``level_checks``); the simple ways meet a mark by the way, and the
allowances here say how far they may miss it. Nothing here decides what is shared out.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from gradework.errors import Finding, visible
from gradework.survey.closure import Allowance
from gradework.survey.field_book import NO_MISS, is_within

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from gradework.units import Display

MARKS_MET: Mapping[str, Allowance] = MappingProxyType(
    {
        "water-level": Allowance(
            "a water level",
            0.010,
            None,
            "1 cm over a hop of 10-15 m, FAO series (table not reached); root of the hops",
        ),
        "string": Allowance(
            "a string", 0.013, None, "the larger of 6-13 mm over a string of 8-9 m with a line level, memory"
        ),
        "steps": Allowance(
            "a straightedge",
            0.003,
            None,
            "twice the error of a step, 1/16 in (common practice, no source); root of the steps",
        ),
    }
)
"""How far a mark may be missed, by the way of levelling: [m] for each hop, string or step. A laser is read
from one set-up, and takes the allowance of the kind of work for that."""


@dataclass(frozen=True, slots=True)
class MarkCheck:
    """One look at a mark: ``computed`` elevation, the ``known`` one, and by how much what was measured since
    the mark before misses (``misclosure``, computed minus known) [m].

    ``over`` says what was measured ("3 steps"), ``rule`` whose allowance counts; ``allowable`` [m] is None
    where that has none. ``again``: no known mark, but a point met a second time.
    """

    station: str
    line: int
    computed: float
    known: float
    misclosure: float
    allowable: float | None
    over: str
    rule: str
    again: bool = False

    @property
    def within(self) -> bool | None:
        """Whether the miss is allowed; None for a miss without a rule."""
        return is_within(self.misclosure, self.allowable)


def mark_check(
    station: str,
    line: int,
    computed: float,
    known: float,
    allowance: Allowance,
    *,
    parts: int = 1,
    over: str,
    missed: float = 0.0,
) -> MarkCheck:
    """Check one look at a mark. ``parts``: the hops, strings, steps or set-ups since the mark before, which
    ``missed`` its own elevation by so much [m]."""
    rule = allowance.kind if allowance.kind.startswith("a ") else f"{allowance.kind} work"
    total = computed - known
    return MarkCheck(
        station, line, computed, known, total - missed, allowance.limit(setups=parts), over, rule
    )


def agree(checks: Iterable[MarkCheck]) -> bool:
    """Whether every check is within its allowance."""
    return all(check.within for check in checks)


def worst(checks: Sequence[MarkCheck]) -> MarkCheck | None:
    """The check that misses most for what it is allowed; None without any."""
    return max(checks, key=lambda c: abs(c.misclosure) / (c.allowable or 1.0), default=None)


def check_findings(checks: Iterable[MarkCheck], show: Display, *, hint: str) -> list[Finding]:
    """One finding for each check, in the order of the notes; ``hint``: a sentence on where to look for a
    large miss. Codes as for level books: `misclosure`, `misclosure-too-large`, `misclosure-without-rule`."""
    return [_finding(check, show, hint) for check in checks]


def _finding(check: MarkCheck, show: Display, hint: str) -> Finding:
    name = visible(check.station)
    where = f"{name}, line {check.line}" if check.line else name
    miss = show.elevation(abs(check.misclosure))
    side = "high" if check.misclosure > 0 else "low"
    what = "is met again" if check.again else "comes out"
    if abs(check.misclosure) <= NO_MISS:
        head = f"{name} {what} exactly {'as before' if check.again else 'as known'} over {check.over}."
    else:
        head = f"{name} {what} {miss} {side} over {check.over}."
    value, limit = check.misclosure, check.allowable
    if check.within:
        return Finding("misclosure", "note", where, value, limit, head)
    if limit is None:
        advice = (
            f"{head} For {check.rule} only the length of the line says how far levels may miss, and none was "
            "measured: nothing was shared out. Name another kind of work."
        )
        return Finding("misclosure-without-rule", "warning", where, value, None, advice)
    advice = f"{head} {show.elevation(limit)} is allowed for {check.rule}. Nothing was shared out. {hint}"
    return Finding("misclosure-too-large", "warning", where, value, limit, advice)
