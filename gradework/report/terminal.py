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
    from gradework.sitework.order_haul import Haul
    from gradework.units import Display


def summary(plan: Plan) -> str:
    """Tell the whole plan in words. Lines are at most 80 columns where the words allow it."""
    parts = [
        [visible(plan.job.name, WIDTH)],
        _section("Your readings", _readings(plan)),
        _section("The ground", ground_lines(plan)),
        *_foundations(plan),
        _section("To order", _order(plan)),
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


def _order(plan: Plan) -> list[str]:
    """Tell the order, and the weight and the loads of all of it."""
    lines = order_lines(plan.order.lines, plan.job.show)
    if not lines:
        return []
    return [*lines, *named("In all", haul_text(plan.haul(plan.foundations.chosen), plan.job.show), width=18)]


def haul_text(haul: Haul, show: Display) -> str:
    """Say what an order weighs and how many loads it takes.

    >>> from gradework.sitework.order_haul import Haul
    >>> from gradework.sitework.supplier import Carrier, Loads
    >>> from gradework.units import METRIC
    >>> haul_text(Haul(900.0, 900.0, Loads(Carrier("truck", 4.0, 6000.0), 1, "weight"), ()), METRIC)
    '0.90 tonnes; 1 truck load of up to 6.00 tonnes'
    """
    loads = haul.loads
    payload = f" of up to {show.mass(loads.carrier.payload)}" if loads.carrier.payload else ""
    text = show.mass(haul.mass)
    if loads.count:
        text += f"; {counted(loads.count, loads.carrier.name + ' loads')}{payload}"
    if loads.count > 1:
        text += f", limited by {loads.limit}"
    if haul.by_itself:
        text += f"; {' and '.join(haul.by_itself)}, {show.mass(haul.mass - haul.carried)}, comes by itself"
    return text


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
