"""What is built beside a pad so that it holds and drains, as measures; the money for the pad holds them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from gradework.foundations.checks.gate import Measure
from gradework.foundations.pad.basin import OutletPipe
from gradework.foundations.pad.quantities import PIPE, BoxedEdge, edge_money

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gradework.foundations.buying.pad_prices import PadPrices
    from gradework.foundations.pad.design import Pad


def pad_measures(pad: Pad, prices: PadPrices) -> Iterator[Measure]:
    """Give room and laid-back face, the edge with its trench, the pipe out of clay; what there is of them.

    What goes back is dug and not hauled. A price not known counts as nothing.
    """
    chosen, spec, edge = pad.chosen, pad.spec, pad.edge
    dig, haul = prices.dig or 0.0, (prices.haul or 0.0) * spec.swell
    outlet = None if pad.basin is None else pad.basin.outlet
    over = 0.0 if outlet is None else outlet.cut
    if isinstance(edge, BoxedEdge):
        parts = edge.built.parts
        wide = chosen.beside - parts.trench - over
        if wide > 0.0:
            back = chosen.refilled - over
            line = _around(pad, chosen.level - spec.gravel)
            yield Measure("layback", line, wide, back, cost=wide * dig + (wide - back) * haul, counted=True)
        if edge.built.kind != "none":
            money = sum(paid for _, paid in edge_money(parts, prices).values())
            stone = parts.clean * spec.density
            cost = money + parts.trench * (dig + haul) + parts.brought * (prices.gravel or 0.0) * spec.density
            yield Measure(
                "edge", _around(pad, chosen.level), parts.trench, stone=stone, cost=cost, counted=True
            )
    if outlet is not None:
        cost = outlet.length / PIPE * prices.edge.pipe + over * dig
        line = OutletPipe(outlet).line
        yield Measure("drain", line, over, over, pipe=outlet.length, cost=cost, counted=True)


def _around(pad: Pad, level: float) -> NDArray[np.float64]:
    """The line round the pad at a level [m], closed: (n, 3)."""
    ring = pad.outline.rings[0]
    closed = np.concatenate((ring, ring[:1]))
    return np.column_stack((closed, np.full(len(closed), level)))
