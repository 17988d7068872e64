"""What the scripts of the page work with: the ground, the pad, marks, levels; SI, local to the survey."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from gradework.report.page.pictures import yard_box
from gradework.report.page.svg import PX
from gradework.units.amounts import M_PER_IN
from gradework.units.lengths import METRES_PER

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad
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
        "marks": [{"name": one.name, "elevation": one.elevation} for one in plan.benchmarks],
        "levels": [{"what": what, "elevation": height} for what, height in levels(plan)],
        "pad": None,
    }
    if found.chosen == "pad" and section is not None and box is not None:
        surface = plan.surface
        data["ground"] = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
        data["section"] = {
            "ground": section.ground.tolist(), "left": box[0], "high": box[3], "scale": PX / (box[2] - box[0])
        }  # fmt: skip
        spans = [
            (float(one.corners[0, 0]), float(one.corners[-1, 0]))
            for one in section.parts
            if one.stuff == "gravel"
        ]
        data["pad"] = _pad(plan, found.pad, spans)
        data["section"] |= {"start": section.start, "along": section.along, "box": section.box[::2]}
        data["yard"] = _yard(plan)
    return data


def _units(show: Display) -> dict[str, Any]:
    """How lengths are said, and how far one touch raises a level [m]: an inch, or a centimetre."""
    return {
        "form": show.form, "us": show.us, "metric": show.metric, "foot": float(METRES_PER[_foot(show)]),
        "step": M_PER_IN if not show.metric else 0.01,
    }  # fmt: skip


def _foot(show: Display) -> Any:
    return show.length_unit if not show.metric else "ft"


def _pad(plan: Plan, pad: Pad, spans: list[tuple[float, float]]) -> dict[str, Any]:
    unit, spec, chosen = plan.job.unit, pad.spec, pad.chosen
    return {
        "rings": [(ring - plan.surface.origin).tolist() for ring in pad.outline.rings],
        "level": chosen.level, "strip": spec.strip, "gravel": spec.gravel, "density": spec.density,
        "low": pad.ground.edge_low, "spans": spans,
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


def levels(plan: Plan) -> Iterator[tuple[str, float]]:
    """What a rod is held on, in the order of work, and its elevation [m]."""
    found = plan.foundations
    if found.chosen == "pad":
        pad = found.pad
        yield "bottom of the dig, where it is cut", pad.chosen.level - pad.spec.gravel
        yield "top of the pad", pad.chosen.level
    elif found.chosen == "slab" and found.slab is not None:
        slab = found.slab
        yield "under the gravel, where it is cut", slab.level - slab.spec.thickness - slab.spec.base
        yield "under the concrete", slab.level - slab.spec.thickness
        yield "top of the slab", slab.level
    elif found.piers is not None and found.piers.top is not None:
        for pier in found.piers.piers:
            yield f"{pier.name}: bottom of the hole", pier.bottom
            yield f"{pier.name}: top of the bed", pier.bottom + pier.bed
        yield "top of every pier", found.piers.top
