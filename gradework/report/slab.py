"""The slab in words: level, concrete, base and fill, digging, forms, sheets, joints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.report.lines import named

if TYPE_CHECKING:
    from gradework.foundations.slab import Slab
    from gradework.foundations.slab_forms import FormStretch
    from gradework.foundations.slab_sheets import Covering
    from gradework.units import Display


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
