"""The slab in words: level, concrete, base and fill, digging, forms, sheets, joints."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from gradework.errors import visible
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.foundations.piers.plan import THINGS, count_of
from gradework.report.text import filled, named, text_table
from gradework.units.display import fixed

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.rules import PadChoice
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.foundations.slab.design import Slab
    from gradework.foundations.slab.forms import FormStretch
    from gradework.foundations.slab.quantities import Covering
    from gradework.project.plan import Plan
    from gradework.units.display import Display


# The gravel pad in words: its level, what each rule would give, digging, gravel, edge, limits.


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


# Block piers in words: the common top, a table of all piers, what each goal would give, other stacks.

MOST_ALTERNATIVES_TOLD = 2


def pier_lines(piers: Piers, show: Display) -> list[str]:
    """Tell the piers: top and floor, each in a row, what the goals would give, what else each could be."""
    if piers.top is None or piers.floor_level is None:
        return [line for finding in piers.findings for line in filled(finding.advice)]
    ground = piers.building.highest
    lines = named(
        "Top",
        f"{show.elevation(piers.top)} on all {len(piers.piers)} piers, {_above(piers.top - ground, show)} "
        f"the highest ground under the building; chosen for {piers.goal}",
    )
    lines += named("Floor", f"{show.elevation(piers.floor_level)} with beams, joists and boards on top")
    lines += ["", *_pier_table(piers, show), "", *_holes(piers, show), "", *_goal_table(piers, show)]
    others = _alternatives(piers)
    return [*lines, "", "Another stack under the same top:", *others] if others else lines


def _pier_table(piers: Piers, show: Display) -> list[str]:
    unit, same = show.unit_name, _same_ending(piers)
    header = [
        "pier",
        f"ground ({unit})",
        "bottom",
        "bed",
        "stack",
        f"{same or 'unit'}s, bottom up",
    ]
    rows = [
        [
            visible(pier.name, 16),
            f"{show.elevation_number(pier.ground_low)}-{show.elevation_number(pier.ground_high)}",
            show.elevation_number(pier.bottom),
            show.depth(pier.bed),
            show.depth(pier.height),
            stack_words(pier, same),
        ]
        for pier in piers.piers
    ]
    return text_table(header, rows)


def _holes(piers: Piers, show: Display) -> list[str]:
    """Say how large the holes are in plan; where they differ, which pier has which."""
    sizes: dict[str, list[str]] = {}
    for pier in piers.piers:
        along, across = (show.depth(side) for side in pier.hole_size)
        sizes.setdefault(f"{along} along the beams, {across} across", []).append(visible(pier.name, 16))
    if len(sizes) == 1:
        return filled(f"Each hole is {next(iter(sizes))}.")
    return [
        line
        for size, names in sizes.items()
        for line in filled(f"Hole of {', '.join(names)}: {size}.", rest="  ")
    ]


def _same_ending(piers: Piers) -> str:
    """Give the thing ("block") that the names of all units end in, or nothing."""
    endings = {unit.name.rpartition(" ")[2] for unit in piers.spec.units if " " in unit.name}
    alone = any(" " not in unit.name for unit in piers.spec.units)
    return "" if alone or len(endings) != 1 or not endings <= set(THINGS) else endings.pop()


def stack_words(pier: Pier, same: str = "") -> str:
    """Say what is laid from the bottom up, in courses; the word ``same`` that ends every name is left out."""
    names = [unit.name.removesuffix(f" {same}") if same else unit.name for unit in pier.laid]
    counted = [(len(list(group)), visible(name, 40)) for name, group in groupby(names)]
    # the number as a word: "2 x 8 in" would read as a size
    return ", ".join(f"{_number(count)} {name}" if count > 1 else name for count, name in counted)


def _number(count: int) -> str:
    return count_of(count, "block").partition(" ")[0]


def _goal_table(piers: Piers, show: Display) -> list[str]:
    header = ["goal", f"top ({show.unit_name})", "units", f"dig ({show.volume_unit})", "money", ""]
    rows = [
        [
            f"{'*' if choice.goal == piers.goal else ' '} {choice.goal}",
            show.elevation_number(choice.top),
            str(choice.units),
            show.volume_number(choice.dig),
            fixed(choice.cost, 0),
            "",
        ]
        for choice in piers.choices
    ]
    return text_table(header, rows)


def _alternatives(piers: Piers) -> list[str]:
    """Tell the next best stacks; the same words for several piers come once, with their names."""
    told: dict[str, list[str]] = {}
    for pier in piers.piers:
        for other in pier.alternatives[:MOST_ALTERNATIVES_TOLD]:
            told.setdefault(other.words, []).append(visible(pier.name, 16))
    return [
        line for words, names in told.items() for line in filled(f"{', '.join(names)}: {words}", rest="  ")
    ]


def slab_lines(slab: Slab, show: Display) -> list[str]:
    """Tell the slab: what it is, what goes below it, what holds it while it hardens, where it is cut."""
    rows = [
        ("Top", _top(slab, show)),
        ("Concrete", _concrete(slab, show)),
        ("Below", _below(slab, show)),
        ("Dig", f"{show.volume(slab.dig)} in place"),
        ("Forms", _forms(slab, show)),
        *(
            (name, _sheet(sheet, sold, show))
            for name, sold, sheet in (("Film", "roll", slab.film), ("Mesh", "sheet", slab.mesh))
            if sheet
        ),
        ("Joints", _joints(slab, show)),
    ]
    return [line for name, text in rows for line in named(name, text)]


def _top(slab: Slab, show: Display) -> str:
    above = slab.level - slab.ground.highest
    words = "above" if above >= 0 else "below"
    return (
        f"{show.elevation(slab.level)}, {show.depth(abs(above))} {words} the highest ground under it; "
        f"{show.area(slab.area)}, {show.depth(slab.spec.thickness)} thick"
    )


def _concrete(slab: Slab, show: Display) -> str:
    concrete, spec = slab.concrete, slab.spec
    edge = ""
    if slab.rib > 0.0:
        edge = f", {show.volume(slab.rib)} of it in the edge, {show.depth(spec.edge_depth)} deep"
    short = " with a charge for a small load" if concrete.short else ""
    ready = f"{show.volume(concrete.mix)} of ready-mix{short}"
    bags = f"{concrete.bags} bags of {show.mass(slab.prices.concrete.bag)}"
    first, second = (bags, ready) if concrete.cheaper == "bags" else (ready, bags)
    return (
        f"{show.volume(concrete.volume)} in place{edge}; {show.volume(concrete.needed)} with "
        f"{spec.waste * 100:.0f} % waste: {first}, or {second}, which costs more"
    )


def _below(slab: Slab, show: Display) -> str:
    text = (
        f"{show.depth(slab.spec.base)} of base course; {show.volume(slab.gravel)} of stone compacted in all"
    )
    if slab.earth > 0.0:
        text += (
            f"; {show.volume(slab.fill)} of earth fill compacted below it, {show.depth(slab.fill_most)} deep "
            f"at the most: {_earth(slab, show)}"
        )
    elif slab.fill > 0.0:
        text += (
            f", {show.volume(slab.fill)} of it fill below the base course, {show.depth(slab.fill_most)} deep"
        )
        text += " at the most"
    return text


def _earth(slab: Slab, show: Display) -> str:
    """Say where earth fill comes from."""
    dug = f"{show.volume(slab.reused)} in place from the digging"
    if slab.earth_brought == 0.0:
        return dug
    brought = f"{show.volume(slab.earth_loose)} loose to bring"
    return f"{dug}, {brought}" if slab.reused > 0.0 else brought


def _forms(slab: Slab, show: Display) -> str:
    parts = [f"{show.distance(form.length)} of {_height(form, show)}" for form in slab.forms]
    return f"boards along the edge by height: {', '.join(parts)}"


def _height(form: FormStretch, show: Display) -> str:
    """Say how high, and of which boards where one is not enough."""
    courses = f" ({' over '.join(show.depth(board) for board in form.boards)})" if form.courses > 1 else ""
    return f"{show.depth(form.height)}{courses}"


def _sheet(sheet: Covering, sold: str, show: Display) -> str:
    strips = f"{sheet.strips} strip{'' if sheet.strips == 1 else 's'} of {show.distance(sheet.strip_length)}"
    sheets = f"{sheet.pieces} {sold}{'' if sheet.pieces == 1 else 's'}"
    return (
        f"{sheet.kind.name}, {strips} from {sheets}, laps {show.depth(sheet.kind.lap)}; "
        f"{show.area(sheet.area)} in all"
    )


def _joints(slab: Slab, show: Display) -> str:
    joints = slab.joints
    if joints.along == joints.across == 1:
        return "none needed at this size"
    return (
        f"{joints.along} by {joints.across} panels, {show.length(joints.spacing)} wide at the most; cut "
        f"{show.depth(joints.depth)} deep, {show.distance(joints.length)} in all"
    )
