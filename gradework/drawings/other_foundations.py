"""Piers or a slab on the plan sheet, in the place of the gravel pad: what is drawn, what the table says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings import ink
from gradework.drawings.board import Board
from gradework.drawings.outline_layer import draw_level, draw_outline
from gradework.drawings.piers_layer import draw_piers

if TYPE_CHECKING:  # the types only
    from gradework.foundations.piers import Piers
    from gradework.foundations.slab import Slab
    from gradework.project.work import Plan

WORDS = {"pad": "gravel pad", "piers": "block piers", "slab": "slab"}
"""What the sheet calls each foundation."""

Rows = list[tuple[str, str]]


def draw_piers_or_slab(board: Board, plan: Plan) -> None:
    """Draw the foundation that is chosen where it is not the pad, and its level."""
    found, ring = plan.foundations, plan.building.rings[0]
    if found.chosen == "piers" and found.piers is not None:
        draw_piers(board, found.piers)
        if found.piers.top is not None:
            draw_level(board, [ring], ring, "Top of piers", board.show.elevation(found.piers.top))
    elif found.slab is not None:
        slab = found.slab
        if slab.spec.margin > 0:
            draw_outline(board, slab.outline.rings, "Edge of the slab", width=ink.PAD, dash=ink.PAD_DASH)
        draw_level(board, [ring], slab.outline.rings[0], "Top of slab", board.show.elevation(slab.level))


def rows_of_other(plan: Plan) -> tuple[str, Rows]:
    """Give the heading and the rows of the sheet's table for piers or slab."""
    found = plan.foundations
    building: Rows = [
        ("Building", plan.job.show.area(plan.building.area)),
        ("Fall under the building", plan.job.show.length(plan.footprint.fall)),
    ]
    if found.chosen == "piers" and found.piers is not None:
        return "The piers", _pier_rows(found.piers, plan, building)
    assert found.slab is not None
    return "The slab", _slab_rows(found.slab, plan, building)


def _pier_rows(piers: Piers, plan: Plan, building: Rows) -> Rows:
    show = plan.job.show
    if piers.top is None or piers.floor_level is None:
        return [("Common top", "none fits"), *building]
    return [
        ("Top of all piers", show.elevation(piers.top)),
        ("Chosen for", piers.goal),
        ("Finished floor", show.elevation(piers.floor_level)),
        *building,
        ("Piers", str(len(piers.piers))),
        ("Units", str(piers.units_total)),
        ("Tallest stack", show.depth(max(pier.height for pier in piers.piers))),
        ("Digging, in place", show.volume(sum(pier.dig for pier in piers.piers))),
        ("Gravel in beds, compacted", show.volume(sum(pier.bed_volume for pier in piers.piers))),
    ]


def _slab_rows(slab: Slab, plan: Plan, building: Rows) -> Rows:
    show = plan.job.show
    return [
        ("Top of slab", show.elevation(slab.level)),
        ("Thickness", show.depth(slab.spec.thickness)),
        *building,
        ("Concrete, in place", show.volume(slab.concrete.volume)),
        ("Concrete with waste", show.volume(slab.concrete.needed)),
        ("Digging, in place", show.volume(slab.dig)),
        ("Gravel, compacted", show.volume(slab.gravel)),
        *([("Earth fill, compacted", show.volume(slab.earth))] if slab.earth > 0.0 else []),
        ("Deepest fill", show.depth(slab.fill_most)),
    ]
