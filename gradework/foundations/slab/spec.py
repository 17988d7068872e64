"""What the builder may decide about a slab, and what its parts cost him."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from gradework.earthwork.materials import DEFAULT_SOIL, Soil
from gradework.errors import Faults
from gradework.foundations.piers.spec import FrostRule, note_beyond
from gradework.foundations.slab.quantities import DEFAULT_WASTE, FILM_US, MESH_US, ConcreteSale, SheetKind
from gradework.units.amounts import M_PER_IN

FORM_HEIGHTS = (3.5 * M_PER_IN, 5.5 * M_PER_IN, 7.25 * M_PER_IN, 9.25 * M_PER_IN, 11.25 * M_PER_IN)
"""Actual heights of 2x4 to 2x12 boards [m] (PS 20; from memory but for the 5-1/2 in)."""


@dataclass(frozen=True, slots=True)
class SlabPrices:
    """Money: 1 m³ compacted gravel, 1 m³ dug and got rid of, 1 m² of film, mesh and form face.

    ``hauling`` is the part of ``digging`` that is saved where 1 m³ in place stays as fill; ``earth`` is 1 m³
    of loose earth brought. Invented (January 2026).
    """

    gravel: float = 60.0
    digging: float = 45.0
    film: float = 1.3
    mesh: float = 4.5
    forms: float = 24.0
    hauling: float = 15.0
    earth: float = 22.0
    concrete: ConcreteSale = field(default_factory=ConcreteSale)
    invented: bool = True


@dataclass(frozen=True, slots=True)
class SlabSpec:
    """Everything the builder may decide about a concrete slab on ground.

    Attributes
    ----------
    level, freeboard
        Top of the slab [m]; None puts it ``freeboard`` [m] above the highest ground under it.
    margin
        Slab beyond the building [m].
    thickness
        Of the slab [m].
    edge_depth, edge_width
        Thickened edge: depth in all [m] (the slab's thickness: none), width at its bottom [m]; its inner face
        stands at 45 degrees.
    strip
        Topsoil that goes [m].
    base, fill
        Base course under the slab [m]; below that compacted fill, "gravel" or "earth".
    waste
        On concrete [-].
    film, mesh
        The rolls and sheets as sold; None for none.
    heated
        Whether the room is, which asks for the film.
    soil, frost
        What is dug, and how deep frost goes [m].
    form_heights
        Heights of the form boards sold [m].

    Raises
    ------
    InputError
        ``slab-spec-impossible``, with everything that is.

    Examples
    --------
    >>> SlabSpec(thickness=0.12, level=30.6).thickness
    0.12
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
    soil: Soil = DEFAULT_SOIL
    frost: FrostRule = field(default_factory=FrostRule)
    form_heights: tuple[float, ...] = FORM_HEIGHTS

    def __post_init__(self) -> None:
        faults = Faults()
        bounds = (
            (self.freeboard, "freeboard", -1.0, 2.0),
            (self.margin, "margin", 0.0, 5.0),
            (self.thickness, "thickness", 0.02, 1.0),
            (self.edge_depth, "edge_depth", min(self.thickness, 1.0), 2.0),
            (self.edge_width, "edge_width", 0.0, 2.0),
            (self.strip, "strip", 0.0, 1.0),
            (self.base, "base", 0.0, 1.0),
        )
        note_beyond(faults, "slab-spec-impossible", bounds)
        if not 0.0 <= self.waste <= 0.5:
            percent = f"{self.waste * 100:g}"
            faults.note("slab-spec-impossible", variant="waste", about=("waste",), percent=percent)
        if self.level is not None and not math.isfinite(self.level):
            faults.note("slab-spec-impossible", variant="level", about=("level",), level=self.level)
        if self.fill not in ("gravel", "earth"):
            faults.note("slab-spec-impossible", variant="fill", about=("fill",), kind=repr(self.fill))
        faults.raise_if_any()
