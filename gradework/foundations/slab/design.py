"""A concrete slab on real ground: concrete, base course, fill and digging, sheets, forms, joints."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gradework.earthwork.clip import clip
from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.footprint import sides
from gradework.errors import CheckError, Faults, Finding, finding
from gradework.foundations.checks.check import cited
from gradework.foundations.checks.limits import LEAST_SLAB, MOST_FILL
from gradework.foundations.piers.layout import building_frame
from gradework.foundations.piers.limits import LIFT_LIMIT
from gradework.foundations.piers.spec import FROST_ASKS, FROST_EXEMPTS
from gradework.foundations.slab.forms import form_boards, form_stretches
from gradework.foundations.slab.quantities import buy_concrete, cover, plan_joints, rib_volume
from gradework.foundations.slab.spec import SlabPrices, SlabSpec
from gradework.foundations.slab.underside import EdgesMeetError, edge_zones, sides_remain, slab_earthwork
from gradework.units.amounts import M_PER_IN
from gradework.units.display import METRIC

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.footprint import Side
    from gradework.earthwork.outline import Outline
    from gradework.foundations.slab.forms import FormBoard, FormStretch
    from gradework.foundations.slab.quantities import Concrete, Covering, Joints
    from gradework.foundations.slab.underside import Earthwork
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


# The slab as planned: what the design hands on to its findings, the order, drawings and report.


@dataclass(frozen=True)
class Slab:
    """A slab as planned. Volumes [m³]: ``concrete.volume`` in place, ``gravel`` the stone compacted (the base
    course beside the edge, and the fill where that is gravel), ``fill`` what lies below the base course,
    compacted, ``dig`` in place, ``subsoil`` the part of it below the topsoil.

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
    subsoil: float
    gravel: float
    fill: float
    fill_most: float
    form_boards: tuple[FormBoard, ...]
    forms: tuple[FormStretch, ...]
    film: Covering | None
    mesh: Covering | None
    joints: Joints
    findings: tuple[Finding, ...]

    def __repr__(self) -> str:
        dig, concrete = METRIC.volume(self.dig), METRIC.volume(self.concrete.volume)
        return f"<Slab at {METRIC.elevation(self.level)}: dig {dig}, concrete {concrete}>"

    @property
    def earth(self) -> float:
        """Give the earth below the base course [m³], compacted; none where the fill is gravel."""
        return self.fill if self.spec.fill == "earth" else 0.0

    @property
    def reused(self) -> float:
        """Give the subsoil that goes back as earth fill [m³], in place; topsoil never makes fill."""
        return min(self.subsoil, self.earth / self.spec.soil.compaction.value)

    @property
    def hauled(self) -> float:
        """Give the soil that is left over [m³], in place: what is dug and does not go back."""
        return max(0.0, self.dig - self.reused)

    @property
    def earth_brought(self) -> float:
        """Give the earth fill that the digging does not yield [m³], compacted."""
        lacking = self.earth - self.reused * self.spec.soil.compaction.value
        return lacking if lacking > 1e-9 * self.earth else 0.0

    @property
    def earth_loose(self) -> float:
        """Give the same as it comes on the truck [m³]: earth of the sort that is dug here."""
        soil = self.spec.soil
        return soil.to_loose(soil.to_bank(CompactedVolume(self.earth_brought))).m3

    @property
    def digging_cost(self) -> float:
        """Give the money for digging; what goes back as fill is not hauled."""
        return self.dig * self.prices.digging - self.reused * self.prices.hauling

    @property
    def cost_total(self) -> float:
        """Give the money for concrete, the cheaper way, for digging, and for net amounts of all else."""
        face = sum(form.height * form.length for form in self.forms)
        sheets = (self.film.area * self.prices.film if self.film else 0.0) + (
            self.mesh.area * self.prices.mesh if self.mesh else 0.0
        )
        fill = self.gravel * self.prices.gravel + self.earth_loose * self.prices.earth
        return self.concrete.cost + fill + self.digging_cost + sheets + face * self.prices.forms

    @property
    def least_cost(self) -> float:
        """Give the money that it costs on any ground: concrete, the cheaper way, and its sheets as sold."""
        return self.concrete.cost + sum(
            sheet.bought * price
            for sheet, price in ((self.film, self.prices.film), (self.mesh, self.prices.mesh))
            if sheet is not None
        )


# What published rules say about the slab as planned. Each finding names its source.


def slab_findings(slab: Slab, building: Outline, show: Display) -> tuple[Finding, ...]:
    """Give all findings on a slab under a building, worst first."""
    found = [
        *_thickness(slab, show),
        *_fill(slab, show),
        *_edge(slab, show),
        *_frost(slab, building, show),
        *_film(slab, show),
        *_bags(slab, show),
    ]
    return tuple(sorted(found, key=lambda finding: ("stop", "warning", "note").index(finding.severity)))


def _thickness(slab: Slab, show: Display) -> Iterator[Finding]:
    thickness = slab.spec.thickness
    if thickness < LEAST_SLAB - 1e-9:
        yield finding(
            "slab-thin",
            "warning",
            "slab",
            thickness,
            LEAST_SLAB,
            thickness=show.depth(thickness),
            least=show.depth(LEAST_SLAB),
            source=cited("IBC 1910.1, IRC R506.1", us=show.us),
        )


def _fill(slab: Slab, show: Display) -> Iterator[Finding]:
    limit = MOST_FILL[slab.spec.fill]
    if slab.fill_most > limit + 1e-9:
        yield finding(
            "slab-fill-deep",
            "stop",
            "low side",
            slab.fill_most,
            limit,
            depth=show.depth(slab.fill_most),
            most=show.depth(limit),
            kind=slab.spec.fill,
            source=cited("IRC R506.2.1", us=show.us),
        )


def _edge(slab: Slab, show: Display) -> Iterator[Finding]:
    low = min(float(side.ground.min()) for side in slab.sides)
    bare = slab.level - slab.spec.edge_depth - low
    if bare > 1e-6:
        yield finding(
            "slab-edge-bare",
            "stop",
            "low side",
            bare,
            0.0,
            height=show.depth(bare),
            deep=show.depth(slab.level - low),
        )


def _frost(slab: Slab, building: Outline, show: Display) -> Iterator[Finding]:
    rule = slab.spec.frost
    low = min(float(side.ground.min()) for side in slab.sides)
    depth = max(0.0, low - (slab.level - slab.spec.edge_depth))
    limit = rule.asked
    if depth >= limit - 1e-9:
        return
    small = rule.exempts(building.area)
    yield finding(
        "slab-frost",
        "note" if small else "warning",
        "low side",
        depth,
        limit,
        variant="small" if small else "large",
        source=cited(FROST_EXEMPTS if small else FROST_ASKS, us=show.us),
        depth=show.depth(depth),
        asked=show.depth(limit),
        area=show.area(rule.exempt_area),
        eave=show.length(rule.exempt_eave),
    )


def _film(slab: Slab, show: Display) -> Iterator[Finding]:
    if slab.film is None and slab.spec.heated:
        lap = show.depth(6.0 * M_PER_IN if show.us else 0.15)
        source = cited("IBC 1910.1", us=show.us)
        yield finding("slab-film-missing", "warning", "slab", dialect=show.dialect, lap=lap, source=source)
    if slab.film is not None and not slab.spec.heated:
        source = cited("IBC 1910.1 exception", us=show.us)
        yield finding("slab-film-optional", "note", "slab", dialect=show.dialect, source=source)


def _bags(slab: Slab, show: Display) -> Iterator[Finding]:
    bag = slab.prices.concrete.bag
    if slab.concrete.cheaper == "bags" and bag > LIFT_LIMIT:
        yield finding(
            "bag-heavy",
            "note",
            "concrete",
            bag,
            LIFT_LIMIT,
            bags=slab.concrete.bags,
            bag=show.mass(bag),
            mass=show.mass(slab.concrete.bags_mass),
            most=show.mass(LIFT_LIMIT),
        )


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
    rings = [frame.to_local(ring) for ring in outline.rings]
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
        film=cover(outline, spec.film, turn_up=spec.edge_depth) if spec.film else None,
        mesh=cover(outline, spec.mesh, inset=2.0 * M_PER_IN) if spec.mesh else None,
        joints=plan_joints(rings, spec.thickness),
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
        width, area = show.length(spec.edge_width + depth), show.area(outline.area)
        Faults().halt("slab-edges-meet", width=width, area=area)
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
