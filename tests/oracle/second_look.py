"""Every check of every option of a plan, made a second time from the texts of job and notes and the plan's
record.

It shares no line with the program: the ground is scipy's, shapes are shapely's, formulas are those of the
documents in docs/ with the sources named there. Of the record it takes decisions only (levels, places of
piers and their blocks, lines of swales and pipes), never a value that the program worked out, but for the
water that comes to a swale or drain."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
import shapely
from asked_again import EXACT, FT, IN, Asked, Seen, asked_of, floor_of
from ground_again import READING, Built, Floats, Swale, look_from
from near_again import near_seen, outlets_seen, spouts_seen
from piers_again import piers_seen
from runoff_again import drained_seen

SIDING, JOISTS, SKIDS = 6 * IN, 18 * IN, 12 * IN  # IRC R317.1
HELD, DUG, GRAVEL_FILL, EARTH_FILL = 24 * IN, 5 * FT, 24 * IN, 8 * IN
REACH, FALL = 10 * FT, 0.05  # IRC 2015 R401.3: 6 in within the first 10 ft
LOOKED, STEPPED = 0.004, 0.008
"""[m] How near a value comes that was looked at in steps, that was walked over in a grid."""


class Disagreement(NamedTuple):
    """Where program and second look part: what was told and what was seen."""

    foundation: str
    check: str
    where: str
    told: str
    seen: str


def second_look(job_text: str, notes: str, record: Mapping[str, Any]) -> list[Disagreement]:
    """Judge every option of a plan again; nothing where all agree."""
    asked = asked_of(job_text, notes)
    ways: dict[str, Callable[[Asked, Mapping[str, Any], Mapping[str, Any]], Iterator[Seen]]] = {
        "pad": pad_seen, "slab": slab_seen, "piers": _piers,
    }  # fmt: skip
    found: list[Disagreement] = []
    for option in record["options"]:
        seen = list(ways[option["foundation"]](asked, record, option))
        found += _compared(option, seen)
    found += _winner(record)
    return found


def _compared(option: Mapping[str, Any], seen: list[Seen]) -> Iterator[Disagreement]:
    kind, left = option["foundation"], list(option["checks"])
    for one in seen:
        here = f"{one.value} {one.holds}"
        own = [told for told in left if told["check"] == one.check and told["where"].startswith(one.where)]
        if not own:
            if one.holds is False:
                yield Disagreement(kind, one.check, one.where, "not checked", here)
            continue
        told = own[0]
        left.remove(told)
        if _turned(told, one) or _apart(told["value"], one):
            yield Disagreement(kind, one.check, one.where, _said(told), here)
    if kind == "piers" and option["level_m"] is None:
        left = []  # no pier stands anywhere: of what would be asked of one the record tells no place
    for told in left:
        if told["check"] == "water stays away" and told["holds"] is not False:
            continue  # an "if" at the most, whatever the ground
        yield Disagreement(kind, told["check"], told["where"], _said(told), "not looked at")
    false = any(told["holds"] is False for told in option["checks"])
    if option["buildable"] is false:
        yield Disagreement(kind, "buildable", "", str(option["buildable"]), f"some check false: {false}")


def _turned(told: Mapping[str, Any], one: Seen) -> bool:
    """Whether two verdicts differ, and the value does not lie as near to its limit as it is known here."""
    if told["holds"] is one.holds or one.lenient:
        return False
    if one.near <= EXACT or one.value is None or told["limit"] is None:
        return True
    sign = 1.0 if told["bound"] == "most" else -1.0
    return abs(sign * (one.value - told["limit"]) - told["error"]) > one.near * max(1.0, abs(told["limit"]))


def _apart(told: float | None, one: Seen) -> bool:
    """Whether two values differ by more than they are known to."""
    if one.verdict_only or told is None or one.value is None:
        return False
    return abs(one.value - told) > one.near * max(1.0, abs(told))


def _said(told: Mapping[str, Any]) -> str:
    return f"{told['value']} of {told['limit']} {told['holds']}"


def _winner(record: Mapping[str, Any]) -> Iterator[Disagreement]:
    """The winner fails nothing and is the cheapest of those."""
    able = [one for one in record["options"] if all(check["holds"] is not False for check in one["checks"])]
    best = min(able, key=lambda one: math.inf if one["cost"] is None else one["cost"], default=None)
    name = None if best is None else best["foundation"]
    if record["winner"] != name:
        yield Disagreement("all", "winner", "", str(record["winner"]), str(name))


# What every foundation is asked.


def held_up(least: float, name: str, clear: float, treated: bool | None) -> Seen:
    """Wood near the ground holds where it is treated, or far enough from it."""
    holds = True if clear >= least - 1e-6 or treated else treated
    return Seen(name, clear, holds)


def at_most(name: str, value: float, limit: float, near: float = EXACT) -> Seen:
    """A value that a limit ends from above."""
    return Seen(name, value, bool(value <= limit + 1e-6), near)


def at_least(name: str, value: float, limit: float, near: float = EXACT) -> Seen:
    """A value that a limit ends from below."""
    return Seen(name, value, bool(value >= limit - 1e-6), near)


def water_seen(asked: Asked, built: Built) -> Iterator[Seen]:
    """The fall from each wall once all is built."""
    for k, wall in enumerate(asked.walls):
        look = look_from(asked.ground, wall, built, REACH, FALL, asked.bars, built.heaps.get(k))
        value = -look.rise if look.rise > READING else look.fall
        near = LOOKED if look.doubt > LOOKED else math.inf
        rough = look.led or built.batter is not None
        where = f"wall (corners {k + 1}-{(k + 1) % 4 + 1})"
        yield Seen("water", value, look.holds, near, where, verdict_only=rough or look.holds is True)


# The pad.


def pad_seen(asked: Asked, record: Mapping[str, Any], option: Mapping[str, Any]) -> Iterator[Seen]:
    """The checks of a gravel pad at the level of the option."""
    top, own = option["level_m"], asked.job.get("pad", {})
    margin = asked.length("pad", "margin", "12 in", "300 mm")
    gravel, strip = (asked.length("pad", key, "4 in", "100 mm") for key in ("gravel", "strip"))
    boxed = own.get("edge", "boxed") == "boxed"
    plan = asked.grown(margin)
    low, high = asked.ground.low_high(plan)
    rim_low, _ = asked.ground.low_high(plan.exterior)
    if boxed:
        yield from _edge(asked, max(top - rim_low, 0.0))
    if asked.job.get("soil", {}).get("kind") == "clay":
        yield _drained(asked, option, plan, (rim_low, low), (top, gravel, strip))
    yield at_most("gravel depth", max(gravel, top - low + strip), GRAVEL_FILL)
    yield at_most("dug face", max(strip, high - top + gravel), DUG)
    yield Seen("frost", strip, True)
    yield Seen("ground", 1.0, True)
    led = record["pad"]["measures"]
    swales = _swales(asked, led, option, (top, margin))
    built = Built(top, margin, None if boxed else 2.0, swales, _heaps(led))
    yield from _heaped(led, top - IN)
    outside, floor = _beside(asked, plan, built), floor_of(asked)
    high_beside, thick = max(top, outside), floor.beam + floor.joists + floor.boards
    yield at_least("floor above ground", top + thick - high_beside, 0.0)
    yield at_least("siding", top + floor.beam + floor.joists - outside, SIDING)
    yield held_up(JOISTS, "joists", floor.beam, floor.treated)
    yield held_up(SKIDS, "skids", 0.0, floor.treated)
    yield from water_seen(asked, built)
    yield from _carried(led)
    yield from _comes_out(asked, led, (top, margin))
    sure = boxed and not swales
    yield from near_seen(asked, plan, [(plan, top - gravel), (plan, None)], sure=sure)
    yield from outlets_seen(asked, option, led)
    yield from spouts_seen(asked, option)


def _edge(asked: Asked, height: float) -> Iterator[Seen]:
    """Boards to two courses with stakes by the pole formula, then timbers; 24 in at the most beside a
    building."""
    yield at_most("held edge", height, HELD)
    step = min(5.5 * IN, 0.15) if asked.us else 0.15
    if height <= 1e-4 or asked.job["pad"].get("timber_edge") or height > 2 * step + 1e-4:
        return
    margin = asked.length("pad", "margin", "12 in", "300 mm")
    apart = 48 * IN if asked.us else 1.2
    depths = []
    for part in (min(height, step), height):
        load = 0.0 if margin >= part - 1e-4 else 50.0  # psf of a building nearer than the edge is high
        h = part / FT
        force, turn = 15.0 * h**2 + 0.3 * load * h, 15.0 * h**2 * h / 3.0 + 0.3 * load * h * h / 2.0
        force_at = force * apart * (1.0 if part <= step + 1e-4 else 0.75) / FT
        depths.append(max(18 * IN, _pole(force_at, turn / force) * FT))
    if max(depths) <= 40 * IN:
        yield at_most("stake depth", max(depths), 40 * IN)


def _pole(force: float, arm: float) -> float:
    """Depth [ft] of a 3-1/2 in stake against a force [lb] at an arm [ft], 100 psf per ft (IBC 1807.3,
    memory)."""
    depth = 2.0
    for _ in range(200):
        a = 2.34 * force / (100.0 * depth / 3.0 * 3.5 / 12.0)
        depth = 0.5 * (depth + 0.5 * a * (1.0 + math.sqrt(1.0 + 4.36 * arm / a)))
    return depth


def _beside(asked: Asked, plan: Any, built: Built) -> float:
    """The highest ground beside the edge of a pad, as surveyed; where a bench is dug or heaped beside a side,
    that side counts as high as the pad."""
    ring = shapely.get_coordinates(plan.exterior)
    ring = ring if plan.exterior.is_ccw else ring[::-1]
    highest = built.top if built.swales or built.heaps else -math.inf
    first = int(np.hypot(*(ring[:-1] - asked.ring[0]).T).argmin())
    ring = np.vstack((np.roll(ring[:-1], -first, axis=0), ring[first]))
    for k, (start, end) in enumerate(pairwise(ring)):
        bends = asked.ground.bends(shapely.LineString([start, end]))
        out = np.array([(end - start)[1], -(end - start)[0]]) / np.hypot(*(end - start))
        for place, height in zip(bends, asked.ground.at(bends), strict=True):
            led = k in built.heaps or any(one.met(place, out, REACH) is not None for one in built.swales)
            highest = max(highest, min(float(height), built.top) if led else float(height))
    return highest


def _swales(
    asked: Asked, led: list[Any], option: Mapping[str, Any], edge: tuple[float, float]
) -> tuple[Swale, ...]:
    """The swales and pipe drains that are dug: each begins its bench at the highest ground along the sides it
    was made for, or at the ``edge`` (the highest that ground may stand there, how far it lies beyond the
    walls), that of an apron as high as soil is heaped. The stone of a drain lies as low as the rule asks,
    counted from the wall."""
    dug = ("swale", "apron", "drain")
    lines = [np.array(one["line_m"]) for one in option["measures"] if one["kind"] in dug]
    (top, margin), found = edge, list[Swale]()
    for told in led:
        own = [line for line in lines if told["daylights"] and np.array_equal(line, np.array(told["line_m"]))]
        bench = min(top, _bench(asked, told, margin)) if told["heaped_to_m"] is None else told["heaped_to_m"]
        if told["kind"] == "drain":
            stone = bench - FALL * (told["offset_m"] + margin)
            own = [_trench(line, told["pipe_m"], stone) for line in own]
        found += [Swale(line, bench, filled=told["kind"] == "drain") for line in own]
    return tuple(found)


def _heaps(led: list[Any]) -> dict[int, float]:
    """By the number of a wall how high soil is heaped before it that falls to the flat ground [m]."""
    return {k: told["heaped_to_m"] for told in led if told["kind"] == "plain_apron" for k in _sides(told)}


def _heaped(led: list[Any], most: float) -> Iterator[Seen]:
    """Soil is heaped no higher than the gravel or the siding stays clear of it; else that counts as a check
    that was not made."""
    for k, height in _heaps(led).items():
        yield Seen("apron low enough", None, None if height <= most + 1e-6 else False, where=f"wall {k + 1}")


def _comes_out(asked: Asked, led: list[Any], edge: tuple[float, float]) -> Iterator[Seen]:
    """Each pipe beside the walls falls 1 % all the way, lies in the ground or in the fill of its bench with a
    face 3:1, and comes out on the ground as surveyed; else that counts as a check that was not made."""
    top, margin = edge
    for told in led:
        if told["kind"] != "drain" or not told["daylights"]:
            continue
        line = np.array(told["line_m"])
        line = line if line[0, 2] >= line[-1, 2] else line[::-1]
        runs = np.hypot(*np.diff(line[:, :2], axis=0).T)
        ground, half = asked.ground.at(line[:, :2]), 6 * IN
        stone = min(top, _bench(asked, told, margin)) - FALL * (told["offset_m"] + margin + half)
        trench = shapely.LineString(_trench(line, told["pipe_m"], stone)[:, :2])
        away = shapely.distance(shapely.points(line[:, :2]), trench)
        filled = np.maximum(ground, stone - np.maximum(away - half, 0.0) / 3.0)
        steep = bool((-np.diff(line[:, 2]) >= 0.01 * runs - 1e-4).all())
        out = abs(ground[-1] - line[-1, 2]) <= LOOKED
        buried = bool((line[:-1, 2] <= filled[:-1] + LOOKED).all())
        yield Seen("drain comes out", None, bool(steep and out and buried), where="wall")


def _bench(asked: Asked, told: Mapping[str, Any], margin: float) -> float:
    """The highest ground along the sides of the pad that a measure was made for."""
    walls = _sides(told)
    ring = shapely.get_coordinates(asked.grown(margin).exterior)
    ring = ring if asked.grown(margin).exterior.is_ccw else ring[::-1]
    first = int(np.hypot(*(ring[:-1] - asked.ring[0]).T).argmin())
    ring = np.roll(ring[:-1], -first, axis=0)
    return max(asked.ground.low_high(shapely.LineString([ring[k], ring[(k + 1) % 4]]))[1] for k in walls)


def _carried(led: list[Any]) -> Iterator[Seen]:
    """What is dug carries its rain: a 4 in pipe at 1 % by Manning, a swale as deep as it is at the least; an
    "if" at the most where it does, since more may come from beyond the shots."""
    for told in led:
        if told["daylights"] and told["kind"] != "plain_apron":
            most = math.pi * 0.1016**2 / 4.0 * (0.1016 / 4.0) ** (2.0 / 3.0) * 0.1 / 0.015
            if told["kind"] != "drain":
                area, wet = 3.0 * 0.1524**2, 2.0 * 0.1524 * math.sqrt(10.0)
                most = area * (area / wet) ** (2.0 / 3.0) * 0.1 / 0.05
            flow = told["flow_m3_per_s"]
            holds = bool(flow <= most)
            yield Seen("water carried", flow, holds, where="wall", verdict_only=True, lenient=holds)


def _trench(line: Floats, length: float, height: float) -> Floats:
    """The first part of the line of a drain, that lies in stone, at the level of its surface."""
    away = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(line[:, :2], axis=0).T))))
    kept = line[away <= length + 1e-6].copy()
    kept[:, 2] = height
    return kept


def _drained(
    asked: Asked,
    option: Mapping[str, Any],
    plan: Any,
    lows: tuple[float, float],
    layers: tuple[float, float, float],
) -> Seen:
    """Stone in clay: water over 1 in deep below the lowest ground along the edge, unless a pipe leads it
    out."""
    (rim_low, low), (top, gravel, strip) = lows, layers
    bottom = min(rim_low - strip, low - strip, top - gravel)
    depth = max(0.0, min(rim_low, top) - bottom)
    if depth <= IN + 1e-6:
        return Seen("stone drained", depth, True)
    drains = [np.array(one["line_m"]) for one in option["measures"] if one["kind"] == "drain"]
    pipes = [line for line in drains if plan.distance(shapely.Point(line[0, :2])) < 0.01]
    if pipes:
        start, end = pipes[0][0], pipes[0][-1]
        falls = start[2] - end[2] >= 0.01 * np.hypot(*(end - start)[:2]) - 1e-6
        out = asked.ground.at(end[:2])[0] <= end[2] + 1e-4 and start[2] <= bottom + 1e-6
        return Seen(
            "stone drained", 0.0, bool(falls and out and plan.distance(shapely.Point(start[:2])) < 0.01)
        )
    # whether a pipe would come out somewhere is not looked for here
    return Seen("stone drained", None, None, verdict_only=True, lenient=True)


# The slab.


def slab_seen(asked: Asked, record: Mapping[str, Any], option: Mapping[str, Any]) -> Iterator[Seen]:
    """The checks of a slab at the level of the option."""
    top, own, led = option["level_m"], asked.job["slab"], record["slab"]["measures"]
    thick, base, strip = (
        asked.length("slab", key, "4 in", "100 mm") for key in ("thickness", "base", "strip")
    )
    deep = asked.length("slab", "edge_depth", "12 in", "300 mm")
    wide = asked.length("slab", "edge_width", "8 in", "200 mm")
    plan = asked.grown(0.0)
    low, _ = asked.ground.low_high(plan.exterior)
    _, under = asked.ground.low_high(plan)
    edge = (top - SIDING, 0.0)
    swales = _swales(asked, led, option, edge)
    shaped, high = _shaped_beside(asked, led, swales)
    yield at_least("slab thickness", thick, 3.5 * IN)
    fill = _deepest_fill(asked, plan, (top, thick, base, strip, deep, wide))
    yield at_most("slab fill", fill, EARTH_FILL if own.get("fill") == "earth" else GRAVEL_FILL, STEPPED)
    yield at_most("slab edge", max(0.0, top - deep - min(low, shaped)), 0.0)
    yield at_most("dug face", max(0.0, under - top + max(deep, thick + base)), DUG)
    yield Seen("frost", max(0.0, min(low, shaped) - top + deep), True)
    yield Seen("ground", 1.0, True)
    yield at_least("floor above ground", top - high, 0.0)
    yield at_least("siding", top - high, SIDING)
    yield from water_seen(asked, Built(top, 0.0, None, swales, _heaps(led)))
    yield from _heaped(led, top - SIDING)
    yield from _carried(led)
    yield from _comes_out(asked, led, edge)
    digs: list[tuple[Any, float | None]] = [(plan, top - max(deep, thick + base)), (plan, None)]
    yield from near_seen(asked, plan, digs, sure=not swales)
    yield from outlets_seen(asked, option, led)
    yield from spouts_seen(asked, option)


def _shaped_beside(asked: Asked, led: list[Any], swales: tuple[Swale, ...]) -> tuple[float, float]:
    """The lowest bench beside a slab, and the highest ground at its edge once these are dug."""
    dug = [told for told in led if told["daylights"]]
    walls = {k for told in dug for k in _sides(told)}
    high = [
        asked.ground.low_high(shapely.LineString(w))[1] for k, w in enumerate(asked.walls) if k not in walls
    ]
    benches = [one.bench for one in swales] + list(_heaps(led).values())
    return min(benches, default=math.inf), max([*high, *benches])


def _sides(told: Mapping[str, Any]) -> list[int]:
    """The numbers of the walls that a measure was made for."""
    return [int(name.split()[-1].split("-")[0]) - 1 for name in told["walls"]]


def _deepest_fill(asked: Asked, plan: Any, layers: tuple[float, float, float, float, float, float]) -> float:
    """The most that lies between stripped ground and the underside of base course or thickened edge."""
    top, thick, base, strip, deep, wide = layers
    x0, y0, x1, y1 = plan.bounds
    grid = np.stack(np.meshgrid(np.arange(x0, x1, 0.05), np.arange(y0, y1, 0.05)), axis=-1).reshape(-1, 2)
    within = grid[shapely.contains_xy(plan, *grid.T)]
    rings = [plan.buffer(-r, join_style="mitre") for r in (0.0, wide, wide + max(0.0, deep - thick - base))]
    bends = [asked.ground.bends(ring.boundary) for ring in rings if not ring.is_empty]
    places = np.concatenate([within, *bends, asked.ground.bends(plan)])
    inward = shapely.distance(shapely.points(places), plan.exterior)
    edge = np.clip(deep - thick - np.maximum(inward - wide, 0.0), 0.0, None)
    below = np.minimum(top - thick - base, top - thick - edge)
    return float(max(0.0, np.nanmax(below - asked.ground.at(places) + strip)))


def _piers(asked: Asked, record: Mapping[str, Any], option: Mapping[str, Any]) -> Iterator[Seen]:
    """The checks of piers at the top of the option, and that each pier is one that can be built."""
    told, floor, plan = record["piers"], floor_of(asked), asked.grown(0.0)
    if not told:  # they leave the survey, or their holes meet
        return
    low, high = asked.ground.low_high(plan)
    above = (option["level_m"] or low) - low, floor.beam + floor.joists + floor.boards
    for name, value, holds in piers_seen(asked.job, asked.ring, told, above, us=asked.us):
        yield Seen(name, value, None if holds is None else bool(holds))
    yield Seen("common top", 0.0 if told["top_m"] is None else 1.0, told["top_m"] is not None)
    yield Seen("ground", 1.0, True)
    if told["top_m"] is None:
        return
    top = option["level_m"]
    holes = [_hole(asked, pier) for pier in told["piers"]]
    grounds = [asked.ground.low_high(hole) for hole in holes]
    pairs = list(zip(told["piers"], grounds, strict=True))
    yield at_most("dug face", max(ground[1] - pier["bottom_m"] for pier, ground in pairs), DUG)
    yield Seen("frost", min(ground[0] - pier["bottom_m"] for pier, ground in pairs), True)
    clear = top - high
    yield at_least("floor above ground", clear + floor.beam + floor.joists + floor.boards, 0.0)
    yield at_least("siding", clear + floor.beam + floor.joists, SIDING)
    yield held_up(JOISTS, "joists", clear + floor.beam, floor.treated)
    yield held_up(SKIDS, "skids", clear, floor.treated)
    yield from drained_seen(asked)
    rim = asked.ground.low_high(plan.exterior)[0]
    yield at_most("basin under the floor", max(0.0, rim - low), READING)
    least = asked.length("piers", "least_dig", "6 in", "150 mm")
    dug = min(ground[0] - pier["bottom_m"] for pier, ground in pairs)
    yield at_least("holes deep enough", dug, least)
    apart = min((a.distance(b) for k, a in enumerate(holes) for b in holes[:k]), default=1.0)
    yield Seen("holes apart", apart, apart > 0.0 or _touch(holes))
    digs = [(hole, pier["bottom_m"]) for hole, pier in zip(holes, told["piers"], strict=True)]
    yield from near_seen(asked, shapely.union_all(holes), digs, sure=True)
    yield from outlets_seen(asked, option)
    yield from spouts_seen(asked, option)


def _touch(holes: list[Any]) -> bool:
    """Whether holes share no ground, but for their sides."""
    return all(a.intersection(b).area < 1e-6 for k, a in enumerate(holes) for b in holes[:k])


def _hole(asked: Asked, pier: Mapping[str, Any]) -> Any:
    """The plan of a pier's hole: its length along the longer side of the building."""
    one, two = asked.ring[1] - asked.ring[0], asked.ring[2] - asked.ring[1]
    along = one if asked.sides[0] >= asked.sides[1] * (1.0 - 1e-6) else two
    along = along / np.hypot(*along)
    a, b = 0.5 * pier["hole_along_m"] * along, 0.5 * pier["hole_across_m"] * np.array([-along[1], along[0]])
    middle = np.array([pier["x_m"], pier["y_m"]])
    return shapely.Polygon([middle - a - b, middle + a - b, middle + a + b, middle - a + b])
