"""What was dug, bedded or has settled, in words: what to build now, what to buy, what to shim."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.errors import visible, words
from gradework.foundations.piers.plan import count_of, stack_words
from gradework.report.text import WIDTH, filled, text_table
from gradework.sitework.asbuilt import apart, high_or_low

if TYPE_CHECKING:
    from gradework.foundations.piers.as_dug import Rebuilt, Redesign
    from gradework.project.digging import AsDug, DugPoint
    from gradework.project.settling import Settled
    from gradework.units.display import Display

_READ = {"dug": "Holes as dug", "bed": "Beds as laid"}
_LEAST = 0.0016
"""Less than this [m], a sixteenth of an inch, is nothing to do."""


def asdug_text(made: AsDug) -> str:
    """Tell what to build on what was dug. Lines are at most 80 columns."""
    show = made.plan.job.show
    head = [visible(made.plan.job.name, WIDTH)]
    if made.design is None:
        parts = [head, [_surface_verdict(made)], _points(made, show)]
    elif made.design.top is None:
        parts = [head, ["Stop. No top suits these holes with these blocks."]]
    else:
        parts = [head, filled(_verdict(made, made.design, show)), _piers(made, made.design, show)]
        parts += [_stacks(made.design), _blocks(made, made.design)]
    if made.ignored:
        names = ", ".join(visible(name, 20) for name in made.ignored[:8])
        parts.append(filled(f"Not compared, no such pier: {names}."))
    return "\n\n".join("\n".join(line.rstrip() for line in part) for part in parts if part)


def _verdict(made: AsDug, design: Redesign, show: Display) -> str:
    assert design.top is not None
    top = f"the top stays at {show.elevation(design.top)}"
    if design.moved:
        by = design.top - design.planned
        way = "up" if by > 0 else "down"
        top = f"the top moves {way} {apart(abs(by), show)} to {show.elevation(design.top)}"
    changed = sum(not one.kept for one in design.piers)
    if made.passed:
        return f"{_READ[made.stage]}: go on. No stack changes, {top}."
    stacks = (
        "no stack changes"
        if not changed
        else f"{changed} of {len(design.piers)} stacks {'changes' if changed == 1 else 'change'}"
    )
    buy = " and ".join(count_of(count, unit.name) for unit, count in design.buy)
    return f"{_READ[made.stage]}: {top}, {stacks}. " + (f"Buy {buy} more." if buy else "Nothing to buy.")


def _piers(made: AsDug, design: Redesign, show: Display) -> list[str]:
    """One line for each pier: what was read, its bed, its blocks, and what to do."""
    dug = made.stage == "dug"
    header = ["pier", "bottom" if dug else "top of bed", "off plan", "bed", "shim", "do"]
    rows = []
    for one in design.piers:
        planned = one.pier.bottom if dug else one.pier.bottom + one.pier.bed
        level = one.read.bottom if one.read.bed_top is None else one.read.bed_top
        read = one.pier.name not in made.missing
        rows.append(
            [
                one.pier.name,
                show.elevation_number(level) if read else "not read",
                _off(level - planned, show, dug=dug) if read else "",
                show.depth(one.bed),
                show.depth(one.shim) if one.shim > _LEAST else "",
                "; ".join(_todo(one, show)),
            ]
        )
    return text_table(header, rows)


def _off(off: float, show: Display, *, dug: bool) -> str:
    """Say how a bottom or a bed lies against the plan."""
    words = high_or_low(off, show)
    return words.replace("low", "deeper").replace("high", "higher") if dug else words


def _stacks(design: Redesign) -> list[str]:
    """The stacks that change, from the bottom up."""
    changed = [one for one in design.piers if not one.kept]
    lines = ["New stacks, from the bottom up:"] if changed else []
    for one in changed:
        now, then = (stack_words(laid, one.pier.across) for laid in (one.laid, one.pier.laid))
        lines += filled(f"- {one.pier.name}: {now} (planned: {then})", rest="  ")
    return lines


def _todo(one: Rebuilt, show: Display) -> list[str]:
    """Say what differs from the plan at one pier, in the order of the work."""
    todo = []
    if one.deeper > _LEAST:
        todo.append(f"{'trim it' if one.deeper < 0.015 else 'dig it'} {show.depth(one.deeper)} deeper")
    if one.gravel > _LEAST:
        todo.append(f"add {show.depth(one.gravel)} of gravel and compact it")
    elif one.gravel < -_LEAST:
        todo.append(f"take {show.depth(-one.gravel)} of gravel off")
    thicker = one.bed - one.pier.bed
    if one.read.bed_top is None and abs(thicker) > _LEAST:
        todo.append(f"bed {show.depth(abs(thicker))} {'thicker' if thicker > 0 else 'thinner'}")
    if not one.kept:
        todo.append("new stack")
    if one.shim > _LEAST:
        todo.append("shim it")
    return todo or ["as planned"]


def _blocks(made: AsDug, design: Redesign) -> list[str]:
    """How many of each block are laid, on hand, and to buy."""
    lacking = {unit.name: count for unit, count in design.buy}
    rows = []
    piers = made.plan.foundations.piers
    for unit in () if piers is None else piers.spec.on_hand:
        laid = sum(part.pieces for one in design.piers for part in one.stack if part.unit.name == unit.name)
        have = made.on_hand.get(unit.name, 0)
        if laid or have:
            rows.append([unit.name, str(laid), str(have), str(lacking.get(unit.name, 0))])
    return text_table(["block", "to lay", "ordered", "buy"], rows)


def _surface_verdict(made: AsDug) -> str:
    wrong = sum(point.wrong for point in made.points)
    subgrade = words(made.plan.job.show.dialect)["subgrade"]
    start = f"{subgrade.capitalize()} as dug" if made.stage == "dug" else "Base course as laid"
    if not wrong:
        return f"{start}: go on. Every point is within what is allowed."
    return f"{start}: {wrong} of {len(made.points)} points to put right."


def _points(made: AsDug, show: Display) -> list[str]:
    rows = [
        [
            visible(point.name, 20),
            show.elevation_number(point.read),
            show.elevation_number(point.wanted) + ("" if point.at_stake else " at most"),
            high_or_low(point.off, show),
            _point_todo(point, made, show),
        ]
        for point in made.points
    ]
    lines = text_table(["point", show.heading("read"), "wanted", "off", "do"], rows)
    if made.missing:
        lines += ["", *filled(f"Not read: {', '.join(made.missing)}.")]
    return lines


def _point_todo(point: DugPoint, made: AsDug, show: Display) -> str:
    size = show.depth(abs(point.off))
    if not point.wrong:
        return "leave it"
    if made.stage == "bed":
        return f"rake {size} off" if point.off > 0 else f"add {size} and compact it"
    if point.off > 0:
        return f"dig {size} more"
    return f"{size} too deep: {size} more gravel, no loose soil"


def settled_text(made: Settled) -> str:
    """Tell what moved since the first readings. Lines are at most 80 columns."""
    show = made.plan.job.show.fine
    lifted = sum(point.lift > 0.0 for point in made.points)
    against = "" if made.tied else " against the middle of all"
    verdict = f"Since the first readings: {lifted} of {len(made.points)} tops need a shim."
    if not lifted:
        verdict = "Since the first readings: nothing to do. No top is lower than is allowed."
    level = "A shim brings a top back to where it stood against the others."
    if -made.base > _LEAST:
        level += f" What all went down together, {apart(-made.base, show)}, is left."
    header = ["point", "first", "now", f"moved{against}", "do"]
    rows = [
        [
            visible(point.name, 20),
            show.elevation_number(point.first),
            show.elevation_number(point.later),
            _moved(point.moved, show),
            point.advice,
        ]
        for point in made.points
    ]
    parts = [[visible(made.plan.job.name, WIDTH)], filled(verdict), [*(filled(level) if lifted else [])]]
    parts.append(text_table(header, rows))
    if made.ignored:
        names = ", ".join(visible(name, 20) for name in made.ignored[:8])
        parts.append(filled(f"Read now only, so not compared: {names}."))
    return "\n\n".join("\n".join(line.rstrip() for line in part) for part in parts if part)


def _moved(moved: float, show: Display) -> str:
    if apart(abs(moved), show) == apart(0.0, show):
        return "no"
    return f"{apart(abs(moved), show)} {'up' if moved > 0 else 'down'}"
