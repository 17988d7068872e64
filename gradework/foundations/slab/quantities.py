"""What a slab takes besides the earthwork: concrete, its thickened edge, joints, vapor barrier and mesh."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.outline import Outline
from gradework.earthwork.rings import half_turns
from gradework.units.amounts import KG_PER_LB, M3_PER_FT3, M3_PER_YD3, M_PER_FT, M_PER_IN

# Concrete: bags by mass against ready-mix with its steps and short-load charge.

BAG_YIELD = 0.0075 * M3_PER_FT3 / KG_PER_LB
"""Concrete from 1 kg of dry bagged mix [m³/kg]: 0.0075 ft³ per lb, all sources agree (ASTM C387; quoted)."""

CONCRETE_DENSITY = 2400.0
"""Wet ready-mix concrete [kg/m³] (common practice, no source)."""

DEFAULT_WASTE = 0.10
"""Allowance on concrete [-]: published 3 to 10 %, small jobs on hand-graded ground at the high end."""


@dataclass(frozen=True, slots=True)
class ConcreteSale:
    """How concrete is sold: a bag of ``bag`` [kg] at ``bag_price``; ready-mix at ``mix_price`` per m³.

    Ready-mix comes in steps of ``mix_step`` [m³]; a load under ``short_load`` [m³] costs ``short_charge``
    more. Steps of 1/4 yd³ and a charge below 3 yd³ are suppliers' habits (memory). The prices are invented
    (January 2026).
    """

    bag: float = 80.0 * KG_PER_LB
    bag_price: float = 6.80
    mix_price: float = 235.0
    mix_step: float = 0.25 * M3_PER_YD3
    short_load: float = 3.0 * M3_PER_YD3
    short_charge: float = 120.0


@dataclass(frozen=True, slots=True)
class Concrete:
    """What to buy for a volume in place: ``needed`` [m³] with waste, and both ways to buy it."""

    volume: float
    needed: float
    bags: int
    bags_mass: float
    bags_cost: float
    mix: float
    mix_cost: float
    short: bool

    @property
    def cheaper(self) -> Literal["bags", "ready-mix"]:
        """Say which costs less; bags where both cost the same."""
        return "bags" if self.bags_cost <= self.mix_cost else "ready-mix"

    @property
    def cost(self) -> float:
        """Give the money for the cheaper way."""
        return min(self.bags_cost, self.mix_cost)


def bag_yield(mass: float) -> float:
    """Give the concrete that a bag of concrete mix makes [m³] from its mass [kg]; lightweight mixes differ.

    >>> round(bag_yield(36.287) * 1000, 1)
    17.0
    """
    return mass * BAG_YIELD


def bags_for(needed: float, bag: float) -> int:
    """Count the bags of ``bag`` [kg] for ``needed`` concrete [m³], always up.

    >>> bags_for(0.0, 36.287)
    0
    """
    return math.ceil(needed / bag_yield(bag) - 1e-9)


def buy_concrete(volume: float, waste: float, sale: ConcreteSale) -> Concrete:
    """Work out both ways to buy ``volume`` [m³] of concrete with an allowance ``waste`` [-]."""
    needed = volume * (1.0 + waste)
    bags = bags_for(needed, sale.bag)
    mix = math.ceil(needed / sale.mix_step - 1e-9) * sale.mix_step
    short = 0.0 < mix < sale.short_load - 1e-9
    mix_cost = mix * sale.mix_price + (sale.short_charge if short else 0.0)
    return Concrete(volume, needed, bags, bags * sale.bag, bags * sale.bag_price, mix, mix_cost, short)


# The thickened edge of a slab: its concrete by the formula of mitred strips.

Floats = NDArray[np.float64]


def rib_volume(outline: Outline, *, depth: float, width: float, slope: float = 1.0) -> float:
    """Give the concrete below the slab in its thickened edge [m³]: ``width`` [m] at the bottom, mitred
    corners.

    ``depth`` [m] is from the underside of the slab down; ``slope`` is run over rise of the inner face.
    Holes of the outline get an edge too. Exact for outlines whose corners do not meet: the area within a
    distance r of the sides is perimeter x r - k r², k being the sum of the tangents of half the turns.
    Raises ``ValueError`` where the edges of opposite sides would meet.
    """
    if depth <= 0.0:
        return 0.0
    perimeter, turns = outline.perimeter, sum(float(half_turns(ring).sum()) for ring in outline.rings)
    reach = width + slope * depth
    left = outline.area - perimeter * reach + turns * reach**2
    if left <= 0.0 or perimeter - 2.0 * turns * reach <= 0.0:
        raise ValueError(f"edges {reach:g} m wide would meet in the middle of the slab")
    spread = slope * depth
    bottom = perimeter * width - turns * width**2
    return depth * (bottom + spread * (0.5 * perimeter - turns * width) - turns * spread**2 / 3.0)


# Where a plain slab is cut, so that it cracks there and not elsewhere.

LEAST_FACTOR, MOST_FACTOR = 24.0, 36.0
"""Joint spacing over thickness of plain slabs [-] (ACI 302.1R-96 in a trade magazine; quoted)."""

MOST_SPACING = 18.0 * M_PER_FT
"""No spacing above this [m] (the same)."""

DEPTH_PART = 0.25
"""Depth of a joint over thickness [-] (ACI 302 and NRMCA CIP 6; the figure is from memory)."""


@dataclass(frozen=True, slots=True)
class Joints:
    """Panels along and across; joints ``depth`` deep, ``length`` in all, ``spacing`` the widest panel [m]."""

    along: int
    across: int
    spacing: float
    depth: float
    length: float


def spacing_range(thickness: float) -> tuple[float, float]:
    """Give the published range of joint spacing [m] for a thickness [m].

    >>> tuple(round(s / 0.3048, 6) for s in spacing_range(4 * 0.0254))
    (8.0, 12.0)
    """
    return min(LEAST_FACTOR * thickness, MOST_SPACING), min(MOST_FACTOR * thickness, MOST_SPACING)


def plan_joints(length: float, width: float, thickness: float) -> Joints:
    """Divide a slab [m] into panels no wider than the middle of the published range."""
    low, high = spacing_range(thickness)
    most = 0.5 * (low + high)
    along, across = (max(1, math.ceil(side / most - 1e-9)) for side in (length, width))
    cut = (along - 1) * width + (across - 1) * length
    return Joints(along, across, max(length / along, width / across), DEPTH_PART * thickness, cut)


# Sheets that cover a slab with laps: vapor barrier below it, mesh in it.

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


FILM_US = SheetKind("10 mil poly", 10 * M_PER_FT, 100 * M_PER_FT, 6 * M_PER_IN, "6 in, IBC 1910.1 (quoted)")
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
    def bought(self) -> float:
        """Give the area of whole sheets or rolls [m²]."""
        return self.pieces * self.kind.width * self.kind.length

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
