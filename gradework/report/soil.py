"""Where the soil goes, in words: a line for the first screen, a table and the places in full."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from gradework.earthwork.grading.led import NAMES
from gradework.report.ground import counted_names
from gradework.report.text import filled, named, text_table
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.sitework.soil import SoilPlan
    from gradework.units.display import Display

PILES: Mapping[str, str] = {
    "topsoil": "topsoil",
    "subsoil": "subsoil",
    "swale": "from beside it",
}
"""Each pile as a builder calls it."""

HELD: Mapping[str, str] = {
    "not asked": "the job says spread = false",
    "no room": "no more of it finds room on the surveyed ground below the building; shoot farther down the "
    "slope to find more",
    "falls": "with it a wall would lose its fall",
    "water": "it would hold water back",
    "off the survey": "the area of [soil] spread leaves the survey, or comes nearer than 1 ft (30 cm) to its "
    "edge",
    "at what is built": "the area of [soil] spread comes nearer than 4 ft (1.2 m) to walls, boards or a slab",
    "near others": "the area of [soil] spread comes too near to what stands near: 2 ft (60 cm) off fences "
    "and lot lines, 10 ft (3 m) off wells, septic fields and walls of others, or their setback",
    "leads water": "the area of [soil] spread lies over what leads water, less than 2 ft (60 cm) off it, in "
    "the way in or within 5 ft (1.5 m) of the way from an outlet",
    "uphill": "the area of [soil] spread does not lie below the lowest ground at the building",
}
"""Why soil is not spread."""


def soil_words(plan: Plan) -> str:
    """Say in a line where the soil goes; nothing where none is left over."""
    soil, show = plan.soil, plan.job.show
    if soil is None:
        return ""
    swell, parts = soil.soil.swell.value, []
    if shows(soil.sum_of("relaid"), show):
        parts.append(f"{show.volume(soil.sum_of('relaid') * swell)} of topsoil back on the {_shaped(plan)}")
    if soil.patches:
        thick = show.depth(max(one.thick for one in soil.patches))
        where = "below the building" if plan.job.soil.spread is True else "where the job says"
        parts.append(f"{show.volume(soil.sum_of('spread') * swell)} spread {thick} deep {where}")
    if shows(soil.hauled, show):
        parts.append(f"{show.volume(soil.hauled * swell)} hauled away{_loads(plan)}")
    if shows(soil.sum_of("heap"), show):
        parts.append(f"{show.volume(soil.sum_of('heap') * swell)} left in a heap")
    return f"{', '.join(parts)}, measured loose" if parts else ""


def shows(volume: float, show: Display) -> bool:
    """Whether a volume [m³] is told as more than nothing."""
    return show.volume_number(volume) != show.volume_number(0.0)


def dug_beside(plan: Plan, kind: str) -> str:
    """Say how much more there is to dig beside a foundation: to lead water past it, for topsoil on that, for
    the rain of its roof and for what stands at its door; nothing where none is dug."""
    found, show = plan.foundations, plan.job.show
    option, around, laid = found.options.get(kind), found.around.get(kind), found.soils.get(kind)
    if option is None or around is None or not shows(option.beside, show):
        return ""
    led = [one.dug for one in around.measures if one.dug is not None and one.dug.cut > 0.0]
    names = [counted_names([NAMES[one.kind] for one in led])]
    names[0] += " with its topsoil" if names[0] and laid is not None and shows(laid.soil.deeper, show) else ""
    if around.roof is not None:
        pipes = [one for one in around.roof.of("gutter") if one.cut > 0.0]
        names.append(counted_names(["gutter pipe" for _ in pipes]))
        names += ["drip strip"] if around.roof.stone > 0.0 else []
    names += ["bed at the door"] if around.access is not None and around.access.built else []
    return f", and {show.volume(option.beside)} for the {' and '.join(filter(None, names))}"


def _shaped(plan: Plan) -> str:
    """Name what topsoil goes back on."""
    kinds = dict.fromkeys(one.dug.kind for one in plan.measures if one.dug is not None)
    names = [NAMES[kind] for kind in kinds]
    return " and ".join(names) or "dug slopes"


def _loads(plan: Plan) -> str:
    spoil = plan.order.spoil
    loads = () if spoil is None else spoil.loads
    # a truck for what one person barrows away in an hour is silly
    best = min((one for one in loads if one.count), key=lambda one: one.count > BARROWS, default=None)
    picked = next((one for one in reversed(loads) if 0 < one.count <= BARROWS), best)
    return f" ({counted(picked.count, f'{picked.carrier.name} loads')})" if picked else ""


BARROWS = 8
"""So many barrow loads or fewer are not worth a truck (judgement)."""


def soil_lines(plan: Plan) -> list[str]:
    """Tell where each kind of soil goes, where it is spread, and why the rest is hauled."""
    soil, show = plan.soil, plan.job.show
    if soil is None or not shows(soil.sum_of("dug"), show):
        return []
    rows = [line for name, text in _rows(plan, soil, show) for line in named(name, text)]
    return [
        *_table(soil, show),
        *filled(f"In place; loose it takes up {soil.soil.swell.value:g} times as much ({soil.soil.name})."),
        *rows,
    ]


def _table(soil: SoilPlan, show: Display) -> list[str]:
    """One row for each thing that becomes of soil, one column for each pile that was dug."""
    dug = [number for number, one in enumerate(soil.piles) if shows(one.dug, show)]
    header = [f"in place ({show.volume_unit})", *(PILES[soil.piles[n].kind] for n in dug), ""]
    rows = [
        [word, *(show.volume_number(amounts[n]) for n in dug), ""]
        for word, amounts in soil.by_fate
        if any(shows(amounts[n], show) for n in dug)
    ]
    return text_table(header, rows)


def _rows(plan: Plan, soil: SoilPlan, show: Display) -> Iterator[tuple[str, str]]:
    if soil.relaid > 0.0:
        deep = show.depth(soil.deep)
        yield (
            "Topsoil",
            f"goes back {deep} deep, loose, over {show.area(soil.relaid)} of the {_shaped(plan)}: dig there "
            f"{deep} below the levels that are given ({show.volume(soil.deeper)} more to dig), and seed it",
        )
    for one in soil.patches:
        corners = "; ".join(show.place(x, y) for x, y in one.ring.tolist())
        edges = " to ".join(dict.fromkeys(show.distance(run) for run in (one.runs.min(), one.runs.max())))
        yield (
            "Spread",
            f"{show.volume(one.volume)} loose, {show.depth(one.thick)} deep, on {show.area(one.area)} with "
            f"the corners {corners}; its edges run out over {edges}",
        )
    if soil.patches:
        yield (
            "  how",
            "cut the grass short, rake the soil level, seed it. Its top stays below the lowest ground at the "
            "building: it dams up no water",
        )
    if soil.hauled > 0.0 or soil.sum_of("heap") > 0.0:
        loose = show.volume((soil.hauled + soil.sum_of("heap")) * soil.soil.swell.value)
        what = f"hauled away{_loads(plan)}" if soil.hauled > 0.0 else "left in a heap, since haul = false"
        why = f": {HELD[soil.held]}" if soil.held else ""
        yield "Left over", f"{loose} loose is {what}{why}"
    if soil.soil.key == "clay":
        yield "Clay", "is no fill under a pad, a slab or blocks: it swells and shrinks"
