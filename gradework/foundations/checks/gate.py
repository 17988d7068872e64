"""Can it be built as drawn? Each foundation judged by its checks, and which of those that can be is cheapest.

Nothing is worked out here and nothing is worded: checks and measures come from whoever planned them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from gradework.foundations.checks.check import Check

NEVER_LIFTED = frozenset(
    {
        "ground", "soil bearing", "pad bending", "pier load", "skid bearing", "held edge", "stake depth",
        "dug face", "digging below 1:1",
    }
)  # fmt: skip
"""Checks that no order goes over: what bears, edges that are held, the slope of a dug face."""

MeasureKind = Literal[
    "swale",
    "drain",
    "apron",
    "plain_apron",
    "layback",
    "edge",
    "base_pad",
    "anchor",
    "gutter",
    "drip_strip",
    "cover",
]


@dataclass(frozen=True, eq=False)
class Measure:
    """What is built beside a foundation so that its checks hold.

    ``line`` (n, 3) is where [m]; ``cut`` dug in place and ``fill`` placed [m³], ``stone`` [kg], ``pipe`` [m],
    ``cost`` all of it in the user's money; ``counted``: it is in the money for the foundation itself.
    """

    kind: MeasureKind
    line: NDArray[np.float64]
    cut: float
    fill: float = 0.0
    stone: float = 0.0
    pipe: float = 0.0
    cost: float = 0.0
    counted: bool = False


@dataclass(frozen=True, eq=False)
class Judged:
    """One foundation as drawn: its top ``level`` and finished ``floor`` [m], what it costs with its measures
    (None where prices are not known), and what was checked.

    One that cannot be planned at all has no level, and the one check that says why does not hold.
    """

    foundation: str
    level: float | None
    floor: float | None
    cost: float | None
    checks: tuple[Check, ...]
    measures: tuple[Measure, ...] = ()

    def __repr__(self) -> str:
        if not self.buildable:
            return f"<{self.foundation}: not buildable as drawn, {', '.join(self.failing)}>"
        names = ", ".join(dict.fromkeys(check.check for check in self.open))
        return f"<{self.foundation}: buildable{f' if: {names}' if names else ''}>"

    @property
    def buildable(self) -> bool:
        """Say whether it can be built as drawn: no check fails; one that could not be made is an "if"."""
        return not self.false

    @property
    def false(self) -> tuple[Check, ...]:
        """Give the checks that do not hold."""
        return tuple(check for check in self.checks if check.holds is False)

    @property
    def failing(self) -> tuple[str, ...]:
        """Name the checks that do not hold, each once."""
        return tuple(dict.fromkeys(check.check for check in self.false))

    @property
    def never(self) -> tuple[Check, ...]:
        """Give the checks that do not hold and must: what fails here is not ordered, whoever asks."""
        return tuple(check for check in self.false if check.check in NEVER_LIFTED)

    @property
    def open(self) -> tuple[Check, ...]:
        """Give the checks that could not be made: the ifs."""
        return tuple(check for check in self.checks if check.holds is None)


def winner_of(judged: Iterable[Judged]) -> Judged | None:
    """Give the cheapest that can be built as drawn, the first of equals; one without a cost comes last."""
    able = [one for one in judged if one.buildable]
    return min(able, key=lambda one: math.inf if one.cost is None else one.cost, default=None)
