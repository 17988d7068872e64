"""Every check of every foundation, gathered from the rooms that know: clear of the ground, water, edges,
bearing, spans, frost, ground.

What comes to no check but stops a foundation stands here under the code of its finding.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.footprint import sides
from gradework.earthwork.materials import COVER_STONE
from gradework.foundations.checks import limits
from gradework.foundations.checks.check import COMMON, ONE_READING, Check, cited
from gradework.foundations.checks.gate import Judged, Measure
from gradework.foundations.checks.wall_strips import walls_of

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.grading.led import Led
    from gradework.earthwork.outline import Outline
    from gradework.errors import Finding
    from gradework.foundations.checks.nearby import NearLook
    from gradework.foundations.comparison import Option
    from gradework.foundations.pad.design import Pad
    from gradework.foundations.piers.plan import Piers
    from gradework.foundations.piers.spec import FloorBuildUp, FrostRule
    from gradework.foundations.slab.design import Slab
    from gradework.sitework.drainage import Drainage
    from gradework.sitework.past_walls import WallMeasure


class Known(NamedTuple):
    """What the job says that checks hang on.

    ``floor`` is what the building brings, ``treated`` whether its skids and joists are said to be rated for
    contact with the ground, ``firm`` whether the ground was tried and found so; None where nothing is said.
    ``dig`` is what 1 m³ dug in place costs, ``haul`` what it costs to haul that away, ``stone`` 1 kg of it,
    ``pipe`` 1 m and ``fabric`` 1 m²; ``priced``: costs are known or said to be made up.
    """

    us: bool
    floor: FloorBuildUp
    treated: bool | None
    frost: FrostRule
    firm: bool | None
    dig: float
    haul: float
    stone: float
    pipe: float
    fabric: float
    priced: bool


@dataclass(frozen=True, eq=False)
class Around:
    """What is known around a foundation once it is built: how the ground falls from the walls, what leads
    water past them, and what stands near."""

    drainage: Drainage
    measures: tuple[WallMeasure, ...] = ()
    near: tuple[NearLook, ...] = ()

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
) -> Judged:
    """Judge one foundation as drawn by the checks found, with what is dug beside it to lead water past.

    ``own`` measures are in the option's money.
    """
    near = () if around is None else around.near
    beside = [check for look in near for check in look.checks]
    checks = [_cited(check, us=known.us) for check in (*found, *beside)]
    checks += _stopped(option.findings, checks)
    led = () if around is None else around.led
    measures = (*own, *(_led(one.dug, known) for one in led if one.dug is not None))
    beside_money = sum(one.cost for one in measures if not one.counted)
    cost = option.money + beside_money if known.priced and option.planned else None
    return Judged(kind, option.level, option.floor, cost, tuple(checks), measures)


def unplanned(kind: str) -> Judged:
    """Judge one that cannot be planned, since it would stand on ground that was not surveyed."""
    return Judged(kind, None, None, None, (Check("survey", 0.0, 1.0, "-", COMMON, "least"),))


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


def pad_checks(known: Known, building: Outline, pad: Pad, around: Around | None) -> Iterator[Check]:
    """Give the checks of a pad; those that what is dug beside it may let hold come last."""
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
    yield _above_ground(level + floor.thickness - outside)
    yield _siding(level + floor.beam + floor.joists - outside)
    yield _framing("joists", floor.beam, limits.JOISTS, known)
    yield _framing("skids", 0.0, limits.SKIDS, known)
    yield from _falls(around)
    yield from (one.check for one in (around.led if around else ()) if one.check is not None)


def pier_checks(known: Known, building: Outline, under: Pieces, piers: Piers) -> Iterator[Check]:
    """Give the checks of piers; ``under``: the ground of the building."""
    yield from piers.checks
    yield Check("common top", 0.0 if piers.top is None else 1.0, 1.0, "-", COMMON, "least")
    yield _ground(known)
    if piers.top is None:
        return
    floor, clear = piers.spec.floor, piers.top - under.highest
    holes = piers.piers
    yield Check(
        "dug face", max(pier.ground_high - pier.bottom for pier in holes), limits.DUG, "m", limits.DUG_RULE
    )
    shallowest = min(pier.ground_low - pier.bottom for pier in holes)
    yield _frost(shallowest, piers.spec.frost, building)
    yield _above_ground(clear + floor.thickness)
    yield _siding(clear + floor.beam + floor.joists)
    yield _framing("joists", clear + floor.beam, limits.JOISTS, known)
    yield _framing("skids", clear, limits.SKIDS, known)
    # rain under an open floor runs on, unless the ground there is lower than anywhere along its edge
    rim = min(float(side.ground.min()) for side in sides(building, under))
    yield Check("basin under the floor", max(0.0, rim - under.lowest), ONE_READING, "m", COMMON)


def slab_checks(known: Known, building: Outline, slab: Slab, around: Around | None) -> Iterator[Check]:
    """Give the checks of a slab."""
    spec = slab.spec
    low, high = (pick(float(pick(side.ground)) for side in slab.sides) for pick in (min, max))
    under = slab.level - spec.edge_depth
    yield Check("slab thickness", spec.thickness, limits.LEAST_SLAB, "m", limits.SLAB_RULE, "least")
    yield Check("slab fill", slab.fill_most, limits.MOST_FILL[spec.fill], "m", limits.FILL_RULE)
    yield Check("slab edge", max(0.0, under - low), 0.0, "m", COMMON)
    deepest = slab.ground.highest - min(under, slab.level - spec.thickness - spec.base)
    yield Check("dug face", max(deepest, 0.0), limits.DUG, "m", limits.DUG_RULE)
    yield _frost(max(0.0, low - under), spec.frost, building)
    yield _ground(known)
    yield _above_ground(slab.level - high)
    yield _siding(slab.level - high)
    yield from _falls(around)


# What all of them are asked.


def _beside(pad: Pad, building: Outline, around: Around | None) -> float:
    """Give the highest finished ground at the edge of the pad [m]: a bench where water is led past, falling
    from the pad; elsewhere as it was surveyed."""
    level, walls = pad.chosen.level, walls_of(building)
    benched = {name for one in (around.led if around is not None else ()) for name in one.walls}
    own = pad.ground.sides[: len(walls)] if len(pad.outline.rings[0]) == len(walls) else ()
    dug = {id(side) for side, wall in zip(own, walls, strict=True) if wall.name in benched} if own else set()
    return max([level, *(float(side.ground.max()) for side in pad.ground.sides if id(side) not in dug)])


def _above_ground(height: float) -> Check:
    return Check("floor above ground", height, 0.0, "m", COMMON, "least")


def _siding(height: float) -> Check:
    return Check("siding", height, limits.SIDING, "m", limits.SIDING_RULE, "least")


def _framing(name: str, clear: float, least: float, known: Known) -> Check:
    """Framing near the ground is treated for contact with it; whether it is only the builder knows."""
    limit: float | None = least
    if clear < least and known.treated is not False:
        limit = None if known.treated is None else 0.0
    return Check(name, clear, limit, "m", limits.FRAMING_RULE, "least")


def _frost(depth: float, rule: FrostRule, building: Outline) -> Check:
    if rule.exempts(building.area):
        return Check("frost", depth, 0.0, "m", limits.FROST_EXCEPTION, "least")
    unknown = rule.depth is None and depth >= rule.asked
    return Check("frost", depth, None if unknown else rule.asked, "m", limits.FROST_RULE, "least")


def _ground(known: Known) -> Check:
    """Ground that was not tried may be soft, filled, or swell: nothing in a survey tells it."""
    value = None if known.firm is None else float(known.firm)
    return Check("ground", value, 1.0, "-", limits.GROUND_RULE, "least")


def _falls(around: Around | None) -> Iterator[Check]:
    """Check each wall on the finished ground, with what is dug to lead water past."""
    if around is None:
        yield Check("water", None, None, "m", COMMON, "least")
        return
    cured = {fall.wall: fall for one in around.led for fall in one.looks}
    for fall in around.drainage.after:
        yield cured.get(fall.wall, fall).check(around.drainage.rule)


def _led(led: Led, known: Known) -> Measure:
    """What leads water past, with what it costs; what it fills comes out of its dig and is not hauled."""
    fill, stone = max(led.fill, 0.0), led.stone * COVER_STONE.compacted.value
    cost = led.cut * known.dig + max(led.cut - fill, 0.0) * known.haul
    pipe = led.pipe + led.solid
    cost += stone * known.stone + pipe * known.pipe + led.fabric * known.fabric
    return Measure(led.kind, led.line, led.cut, fill, stone, pipe, cost)
