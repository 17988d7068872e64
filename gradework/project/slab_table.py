"""The ``[slab]`` table: a concrete slab on ground, its layers, its edge, its sheets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from pydantic import Field, PlainValidator, model_validator

from gradework.foundations.slab import SlabSpec
from gradework.foundations.slab_sheets import FILM_US, MESH_US, SheetKind
from gradework.project.fields import (
    Elevation,
    Flag,
    GravelName,
    Layer,
    LayerOrNone,
    Margin,
    Sheet,
    Table,
    Words,
    choice,
    refuse,
)
from gradework.project.supplier import Waste

FILLS = ("gravel", "earth")

FILM_METRIC = SheetKind("0.25 mm film", 4.0, 25.0, 0.15, "150 mm, common practice, no source")
MESH_METRIC = SheetKind("A142 mesh", 2.4, 4.8, 0.30, "300 mm, common practice, no source")
"""Film and mesh as sold in metres (sizes from memory)."""


METRIC_DEFAULTS: Mapping[str, float] = {
    "freeboard": 0.16,
    "thickness": 0.10,
    "edge_depth": 0.30,
    "edge_width": 0.20,
    "strip": 0.10,
    "base": 0.10,
}
"""The defaults in inches as a metric job would round them [m]; freeboard up, to keep 6 in of fall."""

FORM_HEIGHTS_METRIC = (0.100, 0.150, 0.200, 0.225, 0.250)
"""Heights of boards as sold in metres [m] (memory)."""


def _fill(value: object) -> str:
    return choice(value, FILLS)


class SheetTable(Table):
    """A film or a mesh as sold; ``lap`` where two sheets meet."""

    name: Words = Field(examples=['"10 mil film"'])
    width: Sheet = Field(examples=['"10 ft"'])
    length: Sheet = Field(examples=['"100 ft"'])
    lap: LayerOrNone = Field(examples=['"6 in"'])

    @model_validator(mode="after")
    def _narrower_lap(self) -> SheetTable:
        if self.lap > 0.5 * min(self.width, self.length):
            refuse(
                "job-value",
                "a lap wider than half of its sheet",
                "a lap of at most half the width and length of the sheet",
                "give a wider sheet, or a smaller lap",
            )
        return self

    def kind(self) -> SheetKind:
        """Give the sheet."""
        return SheetKind(self.name, self.width, self.length, self.lap, "given by the user")


class SlabTable(Table):
    """A slab on ground; None means the documented default. ``film`` and ``mesh`` false leave them out."""

    level: Elevation | None = None
    freeboard: LayerOrNone | None = None
    margin: Margin | None = None
    thickness: Layer | None = None
    edge_depth: Layer | None = None
    edge_width: LayerOrNone | None = None
    strip: LayerOrNone | None = None
    base: LayerOrNone | None = None
    fill: Annotated[str, PlainValidator(_fill)] | None = None
    waste: Waste | None = None
    film: Flag = True
    mesh: Flag = True
    film_roll: SheetTable | None = None
    mesh_sheet: SheetTable | None = None
    heated: Flag = False
    material: GravelName | None = None

    def spec(self, *, us: bool) -> SlabSpec:
        """Say what is asked of the slab. Raises ``InputError`` for figures that cannot be."""
        names = ("level", "freeboard", "margin", "thickness", "edge_depth", "edge_width", "strip", "base")
        given = self.given(*names, "fill", "waste")
        if not us:
            given = {**METRIC_DEFAULTS, "form_heights": FORM_HEIGHTS_METRIC, **given}
        if self.edge_depth is None:
            # a slab as thick as the default edge is deep has no thickened edge
            edge, thick = SlabSpec().edge_depth, SlabSpec().thickness
            given["edge_depth"] = max(given.get("edge_depth", edge), given.get("thickness", thick))
        return SlabSpec(
            **given,
            film=_sheet(self.film_roll, FILM_US if us else FILM_METRIC) if self.film else None,
            mesh=_sheet(self.mesh_sheet, MESH_US if us else MESH_METRIC) if self.mesh else None,
            heated=self.heated,
        )


def _sheet(table: SheetTable | None, default: SheetKind) -> SheetKind:
    return default if table is None else table.kind()
