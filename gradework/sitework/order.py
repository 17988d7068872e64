"""The order: one line for each thing to buy, rounded up to what is sold, each line checked as it is made."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from gradework.errors import CheckError
from gradework.sitework.soil import Spoil
from gradework.sitework.supplier import whole_steps


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One thing to buy.

    ``computed`` is the bare amount, ``needed`` the amount with its allowance, ``quantity`` what is bought:
    ``needed`` rounded up to the next whole ``step``, all in ``unit``. ``allowance`` says in words what was
    added and ``reason`` why; ``mass_kg`` [kg] is what the bought amount weighs on the way home; ``spread``
    holds the low and high end of ``computed`` where they are known. ``loose_m3`` [m³] is what stone takes up
    on the truck; ``by_itself`` marks what comes in a truck of its own. Raises ``CheckError`` when the bought
    amount is not at least the needed one and less than one step above it.
    """

    item: str
    quantity: float
    unit: str
    computed: float
    needed: float
    step: float
    allowance: str
    reason: str
    mass_kg: float
    note: str = ""
    spread: tuple[float, float] | None = None
    loose_m3: float = 0.0
    by_itself: bool = False

    def __post_init__(self) -> None:
        figures = (self.quantity, self.computed, self.needed, self.step, self.mass_kg)
        slack = 1e-9 * max(1.0, abs(self.needed))
        short = self.quantity < self.needed - slack
        over = self.quantity >= self.needed + self.step
        if not all(math.isfinite(v) and v >= 0.0 for v in figures) or short or over:
            raise CheckError(
                f"order of {self.item}: bought {self.quantity} {self.unit} for {self.needed} needed "
                f"in steps of {self.step}"
            )


def to_buy(needed: float, step: float) -> float:
    """Round up to whole steps of what is sold, never down.

    >>> to_buy(7.6, 0.5), to_buy(7.5, 0.5), to_buy(0.0, 0.5)
    (8.0, 7.5, 0.0)
    """
    return whole_steps(needed, step) * step


@dataclass(frozen=True, slots=True)
class Order:
    """Everything for one trip: what to buy, and the soil that has to go somewhere.

    Foundations add their lines with ``plus``; lines of the same thing stay apart, so that each still says
    what it is for.
    """

    lines: tuple[OrderLine, ...] = ()
    spoil: Spoil | None = None

    @property
    def mass_kg(self) -> float:
        """Mass of everything bought [kg]."""
        return math.fsum(line.mass_kg for line in self.lines)

    def plus(self, *lines: OrderLine) -> Order:
        """Give the order with more lines; a line that buys nothing is left out."""
        return replace(self, lines=(*self.lines, *(line for line in lines if line.quantity > 0.0)))
