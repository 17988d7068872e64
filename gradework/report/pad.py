"""The pad in words: level, what is dug, what goes in, and what the other rules would give."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.foundations.pad.edge import SET_BACK
from gradework.foundations.pad.quantities import BatteredEdge
from gradework.report.ground import led_rows, shots_words, sure_words
from gradework.report.soil import dug_beside, shows
from gradework.report.text import above_words, filled, named, text_table
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gradework.foundations.pad.design import Pad
    from gradework.foundations.pad.edge import EdgeBuilt
    from gradework.foundations.pad.rules import PadChoice
    from gradework.project.levels import Found
    from gradework.project.plan import Plan
    from gradework.units.display import Display


def pad_lines(plan: Plan) -> list[str]:
    """Tell the pad: the chosen level first, then the rules side by side, then what the choice takes."""
    show, pad, chosen = plan.job.show, plan.pad, plan.pad.chosen
    rule = "as given" if chosen.rule == "given" else chosen.rule
    high, low = chosen.level - pad.pieces.highest, chosen.level - pad.pieces.lowest
    above, below = (above_words(off, plan.stations.ground) for off in (high, low))
    ground = f"{above} the highest ground under the pad, {below} the lowest"
    rules = plan.rules if chosen.cost is not None else {}
    rows = [("Dig", _dig(plan)), ("Gravel", _gravel(plan))]
    if chosen.native > 0.0:
        native = f"{show.volume(chosen.native)} of the dug soil, compacted, under the gravel"
        rows += [("Fill", f"{native}; with it {show.depth(chosen.deepest_gravel)} at the thickest")]
    if plan.foundations.around:  # ground that was made up tells nothing of what is likely
        rows += [("Uncertainty", sure_words(plan.spread, show))]
        if plan.spread.shots:
            rows += [("Shoot next", shots_words(plan.spread, show))]
    basin = pad.basin
    if basin is not None and basin.outlet is not None:
        pipe, end = show.distance(basin.outlet.length), show.place(*basin.outlet.end)
        rows += [("Outlet", f"a 4 in solid pipe, {pipe} long, from the stone at the lowest corner to {end}")]
    return [
        *named("Level", f"{show.elevation(chosen.level)}, {rule}; {ground}"),
        "",
        *choice_table(pad, show, rules),
        *_other_levels(pad, rules),
        "",
        *(
            line
            for name, text in (*rows, ("Edge", _edge(pad, show)), *led_rows(plan, "pad", chosen.dug))
            for line in named(name, text)
        ),
    ]


def _other_levels(pad: Pad, rules: Mapping[str, Found]) -> list[str]:
    """Say what the two columns of money hold; prices that are missing, a level of one's own."""
    lacking, lines = {rule for rule, _ in pad.unanswered}, []
    if pad.chosen.cost is not None:
        told = "  net cost: of the pad alone, without waste and whole loads"
        if rules:
            told += "; all of it: as bought, with what keeps water off, all soil hauled"
        other = pad.chosen.rule != "least cost" and "least cost" not in lacking
        told += '; level = "least cost" looks for the level where all of it is least' if other else ""
        lines += filled(told, rest="    ")
    if "least cost" in lacking:
        missing = ", ".join(pad.ground.prices.missing(pad.spec.edge))
        lines += filled(f"  least cost: needs prices for {missing} (under [prices])", rest="    ")
    if "given" in lacking:
        lines += filled("  given: try a level of your own with --level, or write it under [pad]", rest="    ")
    return lines


def choice_table(pad: Pad, show: Display, rules: Mapping[str, Found]) -> list[str]:
    """Put what each of the four rules would give side by side; a star marks the one taken.

    ``rules``: what the gate says of each, and what all of it costs; empty where that is not known.
    """
    choices, chosen = pad.choices, pad.chosen
    priced = any(choice.cost is not None for choice in choices)
    volume = show.volume_unit
    header = ["rule", show.heading("level"), f"dig ({volume})", f"gravel ({volume})"]
    if priced:
        header += ["net cost", *(["all of it"] if rules else [])]
    rows = []
    for choice in choices:
        row = [f"{'*' if choice is chosen else ' '} {choice.rule}", show.elevation_number(choice.level)]
        row += [show.volume_number(choice.dug), show.volume_number(choice.gravel)]
        found = rules.get(choice.rule)
        if priced:
            row.append(_money(choice.cost))
            row += [_money(found.money)] if found else []
        rows.append([*row, _remarks(choice, found, taken=choice is chosen)])
    header.append("")
    for rule, _ in pad.unanswered:
        rows.append([f"  {rule}", *["-"] * (len(header) - 2), "no answer, see below"])
    return text_table(header, rows)


def _money(money: float | None) -> str:
    return fixed(money, 0) if money is not None and math.isfinite(money) else "unknown"


def _remarks(choice: PadChoice, found: Found | None, *, taken: bool) -> str:
    """Say which limits a level meets, what fails there, and that the cheapest that is only shown is so for
    the pad alone."""
    broken = [limit.name for limit in choice.limits if limit.state == "broken"]
    binding = [limit.name for limit in choice.limits if limit.state == "binds"]
    names, how = (broken, "fails") if broken else (binding, "set by")
    remarks = [f"{how} {' and '.join(names)}"] if names else []
    if not choice.allowed:
        remarks.append("needs native fill")
    failing = [] if found is None or broken else list(found.judged.failing)
    if failing:
        remarks.append(f"cannot be built: {', '.join(failing)}")
    if choice.rule == "least cost" and not taken:
        remarks.append("of the pad alone")
    return "; ".join(remarks)


def _dig(plan: Plan) -> str:
    show, chosen = plan.job.show, plan.pad.chosen
    text = f"{show.volume(chosen.dug)} in place"
    if chosen.deepest_cut > 0:
        text += f", {show.depth(chosen.deepest_cut)} at the deepest"
    if chosen.beside > 0.0:
        spec = plan.pad.spec
        text += f"; {show.volume(chosen.beside)} of it beside the pad"
        if spec.edge == "boxed" and chosen.deepest_cut > spec.strip:
            text += f": {show.depth(spec.room)} of room to work in, the face laid back {spec.face:g}:1"
    text += dug_beside(plan, "pad")
    spoil = plan.orders["pad"].spoil
    if spoil is None:
        return text
    led = plan.foundations.measures_of("pad")
    dug = chosen.dug + sum(one.dug.cut for one in led if one.dug)
    if spoil.bank.m3 < dug * (1.0 - 1e-9):
        rest = "goes back as fill" if "pad" not in plan.foundations.soils else "stays here"
        text += f"; {show.volume(spoil.bank.m3)} in place is hauled away, the rest {rest}"
    if not shows(spoil.bank.m3, show):
        return text
    text += f"; {show.volume(spoil.loose.m3)} in the pile (loose)"
    loads = [counted(load.count, f"{load.carrier.name} loads") for load in spoil.loads]
    return text + (f": {' or '.join(loads)}" if loads else "")


def _gravel(plan: Plan) -> str:
    show, chosen, need = plan.job.show, plan.pad.chosen, plan.gravel
    thick = f"{show.depth(chosen.deepest_gravel)} at the thickest"
    if chosen.native > 0.0:
        thick = f"{show.depth(plan.pad.spec.gravel)} at the least"
    dry = show.mass(need.dry_kg)
    loose = show.volume(need.loose.m3)
    return f"{show.volume(chosen.gravel)} compacted, {thick}, {dry} dry; {loose} loose off the truck"


def _edge(pad: Pad, show: Display) -> str:
    edge = pad.edge
    if isinstance(edge, BatteredEdge):
        return (
            f"side slopes {pad.spec.batter:g}:1, {show.depth(max(edge.greatest, 0.0))} high at the most; "
            f"with them the pad covers {show.area(edge.area)}"
        )
    return edge_words(edge.built, show)


def edge_words(edge: EdgeBuilt, show: Display) -> str:
    """Say how the edge of a boxed pad is built, what holds it and where its figures come from."""
    if edge.kind == "none":
        return "timber frame, but no board shows above the ground"
    piece = "board" if edge.kind == "boards" else "timber"
    high = f"1 {piece}" if edge.courses == 1 else f"up to {edge.courses} {piece}s"
    text = f"{high} high, {show.distance(sum(edge.runs))} of {piece} in all; "
    text += f"{show.depth(edge.greatest)} at the highest"
    for row in edge.stakes:
        where = "one board stands" if row.boards == 1 else "two stand"
        text += (
            f"; {counted(row.count, 'stakes')} where {where}, {show.length(row.apart)} apart at the most, "
        )
        text += f"driven {show.depth(row.depth)}"
    if edge.kind == "timbers":
        text += (
            f"; the lowest timber ({show.distance(edge.buried)}) is buried in a trench on clean stone and "
            f"pinned every {show.length(edge.pins_apart)} with {counted(edge.pins, 'pins')}; "
            f"{counted(edge.timber_screws, 'screws')} from timber to timber, each course set back "
            f"{show.depth(SET_BACK)}; clean stone behind, so that water comes out between the timbers"
        )
    if edge.deadmen:
        text += f"; {counted(edge.deadmen, 'deadmen')}, which a professional must design"
    if edge.near:
        text += "; the building stands nearer to the edge than it is high, so its load is counted"
    return text
