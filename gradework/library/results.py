"""What a plan is written as: its figures by name, and the files of the folder of results."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from gradework.drawings.curve import draw_curve
from gradework.drawings.engine import matplotlib
from gradework.drawings.field_sheet.sheet import pdf_of
from gradework.drawings.piers.details import pier_figures
from gradework.drawings.plan.sheet import plan_and_findings
from gradework.drawings.save import Kind, figure_bytes
from gradework.exchange.tables import order_table, stations_table
from gradework.project.plan import drawn_with
from gradework.report.plan import haul_text

if TYPE_CHECKING:
    from gradework.errors import Finding
    from gradework.project.plan import Plan


class Drawn(NamedTuple):
    """All figures of a plan by name, in the order of work, and what found no room on them."""

    figures: Mapping[str, matplotlib.figure.Figure]
    findings: tuple[Finding, ...]


def compared(plan: Plan) -> list[str]:
    """The foundations that are asked for but not chosen."""
    return [kind for kind in plan.foundations.asked if kind != plan.foundations.chosen]


def draw_all(plan: Plan) -> Drawn:
    """Draw everything: the plan, the curve of a pad, the plan with each other foundation, the piers."""
    figure, told = plan_and_findings(plan)
    figures = {"plan": figure}
    if "pad" in plan.foundations.asked:
        figures["curve"] = draw_curve(plan)
    for kind in compared(plan):
        figures[f"plan-{kind}"], more = plan_and_findings(drawn_with(plan, kind))
        told += more
    return Drawn({**figures, **pier_figures(plan)}, told)


def drawing_files(drawn: Drawn) -> dict[str, bytes]:
    """The files that figures are written as: the piers are one document, too."""
    files: dict[str, bytes] = {}
    for name, figure in drawn.figures.items():
        for kind in _kinds(name):
            files[f"{name}.{kind}"] = figure_bytes(figure, kind)
    piers = [figure for name, figure in drawn.figures.items() if name.startswith("pier-")]
    return {**files, "piers.pdf": pdf_of(piers)} if piers else files


def _kinds(name: str) -> tuple[Kind, ...]:
    if name.startswith("plan-"):
        return ("png", "pdf")
    return ("png", "svg") if name.startswith("pier-") else ("png", "svg", "pdf")


def table_files(plan: Plan, document: Mapping[str, Any]) -> dict[str, bytes]:
    """The files of figures in rows: the order, one for each foundation that is compared, stations, record."""

    def order(kind: str) -> bytes:
        haul = plan.haul(kind)
        return order_table(plan.orders[kind].lines, (haul.mass, haul_text(haul, plan.job.show)))

    return {
        "order.csv": order(plan.foundations.chosen),
        # what the foundations that are only compared would take, to ask a price for
        **{f"order-{kind}.csv": order(kind) for kind in compared(plan)},
        "stations.csv": stations_table(plan.stations, plan.job.show, plan.benchmarks),
        "result.json": (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode(),
    }
