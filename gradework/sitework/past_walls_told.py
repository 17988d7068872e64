"""What is told of what leads water past walls: what stands in its way, what may still come to it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from gradework.earthwork.grading.capacity import FASTEST, LAWN, RAIN, ROOF, pipe_flow, rational_flow
from gradework.earthwork.grading.led import NAMES
from gradework.earthwork.grading.swale import LINING
from gradework.errors import Finding, finding
from gradework.sitework.past_walls import PIPE, PIPE_FALL
from gradework.units.amounts import flow_words

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Kind
    from gradework.earthwork.grading.route import SwaleSpec
    from gradework.sitework.past_walls import WallMeasure
    from gradework.units.display import Display

SHOTS = 0.3048, 6.096
"""[m] Shots are asked for so far beyond the edge of the survey, 1 to 20 ft."""


def measure_findings(
    measures: Sequence[WallMeasure], show: Display, followed: Collection[str] = ()
) -> tuple[Finding, ...]:
    """What stands in the way of what leads the water past; what may come from beyond the survey is told of
    those only that are not ``followed`` there, by their walls."""
    return tuple(one for measure in measures for one in _findings(measure, show, followed))


def _findings(measure: WallMeasure, show: Display, followed: Collection[str]) -> Iterator[Finding]:
    walls, made, flow = measure.where, measure.made, measure.flow
    if made is None:
        yield finding("swale-does-not-fit", "note", walls, walls=walls)
    if made is None or flow is None:
        return
    spec, kind = measure.run.swale, made.kind
    brings, carries = (flow_words(one, us=show.us) for one in (flow.flow, pipe_flow(PIPE, PIPE_FALL)))
    if not made.daylights:
        places = "; ".join(show.place(float(x), float(y)) for x, y in measure.shots)
        yield finding(
            "swale-no-outlet", "note", walls, walls=walls, places=places, flow=brings, variant=_OWN[kind],
            pipe=carries, size=show.depth(PIPE), fall=show.slope(PIPE_FALL),
        )  # fmt: skip
    if made.bank_leaves is not None:
        x, y, off, rise = made.bank_leaves
        reach = _bank_ends(off, rise, spec)
        step = SHOTS[0] if show.us else 0.1  # up, to a whole foot or tenth of a metre
        reach = step * math.ceil(reach / step - 1e-6)
        yield finding(
            "swale-leaves-survey", "note", show.place(x, y), off, 0.0, walls=walls, place=show.place(x, y),
            off=show.depth(off), reach=show.distance(reach), what=NAMES[kind],
        )  # fmt: skip
    if walls not in followed and len(measure.above) and measure.dug is not None:
        spare = (flow.most - rational_flow(RAIN, (ROOF, measure.run.roof))) / (RAIN * LAWN)
        places = "; ".join(show.place(*one) for one in measure.above.tolist())
        yield finding(
            "catchment-open", "note", walls, walls=walls, what=NAMES[kind], places=places,
            area=show.area(measure.catchment), most=show.area(max(spare, 0.0)),
        )  # fmt: skip
    if flow.flow > flow.most:
        yield finding(
            "swale-overflows", "warning", walls, flow.flow, flow.most, walls=walls, variant=_OWN[kind],
            flow=brings, depth=show.depth(flow.depth), most=show.depth(spec.depth),
            carries=flow_words(flow.most, us=show.us),
        )  # fmt: skip
    if flow.speed > FASTEST:
        yield finding(
            "swale-washes", "note", walls, walls=walls,
            speed=show.distance(flow.speed), most=show.distance(FASTEST), thick=show.depth(LINING),
        )  # fmt: skip


_OWN: Mapping[Kind, str] = {"swale": "", "apron": "", "plain_apron": "", "drain": "drain"}
"""The wording of what is told of each kind."""


def _bank_ends(off: float, rise: float, spec: SwaleSpec) -> float:
    """How far beyond the edge of the survey a bank that is ``off`` [m] below the ground comes up [m].

    If the ground goes on to ``rise`` as there; beyond a corner the bank falls with the bottom.
    """
    nears = 1.0 / spec.side - rise - spec.near
    least, most = SHOTS
    return most if nears * most <= off else max(off / nears, least)
