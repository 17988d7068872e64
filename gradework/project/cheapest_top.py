"""At which top do piers buy least? Blocks with their spares, stone by the scale, digging, soil hauled.

The best top at unit prices is proved (``foundations/piers/best_top.py``). Whole blocks and tons may let one
of the other tops at which a best stack begins to fit buy less: each of them is priced from below, and those
that may be cheaper are ordered, until none is left that may.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.conditions import CompactedVolume
from gradework.errors import CheckError
from gradework.foundations.buying.money import summed
from gradework.foundations.piers.design import piers_at, taken_by_tops
from gradework.foundations.piers.stacks import NANOMETRES
from gradework.project import specs
from gradework.sitework.order import gravel_line, gravel_need, paid_for
from gradework.sitework.order_foundations import order_piers, spares

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.earthwork.materials import Gravel
    from gradework.earthwork.outline import Outline
    from gradework.foundations.piers.best_top import Taken
    from gradework.foundations.piers.plan import Piers
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.sitework.order import More

_AT_ONCE = 4
"""Tops ordered in one go: the first few mostly settle it."""

WORTH = 0.005
"""[-] Another top is taken that saves so much of the money for all piers (judgement)."""


def cheapest_top(
    job: Job, surface: Surface, building: Outline, plan: Piers, gravel: Gravel, more: More
) -> float | None:
    """Give the top [m] under which a ``plan`` for least money buys least; None where that is its own, to
    within ``WORTH``, or where its top is given. ``gravel``: of its beds; ``more``: of it than is planned.

    What hangs on no top, or hardly (cover, anchors, stakes), is left out. Raises CheckError where a top buys
    less than it can.
    """
    if plan.goal != "least money" or plan.top is None or plan.spec.top is not None:
        return None
    taken = taken_by_tops(surface, building, plan, job.show)
    least = _from_below(job, plan, taken, gravel, more)
    order = np.argsort(least, kind="stable")
    best, top = (1.0 - WORTH) * _bought(job, plan, gravel, more), None
    for start in range(0, len(order), _AT_ONCE):
        few = [int(k) for k in order[start : start + _AT_ONCE] if least[k] < best]
        tops = (taken.tops[few] / NANOMETRES).tolist()
        there = piers_at(surface, building, plan, tops, job.show)
        for high, low, piers in zip(tops, least[few].tolist(), there, strict=True):
            if piers is None:
                continue
            money = _bought(job, replace(plan, top=high, piers=piers), gravel, more)
            if money < low - 1e-6 * abs(low):
                raise CheckError(f"piers at {high!r} m buy {money!r}, at the least {low!r}")
            if money < best:
                best, top = money, high
        if not few:
            break
    return top


def _bought(job: Job, plan: Piers, gravel: Gravel, more: More) -> float:
    """The money for blocks, beds, digging and hauling of a plan."""
    bare = replace(plan, cover=None, anchors=None)
    order = order_piers(bare, gravel, specs.soil(job), specs.supplier(job), job.show, more)
    dug = sum(pier.dig for pier in plan.piers)
    return sum(one.money for one in paid_for(order, dug, specs.price_list(job)).values())


def _from_below(job: Job, plan: Piers, taken: Taken, gravel: Gravel, more: More) -> NDArray[np.float64]:
    """What all that costs at the least under each top (k,): as much soil is hauled as the beds take."""
    prices, supplier = specs.price_list(job), specs.supplier(job)
    hauled = specs.soil(job).swell.value * taken.beds
    money = prices.dig * taken.dug + prices.haul * hauled + prices.each("shims") * len(plan.piers)
    for unit in plan.spec.on_hand:
        if unit.name in taken.laid:
            money = money + unit.price * (taken.laid[unit.name] + spares(taken.laid[unit.name]))

    def stone(volume: float) -> float:
        need = gravel_need(CompactedVolume(volume), gravel, supplier, more)
        paid = gravel_line(need, supplier, job.show).paid
        return sum(one.money for one in summed(paid, prices).values())

    return np.asarray(money + [stone(volume) for volume in taken.beds.tolist()])
