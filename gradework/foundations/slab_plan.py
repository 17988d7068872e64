"""The slab as planned: what the design hands on to its findings, the order, drawings and report."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.earthwork import Outline, Pieces
    from gradework.earthwork.perimeter import Side
    from gradework.errors import Finding
    from gradework.foundations.slab_concrete import Concrete
    from gradework.foundations.slab_edges import FormStretch
    from gradework.foundations.slab_joints import Joints
    from gradework.foundations.slab_sheets import Covering
    from gradework.foundations.slab_spec import SlabPrices, SlabSpec


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
