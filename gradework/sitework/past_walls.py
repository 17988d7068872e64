"""What leads water past the walls of a pad or slab: for each run of them the kind that does best.

It designs what the findings about falls ask for; it does not order it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from gradework.earthwork.grading.capacity import (
    FASTEST,
    LAWN,
    RAIN,
    ROOF,
    Flow,
    flow_in,
    flow_in_pipe,
    rational_flow,
)
from gradework.earthwork.grading.drain import DrainSpec, design_drain
from gradework.earthwork.grading.led import NAMES
from gradework.earthwork.grading.plain import PlainSpec, design_plain_apron
from gradework.earthwork.grading.swale import Swale, design_apron, design_swale, lined
from gradework.earthwork.nearby import Nearby
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.near_water import may_lead, outlets_of, pipe_may_run
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.checks.wall_strips import PadTop, walls_named, walls_of
from gradework.sitework.catchment import NOWHERE, drains_to, may_come_in, shots_above, wet_sides
from gradework.sitework.drainage import BAD
from gradework.sitework.heaped import LedPrices, money_for, spare_after
from gradework.sitework.wall_run import WallRun, runs_of

if TYPE_CHECKING:
    from gradework.earthwork.grading.foot import Batter
    from gradework.earthwork.grading.led import Kind, Led
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.wall_falls import WallFall
    from gradework.ground.surface import Surface
    from gradework.ground.water.catchment import Drained
    from gradework.sitework.drainage import Drainage


Floats = NDArray[np.float64]

PIPE, PIPE_FALL = DrainSpec().pipe, DrainSpec().fall
"""[m], [-] The pipe that is named where a swale does not come out: 4 in at 1 % (common practice)."""

Passed = Literal["", "does not fit", "does not come out", "is not clear", "cures fewer walls", "costs more"]


@dataclass(frozen=True, eq=False)
class WallMeasure:
    """What leads water past some walls.

    ``run``: what it was designed for; ``made``: its design, None where nothing fits beside them;
    ``looks``: the fall from each wall once it is dug, out to where it catches the water; none where it does
    not daylight; ``carry``: how a flow [m³/s] runs in it. ``passed``: why the kind tried first was not
    taken; ``other``: the next cheapest that would do as well, with what it costs.
    """

    run: WallRun
    made: Led | None
    looks: tuple[WallFall, ...] = ()
    carry: Callable[[WallRun, float], Flow] | None = None
    passed: Passed = ""
    other: tuple[Kind, float] | None = None

    @cached_property
    def _drained(self) -> Drained | None:
        """What drains to it on the finished ground; None where nothing is made, or that is not known."""
        if self.made is None or not len(self.made.dug):
            return None
        pad = self.run.pad
        return drains_to(self.made.ground.surface, pad.outline, pad.level, self.made.dug)

    @property
    def catchment(self) -> float:
        """Give the ground that drains to it on the finished ground [m²], exact; the roof is not counted."""
        if self._drained is None:
            return 0.0 if self.made is None else self.most_catchment
        return float(self._drained.areas[0])

    @cached_property
    def above(self) -> Floats:
        """Give where to shoot (k, 2), site [m], since the survey ends on ground that drains to it over the
        edge, so that more may come: at most three places, none where nothing may."""
        if self._drained is None:
            return NOWHERE
        return shots_above(self._drained, self.run.surface.origin, self.run.nearby)

    @property
    def most_catchment(self) -> float:
        """Give what it would be if all surveyed ground drained to it [m²]."""
        return max(self.run.surface.area - self.run.pad.outline.area, 0.0)

    @cached_property
    def flow(self) -> Flow | None:
        """Give what runs in it in the design rain, the roof counted in."""
        return None if self.carry is None else self.carry(self.run, self.rain(self.catchment))

    def rain(self, catchment: float) -> float:
        """Give what runs off a catchment [m²] and the roof in the design rain [m³/s]."""
        return rational_flow(RAIN, (LAWN, catchment), (ROOF, self.run.roof))

    @property
    def kind(self) -> Kind:
        """Give what it is; a swale where nothing fits."""
        return "swale" if self.made is None else self.made.kind

    @property
    def money(self) -> float:
        """Give what it costs to build; without prices the digging [m³]."""
        if self.made is None:
            return math.inf
        return self.made.cut if self.run.prices is None else money_for(self.made, self.run.prices)

    @property
    def walls(self) -> tuple[str, ...]:
        """Give the walls it was designed for."""
        return self.run.walls

    @property
    def cured(self) -> tuple[str, ...]:
        """Give the walls from which the ground falls as the rule asks once it is dug, out to its line."""
        return tuple(fall.wall for fall in self.looks if fall.verdict == "away")

    @property
    def dug(self) -> Led | None:
        """Give it as it is dug, ordered and staked: where it comes out on the survey."""
        return None if self.made is None or not self.made.daylights else self.made

    @cached_property
    def clear(self) -> bool:
        """Whether it lies clear of what stands near, its setbacks too, and comes out toward nothing that has
        to stay dry."""
        made, nearby = self.made, self.run.nearby
        if made is None or not nearby.neighbours:
            return True
        dug = shapely.union_all(shapely.polygons(made.bottoms[:, :, :2]))
        ends = np.array(tuple(outlets_of(made))).reshape(-1, 2, 2)
        return may_lead(self.run.surface, nearby, dug, ends)

    @property
    def shots(self) -> Floats:
        """Give where to shoot so that it may come out (k, 2), site [m]: not beyond what bars the way."""
        if self.made is None:
            return np.empty((0, 2))
        shots = self.made.more_shots
        wanted: Floats = shots[~self.run.nearby.beyond(shots)]
        return wanted

    def checked(self, *, told: bool = True) -> Check | None:
        """Check that what is dug carries the rain that comes to it: open where more may come from beyond the
        survey than was surveyed, and what is surveyed alone is not too much. Unless ``told`` the water is not
        followed where it would carry that of the whole survey: then it is open wherever the survey ends on
        ground that rises on."""
        if self.dug is None or self.carry is None:
            return None
        flow = self.carry(self.run, self.rain(self.most_catchment))
        if told or flow.flow > flow.most:
            flow, more = self.flow or flow, len(self.above) > 0
        else:
            more = self.dug.bank_leaves is not None or may_come_in(self.run.surface, self.run.nearby)
        value = None if more and flow.flow <= flow.most else flow.flow
        return Check("water carried", value, flow.most, "m3/s", COMMON, where=self.where)

    @property
    def where(self) -> str:
        """The walls in words: "wall (corners 1-2)", "walls (corners 3-4 and 4-1)"."""
        return walls_named(self.walls)


def wall_measures(
    surface: Surface,
    building: Outline,
    pad: PadTop,
    drainage: Drainage,
    *,
    margin: float,
    batter: Batter | None = None,
    nearby: Nearby | None = None,
    prices: LedPrices | None = None,
) -> tuple[WallMeasure, ...]:
    """Design what leads water past each run of walls that it comes to once the ``pad`` is built.

    ``drainage`` is judged with the pad in place; ``margin`` and ``batter`` as in ``WallRun``. A run takes in
    the walls beside one that water comes to from which the ground falls too little; where water comes to none
    of them there is nothing to lead past. It goes on past one that water beyond its end runs along. What
    would run over a wall, a fence or a lot line ``nearby`` does not fit.
    """
    near, walls = nearby or Nearby(building), walls_of(building)
    if len(walls) != len(pad.outline.rings[0]):
        return ()
    short = {fall.wall for fall in drainage.after if fall.verdict in BAD and not _barred(fall)}
    uphill = {fall.wall for fall in drainage.after if fall.verdict == "toward"}
    along = {fall.wall for fall in drainage.after if fall.verdict == "away" and fall.slants}
    measures: list[WallMeasure] = []
    for first, last in runs_of([k for k, wall in enumerate(walls) if wall.name in short], len(walls)):
        own = tuple(walls[number % len(walls)].name for number in range(first, last + 1))
        rising = tuple(k for k in range(first, last + 1) if walls[k % len(walls)].name in uphill)
        if rising:
            left = None if prices is None else _left(prices, led(measures))
            sides = (first, last)
            run = WallRun(surface, near, pad, drainage.rule, sides, own, rising, margin, batter, left)
            slants = {k for k, wall in enumerate(walls) if wall.name in along}
            slants -= {side % len(walls) for one in measures for side in range(*one.run.span)}
            measures.append(_farther(measure_past(run), slants))
    return tuple(measures)


def _farther(measure: WallMeasure, slants: set[int]) -> WallMeasure:
    """The same past the walls beside too, where water that passes its end runs along one of them: of those
    that the ground ``slants`` to by next to nothing, and if all of them are cured then."""
    count = len(walls_of(measure.run.nearby.building))
    first, end = measure.run.span
    beside = {(first - 1) % count, end % count} & slants
    if measure.made is None or measure.dug is None or end - first + 1 >= count or not beside:
        return measure
    pad = measure.run.pad
    wet = wet_sides(measure.made.ground.surface, pad.outline, pad.level, measure.made.dug) & beside
    several = [wet, *({side} for side in sorted(wet))] if len(wet) > 1 else [wet] if wet else []
    for more in several:
        found = _also_past(measure, more)
        piped = found.kind == "drain" and measure.kind != "drain"  # not for what comes slanting past
        if found.dug is not None and set(found.walls) <= set(found.cured) and not piped:
            return _farther(found, slants - wet)
    return measure


def _also_past(measure: WallMeasure, more: set[int]) -> WallMeasure:
    """The same designed for more sides, next to its own."""
    walls = walls_of(measure.run.nearby.building)
    first, end = measure.run.span
    at_end = end % len(walls) in more
    first -= (first - 1) % len(walls) in more
    turn = len(walls) if first < 0 else 0  # the first side is counted from 0 on
    sides = first + turn, end - 1 + at_end + turn
    own = tuple(walls[k % len(walls)].name for k in range(sides[0], sides[1] + 1))
    return measure_past(measure.run._replace(sides=sides, walls=own))


def _left(prices: LedPrices, dug: Sequence[Led]) -> LedPrices:
    """The same once others have taken of the soil that is at hand."""
    return prices._replace(spare=spare_after(dug, prices))


def _barred(fall: WallFall) -> bool:
    """Too little fall toward a wall, fence or lot line near by: no water comes from there, no swale fits."""
    return fall.verdict == "too little" and fall.ends_at == "barrier"


# The kinds that are tried, in their order, and the choice.


class MeasureKind(NamedTuple):
    """How one kind is designed past a run of walls, and how a flow [m³/s] runs in it; None: none does."""

    kind: Kind
    design: Callable[[WallRun], Led | None]
    carry: Callable[[WallRun, float], Flow] | None


def measure_past(run: WallRun, kinds: Sequence[MeasureKind] | None = None) -> WallMeasure:
    """Try the kinds in their order: of those with a swale the cheapest that comes out on the survey and cures
    every wall of the run; a plain apron, then a pipe, only where there is none; else the one that is dug and
    cures most."""
    tried: list[WallMeasure] = []
    for kind in KINDS if kinds is None else kinds:
        if kind.kind in ("plain_apron", "drain") and any(map(_does, tried)):
            break
        if kind.kind == "drain":
            # a pipe that does not come out is taken only where nothing else fits
            run = run._replace(comes_out=any(one.made is not None for one in tried))
        tried.append(_measured(run, kind))
    most = max(map(_worth, tried))
    same = [one for one in tried if _worth(one) == most]
    if len(same) > 1:  # what each costs takes as long to find as all the rest: it is asked for here only
        same.sort(key=lambda one: one.money)  # the first of equals
    chosen = best = same[0]
    if chosen.dug is not None and len(same) > 1 and run.prices is not None:
        best = replace(best, other=(same[1].kind, same[1].money))
    return best if chosen is tried[0] else replace(best, passed=_passed(tried[0], chosen))


def _does(one: WallMeasure) -> bool:
    """Whether it is dug, clear of what stands near, and cures every wall of its run."""
    return one.dug is not None and one.clear and set(one.walls) <= set(one.cured)


def _worth(one: WallMeasure) -> tuple[float, ...]:
    """Whether it is dug and clear of what stands near, how many walls it cures; then those in soil before a
    pipe."""
    return (
        one.dug is not None,
        one.dug is not None and one.clear,
        len(one.cured),
        one.made is not None,
        one.kind != "drain",
    )


def _passed(before: WallMeasure, best: WallMeasure) -> Passed:
    if before.made is None:
        return "does not fit"
    if before.dug is None:
        return "does not come out"
    if best.clear and not before.clear:
        return "is not clear"
    return "cures fewer walls" if len(before.cured) < len(best.cured) else "costs more"


def _measured(run: WallRun, kind: MeasureKind) -> WallMeasure:
    made = _on_own_side(run.nearby, kind.design(run))
    if made is None:
        return WallMeasure(run, None)
    looks = _looks(run, made) if made.daylights else ()
    found = WallMeasure(run, made, looks, kind.carry)
    if (
        isinstance(made, Swale)
        and kind.carry is not None
        and kind.carry(run, found.rain(found.most_catchment)).speed > FASTEST
    ):
        flow = found.flow  # following the water takes longer than all the rest: only where it may matter
        return replace(found, made=lined(made)) if flow is not None and flow.speed > FASTEST else found
    return found


def _swale(run: WallRun) -> Led | None:
    ring, pad = run.pad.outline.rings[0], run.pad
    return design_swale(run.surface, ring, pad.level, run.sides, run.swale, batter=run.batter, room=pad.room)


def _apron(run: WallRun) -> Led | None:
    ring, pad = run.pad.outline.rings[0], run.pad
    return design_apron(
        run.surface, ring, pad.level, run.sides, run.uphill, run.swale, batter=run.batter, room=pad.room
    )


def _plain(run: WallRun) -> Led | None:
    ring, pad, rule = run.pad.outline.rings[0], run.pad, run.rule
    spec = PlainSpec(rule.fall, rule.reach, run.margin, pad.shown)
    return design_plain_apron(run.surface, ring, pad.level, run.sides, spec, batter=run.batter)


def _in_swale(run: WallRun, flow: float) -> Flow:
    spec = run.swale
    return flow_in(flow, near=spec.near, far=spec.far, side=spec.side, deep=spec.depth)


def _drain(run: WallRun) -> Led | None:
    ring, pad = run.pad.outline.rings[0], run.pad
    spec = DrainSpec(
        bench_fall=run.rule.to_drain, margin=run.margin, shown=run.pad.shown, comes_out=run.comes_out
    )
    return design_drain(
        run.surface, ring, pad.level, run.sides, spec, batter=run.batter, room=pad.room,
        clear=lambda start, end: pipe_may_run(run.surface, run.nearby, start, end),
    )  # fmt: skip


KINDS: tuple[MeasureKind, ...] = (
    MeasureKind("swale", _swale, _in_swale),
    MeasureKind("apron", _apron, _in_swale),
    MeasureKind("plain_apron", _plain, None),
    MeasureKind("drain", _drain, lambda _, flow: flow_in_pipe(flow, PIPE, PIPE_FALL)),
)
"""Swale and apron are dug with a shovel and seen to work; soil alone leads no water to a place that is known,
it is for ground too flat for a swale; a pipe is bought, buried, and silts up: it comes last."""


def _on_own_side(nearby: Nearby, made: Led | None) -> Led | None:
    """Keep what runs over nothing that bars the way, if any of its shots can be taken; where none can, nobody
    will know whether it comes out."""
    if made is None or not len(nearby.stops):
        return made
    if nearby.beyond(made.bottoms[:, :, :2].reshape(-1, 2)).any():
        return None
    shots = made.more_shots
    return None if len(shots) and nearby.beyond(shots).all() else made


def _looks(run: WallRun, made: Led) -> tuple[WallFall, ...]:
    """Judge these walls on the finished ground, out to where what is dug catches the water."""
    falls = wall_falls(
        made.ground.surface, run.nearby.building, run.rule, pad=run.pad, inverts=made.catches,
        barriers=run.nearby.stops,
    )  # fmt: skip
    return tuple(fall for fall in falls if fall.wall in run.walls)


AT: Mapping[Kind, str] = {"plain_apron": "before"}
"""Where it lies by the walls, in a word, of what leads nothing past them."""


def cure_of(measure: WallMeasure) -> str:
    """What cures walls, in words: "swale past the wall (corners 3-4)"."""
    if measure.made is None:
        return ""
    return f"{NAMES[measure.made.kind]} {AT.get(measure.made.kind, 'past')} the {measure.where}"


def led(measures: Iterable[WallMeasure]) -> tuple[Led, ...]:
    """What can be dug as it is: what comes out on the survey."""
    return tuple(one.dug for one in measures if one.dug is not None)
