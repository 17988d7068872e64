"""The files of the folder of results: its tables, and the names of its pictures; nothing here draws."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from gradework.exchange.tables import order_table, stations_table
from gradework.report.plan import haul_text, summary
from gradework.report.text import WIDTH, as_wide_as
from gradework.sitework.past_walls import led

if TYPE_CHECKING:
    from gradework.project.plan import Plan


def compared(plan: Plan) -> list[str]:
    """The foundations that are asked for but not chosen."""
    return [kind for kind in plan.foundations.asked if kind != plan.foundations.chosen]


def table_files(plan: Plan, document: Mapping[str, Any]) -> dict[str, bytes]:
    """The files of rows and words: the order, one for each foundation that is compared, stations, record,
    and all that can be said of the plan.

    ``document`` is the record of the plan, as ``exchange.record.record`` makes it.
    """

    def order(kind: str) -> bytes:
        haul, lines, own = plan.haul(kind), plan.orders[kind].lines, plan.foundations.judged_of(kind)
        failing = () if own is None else own.false
        total = haul.mass, haul_text(haul, plan.job.show)
        return order_table(lines, total, failing=failing, nothing=bool(failing) and not lines)

    return {
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


def cut_names(plan: Plan, kind: str) -> list[str]:
    """Name the sections through a foundation, and the profiles beside it, two lines on each page."""
    of = "" if kind == plan.foundations.chosen else f"-{kind}"
    if kind == "piers":
        return []
    lines = sum(len(one.bends) for one in led(plan.measures)) if kind == "pad" else 0
    return [f"section{of}", *(f"swale{of}" + f"-{n}" * (n > 1) for n in range(1, 1 + -(-lines // 2)))]


def picture_files(plan: Plan) -> list[str]:
    """Name what would be drawn, without drawing it: how many pages the piers fill is not known before."""
    kinds = ("png", "svg", "pdf")
    once = ["plan", "curve"] if "pad" in plan.foundations.asked else ["plan"]
    names = [f"{name}.{kind}" for name in once for kind in kinds]
    names += [
        f"{name}.{form}" for name in cut_names(plan, plan.foundations.chosen) for form in ("png", "pdf")
    ]
    for kind in compared(plan):
        names += [f"plan-{kind}.png", f"plan-{kind}.pdf", *(f"{name}.png" for name in cut_names(plan, kind))]
    piers = plan.foundations.piers
    if piers is not None and piers.piers:
        names += [
            f"{name}.{kind} (one a page)" for name in ("pier-rows", "pier-details") for kind in kinds[:2]
        ]
        names.append("piers.pdf")
    return names
