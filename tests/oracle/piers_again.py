"""Piers once more: what each carries, whether skids and joists reach, whether stacks, bases and ground hold.

Rows and places are taken from the record, and so are the blocks of each stack; all that follows is worked out
here. Limits: 24 CFR 3285 and IRC R606.7 as docs/foundations.md names them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import Any

import numpy as np
from anchors_again import Hut, anchors_seen
from numpy.typing import NDArray
from wood_again import IN, LB, PSF, Loads, Row, rows_of, side_wall, whole, wood

Floats = NDArray[np.float64]
Told = tuple[str, float | None, bool | None]

PSI = 6.894757293168
BEARING = 1500.0  # psf, where nothing was tested
BENT = 113.0  # psi in a pad, derived from the published 5,300 lb on a 20 in pad of 4 in
DENSITY = 130.0 * 0.45359237 / 0.3048**3  # kg/m³, normal-weight block

_NOMINAL = {  # thickness, length, width [in], less a joint of 3/8 in each
    "8 in hollow block": (8, 16, 8), "4 in solid block": (4, 16, 8), "2 in solid block": (2, 16, 8),
    "16 in concrete pad": (4, 16, 16), "20 in concrete pad": (4, 20, 20), "24 in concrete pad": (4, 24, 24),
}  # fmt: skip
_METRIC = {  # [mm]
    "140 mm dense block": (140, 440, 215), "100 mm dense block": (100, 440, 215),
    "50 mm slab": (50, 450, 450), "450 mm base slab": (50, 450, 450), "600 mm base slab": (50, 600, 600),
}  # fmt: skip


def size_of(unit: str) -> tuple[float, float, float]:
    """Thickness, length and width of a block by its name [m]."""
    if unit in _NOMINAL:
        thick, long, wide = ((side - 0.375) * IN for side in _NOMINAL[unit])
    else:
        thick, long, wide = (side / 1000.0 for side in _METRIC[unit])
    return thick, long, wide


def piers_seen(
    job: Mapping[str, Any], ring: Floats, told: Mapping[str, Any], above: tuple[float, float], *, us: bool
) -> Iterator[Told]:
    """The checks of wood, blocks, bearing and anchors; the worst of each kind, as (name, value, holds).

    ``above`` [m]: how high the tops stand over the lowest ground, and how thick the floor is on them.
    """
    if not told["piers"]:
        return
    one, two = ring[1] - ring[0], ring[2] - ring[1]
    along, across = (one, two) if np.hypot(*one) >= np.hypot(*two) else (two, -one)
    start = ring[0] if np.hypot(*one) >= np.hypot(*two) else ring[1]
    length, width = float(np.hypot(*along)), float(np.hypot(*across))
    frame = np.stack([along / length, across / width], axis=1)
    places = (np.array([(pier["x_m"], pier["y_m"]) for pier in told["piers"]]) - start) @ frame
    rows = sorted({round(float(v), 3) for v in places[:, 1]})
    members = [[k for k in np.argsort(places[:, 0]) if abs(places[k, 1] - v) < 0.01] for v in rows]
    exact = [float(places[row[0], 1]) for row in members]
    loads = _loads(job, us=us)
    shares = rows_of(loads, length, width, exact)
    yield from _wood(job, loads, (length, width), shares, [places[row, 0] for row in members], us=us)
    carried = np.zeros(len(places))
    for share, row in zip(shares, members, strict=True):
        carried[row] = _carried(share, places[row, 0], length)
    yield "loads close", 1.0, abs(carried.sum() / whole(loads, length, width) - 1.0) < 1e-9
    yield from _bearing_of_skids(job, carried, us=us)
    far = [row[k] for row in (members[0], members[-1]) for k in (0, -1)]
    yield from _stacks(told["piers"], carried, set(far), us=us)
    if told.get("anchors"):
        hut = Hut(length, width, above[1] + loads.wall_high, above[0])
        local = (np.array(told["anchors"]["places"]) - start) @ frame
        yield from anchors_seen(told["anchors"], loads, hut, local)
        yield "anchor soil", 1.0, True  # firm in all these yards


def _loads(job: Mapping[str, Any], *, us: bool) -> Loads:
    snow = float(job.get("piers", {}).get("loads", {}).get("snow", "0 psf").split()[0])
    usual = Loads() if us else Loads(wall_high=2.4, eave=0.3)
    return usual._replace(roof=max(usual.roof, snow))


def _lengths(at: Floats, length: float) -> Floats:
    middles = 0.5 * (at[1:] + at[:-1])
    lengths: Floats = np.diff(np.concatenate([[0.0], middles, [length]]))
    return lengths


def _carried(row: Row, at: Floats, length: float) -> Floats:
    """What each pier of a row carries [lb]: its stretch of the row, the gables on the end ones."""
    load = row.plf * _lengths(at, length) / (12.0 * IN)
    load[0] += row.end
    load[-1] += row.end
    return load


def _wood(
    job: Mapping[str, Any],
    loads: Loads,
    size: tuple[float, float],
    rows: list[Row],
    places: list[Floats],
    *,
    us: bool,
) -> Iterator[Told]:
    (length, width), floor = size, job.get("piers", {}).get("floor", {})
    species, spacing = floor.get("species", "least"), 16.0 * IN if us else 0.4
    joist = wood(floor.get("joist", "2x6"), species, shared=True)
    skid = wood(floor.get("skid", "4x4"), species, shared=False)
    each = spacing / (12.0 * IN)  # ft of floor on a joist
    reach = joist.span(each * (loads.floor + loads.dead), each * loads.floor)
    gaps = [b.at - a.at for a, b in pairwise(rows)]
    yield "joist span", max(gaps, default=0.0), (max(gaps) <= reach + 1e-6 if gaps else None)
    beyond = max(rows[0].at, width - rows[-1].at)
    stress = joist.over_end(each * (loads.floor + loads.dead), each * side_wall(loads, width), beyond)
    yield "joist end", stress * PSI, stress <= joist.bend * (1.0 + 1e-9)
    spans = [
        (gap, min(skid.span(row.plf, row.live), 120.0 * IN))
        for row, at in zip(rows, places, strict=True)
        for gap in np.diff(at).tolist()
    ]
    worst = max(spans, key=lambda one: one[0] / one[1], default=(0.0, 1.0))
    yield "skid span", worst[0], worst[0] <= worst[1] + 1e-6
    ends = [
        skid.over_end(row.plf, row.end, reach)
        for row, at in zip(rows, places, strict=True)
        for reach in (float(at[0]), length - float(at[-1]))
    ]
    yield "skid end", max(ends) * PSI, max(ends) <= skid.bend * (1.0 + 1e-9)


def _bearing_of_skids(job: Mapping[str, Any], carried: Floats, *, us: bool) -> Iterator[Told]:
    floor = job.get("piers", {}).get("floor", {})
    skid = wood(floor.get("skid", "4x4"), floor.get("species", "least"), shared=False)
    stress = float(carried.max()) / (skid.breadth * (4.0 if us else 0.1 / IN))
    yield "skid bearing", stress * PSI, stress <= skid.press * (1.0 + 1e-9)


class _Worst(dict[str, tuple[float, float]]):
    """The value that uses most of its limit, of each kind."""

    def add(self, name: str, value: float, limit: float) -> None:
        if name not in self or value / limit > self[name][0] / self[name][1]:
            self[name] = (value, limit)


def _stacks(piers: list[Mapping[str, Any]], carried: Floats, far: set[int], *, us: bool) -> Iterator[Told]:
    worst = _Worst()
    for number, pier in enumerate(piers):
        _stack(worst, pier, float(carried[number]) * LB, corner=number in far)
        off = abs(carried[number] * LB / pier["load_kn"] - 1.0)
        worst.add("load told", off, 1e-9)
        worst.add("bed", *((pier["bed_m"], (6.0 * IN if us else 0.15) + 1e-6)))
        worst.add("bed, at least", (4.0 * IN if us else 0.1) - 1e-6, pier["bed_m"])
        own = pier["bottom_m"] + pier["bed_m"] + _height(pier)
        worst.add("adds up", abs(own - pier["top_m"]), 1e-6)
    for name, (value, limit) in worst.items():
        yield name, value, value <= limit * (1.0 + 1e-9)


def _height(pier: Mapping[str, Any]) -> float:
    return math.fsum(size_of(part["unit"])[0] * part["count"] for part in pier["stack"])


def _is_base(unit: str) -> bool:
    return "concrete pad" in unit or "base" in unit


def _plan(unit: str, across: int) -> tuple[float, float]:
    """Plan of a course: units narrower than two blocks lie side by side in a double pier."""
    _, long, wide = size_of(unit)
    return wide * (across if wide < 0.36 else 1), long


def _stack(worst: _Worst, pier: Mapping[str, Any], load: float, *, corner: bool) -> None:
    across, parts = pier["across"], pier["stack"]
    worst.add("stack height", _height(pier), (36.0 if across == 1 else 67.0) * IN)
    above = [part for part in parts if not _is_base(part["unit"])] or parts
    plans = [_plan(part["unit"], across) for part in above]
    foot = min(one[0] for one in plans), min(one[1] for one in plans)
    laid = (part for part in parts if not _is_base(part["unit"]))
    body = math.fsum(size_of(part["unit"])[0] * part["count"] for part in laid)
    hollow = any("hollow" in part["unit"] for part in above)
    worst.add("stack slenderness", body / min(foot), 4.0 if hollow else 10.0)
    if corner and across == 1:
        worst.add("corner stack", body, (3 * 7.625 + 3.625) * IN)
    worst.add("pier load", load, (8000.0 if across == 1 else 16000.0) * LB)
    mass = math.fsum(_mass(part, across) for part in parts)
    base = next((part["unit"] for part in parts if _is_base(part["unit"])), None)
    plan = foot if base is None else _plan(base, across)
    pressure = (load + mass * 9.80665 / 1000.0) / (plan[0] * plan[1])
    worst.add("soil bearing", pressure, BEARING * PSF)
    if base is not None:
        out = max(0.5 * (whole_ - part) for whole_, part in zip(plan, foot, strict=True))
        worst.add("pad bending", 3.0 * pressure * out**2 / size_of(base)[0] ** 2, BENT * PSI)
    if hollow:
        solid = sum(part["count"] for part in parts if "4 in solid" in part["unit"])
        worst.add("open cells stand on and under solid", 1.0 if base else 2.0, float(max(solid, 0.5)))


def _mass(part: Mapping[str, Any], across: int) -> float:
    thick, long, wide = size_of(part["unit"])
    pieces = part["count"] * (1 if wide >= 0.36 else across)
    return pieces * thick * long * wide * DENSITY * (0.515 if "hollow" in part["unit"] else 1.0)
