"""Ground anchors once more: what wind asks of the ties of the windward side, and what those that are placed
hold.

The worked way of published rules for transportable homes (24 CFR 3280.305(c)(1)(i), 3280.306(a), zone I: 15
psf sideways and 9 psf up, both times 1.5, against the whole dead load; 3285.402: 3,150 lb an anchor, straps
at 45 degrees; friction 0.4, a judgement). Places are those of the record."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from wood_again import IN, LB, Loads, whole

Floats = NDArray[np.float64]
PUSH, LIFT, FRICTION, ANCHOR = 15.0 * 1.5, 9.0 * 1.5, 0.4, 3150.0


class Hut(NamedTuple):
    """A rectangle on piers: its sides, how high its walls reach over the skids' underside, and how high that
    stands above the lowest ground [m]."""

    length: float
    width: float
    walls: float
    above: float


def anchors_seen(
    told: Mapping[str, Any], loads: Loads, hut: Hut, local: Floats
) -> Iterator[tuple[str, float, bool]]:
    """Sliding and uplift of the side that is worse off [kN]; ``local`` (n, 2): the anchors along and across
    [m]."""
    dead = whole(loads._replace(floor=0.0, roof=0.0), hut.length, hut.width)
    roof = _sqft(hut.width + 2.0 * loads.eave, hut.length)
    rise = loads.pitch * hut.width / 2.0
    held = ANCHOR * math.sqrt(0.5)
    one_side = int((local[:, 1] < hut.width / 2.0).sum())
    inner = (local[:, 0] < 0.0).sum()  # beyond the end; the two at its corners hold it too
    found = []
    for face, high, base, count in (
        (hut.length, hut.walls + rise, hut.width, _along(local, hut, one_side)),
        (hut.width, hut.walls + rise / 2.0, hut.length, 2 + int(inner)),
    ):
        side, up = PUSH * _sqft(face, high), LIFT * roof
        arm, deep = hut.above + high / 2.0, base
        sliding = max(0.0, side - FRICTION * max(0.0, dead - up))
        lift = max(0.0, (side * arm + (up - dead) * deep / 2.0) / deep)
        found.append((sliding, lift, count))
    for name, part in (("sliding", 0), ("uplift", 1)):
        asked, count = max(((one[part], one[2]) for one in found), key=lambda one: one[0] / one[1])
        yield name, asked * LB, asked <= count * held * (1.0 + 1e-9)
    yield "anchors told", float(len(local)), len(local) == told["count"]


def _along(local: Floats, hut: Hut, one_side: int) -> int:
    """How many stand beside the first long side: not those beyond the ends."""
    beyond = (local[:, 0] < 0.0) | (local[:, 0] > hut.length)
    return one_side - int((beyond & (local[:, 1] < hut.width / 2.0)).sum())


def _sqft(one: float, other: float) -> float:
    return one * other / (12.0 * IN) ** 2
