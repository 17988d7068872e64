"""Concrete: bags by mass against ready-mix with its steps and short-load charge."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from gradework.units.bulk import KG_PER_LB, M3_PER_FT3, M3_PER_YD3

BAG_YIELD = 0.0075 * M3_PER_FT3 / KG_PER_LB
"""Concrete from 1 kg of dry premix [m³/kg]: 0.0075 ft³ per lb, all sources agree (ASTM C387; quoted)."""

DEFAULT_WASTE = 0.10
"""Allowance on concrete [-]: published 3 to 10 %, small jobs on hand-graded ground at the high end."""


@dataclass(frozen=True, slots=True)
class ConcreteSale:
    """How concrete is sold: a bag of ``bag`` [kg] at ``bag_price``; ready-mix at ``mix_price`` per m³.

    Ready-mix comes in steps of ``mix_step`` [m³]; a load under ``short_load`` [m³] costs ``short_charge``
    more. Steps of 1/4 yd³ and a charge below 3 yd³ are suppliers' habits (memory). The prices are invented
    (January 2026).
    """

    bag: float = 80.0 * KG_PER_LB
    bag_price: float = 6.80
    mix_price: float = 235.0
    mix_step: float = 0.25 * M3_PER_YD3
    short_load: float = 3.0 * M3_PER_YD3
    short_charge: float = 120.0


@dataclass(frozen=True, slots=True)
class Concrete:
    """What to buy for a volume in place: ``needed`` [m³] with waste, and both ways to buy it."""

    volume: float
    needed: float
    bags: int
    bags_mass: float
    bags_cost: float
    mix: float
    mix_cost: float
    short: bool

    @property
    def cheaper(self) -> Literal["bags", "ready-mix"]:
        """Say which costs less; bags where both cost the same."""
        return "bags" if self.bags_cost <= self.mix_cost else "ready-mix"

    @property
    def cost(self) -> float:
        """Give the money for the cheaper way."""
        return min(self.bags_cost, self.mix_cost)


def bag_yield(mass: float) -> float:
    """Give the concrete that a bag of premix makes [m³] from its mass [kg]; lightweight mixes differ.

    >>> round(bag_yield(36.287) * 1000, 1)
    17.0
    """
    return mass * BAG_YIELD


def bags_for(needed: float, bag: float) -> int:
    """Count the bags of ``bag`` [kg] for ``needed`` concrete [m³], always up.

    >>> bags_for(0.0, 36.287)
    0
    """
    return math.ceil(needed / bag_yield(bag) - 1e-9)


def buy_concrete(volume: float, waste: float, sale: ConcreteSale) -> Concrete:
    """Work out both ways to buy ``volume`` [m³] of concrete with an allowance ``waste`` [-]."""
    needed = volume * (1.0 + waste)
    bags = bags_for(needed, sale.bag)
    mix = math.ceil(needed / sale.mix_step - 1e-9) * sale.mix_step
    short = 0.0 < mix < sale.short_load - 1e-9
    mix_cost = mix * sale.mix_price + (sale.short_charge if short else 0.0)
    return Concrete(volume, needed, bags, bags * sale.bag, bags * sale.bag_price, mix, mix_cost, short)
