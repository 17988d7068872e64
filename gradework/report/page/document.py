"""The page of a plan: one file that any browser opens, without a network, also without scripts.

What it says comes from the answer, the record of the order and the gate; nothing is worked out here.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import suppress
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import numpy as np

from gradework import __version__
from gradework.errors import InputError, visible, words
from gradework.project.section import section_of
from gradework.project.setout import Wanted, set_out_plan
from gradework.report.first_screen import able_words, conditions, parts_of, verdict_part
from gradework.report.ground import shots_words
from gradework.report.page.data import levels, page_data, pier_row
from gradework.report.page.oblique import oblique_picture
from gradework.report.page.pictures import roof_of, section_box, section_picture, water_picture
from gradework.report.page.shell import rendered
from gradework.report.plan import NOTHING, comparison_rows, summary
from gradework.report.rain import how_known
from gradework.report.text import WIDTH, as_wide_as
from gradework.report.yard import tie_words
from gradework.sitework.drains import drains_told
from gradework.sitework.setout import FINISHED, to
from gradework.sitework.trip import stop_text, total_text
from gradework.survey.stations import survey_mark
from gradework.units.amounts import M_PER_IN, flow_words, force_words, stress_words
from gradework.units.display import counted, fixed

if TYPE_CHECKING:
    from gradework.earthwork.likely import Band
    from gradework.foundations.checks.check import Check
    from gradework.project.plan import Plan
    from gradework.project.section import Section
    from gradework.report.answer import Part
    from gradework.sitework.drains import Drains
    from gradework.sitework.setout import StakedPoint
    from gradework.units.display import Display

SCRIPTS = ("kernel.js", "words.js", "rods.js", "moves.js", "yard.js")
"""In this order they are one script."""

_LONGEST = 80
"""So much of a name of the user's is shown."""


def page(plan: Plan) -> bytes:
    """Give the page of a plan, UTF-8."""
    parts = parts_of(plan)
    section = section_of(plan)
    grave = any(part.kind == "stop" for part in parts)
    against = [part for part in parts if part.kind in ("stop", "warning") and part.label != "Water"]
    wrong = [(part.kind, f"{part.label}: {part.text}" if part.label else part.text) for part in against]
    water = [part.text for part in parts if part.label == "Water"]
    shots = f"{counted(len(plan.stations), 'shots')} in {visible(plan.stations.file, _LONGEST)}"
    if plan.surface.breaklines:
        shots += f", {counted(len(plan.surface.breaklines), 'breaklines')}"
    with as_wide_as(WIDTH):  # the same page from every terminal
        words = summary(plan)
    return rendered(
        "page.html",
        "page.css",
        SCRIPTS,
        name=visible(plan.job.name, _LONGEST),
        verdict=verdict_part(plan, "").short if grave else able_words(plan),
        ifs="" if grave else _capital(conditions(plan)),
        stamp=plan.stamp(),
        first=_first(parts),
        grave=grave,
        figures=list(_figures(plan)),
        level=[part.text for part in parts if part.kind == "level"],
        wrong=wrong,
        wet=any(one.kind in ("stop", "warning") and one.label == "Water" for one in parts),
        **_pictures(plan, section),
        water=water,
        order=list(_order(plan)),
        total=total_text(plan.stops(plan.foundations.chosen), plan.job.show),
        nothing=NOTHING,
        piers=list(_piers(plan)),
        piers_told=_piers_told(plan),
        sure=list(_sure(plan)),
        shoot=shots_words(plan.spread, plan.job.show) if _spread_known(plan, "pad") else "",
        compared=_compared(plan),
        findings=[(one.severity, f"{one.advice} [{one.code}]") for one in plan.findings],
        checks=list(_checks(plan)),
        cautions=plan.cautions,
        words=words,
        survey=f"{plan.trust.summary} {shots}.",
        made=_made(plan),
        data=_json(page_data(plan, section, section_box(section) if section else None)),
        step=plan.job.show.depth(M_PER_IN if not plan.job.show.metric else 0.01),
        wider=plan.job.show.depth(3.0 * M_PER_IN if not plan.job.show.metric else 0.05),
        marks=[visible(mark.name, _LONGEST) for mark in plan.benchmarks],
        levels=list(levels(plan)),
        stages=[one for one in _STAGES if one[0] in {level.stage for level in levels(plan)}],
        **_stakes(plan),
        ways=_WAYS,
        now=list(_now(plan)),
        rules=[f"{one.rule}, {plan.job.show.elevation(one.level)}" for one in plan.pad.choices],
        alone=_ALONE.get(plan.foundations.chosen, ""),
        stepped=plan.foundations.chosen if section is not None and plan.foundations.chosen != "slab" else "",
    )


def _pictures(plan: Plan, section: Section | None) -> dict[str, Any]:
    """The pictures, each with what is told of it."""
    drains = drains_told(*plan.catchments)
    return {
        "section": section_picture(section) if section else "",
        "section_told": _section_told(plan),
        "profile": list(_profile(plan, section)) if section else [],
        "yard": water_picture(plan),
        "water_key": _WATER_KEY + _roof_key(plan) + (_ELSEWHERE_KEY if plan.foundations.elsewhere else ""),
        "drains": [_drains(one, plan.job.show) for one in drains],
        "drains_known": [f"{_capital(text)}." for text in how_known(plan, drains)],
        "oblique": oblique_picture(plan, section.floor if section else None),
        "corners": list(_corners(plan)),
    }


def _stakes(plan: Plan) -> dict[str, Any]:
    """The stakes of what is ordered, in their order: name, where by tape, mark; none of what is held back."""
    found: list[tuple[str, str, str]] = []
    told, show = "", plan.job.show
    if not plan.held_back:
        with suppress(InputError):  # its marks are at one place: told by setout
            made = set_out_plan(plan, Wanted())
            for point in made.sheet.points:
                stake, tie = point.stake, point.tie
                where = f"x {show.taped(stake.x)}, y {show.taped(stake.y)}"
                where += "" if tie is None else f"; {tie_words(tie, show)}"
                found.append((visible(stake.name, 20), where, "; ".join(_marked(point, show))))
            told = f"{counted(len(found), 'stakes')}, all lengths level. How to set them: gradework setout."
    return {"stakes": found, "stakes_told": told}


def _marked(point: StakedPoint, show: Display) -> Iterator[str]:
    """What a stake leads to: how far down or up from the ground beside it."""
    for mark, what in ((point.mark, point.marked_for), (point.finish, FINISHED)):
        if mark is not None and mark.kind != "GRADE":
            way = "cut" if mark.kind == "C" else "fill"
            yield f"{way} {show.depth(mark.amount)}" + (f" {to(what)}" if what else "")
        elif mark is not None:
            yield f"at {what or 'grade'}"


def _made(plan: Plan) -> str:
    """What the page was made with, and the mark of the survey, which stands on the sheets too."""
    own = ", ".join(f"{name} {version(name)}" for name in ("numpy", "shapely", "pythoncdt"))
    mark = survey_mark(plan.stations.xyz)
    return (
        f"Made by gradework {__version__} with {own}. Survey mark {mark}, as on the sheets. Every volume is "
        "exact for the surveyed triangles."
    )


def _json(data: dict[str, Any]) -> str:
    """Data that may stand in a page: no word in it ends the element that it stands in."""
    return json.dumps(data, allow_nan=False).replace("<", "\\u003c")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


_WATER_KEY = (
    "Red arrow: water comes to this wall. Blue arrow: it runs away. Dashed: it falls too little. "
    "Thick blue line: what leads it past, and where it comes out. Brown: lines of equal height of the "
    "finished ground; thick brown: breaklines. Dotted: where rain from uphill runs, gray as surveyed, blue "
    "once it is built; pale blue: where it stands."
)


_ELSEWHERE_KEY = " Dashed outline: where it could stand instead, at its first corner Move or Turn."


def _roof_key(plan: Plan) -> str:
    """What the picture shows of the rain of the roof."""
    roof = roof_of(plan)
    if roof is None:
        return ""
    gutter = " Blue along an eave: a gutter; dashed blue: the pipe from it."
    strip = " Gray along an eave: clean stone that takes the drips."
    return gutter * bool(roof.of("gutter")) + strip * bool(roof.of("drip strip"))


def _drains(one: Drains, show: Display) -> tuple[str, str, str]:
    """A row of what drains to a wall or swale: where, as it is, once it is built."""
    now, then = ("" if has is None else has.words(show) for has in (one.now, one.then))
    return _capital(one.where), now, then


_WAYS = (
    ("west", "left"), ("east", "right"), ("north", "up"), ("south", "down"),
    ("left", "turn left 5°"), ("right", "turn right 5°"),
)  # fmt: skip
"""How the building is moved on the picture of the yard: what a button is called, and what it says."""


_NOW = {
    "pad": (
        ("dig", "dig under the pad"),
        ("cut", "of it below the topsoil"),
        ("fill", "gravel beyond its least"),
        ("gravel", "its gravel, dry"),
        ("edge", "its highest edge"),
        ("cost", "digging and gravel, pad only"),
    ),
    "piers": (
        ("dig", "dig for the holes"),
        ("beds", "gravel in beds"),
        ("blocks", "blocks to lay"),
        ("tallest", "tallest pier"),
    ),
}


def _now(plan: Plan) -> Iterator[tuple[str, str]]:
    """What follows: money only where all of it has a price."""
    priced = not plan.pad.ground.prices.missing(plan.pad.spec.edge)
    yield from (one for one in _NOW.get(plan.foundations.chosen, ()) if priced or one[0] != "cost")


_ALONE = {
    "pad": "The pad alone, at another level or place. Whether it can be built there, water, what is dug "
    "beside it, the order, stakes and money",
    "piers": "The piers alone, with their tops at another height: holes, beds and blocks are told below. "
    "Whether they can be built so, anchors, steps, the order, stakes and money",
}
"""What follows when it is moved on the page, and what does not."""


_STAGES = (("dug", "Save what was dug"), ("bed", "Save the beds"), ("tops", "Save the tops"))
"""The stages that the as-built check knows, and what the button says that saves the readings of one."""


def _corners(plan: Plan) -> Iterator[tuple[str, str, str]]:
    """The ground at each corner of the building: its number, before and after."""
    show, ring = plan.job.show, plan.building.rings[0]
    heights = (plan.surface.elevation(ring).tolist(), plan.finished.elevation(ring).tolist())
    for number, (before, after) in enumerate(zip(*heights, strict=True), start=1):
        yield str(number), show.elevation(before), show.elevation(after)


def _first(parts: list[Part]) -> str:
    """The one thing to see to first: what stops it, else the first warning."""
    for kind in ("stop", "warning"):
        found = next((part for part in parts if part.kind == kind), None)
        if found is not None:
            where = f"{found.label}: " if found.label else ""
            return f"{where}{found.short or found.text}"
    return ""


def _section_told(plan: Plan) -> str:
    ground = "Dashed: the ground now. Thick line: when it is done."
    dug = " Striped: dug off." if plan.foundations.chosen != "piers" else ""
    return (
        f"Cut through the building, as high as it is wide. {ground}{dug} Walls, roof and door only for size."
    )


def _profile(plan: Plan, section: Section) -> Iterator[tuple[str, str, str]]:
    """The section as rows: how far along from the uphill wall, and the ground there before and after."""
    show, at = plan.job.show, np.union1d(section.ground[:, 0], section.finished[:, 0])
    before, after = (np.interp(at, *one.T) for one in (section.ground, section.finished))
    for away, low, high in zip(at.tolist(), before.tolist(), after.tolist(), strict=True):
        yield show.taped(away), show.elevation(low), show.elevation(high)


def _figures(plan: Plan) -> Iterator[tuple[str, str]]:
    """Four figures: what to dig, to bring, to pay, and how high the edge or the tallest pier stands."""
    show, found = plan.job.show, plan.foundations
    option = found.options.get(found.chosen)
    if option is not None:
        yield "dig, in place", show.volume(option.digging)
    yield "to bring", "nothing" if plan.held_back else show.mass(plan.order.mass_kg)
    cost = next((one.cost for one in found.judged if one.foundation == found.chosen), None)
    if cost is not None:
        made_up = ", made-up prices" if found.invented else ""
        yield f"cost{made_up}", f"{fixed(cost, 0)} {plan.job.prices.currency or ''}".strip()
    if found.chosen == "piers" and found.piers is not None and found.piers.piers:
        yield "tallest pier", show.depth(max(pier.height for pier in found.piers.piers))
    elif found.chosen == "pad":
        yield "highest edge", show.depth(max(found.pad.edge.greatest, 0.0))
    elif found.slab is not None:
        lowest = min(float(side.ground.min()) for side in found.slab.sides)
        yield "highest edge", show.depth(max(found.slab.level - lowest, 0.0))


def _order(plan: Plan) -> Iterator[tuple[str, str, list[tuple[int, str, str, str]]]]:
    """By supplier, with its loads: number, amount, thing and what to tell of each line; nothing where nothing
    is ordered."""
    number = 0
    for stop in plan.stops(plan.foundations.chosen):
        rows = []
        for line in stop.lines:
            number += 1
            rows.append((number, counted(line.quantity, line.unit), line.item, line.note))
        yield _capital(stop.shop), stop_text(stop, plan.job.show), rows
    hired = plan.hired(plan.foundations.chosen)
    if hired:
        rows = [(number + place, "1", one.item, one.why) for place, one in enumerate(hired, 1)]
        yield _capital(words(plan.job.show.dialect)["rental_yard"]), "", rows
    if missing := plan.not_ordered(plan.foundations.chosen):
        yield "Not in this order", "; ".join(missing), []


def _piers(plan: Plan) -> Iterator[tuple[str, ...]]:
    """One row a pier."""
    found, show = plan.foundations, plan.job.show
    if found.chosen != "piers" or found.piers is None:
        return
    yield from (pier_row(pier, show) for pier in found.piers.piers)


def _piers_told(plan: Plan) -> str:
    piers = plan.foundations.piers
    if piers is None or piers.top is None:
        return ""
    return f"All tops at {plan.job.show.elevation(piers.top)}; holes measured at their low side."


def _spread_known(plan: Plan, kind: str) -> bool:
    """Whether the figures of what is built have a spread; ground that was made up tells nothing of it."""
    return plan.foundations.chosen == kind and bool(plan.foundations.around)


def _sure(plan: Plan) -> Iterator[tuple[str, str, str, str]]:
    """How sure the figures are: above the first 9 times in 10, above the second as often as below it, below
    the third 9 times in 10; of a slab only the stone that is ordered has a chance, which stands with it."""
    show = plan.job.show
    if _spread_known(plan, "pad"):
        spread = plan.spread
        rows: tuple[tuple[str, Band], ...] = (
            ("dig", spread.excavation),
            ("gravel, compacted", spread.gravel),
        )
        rows = (*rows, ("cut", spread.cut), ("fill", spread.fill))
        yield from (_row(name, one, show.volume) for name, one in rows)
    elif _spread_known(plan, "piers") and plan.piers_spread is not None:
        every = plan.piers_spread
        yield _row("dig", every.excavation, show.volume)
        yield _row("gravel for the beds", every.gravel, show.volume)
        yield from (_row(f"bed of {pier.name}", pier.bed, show.depth) for pier in every.piers)


def _row(name: str, band: Band, said: Callable[[float], str]) -> tuple[str, str, str, str]:
    return name, said(band.p10), said(band.p50), said(band.p90)


def _compared(plan: Plan) -> list[tuple[str, list[str]]]:
    comparison = plan.foundations.comparison
    if comparison is None:
        return []
    header, rows = comparison_rows(comparison.options, plan.foundations.judged, plan.job.show)
    return [(first, [cell for cell in rest if cell]) for first, *rest in (header, *rows)]


def _checks(plan: Plan) -> Iterator[tuple[str, ...]]:
    """One row a check of what is chosen: name and place, found, limit, yes or no, its rule."""
    own = plan.judged
    for check in own.checks if own is not None else ():
        name = f"{check.check}, {check.where}" if check.where else check.check
        bound = "at least " if check.bound == "least" else "at most "
        asked = check.unit == "-" and (check.bound, check.limit) == ("least", 1.0)  # a question of yes or no
        limit = "" if asked else _measured(check.limit, check, plan.job.show)
        holds = {True: "yes", False: "no", None: "not known"}[check.holds]
        found = "" if asked else _measured(check.value, check, plan.job.show)
        yield name, found, f"{bound}{limit}" if limit else "", holds, check.source


def _measured(value: float | None, check: Check, show: Display) -> str:
    """A value of a check in words; nothing where there is none, or where it is only yes or no."""
    if value is None:
        return ""
    if check.unit == "m":
        return f"-{show.depth(-value)}" if value < 0.0 else show.depth(value)
    words = {"m3/s": flow_words, "kN": force_words, "kPa": stress_words}.get(check.unit)
    return words(value, us=show.us) if words else f"{value:.3g}"
