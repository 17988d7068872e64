"""Loads and wood of a floor on piers once more, by the worked ways of the trade: line loads of rows, simple
spans.

Inches, pounds and feet, as its tables are written. Rectangles with rafters from eave to eave and rows along
the longer side. Base values of No 2: NDS Supplement (western species quoted, southern pine and 6x6 from
memory, proved by span tables); wet, incised and size factors as docs/loads.md has them, with their sources.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import NamedTuple

IN = 0.0254
PSF, LB = 0.04788025898, 0.0044482216152605
PLF = LB / (12.0 * IN)

# true inches by nominal inches (PS 20)
_TRUE = {2: 1.5, 4: 3.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25}
_SIZES = ((2, 4), (2, 6), (2, 8), (2, 10), (2, 12), (4, 4), (4, 6), (4, 8), (6, 6))
_WEST = {  # Fb, Fv, Fc-perp, E [psi]
    "douglas fir-larch": (900, 180, 625, 1.6e6),
    "hem-fir": (850, 150, 405, 1.3e6),
    "spruce-pine-fir": (875, 135, 425, 1.4e6),
}
_POSTS = {
    "douglas fir-larch": (750, 170, 625, 1.3e6),
    "hem-fir": (575, 140, 405, 1.1e6),
    "spruce-pine-fir": (500, 125, 425, 1.0e6),
    "southern pine": (850, 165, 375, 1.2e6),
}
_PINE = {4: 1100, 6: 1000, 8: 925, 10: 800, 12: 750}
_FACTOR = {
    (2, 4): 1.5,
    (2, 6): 1.3,
    (2, 8): 1.2,
    (2, 10): 1.1,
    (2, 12): 1.0,
    (4, 4): 1.5,
    (4, 6): 1.3,
    (4, 8): 1.3,
}


class Wood(NamedTuple):
    """A member: breadth and depth [in] that its strength is reckoned with, its true ``tall`` [m], its
    stresses [psi]."""

    breadth: float
    depth: float
    tall: float
    bend: float
    shear: float
    press: float
    stiff: float

    @property
    def modulus(self) -> float:
        """Section modulus [in³]."""
        return self.breadth * self.depth**2 / 6.0

    def span(self, plf: float, live: float) -> float:
        """The longest simple span [m] under loads [lb/ft]: bending, shear at a depth from the support,
        L/360."""
        if plf <= 0.0:
            return math.inf
        w, v = plf / 12.0, live / 12.0
        inertia = self.breadth * self.depth**3 / 12.0
        bent = math.sqrt(8.0 * self.bend * self.modulus / w)
        sheared = 2.0 * (self.shear * self.breadth * self.depth / (1.5 * w) + self.depth)
        sagged = math.inf if v <= 0.0 else (384.0 * self.stiff * inertia / (5.0 * 360.0 * v)) ** (1.0 / 3.0)
        return min(bent, sheared, sagged) * IN

    def over_end(self, plf: float, end: float, beyond: float) -> float:
        """Stress [psi] over the last support of a part that reaches ``beyond`` it [m], ``end`` [lb] at its
        tip."""
        x = beyond / IN
        return (plf / 12.0 * x**2 / 2.0 + end * x) / self.modulus


def wood(text: str, species: str, *, shared: bool) -> Wood:
    """Read a size, nominal inches or true millimetres (reckoned as the largest US size that fits)."""
    plies, _, size = text.rpartition("-")
    count, (wide, deep) = int(plies or 1), (int(part) for part in size.split("x"))
    nominal, tall = (wide, deep), _TRUE.get(deep, 0.0) * IN
    if max(wide, deep) > 25:
        tall = deep / 1000.0
        fits = [one for one in _SIZES if _TRUE[one[0]] * IN <= wide / 1000.0 and _TRUE[one[1]] * IN <= tall]
        nominal = max(fits, key=lambda one: (_TRUE[one[0]] * _TRUE[one[1]] ** 2, one[1]))
    stresses = _stresses(nominal, species)
    bend = stresses[0] * (1.15 if shared else 1.0)
    return Wood(count * _TRUE[nominal[0]], _TRUE[nominal[1]], tall, bend, *stresses[1:])


def _stresses(nominal: tuple[int, int], species: str) -> tuple[float, float, float, float]:
    """Wet, and cut by the treatment where the species is."""
    if species == "least":
        every = [_stresses(nominal, one) for one in _WEST]
        return tuple(min(one[k] for one in every) for k in range(4))  # type: ignore[return-value]
    if nominal == (6, 6):
        fb, fv, fc, e = _POSTS[species]
        return fb, fv, fc * (1.0 if species == "southern pine" else 0.67), e
    if species == "southern pine":
        bend, cut = float(_PINE[nominal[1]]), (1.0, 1.0)
        fv, fc, e = 175.0, 565.0, 1.4e6
    else:
        fb, fv, fc, e = _WEST[species]
        bend, cut = fb * _FACTOR[nominal], (0.80, 0.95)
    wet = 1.0 if bend <= 1150.0 else 0.85
    return bend * wet * cut[0], fv * 0.97 * cut[0], fc * 0.67, e * 0.90 * cut[1]


class Loads(NamedTuple):
    """What is asked to be carried: [psf] of floor, roof and wall face, live and dead; lengths [m]."""

    floor: float = 40.0
    dead: float = 10.0
    roof: float = 20.0
    roof_dead: float = 15.0
    wall: float = 8.0
    wall_high: float = 96.0 * IN
    eave: float = 12.0 * IN
    pitch: float = 1.0 / 3.0


class Row(NamedTuple):
    """A row of piers: where it runs across the building [m], its load along [lb/ft] and live, at each end
    [lb]."""

    at: float
    plf: float
    live: float
    end: float


def rows_of(loads: Loads, length: float, width: float, across: list[float]) -> list[Row]:
    """Share floor, eaves, roof and gables of a building among rows along its longer side."""
    edges = [0.0, *((a + b) / 2.0 for a, b in pairwise(across)), width]
    gable = (loads.wall_high + loads.pitch * width / 4.0) / IN / 12.0 * loads.wall  # per ft of width
    eaves = _feet(width / 2.0 + loads.eave)
    rows = []
    for number, at in enumerate(across):
        part = _feet(edges[number + 1] - edges[number])
        sides = (number == 0) + (number == len(across) - 1)
        carried = sides * (eaves * (loads.roof + loads.roof_dead) + _feet(loads.wall_high) * loads.wall)
        live = part * loads.floor + sides * eaves * loads.roof
        rows.append(Row(at, part * (loads.floor + loads.dead) + carried, live, part * gable))
    return rows


def side_wall(loads: Loads, width: float) -> float:
    """What comes down through one eave wall [lb/ft]."""
    return (
        _feet(width / 2.0 + loads.eave) * (loads.roof + loads.roof_dead) + _feet(loads.wall_high) * loads.wall
    )


def whole(loads: Loads, length: float, width: float) -> float:
    """All that the building brings [lb], from its sizes alone."""
    area, over = _feet(length) * _feet(width), _feet(length) * _feet(width + 2.0 * loads.eave)
    faces = (
        2.0 * (_feet(length) + _feet(width)) * _feet(loads.wall_high) + _feet(width) ** 2 * loads.pitch / 2.0
    )
    return area * (loads.floor + loads.dead) + over * (loads.roof + loads.roof_dead) + faces * loads.wall


def _feet(metres: float) -> float:
    return metres / (12.0 * IN)
