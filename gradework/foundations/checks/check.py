"""One named check: a value of the plan held against a limit, with the source of that limit.

The gate of all foundations (``gate.py`` beside this file) asks these: an option with a check that does not
hold is not buildable as drawn. A check that cannot be made has ``holds`` None: it says what is left to ask.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

COMMON = "common practice"
"""The source of a limit that no standard gives."""

ONE_READING = 0.003175
"""What differs by less cannot be told where the survey's own error is not known [m]: 1/8 in, one reading."""

CLOSE = 1e-6
"""Within this part of the limit, or of one unit where the limit is less, a value keeps it: rounding."""


@dataclass(frozen=True, slots=True)
class Check:
    """What was found and what it may be, in SI; ``holds`` is None where it could not be found out.

    ``check`` is a stable name, ``unit`` that of ``value`` and ``limit`` ("m", "m2", "kPa", "kN", "m3/s" or
    "-"), ``source`` a clause with its edition or "common practice". The limit is the most that it may be,
    or the least where ``bound`` says so; ``where`` names the place where one check is made at several.
    ``error``: a value past the limit by no more than that keeps it, since nothing measured can tell.

    >>> Check("joist span", 1.8, 2.5, "m", COMMON).holds, Check("joist span", 2.6, 2.5, "m", COMMON).holds
    (True, False)
    >>> Check("siding", 0.10, 0.15, "m", COMMON, "least").holds
    False
    >>> Check("skid span", None, None, "m", COMMON).holds is None
    True
    """

    check: str
    value: float | None
    limit: float | None
    unit: str
    source: str
    bound: Literal["most", "least"] = "most"
    where: str = ""
    error: float = 0.0

    @property
    def holds(self) -> bool | None:
        """Give whether the value keeps the limit, but for its error and rounding; None without either."""
        if self.value is None or self.limit is None:
            return None
        past = self.value - self.limit if self.bound == "most" else self.limit - self.value
        return past <= self.error + CLOSE * max(1.0, abs(self.limit))

    @property
    def strain(self) -> float:
        """Give how much of the limit is used up [-]: above 1 it does not hold, but for its error.

        It is 0 where not known. Of a least, how many times what is there it asks for; of nothing or less it
        is all or nothing.
        """
        if self.value is None or self.limit is None:
            return 0.0
        part, whole = (self.value, self.limit) if self.bound == "most" else (self.limit, self.value)
        if whole <= 0.0:
            return 0.0 if self.holds else math.inf
        return part / whole


def worst_of(checks: Iterable[Check]) -> Check:
    """Give the one among checks of one kind that uses most of its limit, the first of equals."""
    return max(checks, key=lambda check: check.strain)


def cited(source: str, *, us: bool) -> str:
    """Give a source as it is cited: outside the US a rule of the US is a figure to go by, and says so.

    >>> cited("24 CFR 3285.312 (2015)", us=False)
    'no rule where you build: a US figure, 24 CFR 3285.312 (2015)'
    """
    return source if us or source == COMMON else f"no rule where you build: a US figure, {source}"
