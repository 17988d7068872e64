"""How far a member spans, and how hard it works: bending, shear, deflection and bearing of a simple span.

With w the line load [kN/m], L the span and d the depth [m]::

    M = w L²/8        fb = M / S               at most Fb
    V = w (L/2 - d)   fv = 1.5 V / A           at most Fv   (load within d of a support goes straight into it)
    deflection = 5 w L⁴ / (384 E I)            at most L/360, of the live load alone
    bearing    = P / (width x length on it)    at most Fc-perp

A member over several supports bends less than these say (but one in three bears a quarter more load), so for
skids in one piece they are on the safe side of bending. The statics are exact; stresses come from ``wood``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import NamedTuple

from gradework.errors import CheckError
from gradework.foundations.timber.wood import Section, Strength

DEFLECTION = 360.0
"""Span over deflection under live load (IRC Table R301.7 and DCA6, floors; quoted)."""


AGREES = 1e-9
"""[-] Two roads to how hard a member works agree within this."""


class Span(NamedTuple):
    """The longest span [m] of a member under a load, and what ends it: "bending", "shear", "deflection"."""

    length: float
    governs: str


class LineLoad(NamedTuple):
    """A load along a member [kN/m]: all of it, and the ``live`` part of it."""

    total: float
    live: float


def longest_span(section: Section, strength: Strength, load: LineLoad) -> Span:
    """Give the longest simple span of a member; without load it is infinite.

    >>> from gradework.foundations.timber.wood import section_of, strength_of
    >>> plf = 4.4482216152605e-3 / 0.3048
    >>> skid = section_of("4x4")
    >>> span = longest_span(skid, strength_of(skid, "southern pine"), LineLoad(529 * plf, 423 * plf))
    >>> int(span.length / 0.0254), span.governs
    (37, 'bending')
    """
    if load.total <= 0.0:
        return Span(math.inf, "bending")
    bending = math.sqrt(8.0 * strength.bending * section.modulus / load.total)
    shear = 2.0 * (strength.shear * section.area / (1.5 * load.total) + section.depth)
    sag = math.inf
    if load.live > 0.0:
        stiff = 384.0 * strength.stiffness * section.inertia
        sag = (stiff / (5.0 * DEFLECTION * load.live)) ** (1.0 / 3.0)
    found = min(Span(bending, "bending"), Span(shear, "shear"), Span(sag, "deflection"))
    _hold(section, strength, load, found)
    return found


def _hold(section: Section, strength: Strength, load: LineLoad, found: Span) -> None:
    """Bend a member of that span: what ends it is at its limit, nothing is beyond. Raises ``CheckError``.

    Another road: moments are the area under the shear, the sag is the work of a unit load, stiffness and
    shear flow come from the section's own strips. Simpson's rule gives all of them exactly.
    """
    half, depth, breadth = 0.5 * found.length, section.depth, section.breadth
    inertia = 2.0 * _simpson(lambda y: breadth * y**2, 0.5 * depth)
    flow = _simpson(lambda y: breadth * y, 0.5 * depth)
    moment = _simpson(lambda x: load.total * (half - x), half)
    shear = load.total * max(half - depth, 0.0) * flow / (inertia * breadth)
    # a unit load in the middle bends x/2; the live load w (2 half x - x²) / 2
    work = 2.0 * _simpson(lambda x: 0.25 * x * load.live * (2.0 * half * x - x**2), half)
    parts = {
        "bending": moment * 0.5 * depth / inertia / strength.bending,
        "shear": shear / strength.shear,
        "deflection": work / (strength.stiffness * inertia) * DEFLECTION / found.length,
    }
    worst = max(parts.values())
    if not (abs(parts[found.governs] - 1.0) <= AGREES and worst <= 1.0 + AGREES):
        raise CheckError(f"a span of {found.length!r} m by {found.governs} uses {parts!r} of its strength")


def _simpson(line: Callable[[float], float], end: float) -> float:
    """The integral from 0 to ``end``, exact up to the third degree."""
    return end / 6.0 * (line(0.0) + 4.0 * line(0.5 * end) + line(end))


def end_stress(section: Section, load: float, end: float, beyond: float) -> float:
    """Give the bending stress [kPa] over the last support of a member that reaches ``beyond`` it [m].

    ``load`` [kN/m] lies on the part beyond, ``end`` [kN] stands at its very end.
    """
    return (load * beyond**2 / 2.0 + end * beyond) / section.modulus


def end_reach(section: Section, strength: Strength, load: float, end: float) -> float:
    """Give how far a member may reach beyond its last support [m]: where ``end_stress`` is all it bears.

    >>> from gradework.foundations.timber.wood import section_of, strength_of
    >>> skid = section_of("4x4")
    >>> reach = end_reach(skid, strength_of(skid), 5.0, 2.0)
    >>> abs(end_stress(skid, 5.0, 2.0, reach) - strength_of(skid).bending) < 1e-6
    True
    """
    moment = strength.bending * section.modulus
    root = end + math.sqrt(end**2 + 2.0 * load * moment)  # w x²/2 + P x = M
    return 2.0 * moment / root if root > 0.0 else math.inf


def wall_stresses(
    section: Section, load: float, span: float, walls: Iterable[tuple[float, float]]
) -> tuple[float, float]:
    """Give bending and shear [kPa] of a simple span [m] under a ``load`` [kN/m] and walls that stand on it.

    ``walls`` are (distance from its start [m], load [kN]). The greatest bending of each is added up as if all
    were in one place: never less than what is there, and exact for a wall in the middle. Shear is that at the
    end that bears more; of a wall within the depth of an end it gets, of what it bears, as much as the
    distance is of the depth: the rest goes straight into the support (NDS 3.4.3.1, from memory).

    >>> from gradework.foundations.timber.wood import section_of
    >>> bending, shear = wall_stresses(section_of("4x4"), 0.0, 2.0, [(0.5, 4.0)])  # M = 4 x 0.5 x 1.5/2
    >>> round(bending * section_of("4x4").modulus, 9), round(shear * section_of("4x4").area, 9)
    (1.5, 4.5)
    """
    moment, depth = load * span**2 / 8.0, section.depth
    left = right = max(0.0, load * (span / 2.0 - depth))
    for at, force in walls:
        moment += force * at * (span - at) / span
        left += force * (span - at) / span * min(1.0, at / depth)
        right += force * at / span * min(1.0, (span - at) / depth)
    return moment / section.modulus, 1.5 * max(left, right) / section.area


def bearing_stress(section: Section, force: float, length: float) -> float:
    """Give the stress across the grain [kPa] where a force [kN] leaves a member over ``length`` [m] of it."""
    return force / (section.breadth * length)
