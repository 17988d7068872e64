"""The files of the folder of results: its tables, and the names of its pictures; nothing here draws."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from gradework.errors import words
from gradework.exchange.tables import order_table, stations_table
from gradework.report.page.document import page
from gradework.report.plan import summary
from gradework.report.text import WIDTH, as_wide_as
from gradework.sitework.trip import stop_text, total_text

if TYPE_CHECKING:
    from gradework.project.plan import Plan


def compared(plan: Plan) -> list[str]:
    """The foundations that are asked for but not chosen."""
    return [kind for kind in plan.foundations.asked if kind != plan.foundations.chosen]


def table_files(plan: Plan, document: Mapping[str, Any]) -> dict[str, bytes]:
    """The files of rows and words: the page, the order, one for each foundation that is compared, stations,
    record, and all that can be said of the plan.

    ``document`` is the record of the plan, as ``exchange.record.record`` makes it.
    """

    def order(kind: str) -> bytes:
        stops, own, show = plan.stops(kind), plan.foundations.judged_of(kind), plan.job.show
        failing = () if own is None else own.false
        return order_table(
            [line for stop in stops for line in stop.lines],
            (math.fsum(stop.mass for stop in stops), total_text(stops, show)),
            stops={stop.shop: stop_text(stop, show) for stop in stops},
            hired=plan.hired(kind),
            rent=words(show.dialect)["rent"],
            failing=failing,
            nothing=bool(failing) and not stops,
        )

    return {
        "report.html": page(plan),
        "order.csv": order(plan.foundations.chosen),
        # what the foundations that are only compared would take, to ask a price for
        **{f"order-{kind}.csv": order(kind) for kind in compared(plan)},
        "stations.csv": stations_table(plan.stations, plan.job.show, plan.benchmarks),
        "plan.txt": _in_words(plan),
        "result.json": (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode(),
    }


def _in_words(plan: Plan) -> bytes:
    with as_wide_as(WIDTH):  # the same file from every terminal
        return f"{summary(plan)}\n".encode()


def picture_files(plan: Plan) -> list[str]:
    """Name what would be drawn, without drawing it: how many pages the piers fill is not known before."""
    kinds = ("png", "svg", "pdf")
    once = ["plan", "curve"] if "pad" in plan.foundations.asked else ["plan"]
    names = [f"{name}.{kind}" for name in once for kind in kinds]
    if plan.order.lines:
        names += ["shopping.png (one a page)", "shopping.pdf"]
    names += [f"plan-{kind}.{form}" for kind in compared(plan) for form in ("png", "pdf")]
    piers = plan.foundations.piers
    if piers is not None and piers.piers:
        names += [
            f"{name}.{kind} (one a page)" for name in ("pier-rows", "pier-details") for kind in kinds[:2]
        ]
        names.append("piers.pdf")
    return names
