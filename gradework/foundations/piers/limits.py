"""What published rules say about the piers as planned: height, clearance, bearing, frost, uplift, weight.

Each finding names its source and, where the figure was only quoted or is from memory, says so. US model codes
bind only where adopted; local rules decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.materials import DEFAULT_GRAVEL
from gradework.earthwork.outline import Outline
from gradework.errors import Finding, finding
from gradework.foundations.piers.neighbours import corners
from gradework.foundations.piers.spec import DOUBLE_STACK_LIMIT, SINGLE_STACK_LIMIT
from gradework.foundations.piers.stacks import pieces_in_course
from gradework.units.amounts import KG_PER_LB, KPA_PER_PSF, M_PER_IN

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.units.display import Display


GRAVITY = 9.80665
"""Standard gravity [m/s²]."""

LIFT_LIMIT = 51.0 * KG_PER_LB
"""Most one person should lift in the best case [kg] (NIOSH lifting equation, OSHA poultry eTool; seen)."""

HOLLOW_SLENDERNESS = 4.0
"""Unfilled hollow piers: height over least side [-] (IRC R606.7, was R606.6; mortared piers; quoted)."""

SOLID_SLENDERNESS = 10.0
"""Solid or filled piers: height over least side [-] (the same clause; quoted)."""

CORNER_STACK_LIMIT = 24.0 * M_PER_IN
"""Corner piers above about this are doubled [m] (24 CFR 3285.306(b) in installer training notes; quoted)."""

_WORST_FIRST = ("stop", "warning", "note")
_PART_CLEARANCES = (
    ("joists", 18.0 * M_PER_IN, "IRC R317.1(1), joists to ground"),
    ("beams", 12.0 * M_PER_IN, "IRC R317.1(1), girders to ground"),
    ("siding and wall framing", 6.0 * M_PER_IN, "IRC R317.1(5)"),
)


def pier_load(tributary: float, load: float) -> float:
    """Give the load on a pier [kN] from the area it carries [m²] and the load per area [kPa].

    >>> pier_load(2.0, 4.0)
    8.0
    """
    return tributary * load


def stack_pressure(load: float, mass: float, area: float) -> float:
    """Give the pressure [kPa] of a load [kN] and a mass [kg] on an area [m²].

    >>> round(stack_pressure(8.0, 100.0, 0.5), 3)
    17.961
    """
    return (load + mass * GRAVITY / 1000.0) / area


def pier_findings(plan: Piers, building: Outline, show: Display) -> tuple[Finding, ...]:
    """Give all findings on a plan, worst first; one for each rule, naming the piers it touches."""
    found = [
        *_stack_heights(plan, show),
        *_beds(plan, show),
        *_clearances(plan, show),
        *_bearing(plan, show),
        *_frost(plan, building, show),
        *_weights(plan, show),
        finding("pier-uplift", "note", _named(plan.piers)),
    ]
    return tuple(sorted(found, key=lambda finding: _WORST_FIRST.index(finding.severity)))


def _named(piers: Sequence[Pier]) -> str:
    names = [pier.name for pier in piers]
    shown = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
    return f"pier {shown}" if len(names) == 1 else f"piers {shown}"


def _stack_heights(plan: Piers, show: Display) -> Iterator[Finding]:
    double = plan.spec.across == 2
    limit = DOUBLE_STACK_LIMIT if double else SINGLE_STACK_LIMIT
    too_tall = [p for p in plan.piers if p.height > limit or (not double and p.height >= limit)]
    if too_tall:
        tallest = max(p.height for p in too_tall)
        yield finding(
            "pier-stack-too-tall",
            "stop",
            _named(too_tall),
            tallest,
            limit,
            variant="double" if double else "single",
            height=show.depth(tallest),
            most=show.depth(limit),
        )
    slender = [(p, _slender_limit(p, plan)) for p in plan.piers]
    beyond = [(p, most) for p, most in slender if p.height > most + 1e-9]
    if beyond:
        worst, most = max(beyond, key=lambda pair: pair[0].height - pair[1])
        yield finding(
            "pier-stack-slender",
            "warning",
            _named([p for p, _ in beyond]),
            worst.height,
            most,
            height=show.depth(worst.height),
            most=show.depth(most),
        )
    if not double:
        yield from _corner_heights(plan, show)


def _slender_limit(pier: Pier, plan: Piers) -> float:
    side = plan.spec.across * min(unit.least_side for unit in pier.laid)
    return (HOLLOW_SLENDERNESS if any(unit.hollow for unit in pier.laid) else SOLID_SLENDERNESS) * side


def _corner_heights(plan: Piers, show: Display) -> Iterator[Finding]:
    places = np.array([(pier.x, pier.y) for pier in plan.piers])
    corner = [plan.piers[number] for number in corners(places)]
    body = [(p, p.height - (p.laid[-1].thickness if p.laid[-1].may_cap else 0.0)) for p in corner]
    beyond = [(p, h) for p, h in body if h > CORNER_STACK_LIMIT + 1e-9]
    if beyond:
        worst = max(h for _, h in beyond)
        where = _named([p for p, _ in beyond])
        yield finding(
            "pier-corner-tall",
            "warning",
            where,
            worst,
            CORNER_STACK_LIMIT,
            height=show.depth(worst),
            most=show.depth(CORNER_STACK_LIMIT),
        )


def _beds(plan: Piers, show: Display) -> Iterator[Finding]:
    proud = [(p, p.bottom + p.bed - p.ground_low) for p in plan.piers]
    above = [(p, h) for p, h in proud if h > 1e-6]
    if above:
        worst = max(h for _, h in above)
        where = _named([p for p, _ in above])
        yield finding("pier-bed-above-ground", "warning", where, worst, 0.0, height=show.depth(worst))


def _clearances(plan: Piers, show: Display) -> Iterator[Finding]:
    top = plan.top
    assert top is not None
    ground, floor = plan.building.highest, plan.spec.floor
    under = {
        "joists": top + floor.beam - ground,
        "beams": top - ground,
        "siding and wall framing": top + floor.beam + floor.joists - ground,
    }
    for part, limit, source in _PART_CLEARANCES:
        clear = under[part]
        if clear < limit - 1e-9:
            treated = floor.treated and part != "siding and wall framing"
            yield finding(
                "pier-floor-low",
                "note" if treated else "warning",
                f"high side, {part}",
                clear,
                limit,
                variant="treated" if treated else "",
                framing=part,
                clear=show.depth(clear),
                least=show.depth(limit),
                source=source,
            )


def bed_area(pier: Pier, plan: Piers) -> float:
    """Give the ground that carries a pier [m²]: its base spread 1 in 2 through the bed, at most the hole.

    The base is what lies on the bed: one unit, or two side by side where a double pier has two there.
    """
    base = pier.laid[0]
    wide = base.least_side * pieces_in_course(base, plan.spec.across)
    long = max(base.length, base.width)
    return min(wide + pier.bed, pier.hole_size[0]) * min(long + pier.bed, pier.hole_size[1])


def bed_pressure(pier: Pier, plan: Piers) -> float:
    """Give the pressure below the bed [kPa] from the building carried, the stack and the bed itself."""
    load = pier_load(pier.tributary, plan.spec.loads.total)
    bed_mass = pier.bed_volume * DEFAULT_GRAVEL.compacted.value
    return stack_pressure(load, pier.mass + bed_mass, bed_area(pier, plan))


def _bearing(plan: Piers, show: Display) -> Iterator[Finding]:
    limit = plan.spec.loads.bearing
    over = [pier for pier in plan.piers if bed_pressure(pier, plan) > limit]
    if not over:
        return
    worst = max(over, key=lambda pier: bed_pressure(pier, plan))
    pressure = bed_pressure(worst, plan)
    yield finding(
        "pier-bearing",
        "warning",
        _named(over),
        pressure,
        limit,
        pier=worst.name,
        area=show.area(worst.tributary),
        pressure=_pressure(pressure, show),
        most=_pressure(limit, show),
    )


def _pressure(kilopascals: float, show: Display) -> str:
    if show.us:
        return f"{round(kilopascals / KPA_PER_PSF, -1):,.0f} psf"
    return f"{kilopascals:.0f} kPa"


def _frost(plan: Piers, building: Outline, show: Display) -> Iterator[Finding]:
    rule = plan.spec.frost
    shallow = min(plan.piers, key=lambda p: p.ground_low - p.bottom)
    depth = shallow.ground_low - shallow.bottom
    limit = rule.asked
    if depth >= limit - 1e-9:
        return
    small = rule.exempts(building.area)
    yield finding(
        "pier-frost",
        "note" if small else "warning",
        _named([shallow]),
        depth,
        limit,
        variant="small" if small else "large",
        depth=show.depth(depth),
        asked=show.depth(limit),
        area=show.area(rule.exempt_area),
        eave=show.length(rule.exempt_eave),
    )


def _weights(plan: Piers, show: Display) -> Iterator[Finding]:
    heavy = {unit.name: unit for pier in plan.piers for unit in pier.laid if unit.mass > LIFT_LIMIT}
    for unit in heavy.values():
        yield finding(
            "unit-heavy",
            "note",
            unit.name,
            unit.mass,
            LIFT_LIMIT,
            name=unit.name,
            mass=show.mass(unit.mass),
            most=show.mass(LIFT_LIMIT),
        )
