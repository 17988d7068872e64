"""The summary of a plan for the terminal: the builder's questions in his order, in plain words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from gradework.errors import Finding, visible
from gradework.report.comparison import comparison_lines
from gradework.report.ground import ground_lines
from gradework.report.lines import WIDTH, bulleted, filled, named
from gradework.report.pad import pad_lines
from gradework.report.piers import pier_lines
from gradework.report.slab import slab_lines
from gradework.units import counted
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.project.work import Plan
    from gradework.sitework.order import OrderLine
    from gradework.units import Display


def summary(plan: Plan) -> str:
    """Tell the whole plan in words. Lines are at most 80 columns where the words allow it."""
    parts = [
        [visible(plan.job.name, WIDTH)],
        _section("Your readings", _readings(plan)),
        _section("The ground", ground_lines(plan)),
        *_foundations(plan),
        _section("To order", order_lines(plan.order.lines, plan.job.show)),
        _section("Findings", finding_lines(plan.findings)),
        _section("Before you dig", [line for text in plan.cautions for line in bulleted(text)]),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part)


def _foundations(plan: Plan) -> list[list[str]]:
    """Tell each foundation that was asked for, then the comparison."""
    found, show = plan.foundations, plan.job.show
    parts = []
    if "pad" in found.asked:
        parts.append(_section("The pad", pad_lines(plan)))
    if found.piers is not None:
        parts.append(_section("The piers", pier_lines(found.piers, show)))
    if found.slab is not None:
        parts.append(_section("The slab", slab_lines(found.slab, show)))
    return [*parts, _section("Side by side", comparison_lines(plan))]


def _section(title: str, lines: Sequence[str]) -> list[str]:
    return [title, *(f"  {line}".rstrip() for line in lines)] if lines else []


def _readings(plan: Plan) -> list[str]:
    lines = [f"{len(plan.stations)} shots in {visible(plan.stations.file, 60)}."]
    return [*lines, *filled(f"{plan.trust.summary}.")]


def order_lines(lines: Iterable[OrderLine], show: Display) -> list[str]:
    """Tell each thing to buy: amount, unit, item, weight; how it was reckoned stands below."""
    told = []
    for line in lines:
        amount = counted(line.quantity, line.unit)
        by_weight = line.unit.startswith(("short tons", "tonnes"))
        weight = f", {show.mass(line.mass_kg)}" if line.mass_kg and not by_weight else ""
        told += named(amount, f"{line.item}{weight}", width=max(18, len(amount) + 2))
        told += filled(f"computed {_figure(line.computed)}; {line.allowance}", first="    ", rest="    ")
        told += filled(line.note, first="    ", rest="    ")
    return told


def _figure(amount: float) -> str:
    """Three figures, or all whole ones; never with an exponent."""
    return f"{amount:.3g}" if amount < 999.5 else fixed(amount, 0)


def finding_lines(findings: Iterable[Finding]) -> list[str]:
    """Tell each finding: severity, where, what and what to do, its code; the gravest first."""
    rank = {"stop": 0, "warning": 1, "note": 2}
    told = []
    for finding in sorted(findings, key=lambda f: rank[f.severity]):
        told += filled(finding_text(finding), rest="  ")
    return told


def finding_text(finding: Finding) -> str:
    """Write a finding in one line; the place is left out where the advice names it already."""
    named_already = finding.where.partition(",")[0] in finding.advice
    where = "" if named_already else f"{visible(finding.where, 60)}: "
    return f"{finding.severity}: {where}{finding.advice} [{finding.code}]"
