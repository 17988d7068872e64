"""The page of many yards: what stops them, each with its own page, and what comes from whom on which day.

It needs no script, and says nothing that hangs on the run: the same results give the same page.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from gradework.errors import LONGEST_PATH, visible
from gradework.report.batch import outcomes, remark, short_job
from gradework.report.page.shell import rendered
from gradework.sitework.days_told import said
from gradework.units.display import FEET, METRIC, counted, fixed

if TYPE_CHECKING:
    from gradework.project.batch import Bought, Yard

_LONGEST = 80
"""So much of a name of the user's is shown."""


class _Row(NamedTuple):
    """One yard as it is told: ``cells`` are its heading and words, in the order of ``_HEADS``."""

    link: str
    title: str
    path: str
    cells: tuple[tuple[str, str], ...]
    kind: str


class _Shop(NamedTuple):
    """What one supplier brings on one day: in short, and each thing with the words beside it."""

    name: str
    told: str
    things: list[tuple[str, str, str]]


def batch_page(
    yards: Sequence[Yard],
    deliveries: Sequence[Bought],
    order: Sequence[Bought],
    links: Mapping[str, str],
) -> bytes:
    """Give the page of ``yards`` in their order, UTF-8.

    ``deliveries`` and ``order`` are added up, by day and supplier; ``links`` leads from the name of a job to
    its own page, where it has one.
    """
    us = any(yard.us for yard in yards)
    wrong = [one for one in yards if one.outcome != "buildable"]
    return rendered(
        "batch.html",
        "batch.css",
        verdict=f"{outcomes(yards)}.",
        figures=list(_figures(yards, us=us)),
        wrong=[(_row(yard, links, us=us), *_stopped(yard)) for yard in wrong],
        heads=_HEADS,
        rows=[_row(yard, links, us=us) for yard in yards],
        days=list(_days(deliveries, order, us=us)),
    )


_HEADS = ("build", "level", "cost", "weight", "loads", "call by", "first day", "")


def _row(yard: Yard, links: Mapping[str, str], *, us: bool) -> _Row:
    own, show = FEET if yard.us else METRIC, FEET if us else METRIC
    words = (
        yard.foundation,
        "" if yard.level is None else own.elevation(yard.level),
        _money(yard.cost, yard.currency),
        show.mass(yard.mass) if yard.mass else "",
        str(yard.loads) if yard.loads else "",
        _day(yard.call),
        f"{_day(yard.first)}, {counted(yard.days, 'days')}" if yard.first and yard.days else _day(yard.first),
        counted(len(yard.faults), "errors") if yard.faults else remark(yard),  # each stands above
    )
    path = short_job(yard.job, LONGEST_PATH)
    title = visible(yard.name, _LONGEST)
    kind = "" if yard.outcome == "buildable" else "stop"
    cells = tuple(zip(_HEADS, words, strict=True))
    return _Row(links.get(yard.job, ""), title or path, path if title else "", cells, kind)


def _stopped(yard: Yard) -> tuple[str, list[str]]:
    """What stops a yard in short, and every error of it."""
    return ("", list(yard.faults)) if yard.faults else (remark(yard), [])


def _figures(yards: Sequence[Yard], *, us: bool) -> Iterator[tuple[str, str]]:
    """What all of them take together; money by its kind, of those whose prices are known."""
    mass, show = sum(yard.mass for yard in yards), FEET if us else METRIC
    if mass:
        yield "to bring", show.mass(mass)
        yield "loads", str(sum(yard.loads for yard in yards))
    priced = [yard for yard in yards if yard.cost is not None]
    for currency in sorted({yard.currency for yard in priced}):
        costs = [yard.cost for yard in priced if yard.currency == currency and yard.cost is not None]
        yield f"cost of {counted(len(costs), 'jobs')}", _money(sum(costs), currency)
    calls = [yard.call for yard in yards if yard.call]
    if calls:
        yield "first call by", _day(min(calls))


def _days(
    deliveries: Sequence[Bought], order: Sequence[Bought], *, us: bool
) -> Iterator[tuple[str, list[_Shop]]]:
    """Each day with what every supplier brings on it, in the order of the deliveries."""
    for day in dict.fromkeys(one.day for one in deliveries):
        yield _day(day), [_shop(one, order, us=us) for one in deliveries if one.day == day]


def _shop(whole: Bought, order: Sequence[Bought], *, us: bool) -> _Shop:
    show = FEET if us else METRIC
    told = [show.mass(whole.mass)]
    if whole.loads:
        told.append(f"in {counted(whole.loads, 'loads')}")
    brought = f"{' '.join(told)}, for {counted(whole.jobs, 'jobs')}{_costing(whole)}"
    same = (whole.day, whole.shop, whole.currency)
    things = [
        (
            counted(round(one.quantity, 6), one.unit),
            one.item,
            f"for {counted(one.jobs, 'jobs')}{_costing(one)}",
        )
        for one in order
        if (one.day, one.shop, one.currency) == same
    ]
    name = whole.shop or "others"
    return _Shop(name[:1].upper() + name[1:], brought, things)


def _costing(one: Bought) -> str:
    return "" if one.cost is None else f", cost {_money(one.cost, one.currency)}"


def _money(cost: float | None, currency: str) -> str:
    return "" if cost is None else visible(f"{fixed(cost, 0)} {currency}".strip(), _LONGEST)


def _day(day: str) -> str:
    return said(date.fromisoformat(day)) if day else ""
