"""Sheets that cover a slab with laps: film below it, mesh in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gradework.units.bulk import M_PER_FT, M_PER_IN


@dataclass(frozen=True, slots=True)
class SheetKind:
    """A sheet or roll [m]: ``width`` and ``length`` as sold, ``lap`` where two meet and its source."""

    name: str
    width: float
    length: float
    lap: float
    lap_source: str


FILM_US = SheetKind("10 mil film", 10 * M_PER_FT, 100 * M_PER_FT, 6 * M_PER_IN, "6 in, IBC 1910.1 (quoted)")
MESH_US = SheetKind(
    "6x6 W1.4xW1.4 mesh",
    5 * M_PER_FT,
    10 * M_PER_FT,
    8 * M_PER_IN,
    "one mesh and 2 in, ACI 318 practice (memory)",
)


@dataclass(frozen=True, slots=True)
class Covering:
    """How a rectangle is covered: ``strips`` of ``strip_length`` [m] side by side, ``area`` [m²] with all
    laps.

    ``pieces`` counts the sheets or rolls bought when each strip is made of whole sheets end to end and
    what is left of a roll goes on. ``along`` says whether strips run along the first side.
    """

    kind: SheetKind
    strips: int
    strip_length: float
    area: float
    pieces: int
    along: bool


def cover(
    length: float, width: float, kind: SheetKind, *, turn_up: float = 0.0, inset: float = 0.0
) -> Covering:
    """Cover a rectangle [m] in the direction that buys least, then laps least.

    ``turn_up`` [m] is added at every edge, ``inset`` [m] left free there. A side not above 0 needs nothing.

    >>> cover(3.6576, 3.048, FILM_US).strips
    1
    """
    grow = 2.0 * (turn_up - inset)
    long, wide = length + grow, width + grow
    if long <= 0.0 or wide <= 0.0:
        return Covering(kind, 0, 0.0, 0.0, 0, along=True)
    ways = [_strips(long, wide, kind, along=True), _strips(wide, long, kind, along=False)]
    return min(ways, key=lambda way: (way.pieces, way.area))


def _strips(run: float, across: float, kind: SheetKind, *, along: bool) -> Covering:
    strips = _count(across, kind.width, kind.lap)
    joints = _count(run, kind.length, kind.lap) - 1
    strip_length = run + joints * kind.lap
    area = strips * strip_length * kind.width
    pieces = math.ceil(strips * strip_length / kind.length - 1e-9)
    return Covering(kind, strips, strip_length, area, pieces, along)


def _count(distance: float, sheet: float, lap: float) -> int:
    """Count sheets laid with laps over a distance.

    >>> _count(10.0, 4.0, 1.0), _count(4.0, 4.0, 1.0)
    (3, 1)
    """
    return max(1, math.ceil((distance - lap) / (sheet - lap) - 1e-9))
