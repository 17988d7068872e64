"""A concrete slab on real ground: concrete, base course, fill and digging, film, mesh, forms, joints."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork import clip
from gradework.earthwork.perimeter import sides
from gradework.errors import CheckError, Faults
from gradework.foundations.pier_layout import building_frame
from gradework.foundations.slab_concrete import buy_concrete
from gradework.foundations.slab_earthwork import slab_earthwork
from gradework.foundations.slab_edges import rib_volume
from gradework.foundations.slab_forms import form_boards, form_stretches
from gradework.foundations.slab_joints import plan_joints
from gradework.foundations.slab_limits import slab_findings
from gradework.foundations.slab_plan import Slab
from gradework.foundations.slab_sheets import cover
from gradework.foundations.slab_spec import FORM_HEIGHTS, SlabPrices, SlabSpec
from gradework.foundations.slab_zones import EdgesMeetError, edge_zones, sides_remain
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork import Outline, Pieces
    from gradework.foundations.slab_earthwork import Earthwork
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
    earth = _earthwork(pieces, outline, spec, level, show)
    rib = _rib(outline, spec, pieces, earth)
    volume = outline.area * spec.thickness + rib
    frame = building_frame(outline, "first side")
    size = np.ptp(frame.to_local(outline.rings[0]), axis=0)
    long, wide = float(size[0]), float(size[1])
    boards = form_boards(
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
        dig=earth.dig,
        subsoil=earth.subsoil,
        gravel=earth.base + (earth.fill if spec.fill == "gravel" else 0.0),
        fill=earth.fill,
        fill_most=earth.fill_most,
        form_boards=boards,
        forms=form_stretches(edges, boards),
        film=cover(long, wide, spec.film, turn_up=spec.edge_depth) if spec.film else None,
        mesh=cover(long, wide, spec.mesh, inset=2.0 * M_PER_IN) if spec.mesh else None,
        joints=plan_joints(long, wide, spec.thickness),
        findings=(),
    )
    return replace(slab, findings=slab_findings(slab, building, show))


def _earthwork(pieces: Pieces, outline: Outline, spec: SlabSpec, level: float, show: Display) -> Earthwork:
    """Dig and fill for the slab; edges that meet are a fault of the job."""
    rings = [ring - pieces.origin for ring in outline.rings]
    depth = spec.edge_depth - spec.thickness
    try:
        zones = edge_zones(rings, spec.edge_width, depth, spec.base, convex=outline.is_convex)
    except EdgesMeetError:
        faults = Faults()
        faults.stop(
            "slab-edges-meet",
            f"thickened edges {show.length(spec.edge_width + depth)} wide on a slab of "
            f"{show.area(outline.area)}, where two of them meet",
            "a slab wide enough for both of its edges",
            "make the edge narrower or less deep, or the whole slab thick",
        )
    return slab_earthwork(pieces, zones, spec, level)


def _rib(outline: Outline, spec: SlabSpec, pieces: Pieces, earth: Earthwork) -> float:
    """Concrete in the edge [m³] by the formula of its mitred strips, the second way to what the zones hold.

    Where a short side ends within the edge the formula does not hold, and the zones alone tell it.
    """
    depth = spec.edge_depth - spec.thickness
    if not sides_remain(outline.rings, spec.edge_width + depth):
        return earth.edge
    rib = rib_volume(outline, depth=depth, width=spec.edge_width)
    uncovered = abs(outline.area - pieces.area) * depth  # at most 1 mm along the end of the survey
    if not abs(rib - earth.edge) <= 1e-9 * (rib + outline.area * spec.thickness) + uncovered:
        raise CheckError(f"the edge holds {earth.edge!r} m³ of concrete, its strips {rib!r} m³")
    return rib
