"""The summary of a plan for the terminal: the builder's questions in his order, in plain words."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from gradework.errors import Finding, visible, words
from gradework.foundations.buying.money import OWN_WORK
from gradework.report.days import days_lines
from gradework.report.door import door_lines
from gradework.report.foundations import pier_lines, slab_lines
from gradework.report.ground import ground_lines
from gradework.report.nearby import near_lines
from gradework.report.pad import pad_lines
from gradework.report.rain import catchment_lines, rain_lines
from gradework.report.roof import roof_lines
from gradework.report.soil import soil_lines
from gradework.report.text import bulleted, columns, filled, named, text_table
from gradework.sitework.order_marking import BOARDS
from gradework.sitework.trip import stop_text, total_text
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.foundations.checks.gate import Judged
    from gradework.foundations.comparison import Option
    from gradework.project.options import Foundations
    from gradework.project.plan import Plan
    from gradework.sitework.order import OrderLine
    from gradework.units.display import Display


KINDS = {"pad": "gravel pad", "piers": "block piers", "slab": "slab"}
"""What each foundation is called in sentences."""

_MARKING = ("setout_stakes", "string")  # the same few for each of them

_DASH = "-"
"""What stands where a foundation has no plan: it is not free, it is not known."""


def comparison_lines(plan: Plan) -> list[str]:
    """Put what was asked for side by side; nothing where only one foundation was asked for."""
    found, show = plan.foundations, plan.job.show
    comparison = found.comparison
    if comparison is None:
        return []
    lines = text_table(*comparison_rows(comparison.options, found.judged, show))
    lines += ["", "To buy, with spares and waste, besides stakes, batter boards and string:"]
    lines += [line for option in comparison.options for line in _to_buy(option, plan)]
    lines += ["", "Height of the floor above the ground along each side:"]
    lines += [*_heights(comparison.options, show), "", *_prices(found, plan.job.prices.currency)]
    for option in comparison.options:
        lines += _against(option)
    if comparison.switches:
        lines += ["", "What would change this:"]
        lines += [line for switch in comparison.switches for line in bulleted(switch.words)]
    return [*lines, "", *filled(_chosen(found, plan.job.build))]


def comparison_rows(
    options: Sequence[Option], judged: Sequence[Judged], show: Display
) -> tuple[list[str], list[list[str]]]:
    """The header and the rows of what is put side by side: one column for each option, that reads on a phone,
    and a fourth option has room."""
    header = ["", *(option.name for option in options), ""]
    rows = [
        [show.heading("top"), *(_level(option.level, show) for option in options), ""],
        [show.heading("floor"), *(_level(option.floor, show) for option in options), ""],
        [f"dig in place ({show.volume_unit})", *_planned(options, lambda o: show.volume_number(o.digging))],
        *([["  of it beside it", *_beside(options, show)]] if any(o.beside for o in options) else []),
        ["to carry", *_planned(options, lambda o: show.mass(o.mass))],
        ["hours, one person", *_planned(options, lambda o: " to ".join(fixed(h, 0) for h in o.hours))],
        ["at the yard", *_planned(options, lambda o: fixed(o.at_yard, 0))],
        ["digging and hauling", *_planned(options, lambda o: fixed(o.earthwork, 0))],
        *([["your hours", *_own_work(options)]] if any(OWN_WORK in o.paid for o in options) else []),
        ["cost in all", *_planned(options, lambda o: fixed(o.money, 0))],
        ["slope away from walls", *_planned(options, lambda o: _walls(o, judged))],
        ["frost", *_planned(options, _frost)],
        ["can be built", *("yes" if option.able else "no" for option in options), ""],
    ]
    return header, rows


def _own_work(options: Sequence[Option]) -> list[str]:
    return _planned(options, lambda o: fixed(o.paid[OWN_WORK].money, 0))


def _to_buy(option: Option, plan: Plan) -> list[str]:
    """Sum up the order for an option by things; lengths of boards and sizes of sheets stand in the order."""
    # an option may be called more than its kind: "boxed gravel pad"
    kind = next(kind for kind, name in KINDS.items() if option.name.endswith(name))
    amounts: dict[tuple[str, str], float] = {}
    none = "nothing, since it cannot be built as drawn" if option.planned else "no plan"
    for line in plan.orders[kind].lines:
        thing = "form boards" if line.item.startswith("form board ") else line.item.partition(",")[0]
        if line.place != BOARDS and not any(paid.key in _MARKING for paid in line.paid):
            amounts[thing, line.unit] = amounts.get((thing, line.unit), 0.0) + line.quantity
    words = [f"{thing}: {_amount(amount, unit)}" for (thing, unit), amount in amounts.items()]
    return filled(f"{option.name} - {', '.join(words) or none}", rest="  ")


def _amount(amount: float, unit: str) -> str:
    """Write an amount with what it is sold in; single things are only counted.

    >>> _amount(11.0, "pieces"), _amount(1.0, "short tons"), _amount(4.25, "yd³")
    ('11', '1 ton', '4.25 yd³')
    """
    return fixed(amount, 0) if unit in ("pieces", "boards") else counted(amount, unit)


def _planned(options: Sequence[Option], say: Callable[[Option], str]) -> list[str]:
    """Say one thing of each option, a dash where there is no plan that it could be said of."""
    return [*(say(option) if option.planned else _DASH for option in options), ""]


def _beside(options: Sequence[Option], show: Display) -> list[str]:
    return _planned(options, lambda one: show.volume_number(one.beside) if one.beside else _DASH)


def _walls(option: Option, judged: Sequence[Judged]) -> str:
    """Count the walls that the gate finds too little fall at, with this option and its swale built."""
    (own,) = (one for one in judged if option.name.endswith(KINDS[one.foundation]))
    count = sum(check.check == "water" for check in own.false)
    return f"not at {counted(count, 'walls')}" if count else "good"


def _frost(option: Option) -> str:
    """Give the gravest finding about frost; a pad of stone that drains has none."""
    found = {finding.severity for finding in option.findings if finding.code.endswith("-frost")}
    return next((severity for severity in ("stop", "warning", "note") if severity in found), "none")


def _level(level: float | None, show: Display) -> str:
    return _DASH if level is None else show.elevation_number(level)


def _heights(options: Sequence[Option], show: Display) -> list[str]:
    """Put the floor heights of each option side by side, and say what lies between pad or piers and floor."""
    planned = [option for option in options if option.floor_heights]
    if not planned:
        return []
    header = ["side", *(option.name for option in planned), ""]
    rows = []
    for number, side in enumerate(planned[0].floor_heights):
        heights = [option.floor_heights[number] for option in planned]
        ranges = (_range(show.depth(h.least), show.depth(h.most)) for h in heights)
        rows.append([side.side.replace(" to corner ", "-"), *ranges, ""])
    lines = text_table(header, rows)
    for option in planned:
        if option.level is not None and option.floor is not None and option.floor > option.level:
            depth = show.depth(option.floor - option.level)
            words = f"Pad and pier floors include {depth} of beams, joists and boards ([piers] floor)."
            return [*lines, *filled(words)]
    return lines


def _range(least: str, most: str) -> str:
    r"""Join two lengths, the unit once where it is the same.

    >>> _range("4 in", "6 1/2 in"), _range("8 in", "3' 1\"")
    ('4 to 6 1/2 in', '8 in to 3\' 1"')
    """
    (first, _, unit), (_, _, other) = least.rpartition(" "), most.rpartition(" ")
    return f"{first} to {most}" if unit == other and first else f"{least} to {most}"


def _prices(found: Foundations, currency: str | None) -> list[str]:
    words = f"Prices{f' in {currency}' if currency else ''}: {found.prices.date}."
    if found.invented:
        names = ", ".join(found.invented)
        words = f"The cost uses made-up prices for {names}. Enter your own under [prices]."
    return filled(f"{words} Hours are for hand work, least to most (common practice, no source).")


def _against(option: Option) -> list[str]:
    """Say what stands against an option by name: checks that fail, then findings without the notes."""
    grave = [*option.blockers, *(f for f in option.findings if f.severity == "warning")]
    fails = [f"fails {', '.join(option.failing)}"] if option.failing else []
    if not (grave or fails):
        return []
    counts = Counter(f"{finding.severity} {finding.code}" for finding in grave)
    told = (name if count == 1 else f"{name} ({count} places)" for name, count in counts.items())
    return filled(f"{option.name}: {'; '.join([*fails, *told])}", rest="  ")


def _chosen(found: Foundations, told: str | None) -> str:
    if told is not None:
        why = f'the job says build = "{told}"'
    elif found.comparison is not None and found.comparison.winner is not None:
        why = "the cheapest that can be built"
    else:
        why = "the first asked for; none can be built as drawn"
    change = 'To change it, write build = "piers", "pad" or "slab".'
    own = found.judged_of(found.chosen)
    what = "What is chosen is" if own is not None and not own.buildable else "The order below is for"
    return f"{what} the {KINDS[found.chosen]} ({why}). {change}"


def summary(plan: Plan) -> str:
    """Tell the whole plan in words. Lines are at most 80 columns where the words allow it."""
    tons = ["Tons are of 2,000 lb."] if plan.job.show.us else []
    stamp = [plan.stamp()] if plan.stamp() else []
    parts = [
        [visible(plan.job.name, columns()), *tons, *(line for text in stamp for line in filled(text))],
        _section("Your readings", _readings(plan)),
        _section("The ground", [*ground_lines(plan), *rain_lines(plan), *catchment_lines(plan)]),
        *_foundations(plan),
        _section("Roof water", roof_lines(plan.foundations.roof, plan.foundations.chosen, plan.job.show)),
        _section("Where the soil goes", soil_lines(plan)),
        _section("What stands near", near_lines(plan.near[plan.foundations.chosen], plan.job.show)),
        _section("At the door", door_lines(plan)),
        _section("To order", _order(plan)),
        _section("The days", days_lines(plan)),
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
        parts.append(_section("The piers", pier_lines(found.piers, show, plan.stations.ground)))
    if found.slab is not None:
        parts.append(_section("The slab", slab_lines(found.slab, plan)))
    return [*parts, _section("Side by side", comparison_lines(plan))]


def _section(title: str, lines: Sequence[str]) -> list[str]:
    return [title, *(f"  {line}".rstrip() for line in lines)] if lines else []


def _readings(plan: Plan) -> list[str]:
    lines = [f"{len(plan.stations)} shots in {visible(plan.stations.file, 60)}."]
    broken = plan.surface.breaklines
    if broken:
        names = "; ".join(f"{visible(line.name)} ({len(line.vertices)} points)" for line in broken)
        lines += filled(f"The ground breaks along {counted(len(broken), 'breaklines')}: {names}.")
    return [*lines, *filled(f"{plan.trust.summary.removesuffix('.')}.")]


def _order(plan: Plan) -> list[str]:
    """Tell the order, and the weight and the loads of all of it; or why there is none."""
    if plan.held_back:
        return [*filled(NOTHING), *filled(anyway_words(plan))]
    lines = order_lines(plan.order.lines, plan.job.show)
    if not lines:
        return []
    show, stops = plan.job.show, plan.stops(plan.foundations.chosen)
    told = [*lines, *named("Total", total_text(stops, show), width=18)]
    for stop in stops:
        told += named(f"From {stop.shop}", stop_text(stop, show), width=18)
    for one in plan.hired(plan.foundations.chosen):
        told += named(f"To {words(show.dialect)['rent']}", f"{one.item}: {one.why}", width=18)
    for missing in plan.not_ordered(plan.foundations.chosen):
        told += named("Not in it", missing, width=18)
    return told


NOTHING = "Nothing, since it cannot be built as drawn."


def anyway_words(plan: Plan) -> str:
    """Say what came of --anyway where something fails: ordered all the same, or over what it does not go."""
    own = plan.judged
    if not plan.anyway or own is None or own.buildable:
        return ""
    if not plan.held_back:
        return "What follows is ordered all the same, as asked by --anyway."
    names = ", ".join(dict.fromkeys(one.check for one in own.never))
    return f"--anyway does not go over: {names}." if names else ""


def order_lines(lines: Iterable[OrderLine], show: Display) -> list[str]:
    """Tell each thing to buy: amount, unit, item, weight; below it how it was calculated."""
    told = []
    for line in lines:
        amount = counted(line.quantity, line.unit)
        by_weight = line.unit.startswith(("short tons", "tonnes"))
        weight = f", {show.mass(line.mass_kg)}" if line.mass_kg and not by_weight else ""
        told += named(amount, f"{line.item}{weight}", width=max(18, len(amount) + 2))
        # three figures, or all whole ones; never with an exponent
        bare = f"{line.computed:.3g}" if line.computed < 999.5 else f"{round(line.computed):,}"
        told += filled(f"calculated {bare}; {line.allowance}", first="    ", rest="    ")
        told += filled(line.note, first="    ", rest="    ")
    return told


def finding_lines(findings: Iterable[Finding]) -> list[str]:
    """Tell each finding: severity, where, what and what to do, its code; the gravest first.

    What one has in common with another before it, such as a clause, is told once.
    """
    rank = {"stop": 0, "warning": 1, "note": 2}
    told: list[str] = []
    said: set[str] = set()
    for finding in sorted(findings, key=lambda f: rank[f.severity]):
        first, *rest = _sentences(finding.advice)
        fresh = [sentence for sentence in rest if sentence not in said]
        said.update(rest)
        told += filled(finding_text(finding, " ".join([first, *fresh])), rest="  ")
    return told


def finding_text(finding: Finding, advice: str = "") -> str:
    """Write a finding in one line; the place is left out where the advice names it already.

    ``advice`` stands in for the whole of it.
    """
    advice = advice or finding.advice
    named_already = finding.where.partition(",")[0] in advice
    where = "" if named_already else f"{visible(finding.where, 60)}: "
    return f"{finding.severity}: {where}{advice} [{finding.code}]"


_BETWEEN_SENTENCES = re.compile(r"(?<=[.?!])\s+(?=[A-Z])")


def _sentences(advice: str) -> list[str]:
    """Part a text into its sentences: each ends in a stop and the next begins with a capital."""
    return _BETWEEN_SENTENCES.split(advice)


def first_sentence(advice: str) -> str:
    """Give what was seen, without what to do about it.

    >>> first_sentence("The pad is 14 in deep (IRC R401.3; local code decides). Dig less.")
    'The pad is 14 in deep (IRC R401.3; local code decides).'
    """
    return _sentences(advice)[0]
