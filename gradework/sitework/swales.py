"""The swales that would cure a pad's walls: one past each run of sides that water comes to.

It designs what the findings about falls ask for; it does not decide whether it is dug, nor order it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.clip import cut_region, signed_areas
from gradework.earthwork.grading.capacity import (
    FASTEST,
    LAWN,
    RAIN,
    ROOF,
    Flow,
    flow_in,
    pipe_flow,
    rational_flow,
)
from gradework.earthwork.grading.foot import Batter
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.swale import Swale, design_swale
from gradework.earthwork.nearby import Nearby
from gradework.errors import Finding, finding
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.foundations.checks.wall_strips import PadTop, walls_of
from gradework.sitework.drainage import BAD, walls_named
from gradework.units.amounts import flow_words

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.foundations.checks.drainage_rules import DrainageRule
    from gradework.foundations.checks.wall_falls import WallFall
    from gradework.ground.surface import Surface
    from gradework.sitework.drainage import Drainage
    from gradework.units.display import Display


SHOTS = 0.3048, 6.096
"""[m] Shots are asked for so far beyond the edge of the survey, 1 to 20 ft."""

PIPE, PIPE_FALL = 0.1016, 0.01
"""[m], [-] The pipe that is named where a swale does not come out: 4 in at 1 % (common practice)."""


@dataclass(frozen=True, eq=False)
class SwaleMeasure:
    """A swale past some walls.

    ``walls``: those it was designed for; ``swale``: its design, None where no line fits beside them;
    ``looks``: the fall from each wall once it is dug, out to the swale; none where it does not daylight;
    ``catchment`` [m²]: the surveyed ground beyond it, as if all of it drained to it; ``flow``: what then runs
    in it in the design rain, the roof counted in.
    """

    walls: tuple[str, ...]
    spec: SwaleSpec
    swale: Swale | None
    looks: tuple[WallFall, ...]
    catchment: float
    flow: Flow | None

    @property
    def cured(self) -> tuple[str, ...]:
        """Give the walls from which the ground falls as the rule asks once it is dug, out to the swale."""
        return tuple(fall.wall for fall in self.looks if fall.verdict == "away")

    @property
    def dug(self) -> Swale | None:
        """Give the swale as it is dug, ordered and staked: one that comes out on the survey."""
        return None if self.swale is None or not self.swale.daylights else self.swale

    @property
    def where(self) -> str:
        """The walls in words: "wall (corners 1-2)", "walls (corners 3-4 and 4-1)"."""
        return walls_named(self.walls)


def swale_measures(
    surface: Surface,
    building: Outline,
    pad: PadTop,
    drainage: Drainage,
    *,
    margin: float,
    batter: Batter | None = None,
    nearby: Nearby | None = None,
) -> tuple[SwaleMeasure, ...]:
    """Design a swale for each run of walls that water comes to once the ``pad`` is built.

    ``drainage`` is judged with the pad in place. ``margin`` [m]: the pad beyond the walls; ``batter``: its
    side slopes, None where boards hold it. A run takes in the walls beside one that water comes to from which
    the ground falls too little; where water comes to none of them there is nothing to lead past. One that
    would run over a wall, a fence or a lot line ``nearby`` does not fit.
    """
    spec, near = SwaleSpec(margin=margin, bench_fall=drainage.rule.fall), nearby or Nearby(building)
    walls = walls_of(building)
    if len(walls) != len(pad.outline.rings[0]):
        return ()
    short = {fall.wall for fall in drainage.after if fall.verdict in BAD and not _barred(fall)}
    uphill = {fall.wall for fall in drainage.after if fall.verdict == "toward"}
    measures = []
    for first, last in runs_of([k for k, wall in enumerate(walls) if wall.name in short], len(walls)):
        own = tuple(walls[number % len(walls)].name for number in range(first, last + 1))
        if any(name in uphill for name in own):
            run = (first, last)
            measures.append(_designed(surface, near, pad, drainage.rule, run, own, spec, batter))
    return tuple(measures)


def _barred(fall: WallFall) -> bool:
    """Too little fall toward a wall, fence or lot line near by: no water comes from there, no swale fits."""
    return fall.verdict == "too little" and fall.ends_at == "barrier"


def runs_of(numbers: Sequence[int], count: int) -> list[tuple[int, int]]:
    """Sides next to each other as runs (first, last) round a ring of ``count``; last counts on past 0.

    >>> runs_of([0, 2, 3], 4), runs_of([0, 1, 2], 3), runs_of([], 4)
    ([(2, 4)], [(0, 2)], [])
    """
    wanted = set(numbers)
    if len(wanted) == count:
        return [(0, count - 1)]
    runs = []
    for first in sorted(wanted):
        if (first - 1) % count not in wanted:
            last = first
            while (last + 1) % count in wanted:
                last += 1
            runs.append((first, last))
    return runs


def _designed(
    surface: Surface,
    nearby: Nearby,
    pad: PadTop,
    rule: DrainageRule,
    run: tuple[int, int],
    own: tuple[str, ...],
    spec: SwaleSpec,
    batter: Batter | None,
) -> SwaleMeasure:
    ring, building = pad.outline.rings[0], nearby.building
    swale = design_swale(surface, ring, pad.level, run, spec, batter=batter, room=pad.room)
    swale = _on_own_side(nearby, swale)
    if swale is None:
        return SwaleMeasure(own, spec, None, (), 0.0, None)
    catchment = _beyond(surface, swale)
    flow = flow_in(
        rational_flow(RAIN, (LAWN, catchment), (ROOF, building.area)),
        near=spec.near,
        far=spec.far,
        side=spec.side,
    )
    looks = _looks(swale, nearby, pad, rule, own) if swale.daylights else ()
    return SwaleMeasure(own, spec, swale, looks, catchment, flow)


def _on_own_side(nearby: Nearby, swale: Swale | None) -> Swale | None:
    """Keep a swale that runs over nothing that bars the way, with those of its shots that can be taken; None
    where none of them can: then nobody will know whether it comes out."""
    if swale is None or nearby.beyond(swale.ground.shaped.reshape(-1, 2)).any():
        return None
    shots = swale.more_shots[~nearby.beyond(swale.more_shots)]
    return None if len(swale.more_shots) and not len(shots) else replace(swale, more_shots=shots)


def _looks(
    swale: Swale, nearby: Nearby, pad: PadTop, rule: DrainageRule, own: Sequence[str]
) -> tuple[WallFall, ...]:
    """Judge these walls on the finished ground, out to the bottom of the swale where it is dug."""
    inverts = np.concatenate([np.stack((line[:-1, :2], line[1:, :2]), axis=1) for line in swale.bends])
    ground, stops = swale.ground.surface, nearby.stops
    falls = wall_falls(ground, nearby.building, rule, pad=pad, inverts=inverts, barriers=stops)
    return tuple(fall for fall in falls if fall.wall in own)


def _beyond(surface: Surface, swale: Swale) -> float:
    """The area of surveyed ground beyond the line of the swale [m²], on any of its sides."""
    line = swale.route.line
    behind = np.array(
        [
            (*-side.outward, -float(side.outward @ side.start) - line.offset)
            for side in line.sides[swale.route.way.first : swale.route.way.last + 1]
        ]
    )
    inner, _ = cut_region(surface.vertices[surface.triangles], behind)
    return max(surface.area - float(signed_areas(inner).sum()), 0.0)


def led(measures: Iterable[SwaleMeasure]) -> tuple[Swale, ...]:
    """The swales that can be dug as they are: those that come out on the survey."""
    return tuple(one.dug for one in measures if one.dug is not None)


def swale_findings(measures: Sequence[SwaleMeasure], show: Display) -> tuple[Finding, ...]:
    """What stands in the way of the swales."""
    return tuple(one for measure in measures for one in _findings(measure, show))


def _findings(measure: SwaleMeasure, show: Display) -> Iterator[Finding]:
    walls, swale, flow = measure.where, measure.swale, measure.flow
    if swale is None or flow is None:
        yield finding("swale-does-not-fit", "note", walls, walls=walls)
        return
    brings, carries = (flow_words(one, us=show.us) for one in (flow.flow, pipe_flow(PIPE, PIPE_FALL)))
    if not swale.daylights:
        places = "; ".join(show.place(float(x), float(y)) for x, y in swale.more_shots)
        yield finding(
            "swale-no-outlet", "note", walls, walls=walls, places=places, flow=brings,
            pipe=carries, size=show.depth(PIPE), fall=show.slope(PIPE_FALL),
        )  # fmt: skip
    if swale.bank_leaves is not None:
        x, y, off, rise = swale.bank_leaves
        reach = _bank_ends(off, rise, measure.spec)
        step = SHOTS[0] if show.us else 0.1  # up, to a whole foot or tenth of a metre
        reach = step * math.ceil(reach / step - 1e-6)
        yield finding(
            "swale-leaves-survey", "note", show.place(x, y), off, 0.0, walls=walls, place=show.place(x, y),
            off=show.depth(off), reach=show.distance(reach),
        )  # fmt: skip
    if flow.depth > measure.spec.depth:
        yield finding(
            "swale-overflows", "warning", walls, flow.depth, measure.spec.depth, walls=walls,
            flow=brings, depth=show.depth(flow.depth), most=show.depth(measure.spec.depth),
        )  # fmt: skip
    if flow.speed > FASTEST:
        yield finding(
            "swale-washes", "warning", walls, walls=walls,
            speed=show.distance(flow.speed), most=show.distance(FASTEST),
        )  # fmt: skip


def _bank_ends(off: float, rise: float, spec: SwaleSpec) -> float:
    """How far beyond the edge of the survey a bank that is ``off`` [m] below the ground comes up [m].

    If the ground goes on to ``rise`` as there; beyond a corner the bank falls with the bottom.
    """
    nears = 1.0 / spec.side - rise - spec.near
    least, most = SHOTS
    return most if nears * most <= off else max(off / nears, least)
