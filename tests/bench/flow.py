"""Where water runs on the finished ground of random yards that are said to be led: printed, not asserted.

Yards are invented: planes, cones, rolling and rough ground, rectangles and L-shapes turned anyhow, pads cut in
and raised, with boards and with side slopes. Those are taken in which water came to a wall, something is dug
past it, and then all walls pass. On a raster of 12 cm cells with its hollows filled, what drains over the
pad, or touches its foot, from ground more than a metre away is counted. ``python tests/bench flow`` takes half
an hour for 500 of them.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType

import numpy as np

MOST = 500
TOUCHES = 0.1
"""[m²] Less than this of ground is the raster's own grain."""


def _oracle() -> ModuleType:
    path = Path(__file__).parent.parent / "oracle" / "flow_oracle.py"
    spec = importlib.util.spec_from_file_location("flow_oracle", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def lines(most: int = MOST) -> Iterator[str]:
    flow = _oracle()
    count, kinds, on_pad, at_foot, before = 0, {}, [], [], []
    seed = -1
    while count < most:
        seed += 1
        one = flow.yard(seed)
        plan = flow.led(one)
        if plan is None:
            continue
        count += 1
        for kind in plan.kinds:
            kinds[kind] = kinds.get(kind, 0) + 1
        made, was = flow.flow_on(plan.ground, one.pad, one.level), flow.flow_on(one.surface, one.pad, one.level)
        before.append(flow.area_reaching(was, was.beside))
        if flow.area_reaching(made, made.pad) > TOUCHES:
            on_pad.append(seed)
        if flow.area_reaching(made, made.beside) > TOUCHES:
            at_foot.append((seed, flow.area_reaching(made, made.beside), flow.below(made, one.level)))
    yield f"{count} of {seed + 1} yards are led: " + ", ".join(f"{n} {kind}s" for kind, n in kinds.items())
    yield f"as surveyed water came to {sum(a > TOUCHES for a in before)} pads, from {np.median(before):.0f} m2 in the middle"
    yield f"over the pad: {len(on_pad)} {on_pad or ''}"
    yield f"along the foot of the pad: {len(at_foot)}"
    for number, area, below in at_foot:
        yield f"  yard {number}: from {area:.2f} m2, {1000.0 * below:.0f} mm or more below the top of the pad"
