"""Piers and slab in words: level, what is dug, what goes in, what else could be."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.errors import visible, words
from gradework.foundations.piers.plan import THINGS, stack_words
from gradework.foundations.slab.quantities import strips_told
from gradework.report.ground import led_rows, sure_words
from gradework.report.soil import dug_beside
from gradework.report.text import above_words, filled, named, text_table
from gradework.units.amounts import force_words
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.foundations.piers.anchors import Anchors
    from gradework.foundations.piers.cover import Cover
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.slab.design import Slab
    from gradework.foundations.slab.quantities import Covering
    from gradework.project.plan import Plan
    from gradework.units.display import Display


MOST_ALTERNATIVES_TOLD = 2


def pier_lines(piers: Piers, show: Display, surveyed: Display | None = None) -> list[str]:
    """Tell the piers: top and floor, each in a row, what the goals would give, what else each could be.

    The ground is told as it was ``surveyed``, no finer than its error, where that is known.
    """
    surveyed = surveyed or show
    if piers.top is None or piers.floor_level is None:
        return [line for finding in piers.findings for line in filled(finding.advice)]
    over = above_words(piers.top - piers.building.highest, surveyed)
    lines = named(
        "Top",
        f"{show.elevation(piers.top)} on all {len(piers.piers)} piers, {over} "
        f"the highest ground under the building; chosen for {piers.goal}",
    )
    lines += named("Floor", f"{show.elevation(piers.floor_level)}, on skids, joists and boards")
    lines += named("Rows", _rows(piers, show))
    lines += named("Loads", _loads(piers, show))
    lines += named("Fill", _filled(piers, show))
    if piers.cover is not None:
        lines += named("Cover", _cover(piers.cover, show))
    if piers.anchors is not None:
        lines += named("Anchors", _anchors(piers.anchors, show))
    lines += [
        "",
        *_pier_table(piers, show, surveyed),
        "",
        *_holes(piers, show),
        "",
        *_goal_table(piers, show),
    ]
    others = _alternatives(piers)
    return [*lines, "", "Other stacks for the same top:", *others] if others else lines


def _filled(piers: Piers, show: Display) -> str:
    """Say what becomes of the soil: how much goes back beside the blocks, what is left to spread or haul."""
    return (
        f"{show.volume(piers.back)} of the soil dug goes back beside the blocks, tamped in layers, mounded a "
        f"little; {show.volume(piers.left)} in place is left over to spread or haul"
    )


def _cover(cover: Cover, show: Display) -> str:
    text = f"fabric and {show.depth(cover.depth)} of clean stone over {show.area(cover.outline.area)}"
    if cover.strip > 0.0:
        return (
            f"{text}; on the high side the sod comes off down to a level floor, {show.depth(cover.stripped)} "
            f"at the deepest, open on the low side: {show.volume(cover.strip)}"
        )
    return f"{text}, on the mowed grass: strip no sod, a stripped floor without a low side holds water"


def _anchors(anchors: Anchors, show: Display) -> str:
    """Say how many anchors stand where, and what wind asks of those on one side."""
    side, end = anchors.sides
    ends = f", {end - 2} more at each end" if end > 2 else ""
    asked = max(max(pull.sliding, pull.lift) for pull in anchors.pulls)
    return (
        f"{anchors.count} ground anchors, {side} along each side along the rows{ends}, the first near the "
        f"corners and clear of the holes; on one side wind pulls with {force_words(asked, us=show.us)}"
    )


def _rows(piers: Piers, show: Display) -> str:
    """Say how far apart rows and piers stand, and what of it follows from the wood."""
    skids, layout, floor = piers.carried.skids, piers.carried.layout, piers.spec.floor
    if not skids:
        return "none: the piers given do not line up"
    apart = max((gap for skid in skids for gap in skid.gaps), default=0.0)
    follows = piers.spec.layout.spacing is None and not piers.spec.positions
    limit = f" ({show.length(layout.spacing)} is the most)" if follows and layout.spacing else ""
    wood = f"{floor.skid.said(us=show.us)} skids, {floor.joist.said(us=show.us)} joists"
    return f"{counted(len(skids), 'rows')}, piers up to {show.length(apart)} apart{limit}; {wood}"


def _loads(piers: Piers, show: Display) -> str:
    """Say what comes down on each pier, those that carry the same together, the heaviest first."""
    told: dict[str, list[str]] = {}
    for pier in sorted(piers.piers, key=lambda pier: -round(pier.load, 3)):
        told.setdefault(force_words(pier.load, us=show.us), []).append(visible(pier.name, 16))
    return "; ".join(f"{load} on {', '.join(names)}" for load, names in told.items())


def _pier_table(piers: Piers, show: Display, surveyed: Display) -> list[str]:
    same = same_ending(piers)
    blocks = f"{same or 'block'}s, bottom up"
    header = ["pier", show.heading("ground"), "bottom", "dig", "bed", "stack", blocks]
    rows = [
        [
            visible(pier.name, 16),
            _range(surveyed.elevation_number(pier.ground_low), surveyed.elevation_number(pier.ground_high)),
            show.elevation_number(pier.bottom),
            show.depth(pier.depth),
            show.depth(pier.bed),
            show.depth(pier.height),
            stack_words(pier.laid, pier.across, same),
        ]
        for pier in piers.piers
    ]
    return text_table(header, rows)


def _range(low: str, high: str) -> str:
    return low if low == high else f"{low}-{high}"


def _holes(piers: Piers, show: Display) -> list[str]:
    """Say how large the holes are in plan; where they differ, which pier has which."""
    sizes: dict[str, list[str]] = {}
    for pier in piers.piers:
        along, across = (show.depth(side) for side in pier.hole_size)
        sizes.setdefault(f"{along} along the beams, {across} across", []).append(visible(pier.name, 16))
    if len(sizes) == 1:
        return filled(f"Each hole is {next(iter(sizes))}.{_one_size(piers, show)}")
    told = [f"Hole of {', '.join(names)}: {size}." for size, names in sizes.items()]
    told += [_one_size(piers, show).strip()]
    return [line for text in told if text for line in filled(text, rest="  ")]


def _one_size(piers: Piers, show: Display) -> str:
    """Say what one size for all holes costs, where the best have several."""
    one = piers.one_size
    if one is None:
        return ""
    if one.size is None:
        return " No one size suits all."
    if one.taken:
        return f" One size for all costs {one.more:.0f} more." if one.more >= 0.5 else ""
    size = " x ".join(map(show.depth, one.size))
    return f" One size for all, {size}, costs {one.more:.0f} more: one_size = true under [piers]."


def same_ending(piers: Piers) -> str:
    """Give the thing ("block") that the names of all units end in, or of all that are laid, or nothing."""
    for units in (piers.spec.units, [unit for pier in piers.piers for unit in pier.laid]):
        endings = {unit.name.rpartition(" ")[2] for unit in units if " " in unit.name}
        alone = any(" " not in unit.name for unit in units)
        if not alone and len(endings) == 1 and endings <= set(THINGS):
            return endings.pop()
    return ""


def _goal_table(piers: Piers, show: Display) -> list[str]:
    blocks = f"{same_ending(piers) or 'block'}s"
    header = ["goal", show.heading("top"), blocks, f"dig ({show.volume_unit})", "net cost", ""]
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
        line for stack, names in told.items() for line in filled(f"{', '.join(names)}: {stack}", rest="  ")
    ]


def slab_lines(slab: Slab, plan: Plan) -> list[str]:
    """Tell the slab: what it is, what goes below it, what holds it while it hardens, where it is cut, what
    leads water past it."""
    show = plan.job.show
    above = above_words(slab.level - slab.ground.highest, plan.stations.ground)
    ground = f"{above} the highest ground under it"
    size = f"{show.area(slab.area)}, {show.depth(slab.spec.thickness)} thick"
    barrier, mesh = words(show.dialect)["vapor_barrier"], words(show.dialect)["wire_mesh"]
    forms = ", ".join(
        f"{show.distance(form.length)} of {show.depth(form.height)}"
        + (f" ({' over '.join(show.depth(board) for board in form.boards)})" if form.courses > 1 else "")
        for form in slab.forms
    )
    rows = [
        ("Top", f"{show.elevation(slab.level)}, {ground}; {size}"),
        ("Concrete", _concrete(slab, show)),
        ("Below", _below(slab, show)),
        ("Dig", f"{show.volume(slab.dig)} in place{dug_beside(plan, 'slab')}"),
        ("Uncertainty", "" if plan.slab_spread is None else sure_words(plan.slab_spread, show)),
        ("Forms", f"boards along the edge by height: {forms}"),
        (barrier.rpartition(" ")[2].capitalize(), _sheet(slab.film, barrier, "rolls", show)),
        ("Mesh", _sheet(slab.mesh, mesh, "sheets", show)),
        ("Joints", _joints(slab, show)),
        *led_rows(plan, "slab", slab.dig),
    ]
    return [line for name, text in rows if text for line in named(name, text)]


def _concrete(slab: Slab, show: Display) -> str:
    concrete, spec = slab.concrete, slab.spec
    edge = ""
    if slab.rib > 0.0:
        edge = f", {show.volume(slab.rib)} of it in the thickened edge, {show.depth(spec.edge_depth)} deep"
    short = " with a short-load charge" if concrete.short else ""
    ready = f"{show.volume(concrete.mix)} of ready-mix{short}"
    bags = f"{concrete.bags} {show.mass(slab.prices.concrete.bag).replace(' ', '-')} bags"
    first, second = (bags, ready) if concrete.cheaper == "bags" else (ready, bags)
    return (
        f"{show.volume(concrete.volume)} in place{edge}; {show.volume(concrete.needed)} with "
        f"{spec.waste * 100:.0f} % waste: {first}, or {second} (costs more)"
    )


def _below(slab: Slab, show: Display) -> str:
    text = (
        f"{show.depth(slab.spec.base)} of base course; {show.volume(slab.gravel)} of stone compacted in all"
    )
    deep = f"{show.depth(slab.fill_most)} deep at the most"
    if slab.earth > 0.0:
        text += f"; {show.volume(slab.fill)} of earth fill compacted under it, {deep}: "
        dug = f"{show.volume(slab.reused)} in place from the dig"
        brought = f"{show.volume(slab.earth_loose)} loose to bring in"
        if slab.earth_brought == 0.0:
            return text + dug
        return text + (f"{dug}, {brought}" if slab.reused > 0.0 else brought)
    if slab.fill > 0.0:
        text += f", {show.volume(slab.fill)} of it fill under the base course, {deep}"
    return text


def _sheet(sheet: Covering | None, word: str, sold: str, show: Display) -> str:
    """Say what covers the ground or lies in the concrete; empty where the slab has none of it."""
    if sheet is None:
        return ""
    kind = sheet.kind.name.removesuffix(" mesh")
    strips = strips_told(sheet.runs, show.distance)
    return (
        f"{word}, {kind}: {strips} from {counted(sheet.pieces, sold)}, laps {show.depth(sheet.kind.lap)}; "
        f"{show.area(sheet.area)} in all"
    )


def _joints(slab: Slab, show: Display) -> str:
    joints = slab.joints
    if joints.along == joints.across == 1:
        return "none needed at this size"
    return (
        f"{joints.along} by {joints.across} panels, {show.length(joints.spacing)} wide at the most; cut "
        f"{show.depth(joints.depth)} deep, {show.distance(joints.length)} in all"
        f"{', through each inward corner' if joints.corners else ''}"
    )
