"""Every check of every foundation, gathered from the rooms that know: clear of the ground, water, edges,
bearing, spans, frost, ground.

What comes to no check but stops a foundation stands here under the code of its finding.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.earthwork.footprint import sides
from gradework.earthwork.materials import COVER_STONE, Gravel
from gradework.foundations.checks import limits
from gradework.foundations.checks.check import COMMON, ONE_READING, Check, cited
from gradework.foundations.checks.clearance import floor_clear, framing_clear, siding_clear
from gradework.foundations.checks.gate import Judged, Measure
from gradework.foundations.checks.wall_strips import walls_of
from gradework.ground.profile import cut_along
from gradework.sitework.order_roof import money_of_gutter, money_of_strip

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.footprint import Side
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.foundations.checks.nearby import NearLook
    from gradework.foundations.comparison import Option
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.spec import FloorBuildUp, FrostRule
    from gradework.foundations.slab.design import Slab
    from gradework.sitework.access import Access
    from gradework.sitework.drainage import Drainage
    from gradework.sitework.order_roof import RoofPrices
    from gradework.sitework.past_walls import WallMeasure
    from gradework.sitework.roof_water import RoofWater


class Known(NamedTuple):
    """What the job says that checks hang on.

    ``floor`` is what the building brings, ``treated`` whether its skids and joists are said to be rated for
    contact with the ground, ``firm`` whether the ground was tried and found so; None where nothing is said.
    ``priced``: costs are known or said to be made up; ``clean``: clean stone as the supplier has it.
    """

    us: bool
    floor: FloorBuildUp
    treated: bool | None
    frost: FrostRule
    firm: bool | None
    priced: bool
    clean: Gravel = COVER_STONE


@dataclass(frozen=True, eq=False)
class Around:
    """What is known around a foundation once it is built: how the ground falls from the walls, what leads
    water past them, what stands near, where the rain of the roof goes (None: not looked at), and water that
    comes ``gathered`` to an open floor; how one gets in at the door (None: the job names none)."""

    drainage: Drainage
    measures: tuple[WallMeasure, ...] = ()
    near: tuple[NearLook, ...] = ()
    roof: RoofWater | None = None
    gathered: tuple[Check, ...] = ()
    access: Access | None = None

    @property
    def led(self) -> tuple[WallMeasure, ...]:
        """Give what is dug of them: what comes out within the survey."""
        return tuple(one for one in self.measures if one.dug is not None)


def judge(
    known: Known,
    option: Option,
    kind: str,
    found: Iterable[Check],
    around: Around | None,
    own: Iterable[Measure] = (),
    *,
    told: bool = True,
) -> Judged:
    """Judge one foundation as drawn by the checks found, with what is dug beside it to lead water past.

    The option's money is what is paid for all of it, measures and all. What is dug beside it takes long to
    add up: unless ``told`` the checks alone are wanted.
    """
    near = () if around is None else around.near
    beside = [check for look in near for check in look.checks]
    beside += () if around is None or around.roof is None else around.roof.checks
    beside += [] if around is None or around.access is None else [around.access.check]
    checks = [_cited(check, us=known.us) for check in (*found, *beside)]
    checks += _stopped(option.findings, checks)
    led = () if around is None or not told else around.led
    measures = (*own, *(_led(one.dug, one.money, known.clean) for one in led if one.dug is not None))
    cost = option.money if known.priced and option.planned else None
    return Judged(kind, option.level, option.floor, cost, tuple(checks), measures)


def unplanned(kind: str, check: str = "survey") -> Judged:
    """Judge one that cannot be planned, by the ``check`` that it fails: mostly since it would stand on ground
    that was not surveyed."""
    return Judged(kind, None, None, None, (Check(check, 0.0, 1.0, "-", COMMON, "least"),))


def _cited(check: Check, *, us: bool) -> Check:
    """Say of a rule of the US elsewhere that it is one; what other rooms have cited stays."""
    if us or not check.source.startswith(("IRC", "IBC", "24 CFR", "29 CFR")):
        return check
    return replace(check, source=cited(check.source, us=us))


def _stopped(findings: Sequence[Finding], checks: Iterable[Check]) -> Iterator[Check]:
    """Give a check for what stops a foundation although all its checks hold."""
    if any(check.holds is False for check in checks):
        return
    for code in dict.fromkeys(finding.code for finding in findings if finding.severity == "stop"):
        yield Check(code, 1.0, 0.0, "-", COMMON)


# Pad, piers, slab.


def pad_checks(
    known: Known, building: Outline, pad: Pad, around: Around | None, *, told: bool = True
) -> Iterator[Check]:
    """Give the checks of a pad; those that what is dug beside it may let hold come last; ``told`` as
    ``judge`` takes it."""
    spec, chosen = pad.spec, pad.chosen
    yield from pad.checks
    yield Check("gravel depth", chosen.deepest_gravel, limits.MOST_FILL["gravel"], "m", limits.FILL_RULE)
    if chosen.native > 0.0:
        yield Check(
            "earth fill",
            chosen.deepest_gravel - spec.gravel,
            limits.MOST_FILL["earth"],
            "m",
            limits.FILL_RULE,
        )
    yield Check("dug face", chosen.deepest_cut, limits.DUG, "m", limits.DUG_RULE)
    yield _frost(spec.strip, known.frost, building)
    yield _ground(known)
    floor, level, outside = known.floor, chosen.level, _beside(pad, building, around)
    yield floor_clear(level + floor.thickness - max(level, outside))
    yield siding_clear(level + floor.beam + floor.joists - outside)
    yield framing_clear("joists", floor.beam, treated=known.treated)
    yield framing_clear("skids", 0.0, treated=known.treated)
    yield from _led_past(around, told=told)


def pier_checks(
    known: Known, building: Outline, under: Pieces, piers: Piers, around: Around | None, *, skirt: bool
) -> Iterator[Check]:
    """Give the checks of piers; ``under``: the ground of the building. Rain runs on under the floor unless a
    ``skirt`` closes it: then each wall needs its fall."""
    yield from piers.checks
    if skirt:
        yield from _falls(around)
    yield from around.gathered if around else ()
    yield Check("common top", 0.0 if piers.top is None else 1.0, 1.0, "-", COMMON, "least")
    yield _ground(known)
    if piers.top is None:
        return
    yield _anchor_soil(known, piers)
    floor, clear = piers.spec.floor, piers.top - under.highest
    holes = piers.piers
    yield Check(
        "dug face", max(pier.ground_high - pier.bottom for pier in holes), limits.DUG, "m", limits.DUG_RULE
    )
    shallowest = min(pier.ground_low - pier.bottom for pier in holes)
    yield _frost(shallowest, piers.spec.frost, building)
    yield floor_clear(clear + floor.thickness)
    yield siding_clear(clear + floor.beam + floor.joists)
    yield framing_clear("joists", clear + floor.beam, treated=known.treated)
    yield framing_clear("skids", clear, treated=known.treated)
    # rain under an open floor runs on, unless the ground there is lower than anywhere along its edge
    rim = min(float(side.ground.min()) for side in sides(building, under))
    yield Check("basin under the floor", max(0.0, rim - under.lowest), ONE_READING, "m", COMMON)


def slab_checks(
    known: Known, building: Outline, slab: Slab, around: Around | None, *, told: bool = True
) -> Iterator[Check]:
    """Give the checks of a slab; those that what is dug beside it may let hold come last."""
    spec = slab.spec
    low, high = _slab_ground(slab, building, around)
    under = slab.level - spec.edge_depth
    yield Check("slab thickness", spec.thickness, limits.LEAST_SLAB, "m", limits.SLAB_RULE, "least")
    yield Check("slab fill", slab.fill_most, limits.MOST_FILL[spec.fill], "m", limits.FILL_RULE)
    yield Check("slab edge", max(0.0, under - low), 0.0, "m", COMMON)
    deepest = slab.ground.highest - min(under, slab.level - spec.thickness - spec.base)
    yield Check("dug face", max(deepest, 0.0), limits.DUG, "m", limits.DUG_RULE)
    yield _frost(max(0.0, low - under), spec.frost, building)
    yield _ground(known)
    yield floor_clear(slab.level - high)
    yield siding_clear(slab.level - high)
    yield from _led_past(around, told=told)


# What all of them are asked.


def _beside(pad: Pad, building: Outline, around: Around | None) -> float:
    """Give the highest ground at the edge of the pad [m], as surveyed; where water is led past, its bench
    falls from the pad. Where that goes all round it begins level with the pad."""
    dug, level = _benched(pad.ground.sides, pad.outline, building, around), pad.chosen.level
    high = (_highest(side, around) for n, side in enumerate(pad.ground.sides) if n not in dug)
    return max(high, default=level) if not dug else max([level, *high])


_OUT = 0.001
"""[m] So far out from the edge the ground is read: on it stands the step up to the pad."""


def _highest(side: Side, around: Around | None) -> float:
    """Give the highest ground along a side past which nothing is led [m]: at its ends what leads past the
    next side may be dug."""
    way = (side.xy[1] - side.xy[0]) / side.length
    start = side.xy[0] + _OUT * np.array([way[1], -way[0]])
    found = [float(side.ground.max())]
    for one in () if around is None else around.led:
        if one.dug is not None:
            leg = cut_along(one.dug.ground.surface, start, way, 0.0, side.length)
            found += [float(leg[:, :, 1].max())] if len(leg) else []
    return min(found)


def _slab_ground(slab: Slab, building: Outline, around: Around | None) -> tuple[float, float]:
    """Give the lowest and the highest ground at the edge of a slab [m]; where water is led past, as it is
    shaped there, but soil that is heaped there carries no edge."""
    dug = _benched(slab.sides, slab.outline, building, around)
    lows, highs = [], []
    for number, side in enumerate(slab.sides):
        start = dug.get(number)
        lows.append(min(float(side.ground.min()), math.inf if start is None else start))
        highs.append(float(side.ground.max()) if start is None else start)
    return min(lows), max(highs)


def _benched(
    sides: Sequence[Side], outline: Outline, building: Outline, around: Around | None
) -> dict[int, float]:
    """Give by the number of a side the height [m] at which the ground beside it begins, where it is shaped to
    lead water past."""
    walls, led = walls_of(building), around.led if around is not None else ()
    if len(outline.rings[0]) != len(walls):
        return {}
    start = {name: one.dug.start for one in led if one.dug is not None for name in one.walls}
    return {n: start[wall.name] for n, wall in enumerate(walls[: len(sides)]) if wall.name in start}


def _frost(depth: float, rule: FrostRule, building: Outline) -> Check:
    if rule.exempts(building.area):
        return Check("frost", depth, 0.0, "m", limits.FROST_EXCEPTION, "least")
    unknown = rule.depth is None and depth >= rule.asked
    return Check("frost", depth, None if unknown else rule.asked, "m", limits.FROST_RULE, "least")


def _ground(known: Known) -> Check:
    """Ground that was not tried may be soft, filled, or swell: nothing in a survey tells it."""
    value = None if known.firm is None else float(known.firm)
    return Check("ground", value, 1.0, "-", limits.GROUND_RULE, "least")


def _anchor_soil(known: Known, piers: Piers) -> Check:
    """Ask whether the anchors are listed for the soil: a load that the job gives is, and the usual load is in
    ground that was tried and found firm; nothing tells it of other ground."""
    listed = 1.0 if piers.spec.anchor is not None or known.firm else None
    return Check("anchor soil", listed, 1.0, "-", limits.ANCHOR_RULE, "least")


def _falls(around: Around | None) -> Iterator[Check]:
    """Check each wall on the finished ground, with what is dug to lead water past."""
    if around is None:
        yield Check("water", None, None, "m", COMMON, "least")
        return
    cured = {fall.wall: fall for one in around.led for fall in one.looks}
    for fall in around.drainage.after or around.drainage.before:
        yield cured.get(fall.wall, fall).check(around.drainage.rule)


def _led_past(around: Around | None, *, told: bool) -> Iterator[Check]:
    """The same, then what is dug beside it: it must carry the rain that comes to it. Unless ``told`` what
    would carry the rain of the whole survey is not asked how much comes to it."""
    yield from _falls(around)
    carried = (one.checked(told=told) for one in (around.led if around else ()))
    yield from (check for check in carried if check is not None)


def roof_measures(roof: RoofWater, prices: RoofPrices, clean: Gravel) -> Iterator[Measure]:
    """Give what takes the rain of a roof; the money for the foundation itself holds it.

    A gutter's line is that of the pipe from each downspout, a drip strip's lies below the edge of its eave.
    """
    for one in roof.of("drip strip"):
        stone, cost = float(one.strip.area) * roof.deep, money_of_strip(one, roof.deep, prices)
        kilograms = stone * clean.compacted.value
        yield Measure("drip_strip", one.line, stone, stone=kilograms, cost=cost, counted=True)
    for one in roof.of("gutter"):
        lines = [spout.line for spout in one.led]
        line = np.concatenate(lines) if lines else np.empty((0, 3))
        cost = money_of_gutter(one, prices)
        yield Measure("gutter", line, one.cut, one.cut, pipe=one.pipe, cost=cost, counted=True)


def _led(led: Led, money: float, clean: Gravel) -> Measure:
    """What leads water past, with what it costs."""
    stone = led.stone * clean.compacted.value
    return Measure(led.kind, led.line, led.cut, max(led.fill, 0.0), stone, led.pipe + led.solid, money)
