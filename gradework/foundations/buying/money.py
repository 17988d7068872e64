"""By which prices things are paid and how much of each: the one way from what is bought to money."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple, Protocol

PAID_FOR: Mapping[str, str] = {
    "dig": "digging",
    "haul": "hauling",
    "gravel": "gravel",
    "earth": "earth fill",
    "blocks": "blocks",
    "shims": "shims",
    "anchor": "ground anchors",
    "boards": "edge boards",
    "stakes": "stakes",
    "screws": "screws",
    "timbers": "edge timbers",
    "pins": "rebar pins",
    "timber_screws": "timber screws",
    "pipe": "drain pipe",
    "fabric": "fabric",
    "gutter": "gutters",
    "downspout": "downspouts",
    "lumber": "lumber",
    "floor_sheets": "floor sheets",
    "forms": "form boards",
    "film": "vapor barrier",
    "mesh": "welded wire mesh",
    "concrete": "ready-mix concrete",
    "short_load": "a short load",
    "concrete_bag": "bagged concrete",
    "setout_stakes": "setting-out stakes",
    "string": "string",
    "seed": "grass seed",
    "hour": "your hours",
    "plate_day": "a plate compactor",
    "laser_day": "a laser level",
    "excavator_day": "a mini-excavator",
}
"""What is paid, by the key of its price in a job; blocks carry their own prices."""


EARTHWORK, OWN_WORK = ("dig", "haul"), "hour"
"""The prices that are not paid at the yard."""

SHOPS: Mapping[str, tuple[str, ...]] = {
    "quarry": ("gravel", "earth"),
    "concrete plant": ("concrete", "short_load"),
    "masonry yard": ("blocks", "concrete_bag", "mesh", "film", "fabric", "pipe"),
    "timber yard": (
        "boards", "timbers", "forms", "stakes", "setout_stakes", "screws", "timber_screws", "pins", "shims",
        "string", "anchor", "gutter", "downspout", "lumber",
        "floor_sheets",
    ),
    "garden store": ("seed",),
    "rental yard": ("plate_day", "laser_day", "excavator_day"),
}  # fmt: skip
"""Who sells what is paid by a key of ``PAID_FOR``, in the order of a trip (common practice, no source)."""

SHOP_OF: Mapping[str, str] = {key: shop for shop, keys in SHOPS.items() for key in keys}


class Paid(NamedTuple):
    """By which price something is paid: its key of ``PAID_FOR``, how much of it [kg, m³, m² or pieces].

    ``each`` is the money for one where the thing carries its own price, as a block does.
    """

    key: str
    amount: float
    each: float | None = None


@dataclass(frozen=True, slots=True)
class Amount:
    """What an option takes of one thing: ``amount`` in m³, m² or pieces, ``price`` each, ``extra`` money.

    >>> Amount(2.0, 30.0, 5.0).money
    65.0
    """

    amount: float
    price: float
    extra: float = 0.0

    @property
    def money(self) -> float:
        """Give the money for it."""
        return self.amount * self.price + self.extra


class Prices(Protocol):
    """Whatever knows the money for one of what is paid by a key of ``PAID_FOR``: a kg, m³, m² or piece."""

    def each(self, key: str) -> float:
        """Give that money."""


def money_for(paid: Iterable[Paid], prices: Prices) -> float:
    """Give the money for all of it."""
    return math.fsum(p.amount * (prices.each(p.key) if p.each is None else p.each) for p in paid)


def summed(paid: Iterable[Paid], prices: Prices) -> dict[str, Amount]:
    """Sum up by the keys; what carries its own price by the mean of it."""
    by_key: dict[str, list[Paid]] = {}
    for one in paid:
        by_key.setdefault(one.key, []).append(one)
    amounts = {key: math.fsum(one.amount for one in some) for key, some in by_key.items()}
    return {
        key: Amount(amount, money_for(by_key[key], prices) / amount)
        for key, amount in amounts.items()
        if amount > 0.0
    }
