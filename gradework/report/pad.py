"""The gravel pad in words: its level, what each rule would give, digging, gravel, edge, limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.foundations.gravelpad_edge import BatteredEdge
from gradework.report.lines import filled, named
from gradework.report.table import text_table
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.foundations.gravelpad import Pad, PadChoice
    from gradework.project.work import Plan
    from gradework.units import Display


def pad_lines(plan: Plan) -> list[str]:
    """Tell the pad: the chosen level first, then the rules side by side, then what the choice takes."""
    show, pad = plan.job.show, plan.pad
    chosen = pad.chosen
    rule = "as given" if chosen.rule == "given" else f'by the rule "{chosen.rule}"'
    lines = named("Level", f"{show.elevation(chosen.level)}, {rule}; {_against_ground(pad, show)}")
    lines += ["", *choice_table(pad, show), *_other_levels(plan), ""]
    lines += named("Dig", _dig(plan))
    lines += named("Gravel", _gravel(plan))
    if chosen.native > 0.0:
        lines += named("Fill", _native(pad, show))
    lines += named("Doubt", doubt) if (doubt := _doubt(chosen, show)) else []
    lines += named("Edge", _edge(pad, show))
    return lines


def _other_levels(plan: Plan) -> list[str]:
    """Say what the rows without figures need: prices, or a level of one's own."""
    lacking = {rule for rule, _ in plan.pad.unanswered}
    lines = []
    if "least cost" in lacking:
        missing = plan.pad.ground.prices.missing(plan.pad.spec.edge)
        lines += filled(f"  least cost: needs, under [prices], {', '.join(missing)}", rest="    ")
    if "given" in lacking:
        lines += filled("  given: a level of your own, with --level or under [pad]", rest="    ")
    return lines


def _against_ground(pad: Pad, show: Display) -> str:
    high, low = pad.chosen.level - pad.pieces.highest, pad.chosen.level - pad.pieces.lowest
    return f"{_above(high, show)} the highest ground under the pad, {_above(low, show)} the lowest"


def _above(height: float, show: Display) -> str:
    return f"{show.depth(abs(height))} {'above' if height >= 0 else 'below'}"


def choice_table(pad: Pad, show: Display) -> list[str]:
    """Put what each of the four rules would give side by side; a star marks the one taken."""
    choices, chosen = pad.choices, pad.chosen
    priced = any(choice.cost is not None for choice in choices)
    header = [
        "rule",
        f"level ({show.unit_name})",
        f"dig ({show.volume_unit})",
        f"gravel ({show.volume_unit})",
    ]
    rows = [
        [
            f"{'*' if choice is chosen else ' '} {choice.rule}",
            show.elevation_number(choice.level),
            show.volume_number(choice.excavation),
            show.volume_number(choice.gravel),
        ]
        for choice in choices
    ]
    if priced:
        header.append("cost")
        for row, choice in zip(rows, choices, strict=True):
            row.append("unknown" if choice.cost is None else fixed(choice.cost, 0))
    header.append("")
    for row, choice in zip(rows, choices, strict=True):
        row.append(_limits(choice))
    for rule, _ in pad.unanswered:
        rows.append([f"  {rule}", *["-"] * (len(header) - 2), "no answer, see below"])
    return text_table(header, rows)


def _limits(choice: PadChoice) -> str:
    broken = [limit.name for limit in choice.limits if limit.state == "broken"]
    binding = [limit.name for limit in choice.limits if limit.state == "binds"]
    words = []
    if broken:
        words.append(f"breaks {' and '.join(broken)}")
    elif binding:
        words.append(f"set by {' and '.join(binding)}")
    if not choice.allowed:
        words.append("needs native fill")
    return "; ".join(words)


def _dig(plan: Plan) -> str:
    show, chosen = plan.job.show, plan.pad.chosen
    text = f"{show.volume(chosen.excavation)} in place"
    if chosen.deepest_cut > 0:
        text += f", {show.depth(chosen.deepest_cut)} at the deepest"
    spoil = plan.orders["pad"].spoil
    if spoil is None:
        return text
    if chosen.spoil < chosen.excavation * (1.0 - 1e-9):
        text += f"; {show.volume(chosen.spoil)} in place go away, the rest is filled in again"
    text += f"; on the heap {show.volume(spoil.loose.m3)} loose"
    loads = [f"{load.count} {load.carrier.name} load{'' if load.count == 1 else 's'}" for load in spoil.loads]
    return text + (f": {' or '.join(loads)}" if loads else "")


def _gravel(plan: Plan) -> str:
    show, chosen, need = plan.job.show, plan.pad.chosen, plan.gravel
    thick = f"{show.depth(chosen.deepest_gravel)} at the thickest"
    if chosen.native > 0.0:
        thick = f"{show.depth(plan.pad.spec.gravel)} at the least"
    return (
        f"{show.volume(chosen.gravel)} compacted, {thick}, "
        f"{show.mass(need.dry_kg)} dry; {show.volume(need.loose.m3)} loose to tip"
    )


def _doubt(chosen: PadChoice, show: Display) -> str:
    """How far digging and gravel may be off because squares do not say how they fold; empty if not at all."""
    amounts = (("digging", chosen.excavation_doubt), ("gravel", chosen.gravel_doubt))
    nothing = show.volume_number(0.0)
    told = [
        f"{show.volume(doubt)} of {name}" for name, doubt in amounts if show.volume_number(doubt) != nothing
    ]
    return f"give or take {' and '.join(told)}: the shots do not say how each square folds" if told else ""


def _native(pad: Pad, show: Display) -> str:
    """The dug soil that goes back, and how thick it is together with the gravel on it."""
    return (
        f"{show.volume(pad.chosen.native)} of the dug soil, compacted, below the gravel; with it "
        f"{show.depth(pad.chosen.deepest_gravel)} at the thickest"
    )


def _edge(pad: Pad, show: Display) -> str:
    edge = pad.edge
    if isinstance(edge, BatteredEdge):
        return (
            f"side slopes {pad.spec.batter:g}:1, {show.depth(max(edge.greatest, 0.0))} high at the most; "
            f"with them the pad covers {show.area(edge.area)}"
        )
    if not edge.courses:
        return "boxed, but no board stands above the ground"
    boards = "1 course" if len(edge.courses) == 1 else f"up to {len(edge.courses)} courses"
    run = show.distance(sum(edge.courses))
    return f"boxed by {boards} of boards, {run} of board in all; {show.depth(edge.greatest)} at the highest"
