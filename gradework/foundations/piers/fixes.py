"""What is told where wood or ground does not hold: the line of the job to change, and what it may be.

Each check that fails becomes one finding that stops; what was taken for granted about loads becomes a note.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Finding, finding
from gradework.foundations.checks.check import cited
from gradework.foundations.piers.bearing import GRAVITY
from gradework.foundations.piers.carrying import (
    SHIM,
    joist_span,
    place_piers,
    rounded_down,
    rounded_up,
    span_checks,
)
from gradework.foundations.timber.wood import LEAST, section_of
from gradework.units.amounts import KG_PER_LB, M_PER_IN, area_load_words, force_words, stress_words

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.check import Check
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.spec import PierSpec
    from gradework.units.display import Display

_CODES = {
    "joist span": "pier-joist-span",
    "joist end": "pier-joist-end",
    "skid span": "pier-skid-span",
    "skid wall": "pier-skid-wall",
    "skid end": "pier-skid-end",
    "skid bearing": "pier-skid-bearing",
    "ridge post": "pier-ridge-post",
    "pier load": "pier-bearing",
    "sliding": "pier-anchors-short",
    "uplift": "pier-anchors-short",
    "stack height": "pier-stack-too-tall",
}

SKIDS = {True: ("4x4", "4x6", "4x8"), False: ("100x100", "100x150", "100x200")}
_MORE = 7  # so many rows more are tried
_JOISTS = {True: ("2x6", "2x8", "2x10", "2x12"), False: ("50x150", "50x200", "50x250", "50x300")}


def check_findings(plan: Piers, building: Outline, show: Display) -> tuple[Finding, ...]:
    """Give a stop for each check that does not hold, and a note on what was taken for granted."""
    failing = [check for check in plan.checks if check.holds is False]
    return (
        *(_stop(check, plan, building, show) for check in failing),
        _taken(plan, show),
        *_not_lined_up(plan),
    )


def _stop(check: Check, plan: Piers, building: Outline, show: Display) -> Finding:
    assert check.value is not None
    assert check.limit is not None
    where = "joists" if check.check.startswith("joist") else "skids" if "skid" in check.check else "piers"
    floor = plan.spec.floor
    return finding(
        _CODES[check.check],
        "stop",
        where,
        check.value,
        check.limit,
        dialect=show.dialect,
        value_told=_told(check.value, check, show),
        most=_told(check.limit, check, show),
        skid=floor.skid.said(us=show.us),
        joist=floor.joist.said(us=show.us),
        load=_heaviest(plan, show),
        line=_line(check, plan, building, show),
        closer="positions" if plan.spec.positions else "spacing or rows",
        shim=show.depth(SHIM[show.us]),
        source=cited("24 CFR 3285.306", us=show.us),
    )


def _told(value: float, check: Check, show: Display) -> str:
    if check.unit == "m":
        return show.length(value)
    return (stress_words if check.unit == "kPa" else force_words)(value, us=show.us)


def _line(check: Check, plan: Piers, building: Outline, show: Display) -> str:
    """Give what to write in the job so that the check holds, where one line does it; else nothing."""
    assert check.value is not None
    assert check.limit is not None
    if check.check in ("joist span", "skid span", "skid wall"):
        closer, larger = _closer(check, plan, show), _larger(check.check, plan, building, show)
        return closer if larger is None else f"{closer}, or {larger} under [piers.floor]"
    if check.check in ("sliding", "uplift", "ridge post"):
        return (_under_post if check.check == "ridge post" else _stronger)(plan, show)
    if check.check == "joist end":
        return _under_walls(check.limit / check.value, plan, building, show)
    if check.check != "skid end":
        return ""
    if plan.spec.positions:
        return "positions closer to the walls"
    return f'end_inset = "{_written(plan.carried.layout.end_inset * check.limit / check.value, show)}"'


def _stronger(plan: Piers, show: Display) -> str:
    """Give the working load with which the anchors that have room hold, to the next 50 lb or 10 kg."""
    assert plan.anchors is not None
    unit, step, name = (KG_PER_LB, 50, "lb") if show.us else (1.0, 10, "kg")
    least = plan.anchors.least_working * 1000.0 / GRAVITY / unit
    return f'anchor = "{step * math.ceil(least / step - 1e-9)} {name}"'


def _under_walls(part: float, plan: Piers, building: Outline, show: Display) -> str:
    """Give the line that brings rows so close to the walls along them that the joists hold.

    ``part`` [-] is how much of the stress they may have: an inset so much smaller does it on a rectangle,
    with more rows where these would then stand too far apart. An arm of an L that lies between two rows asks
    for more rows; what none of them mends asks for piers by hand.
    """
    layout, rows = plan.spec.layout, len({place.row for place in plan.carried.places})
    if not plan.spec.positions:
        inset = _rounded(plan.carried.layout.side_inset * part, show)
        closer, near = replace(layout, side_inset=inset), f'side_inset = "{_written(inset, show)}"'
        more = range(rows + 1, rows + _MORE)
        tries = [(closer, near), *((replace(layout, rows=count), f"rows = {count}") for count in more)]
        tries += [(replace(closer, rows=count), f"{near} and rows = {count}") for count in more]
        for other, line in tries:
            spec = replace(plan.spec, layout=other)
            checks = span_checks(place_piers(building, spec, show), building, spec, us=show.us)
            if all(check.holds is not False for check in checks if check.check.startswith("joist")):
                return line
    return "positions closer to the walls"


def _closer(check: Check, plan: Piers, show: Display) -> str:
    """Give the line that sets rows or piers so close that joists or skids span from one to the next."""
    assert check.limit is not None
    if plan.spec.positions and check.check == "skid wall":
        return "positions under the wall under [piers]"
    if plan.spec.positions:
        return f"positions at most {_written(check.limit, show)} apart under [piers]"
    if check.check == "skid wall":
        return "spacing or end_inset so that a pier stands under the wall, under [piers]"
    if check.check == "skid span":
        return f'spacing = "{_written(check.limit, show)}" under [piers]'
    if plan.spec.layout.rows is None:
        return f'row_spacing = "{_written(check.limit, show)}" under [piers]'
    width = float(np.ptp(plan.carried.local[:, 1]))
    return f"rows = {math.ceil(width / check.limit - 1e-9) + 1} under [piers]"


def _under_post(plan: Piers, show: Display) -> str:
    """Give the line that sets a pier under the middle of the gables: an odd number of rows, or of piers."""
    rows = len({place.row for place in plan.carried.places})
    if not plan.spec.positions and plan.carried.skids:
        outer = plan.carried.skids[0].places
        if plan.carried.shell.ridge_along:
            if rows % 2 == 0:
                return f"rows = {rows + 1}"
        elif len(outer) % 2 == 0:
            return f'spacing = "{_written((outer[-1] - outer[0]) / len(outer), show, up=True)}"'
    return "positions"


def _larger(kind: str, plan: Piers, building: Outline, show: Display) -> str | None:
    """Give the line with the first larger size with which the check holds on the piers as they stand."""

    def holds(spec: PierSpec) -> bool:
        found = span_checks(plan.carried, building, spec, us=show.us)
        return all(check.holds for check in found if check.check == kind)

    joist, own = kind.startswith("joist"), plan.spec.floor
    for name in (_JOISTS if joist else SKIDS)[show.us]:
        size = section_of(name)
        floor = replace(own, joist=size) if joist else replace(own, skid=size)
        if holds(replace(plan.spec, floor=floor)):
            return f'{"joist" if joist else "skid"} = "{name}"'
    return None


def _not_lined_up(plan: Piers) -> Iterator[Finding]:
    if any(check.check == "skid span" and check.holds is None for check in plan.checks):
        yield finding("pier-rows-unknown", "warning", "piers")


def _taken(plan: Piers, show: Display) -> Finding:
    """Say which loads, directions and wood were taken, so that whoever knows better can say so."""
    spec, floor = plan.spec, plan.spec.floor
    areas, shell = spec.loads.areas, plan.carried.shell
    wood = "strengths as given"
    if floor.wood.own is None:
        named = (
            "the weakest of fir, hem-fir and spruce" if floor.wood.species == LEAST else floor.wood.species
        )
        counted = floor.skid.counted_as.name, floor.joist.counted_as.name
        as_us = (
            "" if counted == (floor.skid.name, floor.joist.name) else f", counted as {' and '.join(counted)}"
        )
        wood = f"{named}, grade No 2, wet{as_us}"
    span = rounded_down(joist_span(spec).length, show)
    return finding(
        "pier-load-path",
        "note",
        "piers",
        variant="ridge-beam" if shell.roof == "ridge beam" else "",
        dialect=show.dialect,
        ridge="along" if shell.ridge_along else "across",
        bearing="outer rows" if shell.ridge_along else "end piers",
        gables="end piers" if shell.ridge_along else "outer rows",
        skid=floor.skid.said(us=show.us),
        joist=floor.joist.said(us=show.us),
        apart=show.depth(floor.joist_spacing),
        span=show.length(span),
        wood=wood,
        floor=area_load_words(areas.floor, us=show.us),
        roof=area_load_words(areas.roof, us=show.us),
        walls=area_load_words(areas.wall, us=show.us),
        wall_height=show.length(shell.wall_height),
        overhang=show.depth(shell.overhang),
        heaviest=_heaviest(plan, show),
    )


def _heaviest(plan: Piers, show: Display) -> str:
    return force_words(float(plan.carried.loading.total.max()), us=show.us)


def _rounded(length: float, show: Display, *, up: bool = False) -> float:
    """Round a length [m] to what is written, an inch or 10 mm: down, but not to nothing, or ``up``."""
    if up:
        return rounded_up(length, show)
    return max(M_PER_IN if show.us else 0.01, rounded_down(length, show))


def _written(length: float, show: Display, *, up: bool = False) -> str:
    """Write a length as the job file takes it, rounded."""
    even = _rounded(length, show, up=up)
    return f"{round(even / M_PER_IN)} in" if show.us else f"{round(1000.0 * even)} mm"
