"""Many yards: which comes first, and what all of them buy from whom on which day."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

Outcome = Literal["buildable", "not buildable", "fault", "not done"]
By = Literal["cost", "stops"]


@dataclass(frozen=True, slots=True)
class Bought:
    """What is bought of one thing from one supplier on one day: in ``unit`` and [kg], by how many ``jobs``.

    ``day`` is a date as text, "" where the jobs have no start; ``cost`` is None where one has none.
    """

    shop: str
    day: str
    item: str
    unit: str
    quantity: float
    mass: float
    cost: float | None
    currency: str
    loads: int = 0
    jobs: int = 1


@dataclass(frozen=True, slots=True)
class Yard:
    """How one job came out: its figures in SI, what stops it (checks, or codes of findings), or its faults.

    ``cost`` is that of the foundation with its measures, None where prices are not known; ``loads`` of the
    whole order, ``mass`` [kg]; ``first`` and ``call`` are dates, "" without a start; ``us``: feet and tons.
    ``new``: it was planned in this run, and not kept from an earlier one.
    """

    job: str
    name: str
    outcome: Outcome
    foundation: str = ""
    level: float | None = None
    cost: float | None = None
    currency: str = ""
    mass: float = 0.0
    loads: int = 0
    stops: tuple[str, ...] = ()
    warnings: int = 0
    first: str = ""
    call: str = ""
    days: int | None = None
    faults: tuple[str, ...] = ()
    lines: tuple[Bought, ...] = ()
    deliveries: tuple[Bought, ...] = ()
    us: bool = False
    new: bool = False


_RANKS: dict[str, int] = {"buildable": 0, "not buildable": 1, "fault": 2, "not done": 3}


def in_order(yards: Iterable[Yard], by: By = "cost") -> list[Yard]:
    """Put the yards in order: those that can be built by cost, then those that are stopped, then faults.

    By ``"stops"`` faults come first, then what is stopped, like beside like, then the rest by cost. A cost
    that is not known comes after those that are, and is ordered by weight.
    """

    def key(yard: Yard) -> tuple[int, tuple[str, ...], float, float, str]:
        rank = _RANKS[yard.outcome]
        alike = yard.stops or yard.faults[:1]
        cost = math.inf if yard.cost is None else yard.cost
        return (-rank if by == "stops" else rank), alike, cost, yard.mass, yard.job

    return sorted(yards, key=key)


def added_up(parts: Iterable[Bought]) -> list[Bought]:
    """Add up what is the same: supplier, day, thing, unit and money; by day, those without one last."""
    found: dict[tuple[str, ...], list[Bought]] = {}
    for part in parts:
        found.setdefault((part.day or "~", part.shop, part.item, part.unit, part.currency), []).append(part)
    return [_sum(found[key]) for key in sorted(found)]


def _sum(same: Sequence[Bought]) -> Bought:
    costs = [one.cost for one in same if one.cost is not None]
    return replace(
        same[0],
        quantity=math.fsum(one.quantity for one in same),
        mass=math.fsum(one.mass for one in same),
        cost=math.fsum(costs) if len(costs) == len(same) else None,
        loads=sum(one.loads for one in same),
        jobs=sum(one.jobs for one in same),
    )
