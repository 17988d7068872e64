"""What the scripts of the page work with: the ground, the pad, marks, levels; SI, local to the survey."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from gradework.foundations.piers.design import piers_at
from gradework.foundations.piers.plan import stack_words
from gradework.project.section import pier_parts
from gradework.report.page.pictures import yard_box
from gradework.report.page.svg import PX
from gradework.sitework.asbuilt import LEVEL_TOLERANCE
from gradework.units.amounts import M_PER_IN
from gradework.units.lengths import METRES_PER

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.project.plan import Plan
    from gradework.project.section import Section
    from gradework.units.display import Display

DECIMALS = {"m": 3, "cm": 1, "mm": 0, "in": 1}
"""Decimals of a level as it is written in a job, by its unit; 2 of any other."""


def page_data(
    plan: Plan, section: Section | None, box: tuple[float, float, float, float] | None
) -> dict[str, Any]:
    """Gather it; ``box`` [m] is the window of the picture of the section."""
    show, found = plan.job.show, plan.foundations
    data: dict[str, Any] = {
        "name": f"{plan.job.name} {found.chosen} {plan.stations.file}",
        "units": _units(show),
        "tolerance": plan.job.setout.tolerance or LEVEL_TOLERANCE,
        "marks": [{"name": one.name, "elevation": one.elevation} for one in plan.benchmarks],
        "levels": [one._asdict() for one in levels(plan)],
        "pad": None,
    }
    if found.chosen == "pad" and section is not None and box is not None:
        surface = plan.surface
        data["ground"] = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
        data["section"] = {
            "ground": section.ground.tolist(), "left": box[0], "high": box[3], "scale": PX / (box[2] - box[0])
        }  # fmt: skip
        data["pad"] = _pad(plan, found.pad)
        data["section"] |= {"start": section.start, "along": section.along, "box": section.box[::2]}
        data["yard"] = _yard(plan)
    if found.chosen == "piers" and found.piers is not None and section is not None and box is not None:
        data["section"] = {"left": box[0], "high": box[3], "scale": PX / (box[2] - box[0])}
        data["tops"] = list(_tops(plan, found.piers, section))
    return data


_LOWER, _HIGHER = 6, 12
"""So many steps below and above their own top the piers are worked out."""


def _tops(plan: Plan, piers: Piers, section: Section) -> Iterator[dict[str, Any]]:
    """The common tops that the piers can have near their own, lowest first: what each takes, in words, and
    how it looks in the section."""
    show, top = plan.job.show, piers.top
    if top is None:
        return
    step = _units(show)["step"]
    steps = range(-_LOWER, _HIGHER + 1)
    levels = [top + number * step for number in steps]
    start, along = np.array(section.start), np.array(section.along)
    found = piers_at(plan.surface, plan.building, piers, levels, show)
    for number, level, built in zip(steps, levels, found, strict=True):
        if built is None:
            continue
        parts = pier_parts(plan, built, start, along)
        yield {
            "steps": number, "top": level,
            "dig": show.volume(math.fsum(pier.dig for pier in built)),
            "beds": show.volume(math.fsum(pier.bed_volume for pier in built)),
            "blocks": str(sum(pier.pieces for pier in built)),
            "tallest": show.depth(max(pier.height for pier in built)),
            "rows": [pier_row(pier, show)[1:] for pier in built],
            "take": f"top = {show.job_number(level)}",
            "parts": [{"stuff": one.stuff, "corners": one.corners.tolist()} for one in parts],
        }  # fmt: skip


def pier_row(pier: Pier, show: Display) -> tuple[str, str, str, str]:
    """A pier in words: its name, its hole, its bed, its stack."""
    hole = f"{' x '.join(map(show.depth, pier.hole_size))}, {show.depth(pier.depth)} deep"
    return pier.name, hole, show.depth(pier.bed), stack_words(pier.laid, pier.across)


def _units(show: Display) -> dict[str, Any]:
    """How lengths are said, and how far one touch raises a level [m]: an inch, or a centimetre."""
    return {
        "form": show.form, "us": show.us, "metric": show.metric, "foot": float(METRES_PER[_foot(show)]),
        "step": M_PER_IN if not show.metric else 0.01,
    }  # fmt: skip


def _foot(show: Display) -> Any:
    return show.length_unit if not show.metric else "ft"


def _pad(plan: Plan, pad: Pad) -> dict[str, Any]:
    unit, spec, chosen, money = plan.job.unit, pad.spec, pad.chosen, pad.ground.prices
    return {
        "rings": [(ring - plan.surface.origin).tolist() for ring in pad.outline.rings],
        "level": chosen.level, "strip": spec.strip, "gravel": spec.gravel, "density": spec.density,
        "low": pad.ground.edge_low, "margin": spec.margin, "swell": spec.swell,
        "prices": None
        if money.missing(spec.edge)
        else {"dig": money.dig, "haul": money.haul, "gravel": money.gravel},
        "rules": [{"name": one.rule, "level": one.level} for one in pad.choices],
        "limits": [{"name": one.name, "least": one.least, "level": one.level} for one in pad.limits],
        "unit": float(METRES_PER[unit]), "digits": DECIMALS.get(unit, 2),
    }  # fmt: skip


def _yard(plan: Plan) -> dict[str, Any]:
    """Where the building stands, and the window of the picture of the yard, local; ``corner`` and ``turn`` as
    the job has them, None of one that stands otherwise."""
    east, north = plan.surface.origin.tolist()
    left, low, right, high = yard_box(plan)
    table = plan.job.building
    square = table.outline is None and table.corner is not None
    return {
        "left": left - east, "high": high - north, "scale": PX / (right - left), "low": low - north,
        "origin": [east, north],
        "building": [(ring - (east, north)).tolist() for ring in plan.building.rings],
        "turn": table.turn if square else None,
    }  # fmt: skip


class Level(NamedTuple):
    """Something that a rod is held on: what it is called, its elevation [m], and as which station of which
    stage the as-built check takes a reading on it; under the hole of a pier how ``thick`` its bed is, at the
    ``least`` and at the ``most`` [m]."""

    what: str
    elevation: float
    stage: Literal["dug", "bed", "tops"]
    station: str
    bed: dict[str, float] | None = None


def levels(plan: Plan) -> Iterator[Level]:
    """All of them, in the order of work; none of what cannot be built as drawn."""
    found = plan.foundations
    if plan.held_back:
        return
    if found.chosen == "piers" and found.piers is not None and found.piers.top is not None:
        spec = found.piers.spec
        for pier in found.piers.piers:
            bed = {"thick": pier.bed, "least": spec.bed_least, "most": spec.bed_most}
            yield Level(f"{pier.name}: bottom of the hole", pier.bottom, "dug", f"pier {pier.name}", bed)
        for pier in found.piers.piers:
            yield Level(f"{pier.name}: top of the bed", pier.bottom + pier.bed, "bed", f"pier {pier.name}")
        for pier in found.piers.piers:
            yield Level(f"{pier.name}: top of the blocks", found.piers.top, "tops", f"pier {pier.name}")
        return
    if found.chosen == "slab" and found.slab is not None:
        slab, name = found.slab, "slab"
        outline, top, strip = slab.outline, slab.level, slab.spec.strip
        under = slab.level - slab.spec.thickness - slab.spec.base
    else:
        pad, name = found.pad, "pad"
        outline, top, strip = pad.outline, pad.chosen.level, pad.spec.strip
        under = pad.chosen.level - pad.spec.gravel
    ground = plan.surface.elevation(outline.rings[0])
    for number, height in enumerate(ground.tolist(), start=1):
        corner = f"{name} {number}"
        yield Level(f"{corner}: bottom of the dig", min(height - strip, under), "dug", corner)
    for number in range(1, len(ground) + 1):
        yield Level(f"{name} {number}: top", top, "tops", f"{name} {number}")
