"""What published rules say about the piers as planned: stacks, ground, clearance, frost, uplift, weight.

Each finding names its source and, where the figure was only quoted or is from memory, says so. US model codes
bind only where adopted; local rules decide.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.earthwork.outline import Outline
from gradework.errors import CheckError, Finding, finding
from gradework.foundations.checks.check import Check, cited, worst_of
from gradework.foundations.checks.limits import JOISTS, SIDING, SKIDS
from gradework.foundations.piers.anchors import wind_words
from gradework.foundations.piers.bearing import (
    BEARING_SOURCE,
    BLOCK_CAPACITY,
    CORNER_LIMIT,
    GRAVITY,
    PAD_STRESS,
)
from gradework.foundations.piers.cover import COVER_AIR
from gradework.foundations.piers.spec import (
    DOUBLE_STACK_LIMIT,
    FROST_ASKS,
    FROST_EXEMPTS,
    SINGLE_STACK_LIMIT,
)
from gradework.foundations.piers.stacks import HOLLOW_SLENDERNESS, SOLID_SLENDERNESS, course_plan
from gradework.units.amounts import KG_PER_LB, force_words

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Pier, Piers
    from gradework.units.display import Display


LIFT_LIMIT = 51.0 * KG_PER_LB
"""Most one person should lift in the best case [kg] (NIOSH lifting equation, OSHA poultry eTool; seen)."""

SMALL_AUGERS = {True: "300 to 1,000 lb", False: "140 to 450 kg"}
"""What small shed augers hold in fair soil (memory), in US and metric jobs."""

_WORST_FIRST = ("stop", "warning", "note")
_PART_CLEARANCES = (
    ("joists", JOISTS, "IRC R317.1(1), joists to ground"),
    ("beams", SKIDS, "IRC R317.1(1), girders to ground"),
    ("siding and wall framing", SIDING, "IRC R317.1(5)"),
)


def stack_pressure(load: float, mass: float, area: float) -> float:
    """Give the pressure [kPa] of a load [kN] and a mass [kg] on an area [m²].

    >>> round(stack_pressure(8.0, 100.0, 0.5), 3)
    17.961
    """
    return (load + mass * GRAVITY / 1000.0) / area


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Put findings in order: what stops first."""
    return tuple(sorted(findings, key=lambda finding: _WORST_FIRST.index(finding.severity)))


def standing_checks(plan: Piers, *, us: bool) -> tuple[Check, ...]:
    """Check stacks and ground pier by pier, from what is laid: the worst of each kind.

    Raises ``CheckError`` where a limit that the search keeps is broken all the same.
    """
    found: dict[str, list[Check]] = {}
    for pier in plan.piers:
        for check in checks_of_pier(pier, plan.spec.loads.bearing):
            found.setdefault(check.check, []).append(check)
    worst = [worst_of(checks) for checks in found.values()]
    for check in worst:
        if check.holds is False and check.check != "stack height":  # a taller double stack may be asked for
            raise CheckError(f"{check.check} is {check.value} {check.unit}, the limit {check.limit}")
    return tuple(replace(check, source=cited(check.source, us=us)) for check in worst)


def checks_of_pier(pier: Pier, bearing: float) -> Iterator[Check]:
    """Check one pier as it is laid, on ground that may bear ``bearing`` [kPa]."""
    single = pier.across == 1
    most = SINGLE_STACK_LIMIT if single else DOUBLE_STACK_LIMIT
    clause = f"24 CFR 3285.306({'a' if single else 'b'}) (2015)"
    yield Check("stack height", pier.height, most, "m", clause)
    base = pier.laid[0]
    above = pier.laid[1:] if base.only_base else pier.laid
    plans = [course_plan(unit, pier.across) for unit in above] or [course_plan(base, pier.across)]
    foot = min(plan[0] for plan in plans), min(plan[1] for plan in plans)
    body = sum(unit.thickness for unit in above)
    hollow = any(unit.hollow for unit in above)
    slender = HOLLOW_SLENDERNESS if hollow else SOLID_SLENDERNESS
    yield Check(
        "stack slenderness", body / min(foot), slender, "-", "IRC R606.7 (to 2012), for mortared piers"
    )
    if pier.corner and single:
        yield Check("corner stack", body, CORNER_LIMIT, "m", "24 CFR 3285.306(b) (2015)")
    yield Check(
        "pier load", pier.load, BLOCK_CAPACITY[pier.across], "kN", "24 CFR 3285.312 table, note 4 (2015)"
    )
    area = math.prod(course_plan(base, pier.across))
    pressure = stack_pressure(pier.load, pier.mass, area)
    yield Check("soil bearing", pressure, bearing, "kPa", BEARING_SOURCE)
    if base.only_base:
        whole = course_plan(base, pier.across)
        beyond = max(0.5 * (side - part) for side, part in zip(whole, foot, strict=True))
        bent = 3.0 * pressure * beyond**2 / base.thickness**2
        yield Check("pad bending", bent, PAD_STRESS, "kPa", "derived from 24 CFR 3285.312 table (2015)")


def pier_findings(plan: Piers, building: Outline, show: Display) -> tuple[Finding, ...]:
    """Give the findings on a plan that are no checks; one for each rule, naming the piers it touches."""
    return (
        *_beds(plan, show),
        *_clearances(plan, show),
        *_frost(plan, building, show),
        *_weights(plan, show),
        *_too_few(plan),
        *_cover(plan, show),
        *_anchored(plan, show),
    )


def _anchored(plan: Piers, show: Display) -> Iterator[Finding]:
    anchors = plan.anchors
    if anchors is not None:
        yield finding(
            "pier-uplift",
            "note",
            _named(plan.piers),
            count=anchors.count,
            load=force_words(anchors.working, us=show.us),
            wind=wind_words(anchors.wind, us=show.us),
            weak=SMALL_AUGERS[show.us],
        )


def _named(piers: Sequence[Pier]) -> str:
    names = [pier.name for pier in piers]
    shown = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
    return f"pier {shown}" if len(names) == 1 else f"piers {shown}"


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
                source=cited(source, us=show.us),
            )


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
        source=cited(FROST_EXEMPTS if small else FROST_ASKS, us=show.us),
        depth=show.depth(depth),
        asked=show.depth(limit),
        area=show.area(rule.exempt_area),
        eave=show.length(rule.exempt_eave),
    )


def _cover(plan: Piers, show: Display) -> Iterator[Finding]:
    cover = plan.cover
    if cover is not None and cover.tight:
        least = COVER_AIR + cover.depth
        yield finding(
            "pier-cover-tight",
            "warning",
            "under the floor",
            cover.clear,
            COVER_AIR,
            clear=show.depth(max(cover.clear, 0.0)),
            depth=show.depth(cover.depth),
            clearance=show.depth(least),
        )


def _too_few(plan: Piers) -> Iterator[Finding]:
    counts = plan.units_by_kind()
    for unit in plan.spec.on_hand:
        laid, came = counts.get(unit.name, 0), unit.delivered
        if came is not None and laid > came:
            yield finding(
                "measured-too-few", "warning", unit.name, float(came), float(laid),
                name=unit.name, came=came, laid=laid, more=laid - came,
            )  # fmt: skip


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
