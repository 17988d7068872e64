"""A concrete slab on real ground: concrete, base course, fill and digging, film, mesh, forms, joints."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork import Outline, Pieces, clip, cut_and_fill
from gradework.earthwork.perimeter import Side, sides
from gradework.errors import CheckError, Faults, Finding
from gradework.foundations.pier_layout import building_frame
from gradework.foundations.pier_spec import FrostRule
from gradework.foundations.slab_concrete import DEFAULT_WASTE, Concrete, ConcreteSale, buy_concrete
from gradework.foundations.slab_edges import FormStretch, form_boards, rib_volume
from gradework.foundations.slab_joints import Joints, plan_joints
from gradework.foundations.slab_limits import slab_findings
from gradework.foundations.slab_sheets import FILM_US, MESH_US, Covering, SheetKind, cover
from gradework.units.bulk import M_PER_IN

if TYPE_CHECKING:
    from gradework.ground import Surface
    from gradework.units import Display

FORM_HEIGHTS = (3.5 * M_PER_IN, 5.5 * M_PER_IN, 7.25 * M_PER_IN, 9.25 * M_PER_IN, 11.25 * M_PER_IN)
"""Actual heights of 2x4 to 2x12 boards [m] (PS 20; from memory but for the 5-1/2 in)."""


@dataclass(frozen=True, slots=True)
class SlabPrices:
    """Money: 1 m³ compacted gravel, 1 m³ dug, 1 m² of film, mesh and form face. Invented (January 2026)."""

    gravel: float = 60.0
    digging: float = 45.0
    film: float = 1.3
    mesh: float = 4.5
    forms: float = 24.0
    concrete: ConcreteSale = field(default_factory=ConcreteSale)
    invented: bool = True


@dataclass(frozen=True, slots=True)
class SlabSpec:
    """Everything the builder may decide about a slab; lengths [m].

    ``level`` is the top of the slab; None puts it ``freeboard`` above the highest ground under it. ``margin``
    reaches beyond the building. The edge is ``edge_depth`` deep in all (the slab's thickness: no thickened
    edge), ``edge_width`` wide at its bottom, its inner face at 45 degrees. ``strip`` of topsoil goes, a base
    course of ``base`` lies under the slab, compacted fill under that (``fill`` gravel or earth).
    ``waste`` is on concrete [-]. ``heated`` asks for the film. Raises ``InputError`` with all that is
    impossible.
    """

    level: float | None = None
    freeboard: float = 6.0 * M_PER_IN
    margin: float = 0.0
    thickness: float = 4.0 * M_PER_IN
    edge_depth: float = 12.0 * M_PER_IN
    edge_width: float = 8.0 * M_PER_IN
    strip: float = 4.0 * M_PER_IN
    base: float = 4.0 * M_PER_IN
    fill: str = "gravel"
    waste: float = DEFAULT_WASTE
    film: SheetKind | None = FILM_US
    mesh: SheetKind | None = MESH_US
    heated: bool = False
    frost: FrostRule = field(default_factory=FrostRule)

    def __post_init__(self) -> None:
        faults = Faults()
        for value, what, least, most in (
            (self.freeboard, "freeboard", -1.0, 2.0),
            (self.margin, "margin", 0.0, 5.0),
            (self.thickness, "thickness", 0.02, 1.0),
            (self.edge_depth, "edge depth", self.thickness, 2.0),
            (self.edge_width, "edge width", 0.0, 2.0),
            (self.strip, "strip", 0.0, 1.0),
            (self.base, "base course", 0.0, 1.0),
            (self.waste, "waste", 0.0, 0.5),
        ):
            if not (math.isfinite(value) and least <= value <= most):
                faults.add(
                    "slab-spec-impossible", f"{what} {value:g}", f"{least:g} to {most:g}", "correct it"
                )
        if self.level is not None and not math.isfinite(self.level):
            faults.add("slab-spec-impossible", f"level {self.level}", "an elevation", "correct it")
        if self.fill not in ("gravel", "earth"):
            faults.add("slab-spec-impossible", f"fill {self.fill!r}", "gravel or earth", "choose one")
        faults.raise_if_any()


@dataclass(frozen=True)
class Slab:
    """A slab as planned. Volumes [m³]: ``concrete.volume`` in place, ``gravel`` compacted (base and fill,
    less what the edge takes of the base), ``fill`` the part of it below the base course, ``dig`` in place.

    ``rib`` is the concrete in the thickened edge; ``fill_most`` [m] the deepest fill.
    """

    spec: SlabSpec
    prices: SlabPrices
    outline: Outline
    ground: Pieces
    sides: tuple[Side, ...]
    level: float
    area: float
    rib: float
    concrete: Concrete
    dig: float
    gravel: float
    fill: float
    fill_most: float
    forms: tuple[FormStretch, ...]
    film: Covering | None
    mesh: Covering | None
    joints: Joints
    findings: tuple[Finding, ...]

    @property
    def cost_total(self) -> float:
        """Give the money for concrete (the cheaper way), gravel, digging, film, mesh and forms."""
        face = sum(form.height * form.length for form in self.forms)
        sheets = (self.film.area * self.prices.film if self.film else 0.0) + (
            self.mesh.area * self.prices.mesh if self.mesh else 0.0
        )
        earth = self.gravel * self.prices.gravel + self.dig * self.prices.digging
        return self.concrete.cost + earth + sheets + face * self.prices.forms


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
    earth = _earthwork(pieces, outline, spec, level)
    volume = outline.area * spec.thickness + rib
    frame = building_frame(outline, "first side")
    size = np.ptp(frame.to_local(outline.rings[0]), axis=0)
    long, wide = float(size[0]), float(size[1])
    forms = form_boards(edges, top=level, least=spec.thickness, most=spec.edge_depth, heights=FORM_HEIGHTS)
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
    pieces: Pieces, outline: Outline, spec: SlabSpec, level: float
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
    return dig, max(0.0, gravel), split.fill, max(0.0, bottom + spec.strip - pieces.lowest)
