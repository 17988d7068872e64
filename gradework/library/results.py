"""The files of the folder of results: its tables, and the names of its pictures; nothing here draws."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Literal

from gradework.errors import words
from gradework.exchange.tables import order_table, rows_beside, stations_table
from gradework.report.page.document import page
from gradework.sitework.days_told import call_words
from gradework.sitework.order_access import access_words
from gradework.sitework.past_walls import led
from gradework.sitework.trip import stop_text, total_text

if TYPE_CHECKING:
    from gradework.project.plan import Plan

Kind = Literal["png", "svg"]


SHEETS = "sheets.pdf"
"""Every drawing, a page each."""

PICTURES: tuple[Kind, Kind] = ("png", "svg")
"""What a drawing is written as by itself, where that is asked for."""


def compared(plan: Plan) -> list[str]:
    """The foundations that are asked for but not chosen."""
    return [kind for kind in plan.foundations.asked if kind != plan.foundations.chosen]


def _said(plan: Plan, kind: str) -> Iterator[tuple[str, str]]:
    """What stands in words below an order: what is not in it, the way in, the call before digging."""
    for text in plan.not_ordered(kind):
        yield "not in this order", text
    if kind != plan.foundations.chosen:
        return
    if (access := plan.foundations.access) is not None:
        for text in access_words(access, plan.job.show):
            yield "door", text.removeprefix("door ")
    if plan.days is not None:
        yield "call before digging", call_words(plan.days)


def table_files(plan: Plan, document: Mapping[str, Any]) -> dict[str, bytes]:
    """The files of rows and words: the page, the order, one for each foundation that is compared, stations,
    and the record.

    ``document`` is the record of the plan, as ``exchange.record.record`` makes it.
    """

    def order(kind: str) -> bytes:
        stops, own, show = plan.stops(kind), plan.foundations.judged_of(kind), plan.job.show
        failing = () if own is None else own.false
        return order_table(
            [line for stop in stops for line in stop.lines],
            (math.fsum(stop.mass for stop in stops), total_text(stops, show)),
            stops={stop.shop: stop_text(stop, show) for stop in stops},
            beside=rows_beside(
                plan.hired(kind),
                () if kind not in plan.foundations.soils else plan.foundations.soils[kind].soil.told,
                plan.days.tasks if kind == plan.foundations.chosen and plan.days and stops else (),
                words(show.dialect)["rent"],
                _said(plan, kind) if stops else (),
            ),
            failing=failing,
            nothing=bool(failing) and not stops,
        )

    return {
        "report.html": page(plan),
        "order.csv": order(plan.foundations.chosen),
        # what the foundations that are only compared would take, to ask a price for
        **{f"order-{kind}.csv": order(kind) for kind in compared(plan)},
        "stations.csv": stations_table(plan.stations, plan.job.show, plan.benchmarks),
        "result.json": (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode(),
    }


def cut_names(plan: Plan, kind: str) -> list[str]:
    """Name the sections through a foundation, and the profiles beside it, two lines on each page."""
    of = "" if kind == plan.foundations.chosen else f"-{kind}"
    if kind == "piers":
        return []
    lines = sum(len(one.bends) for one in led(plan.foundations.measures_of(kind)))
    return [f"section{of}", *(f"swale{of}" + f"-{n}" * (n > 1) for n in range(1, 1 + -(-lines // 2)))]


def picture_files(plan: Plan, *, pictures: bool = False) -> list[str]:
    """Name what would be drawn, without drawing it: how many pages the piers fill is not known before."""
    piers, first = plan.foundations.piers, plan.foundations.chosen == "piers"
    rows = ["pier-rows", "pier-details"] if piers is not None and piers.piers else []
    names = ["plan", *cut_names(plan, plan.foundations.chosen), *(rows if first else [])]
    names += ["curve"] if "pad" in plan.foundations.asked else []
    for kind in compared(plan):
        names += [f"plan-{kind}", *cut_names(plan, kind)]
    names += [] if first else rows
    names = [*(["shopping", "days"] if plan.order.lines else []), *names]
    many = {"shopping", "days", *rows}
    one = [f"{name}.{kind}{' (one a page)' * (name in many)}" for name in names for kind in PICTURES]
    return [SHEETS, *(one if pictures else [])]
