"""The slab as planned: what the design hands on to its findings, the order, drawings and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.earthwork.conditions import CompactedVolume

if TYPE_CHECKING:
    from gradework.earthwork import Outline, Pieces
    from gradework.earthwork.perimeter import Side
    from gradework.errors import Finding
    from gradework.foundations.slab_concrete import Concrete
    from gradework.foundations.slab_forms import FormBoard, FormStretch
    from gradework.foundations.slab_joints import Joints
    from gradework.foundations.slab_sheets import Covering
    from gradework.foundations.slab_spec import SlabPrices, SlabSpec


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

    @property
    def earth(self) -> float:
        """Give the earth below the base course [m³], compacted; none where the fill is gravel."""
        return self.fill if self.spec.fill == "earth" else 0.0

    @property
    def reused(self) -> float:
        """Give the subsoil that goes back as earth fill [m³], in place; topsoil never makes fill."""
        return min(self.subsoil, self.earth / self.spec.soil.compaction.value)

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
        """Give the money for concrete (the cheaper way), gravel, earth, digging, film, mesh and forms."""
        face = sum(form.height * form.length for form in self.forms)
        sheets = (self.film.area * self.prices.film if self.film else 0.0) + (
            self.mesh.area * self.prices.mesh if self.mesh else 0.0
        )
        fill = self.gravel * self.prices.gravel + self.earth_loose * self.prices.earth
        return self.concrete.cost + fill + self.digging_cost + sheets + face * self.prices.forms
