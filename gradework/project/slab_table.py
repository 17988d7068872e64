"""The ``[slab]`` table: a concrete slab on ground, its layers, its edge, its sheets."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, PlainValidator

from gradework.foundations.slab import SlabSpec
from gradework.foundations.slab_sheets import FILM_US, MESH_US, SheetKind
from gradework.project.fields import (
    Flag,
    GravelName,
    Percent,
    Position,
    SmallLength,
    Table,
    Thickness,
    Words,
    choice,
)

FILLS = ("gravel", "earth")

FILM_METRIC = SheetKind("0.25 mm film", 4.0, 25.0, 0.15, "150 mm, common practice, no source")
MESH_METRIC = SheetKind("A142 mesh", 2.4, 4.8, 0.30, "300 mm, common practice, no source")
"""Film and mesh as sold in metres (sizes from memory)."""


def _fill(value: object) -> str:
    return choice(value, FILLS)


class SheetTable(Table):
    """A film or a mesh as sold; ``lap`` where two sheets meet."""

    name: Words = Field(examples=['"10 mil film"'])
    width: Thickness = Field(examples=['"10 ft"'])
    length: Thickness = Field(examples=['"100 ft"'])
    lap: SmallLength = Field(examples=['"6 in"'])

    def kind(self) -> SheetKind:
        """Give the sheet."""
        return SheetKind(self.name, self.width, self.length, self.lap, "given by the user")


class SlabTable(Table):
    """A slab on ground; None means the documented default. ``film`` and ``mesh`` false leave them out."""

    level: Position | None = None
    freeboard: SmallLength | None = None
    margin: SmallLength | None = None
    thickness: Thickness | None = None
    edge_depth: Thickness | None = None
    edge_width: SmallLength | None = None
    strip: SmallLength | None = None
    base: SmallLength | None = None
    fill: Annotated[str, PlainValidator(_fill)] | None = None
    waste: Percent | None = None
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
        if "thickness" in given and "edge_depth" not in given:
            # a slab as thick as the default edge is deep has no thickened edge
            given["edge_depth"] = max(SlabSpec().edge_depth, given["thickness"])
        return SlabSpec(
            **given,
            film=_sheet(self.film_roll, FILM_US if us else FILM_METRIC) if self.film else None,
            mesh=_sheet(self.mesh_sheet, MESH_US if us else MESH_METRIC) if self.mesh else None,
            heated=self.heated,
        )


def _sheet(table: SheetTable | None, default: SheetKind) -> SheetKind:
    return default if table is None else table.kind()
