"""The kinds of what keeps water off walls, and how each is designed past a run of them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.grading.capacity import Flow, flow_in, flow_in_pipe
from gradework.earthwork.grading.drain import DrainSpec, design_drain
from gradework.earthwork.grading.plain import PlainSpec, design_plain_apron
from gradework.earthwork.grading.route import SwaleSpec
from gradework.earthwork.grading.swale import design_apron, design_swale
from gradework.foundations.checks.near_water import may_lead, pipe_may_run

if TYPE_CHECKING:
    from gradework.earthwork.grading.foot import Batter
    from gradework.earthwork.grading.led import Kind, Led
    from gradework.earthwork.nearby import Nearby
    from gradework.foundations.checks.drainage_rules import DrainageRule
    from gradework.foundations.checks.wall_strips import PadTop
    from gradework.ground.surface import Surface
    from gradework.sitework.heaped import LedPrices

PIPE, PIPE_FALL = DrainSpec().pipe, DrainSpec().fall
"""[m], [-] The pipe that is named where a swale does not come out: 4 in at 1 % (common practice)."""


class WallRun(NamedTuple):
    """A run of walls that water comes to, and all that a measure past it hangs on.

    ``sides``: the first and the last, counted on past 0; ``walls`` their names; ``uphill``: those sides that
    ground rises toward; ``margin`` [m]: the pad beyond the walls; ``batter``: its side slopes, None where
    boards hold it; ``prices``: None where nothing is known of them: then the least is dug;
    ``comes_out``: a pipe that does not come out on the survey is not wanted.
    """

    surface: Surface
    nearby: Nearby
    pad: PadTop
    rule: DrainageRule
    sides: tuple[int, int]
    walls: tuple[str, ...]
    uphill: tuple[int, ...]
    margin: float
    batter: Batter | None
    prices: LedPrices | None
    comes_out: bool = False

    @property
    def span(self) -> tuple[int, int]:
        """Its sides as a range: from the first to past the last."""
        return self.sides[0], self.sides[1] + 1

    @property
    def roof(self) -> float:
        """The roof in plan [m²]: all of it is taken to come to it, dripping or out of a gutter."""
        return self.nearby.building.area if self.pad.roof is None else self.pad.roof

    @property
    def swale(self) -> SwaleSpec:
        """What a swale past it keeps."""
        clear = partial(may_lead, self.surface, self.nearby) if self.nearby.neighbours else None
        return SwaleSpec(margin=self.margin, shown=self.pad.shown, bench_fall=self.rule.to_drain, clear=clear)


class MeasureKind(NamedTuple):
    """How one kind is designed past a run of walls, and how a flow [m³/s] runs in it; None: none does."""

    kind: Kind
    design: Callable[[WallRun], Led | None]
    carry: Callable[[WallRun, float], Flow] | None


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
