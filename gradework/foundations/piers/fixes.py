"""What is told where wood or ground does not hold: the line of the job to change, and what it may be.

Each check that fails becomes one finding that stops; what was taken for granted about loads becomes a note.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, finding
from gradework.foundations.piers.carrying import joist_span, rounded_down, shell_over, span_checks
from gradework.foundations.timber.wood import KPA_PER_PSI, LEAST, Section, section_of
from gradework.units.amounts import KPA_PER_PSF, M_PER_IN

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
    "skid end": "pier-skid-end",
    "skid bearing": "pier-skid-bearing",
    "pier load": "pier-bearing",
    "stack height": "pier-stack-too-tall",
}

_SKIDS = {True: ("4x4", "4x6", "4x8"), False: ("100x100", "100x150", "100x200")}
_JOISTS = {True: ("2x6", "2x8", "2x10", "2x12"), False: ("50x150", "50x200", "50x250", "50x300")}
_POUND = 4.4482216152605e-3  # kN


def check_findings(plan: Piers, building: Outline, show: Display) -> tuple[Finding, ...]:
    """Give a stop for each check that does not hold, and a note on what was taken for granted."""
    failing = [check for check in plan.checks if check.holds is False]
    return (
        *(_stop(check, plan, building, show) for check in failing),
        _taken(plan, building, show),
        *_not_lined_up(plan),
    )


def _stop(check: Check, plan: Piers, building: Outline, show: Display) -> Finding:
    assert check.value is not None
    assert check.limit is not None
    told = _length if check.unit == "m" else _stress if check.unit == "kPa" else force
    line = ""
    if check.check in ("joist span", "skid span"):
        line = _line(check, plan, building, show)
    elif check.check in ("joist end", "skid end"):
        key = "side_inset" if check.check == "joist end" else "end_inset"
        inset = getattr(plan.carried.layout, key) * check.limit / check.value
        line = f'{key} = "{_written(inset, show)}"'
    where = "joists" if check.check.startswith("joist") else "skids" if "skid" in check.check else "piers"
    floor = plan.spec.floor
    return finding(
        _CODES[check.check],
        "stop",
        where,
        check.value,
        check.limit,
        dialect=show.dialect,
        value_told=told(check.value, show),
        most=told(check.limit, show),
        skid=named_size(floor.skid, show),
        joist=named_size(floor.joist, show),
        load=_heaviest(plan, show),
        line=line,
    )


def _line(check: Check, plan: Piers, building: Outline, show: Display) -> str:
    """Give the line of the job that would let joists or skids hold: closer, or a size that spans so far."""
    assert check.limit is not None
    joist = check.check == "joist span"
    key = ("row_spacing" if plan.spec.layout.rows is None else "rows") if joist else "spacing"
    if key == "rows":
        width = float(plan.carried.local[:, 1].max() - plan.carried.local[:, 1].min())
        closer = f"rows = {math.ceil(width / check.limit - 1e-9) + 1}"
    else:
        closer = f'{key} = "{_written(check.limit, show)}"'
    larger = _larger(check.check, plan, building, show)
    name = "joist" if joist else "skid"
    return closer if larger is None else f'{closer} under [piers], or {name} = "{larger}" under [piers.floor]'


def _larger(kind: str, plan: Piers, building: Outline, show: Display) -> str | None:
    """Give the first larger size with which the check holds on the piers as they stand."""

    def holds(spec: PierSpec) -> bool:
        found = span_checks(plan.carried, building, spec, us=show.us)
        return all(check.holds for check in found if check.check == kind)

    def withnamed_size(name: str) -> PierSpec:
        own, size = plan.spec.floor, section_of(name)
        floor = replace(own, joist=size) if kind == "joist span" else replace(own, skid=size)
        return replace(plan.spec, floor=floor)

    sizes = (_JOISTS if kind == "joist span" else _SKIDS)[show.us]
    return next((name for name in sizes if holds(withnamed_size(name))), None)


def _not_lined_up(plan: Piers) -> Iterator[Finding]:
    if any(check.check == "skid span" and check.holds is None for check in plan.checks):
        yield finding("pier-rows-unknown", "warning", "piers")


def _taken(plan: Piers, building: Outline, show: Display) -> Finding:
    """Say which loads, directions and wood were taken, so that whoever knows better can say so."""
    spec, floor = plan.spec, plan.spec.floor
    areas, shell = spec.loads.areas, shell_over(building, spec)
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
        skid=named_size(floor.skid, show),
        joist=named_size(floor.joist, show),
        apart=show.depth(floor.joist_spacing),
        span=show.length(span),
        wood=wood,
        floor=_area_load(areas.floor, show),
        roof=_area_load(areas.roof, show),
        walls=_area_load(areas.wall, show),
        wall_height=show.length(shell.wall_height),
        overhang=show.depth(shell.overhang),
        heaviest=_heaviest(plan, show),
    )


def _heaviest(plan: Piers, show: Display) -> str:
    return force(float(plan.carried.loading.total.max()), show)


def _written(length: float, show: Display) -> str:
    """Write a length as the job file takes it, rounded down."""
    step = M_PER_IN if show.us else 0.01
    down = max(step, rounded_down(length, show))
    return f"{round(down / M_PER_IN)} in" if show.us else f"{round(1000.0 * down)} mm"


def named_size(section: Section, show: Display) -> str:
    """Say a size as the yard does: nominal inches, or true millimetres."""
    if show.us:
        return section.name
    plies = f"{section.plies} x " if section.plies > 1 else ""
    return f"{plies}{section.width * 1000:.0f} x {section.depth * 1000:.0f} mm"


def _length(length: float, show: Display) -> str:
    return show.length(length)


def force(kilonewtons: float, show: Display) -> str:
    """Say a force: in pounds, to ten of them, or in kilonewtons."""
    return f"{round(kilonewtons / _POUND, -1):,.0f} lb" if show.us else f"{kilonewtons:.1f} kN"


def _stress(kilopascals: float, show: Display) -> str:
    return f"{kilopascals / KPA_PER_PSI:,.0f} psi" if show.us else f"{kilopascals / 1000.0:.1f} MPa"


def _area_load(kilopascals: float, show: Display) -> str:
    return f"{kilopascals / KPA_PER_PSF:.0f} psf" if show.us else f"{kilopascals:.2f} kPa"
