"""Sheets that cover a slab with laps: film below it, mesh in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from gradework.units.bulk import M_PER_FT, M_PER_IN

ROUNDING = 1e-9
"""[m] Lengths this close are the same."""


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


LEAST_PIECE = 2.0
"""No piece is shorter than this many laps: of a shorter one most would lie double (judgement)."""


@dataclass(frozen=True, slots=True)
class Covering:
    """How a rectangle is covered: strips of ``strip_length`` [m] side by side.

    ``cuts`` gives for each strip the pieces it is laid of, in order, laps included [m]; ``pieces`` counts the
    sheets or rolls they are cut from, the fewest there can be with strips this way; ``area`` [m²] is all that
    is laid. ``along`` says whether strips run along the first side.
    """

    kind: SheetKind
    strip_length: float
    cuts: tuple[tuple[float, ...], ...]
    pieces: int
    along: bool

    @property
    def strips(self) -> int:
        """Give the number of strips."""
        return len(self.cuts)

    @property
    def area(self) -> float:
        """Give the area of all that is laid, with its laps [m²]."""
        return math.fsum(piece for cut in self.cuts for piece in cut) * self.kind.width


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
        return Covering(kind, 0.0, (), 0, along=True)
    ways = [_strips(long, wide, kind, along=True), _strips(wide, long, kind, along=False)]
    return min(ways, key=lambda way: (way.pieces, way.area))


def _strips(run: float, across: float, kind: SheetKind, *, along: bool) -> Covering:
    cuts, sheets = cut_strips(_count(across, kind.width, kind.lap), run, kind.length, kind.lap)
    return Covering(kind, run, cuts, sheets, along)


def cut_strips(
    strips: int, run: float, sheet: float, lap: float
) -> tuple[tuple[tuple[float, ...], ...], int]:
    """Cut strips that cover ``run`` [m] from the fewest sheets: the pieces of each, and the sheets taken.

    What is left of a sheet begins the next strip, with a lap where it is joined. That is the least: sheets
    and strips that share pieces hang together, m sheets joined so need at least m - 1 laps, and laid one
    after the other they need no more. What is left and shorter than ``LEAST_PIECE`` laps is not laid, and a
    last piece is not cut shorter.

    >>> cut_strips(3, 20.0, 30.0, 2.0)
    (((20.0,), (10.0, 12.0), (18.0, 4.0)), 3)
    """
    least = min(LEAST_PIECE * lap, run, sheet)
    left, sheets, cuts = 0.0, 0, []
    for _ in range(strips):
        pieces: list[float] = []
        need = run
        if left >= least - ROUNDING:
            pieces.append(min(left, run))
            left -= pieces[0]
            need = run - pieces[0] + lap
        while not pieces or need > lap + ROUNDING:
            sheets += 1
            pieces.append(sheet if need > sheet + ROUNDING else max(need, least))
            left = max(0.0, sheet - pieces[-1])
            need = need - pieces[-1] + lap
        cuts.append(tuple(pieces))
    return tuple(cuts), sheets


def _count(distance: float, sheet: float, lap: float) -> int:
    """Count sheets laid with laps over a distance.

    >>> _count(10.0, 4.0, 1.0), _count(4.0, 4.0, 1.0)
    (3, 1)
    """
    return max(1, math.ceil((distance - lap) / (sheet - lap) - 1e-9))
