"""Where water runs on the finished ground of random yards that are said to be led: printed, not asserted.

Yards are invented: planes, cones, rolling and rough ground, rectangles and L-shapes turned anyhow, pads cut
in and raised, with boards and with side slopes. Those are taken in which water came to a wall, something is
dug past it, and then all walls pass. On a raster of 12 cm cells with its hollows filled, what drains over the
pad, or touches its foot, from ground more than a metre away is counted; what comes to the stone of a drain
sinks in. A raster leads water in eight directions: where it touches a foot, drops from there are followed
down the ground itself, step by step, too. ``flow 500`` takes half an hour.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import flow_oracle as flow
import numpy as np

MOST = 20
"""Of a run without a number."""

TOUCHES = 0.1
"""[m²] Less than this of ground is the raster's own grain."""


def lines(most: int = MOST) -> Iterator[str]:
    kinds: Counter[str] = Counter()
    on_pad, at_foot, before = [], [], []
    count = seed = drops_reach = 0
    while count < most:
        one, seed = flow.yard(seed), seed + 1
        plan = flow.led(one)
        if plan is None:
            continue
        count += 1
        kinds.update(plan.kinds)
        made = flow.flow_on(plan.ground, one.pad, one.level, stone=plan.stone)
        was = flow.flow_on(one.surface, one.pad, one.level)
        before.append(flow.area_reaching(was, was.beside))
        over, foot = flow.area_reaching(made, made.pad), flow.area_reaching(made, made.beside)
        if over > TOUCHES:
            on_pad.append(seed - 1)
        if foot > TOUCHES:
            below = 1000.0 * flow.below(made, one.level)
            drops = flow.area_followed(made, plan.ground, one.pad)
            drops_reach += drops > TOUCHES
            at_foot.append(
                f"yard {seed - 1}: from {foot:.1f} m2, drops from {drops:.1f} m2, {below:.0f} mm or more "
                "below the pad's top"
            )
    yield f"{count} of {seed} yards are led, by {', '.join(f'{n} {kind}s' for kind, n in kinds.items())}"
    touched = sum(area > TOUCHES for area in before)
    yield f"as surveyed, water comes to {touched} pads, from {np.median(before):.0f} m2 in the middle"
    yield f"then over the pad: {len(on_pad)} {on_pad or ''}"
    yield f"then along the foot of boards or side slopes: {len(at_foot)}, by drops {drops_reach}"
    yield from (f"  {line}" for line in at_foot)
