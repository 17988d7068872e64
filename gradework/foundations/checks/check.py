"""One named check: a value of the plan held against a limit, with the source of that limit.

Later work lets the gate of all foundations ask these: an option with a check that does not hold is not
buildable as drawn. A check that cannot be made has ``holds`` None, and says by that what is left to ask.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

COMMON = "common practice"
"""The source of a limit that no standard gives."""


@dataclass(frozen=True, slots=True)
class Check:
    """What was found and what it may be, in SI; ``holds`` is None where it could not be found out.

    ``check`` is a stable name, ``unit`` that of ``value`` and ``limit`` ("m", "kPa", "kN", "-"), ``source`` a
    clause with its edition or "common practice". The limit is the most that the value may be, with ``least``
    the least; ``error``: what the value may be off by, for which nothing is held against it.

    >>> Check("joist span", 1.8, 2.5, "m", COMMON).holds, Check("joist span", 2.6, 2.5, "m", COMMON).holds
    (True, False)
    >>> Check("skid span", None, None, "m", COMMON).holds is None
    True
    >>> Check("fall", 0.10, 0.15, "m", COMMON, least=True).holds
    False
    """

    check: str
    value: float | None
    limit: float | None
    unit: str
    source: str
    least: bool = False
    error: float = 0.0

    @property
    def holds(self) -> bool | None:
        """Give whether the value keeps the limit, to a millionth of it; None without either."""
        if self.value is None or self.limit is None:
            return None
        slack = 1e-6 * abs(self.limit) + self.error
        if self.least:
            return self.value >= self.limit - slack
        return self.value <= self.limit + slack

    @property
    def strain(self) -> float:
        """Give how much of the limit is used up [-]: above 1 it does not hold; 0 where not known.

        Of a limit that is the least, 1 where it is just kept, 2 where the value is nothing.
        """
        if self.value is None or not self.limit:
            return 0.0
        used = self.value / self.limit
        return max(2.0 - used, 0.0) if self.least else used


def worst_of(checks: Iterable[Check]) -> Check:
    """Give the one among checks of one kind that uses most of its limit, the first of equals."""
    return max(checks, key=lambda check: check.strain)


def cited(source: str, *, us: bool) -> str:
    """Give a source as it is cited: outside the US a rule of the US is a figure to go by, and says so.

    >>> cited("24 CFR 3285.312 (2015)", us=False)
    'no rule where you build: a US figure, 24 CFR 3285.312 (2015)'
    """
    return source if us or source == COMMON else f"no rule where you build: a US figure, {source}"
