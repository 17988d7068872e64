"""A concrete slab on real ground: concrete, base course, fill and digging, film, mesh, forms, joints."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork import clip, cut_and_fill
from gradework.earthwork.cutfill import AGREEMENT
from gradework.earthwork.perimeter import sides
from gradework.errors import CheckError, Faults
from gradework.foundations.pier_layout import building_frame
from gradework.foundations.slab_concrete import buy_concrete
from gradework.foundations.slab_edges import form_boards, rib_volume
from gradework.foundations.slab_joints import plan_joints
from gradework.foundations.slab_limits import slab_findings
from gradework.foundations.slab_plan import Slab
from gradework.foundations.slab_sheets import cover
from gradework.foundations.slab_spec import FORM_HEIGHTS, SlabPrices, SlabSpec
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork import Outline, Pieces
    from gradework.ground import Surface
    from gradework.units import Display

__all__ = ["FORM_HEIGHTS", "Slab", "SlabPrices", "SlabSpec", "design_slab"]


def design_slab(
    surface: Surface, building: Outline, spec: SlabSpec, prices: SlabPrices, show: Display
) -> Slab:
    """Plan a slab under a building on the ground.

    Raises ``InputError`` where it leaves the survey or where its thickened edges would meet.
    """
    outline = building.grown(spec.margin, show=show) if spec.margin > 0.0 else building
    pieces = clip(surface, outline)
    edges = sides(outline, pieces)
    level = pieces.highest + spec.freeboard if spec.level is None else spec.level
    rib = _rib(outline, spec, show)
    earth = _earthwork(pieces, outline, spec, level, rib)
    volume = outline.area * spec.thickness + rib
    frame = building_frame(outline, "first side")
    size = np.ptp(frame.to_local(outline.rings[0]), axis=0)
    long, wide = float(size[0]), float(size[1])
    forms = form_boards(
        edges, top=level, least=spec.thickness, most=spec.edge_depth, heights=spec.form_heights
    )
    slab = Slab(
        spec,
        prices,
        outline,
        pieces,
        edges,
        level,
        outline.area,
        rib,
        buy_concrete(volume, spec.waste, prices.concrete),
        *earth,
        forms=forms,
        film=cover(long, wide, spec.film, turn_up=spec.edge_depth) if spec.film else None,
        mesh=cover(long, wide, spec.mesh, inset=2.0 * M_PER_IN) if spec.mesh else None,
        joints=plan_joints(long, wide, spec.thickness),
        findings=(),
    )
    return replace(slab, findings=slab_findings(slab, show))


def _rib(outline: Outline, spec: SlabSpec, show: Display) -> float:
    try:
        return rib_volume(outline, depth=spec.edge_depth - spec.thickness, width=spec.edge_width)
    except ValueError:
        faults = Faults()
        reach = spec.edge_width + spec.edge_depth - spec.thickness
        faults.stop(
            "slab-edges-meet",
            f"thickened edges {show.length(reach)} wide on a slab of {show.area(outline.area)}",
            "a slab wide enough for both of its edges",
            "make the edge narrower or less deep, or the whole slab thick",
        )


def _earthwork(
    pieces: Pieces, outline: Outline, spec: SlabSpec, level: float, rib: float
) -> tuple[float, float, float, float]:
    """Give digging, gravel, fill [m³] and the deepest fill [m]; exact but for the trench of a deep edge.

    The base course ends at the underside of the slab. Where the stripped ground is higher than its bottom it
    is dug; where it is lower it is filled. The edge takes its place in the base course; what reaches
    deeper is dug as if there were ground all round, which counts a little too much on the low side.
    """
    bottom = level - spec.thickness - spec.base
    (split,) = cut_and_fill(pieces, bottom + spec.strip)
    area = pieces.area
    depth = spec.edge_depth - spec.thickness
    in_base = rib_volume(outline, depth=depth, width=spec.edge_width)
    deeper = 0.0
    if depth > spec.base:
        # The part of the edge below the base course keeps its bottom width and slope.
        deeper = rib_volume(outline, depth=depth - spec.base, width=spec.edge_width)
        in_base -= deeper
    dig = spec.strip * area + split.cut + deeper
    gravel = spec.base * area + split.fill - in_base
    if dig < 0.0 or gravel < -1e-9 * area:
        raise CheckError("a slab with less than no digging or gravel")
    # From the corners of the ground alone: taken out less put in brings its mean to the top of the slab.
    concrete = area * spec.thickness + rib
    left = float(pieces.areas.sum()) * (pieces.mean - level) - (dig - gravel - concrete)
    if not abs(left) <= AGREEMENT * (dig + abs(gravel) + concrete) + area * (abs(level) + 1.0) * 1e-13:
        raise CheckError("digging less gravel and concrete does not bring the ground to the top of the slab")
    return dig, max(0.0, gravel), split.fill, max(0.0, bottom + spec.strip - pieces.lowest)
