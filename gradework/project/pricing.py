"""One list of prices for every foundation: the job's own, and invented ones where it has none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from gradework.earthwork.materials import DEFAULT_GRAVEL, Gravel
from gradework.foundations.price_list import PriceList
from gradework.foundations.slab_concrete import ConcreteSale
from gradework.project.job import Job

PRICED = (
    "dig",
    "haul",
    "gravel",
    "earth",
    "boards",
    "forms",
    "film",
    "mesh",
    "concrete",
    "short_load",
    "concrete_bag",
)
"""The keys of ``[prices]`` that a comparison uses."""


SALE_METRIC = ConcreteSale(
    bag=25.0, bag_price=4.70, mix_price=235.0, mix_step=0.25, short_load=2.5, short_charge=120.0
)
"""Concrete as sold in metres: bags of 25 kg, ready-mix by the quarter m³ (memory); invented prices."""


def price_list(job: Job, gravel: Gravel = DEFAULT_GRAVEL) -> PriceList:
    """Give the job's prices over the invented defaults.

    Stone is paid by the weighbridge, water and all, so a dry kilogram costs what it weighs there; ``gravel``
    says how much water that is.
    """
    prices = job.prices
    start = PriceList() if job.show.us else PriceList(concrete=SALE_METRIC)
    own: dict[str, Any] = {
        name: getattr(prices, name)
        for name in ("dig", "haul", "earth", "boards", "forms", "film", "mesh")
        if getattr(prices, name) is not None
    }
    if prices.gravel is not None:
        water = job.supplier.moisture if job.supplier.moisture is not None else gravel.moisture.value
        own["gravel"] = prices.gravel * (1.0 + water)
    sale: dict[str, Any] = {}
    if prices.concrete is not None:
        sale["mix_price"] = prices.concrete
    if prices.short_load is not None:
        sale["short_charge"] = prices.short_load
    if prices.concrete_bag is not None:
        sale["bag_price"], sale["bag"] = prices.concrete_bag
    if prices.date is not None:
        own["date"] = prices.date
    return replace(start, concrete=replace(start.concrete, **sale), invented=bool(prices_missing(job)), **own)


def prices_missing(job: Job) -> tuple[str, ...]:
    """Name the prices that the job does not give and the foundations asked for would need."""
    wanted = {
        "pad": ("dig", "haul", "gravel", "boards"),
        "piers": ("dig", "haul", "gravel"),
        "slab": ("dig", "haul", "gravel", "forms", "film", "mesh", "concrete", "short_load", "concrete_bag"),
    }
    needed = {name for kind in job.asked for name in wanted[kind]}
    if job.slab is not None and job.slab.fill == "earth":
        needed.add("earth")
    return tuple(name for name in PRICED if name in needed and getattr(job.prices, name) is None)
