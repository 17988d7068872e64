"""Where rain runs, on a plan: the ways of a few drops from uphill, and the water that stands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings import pens
from gradework.drawings.page import area_entry, line_entry

if TYPE_CHECKING:
    from gradework.drawings.plan.ground import PlanCanvas
    from gradework.sitework.rain import Rain, Run

_WAYS = (
    ("Rain from uphill, as surveyed", pens.SOFT, pens.DOTTED),
    ("Rain from uphill, once built", pens.WATER, pens.DOTTED),
)
"""What the key says of the drops' ways, and their pens: of two grounds in this order, of one the last."""


def draw_rain(canvas: PlanCanvas, rain: Rain) -> None:
    """Draw the ponds near the building, and the ways of drops before and after: those that come, and those
    that pass."""
    wet = [canvas.window.to_page(ring) for one in rain.standing for ring in one.rings]
    if wet:
        canvas.region(wet, facecolor="none", edgecolor=pens.WATER, hatch="--", linewidth=0.0, zorder=0.95)
        canvas.entries.append(area_entry("Rain stands here", face="none", hatch="--", edge=pens.WATER))
    pens_of = _WAYS[len(_WAYS) - len(rain.runs) :]
    for runs, (words, color, dash) in zip(rain.runs, pens_of, strict=True):
        _draw_ways(canvas, runs, color, dash)
        if runs:
            canvas.entries.append(line_entry(words, color=color, width=pens.RULE, dash=dash))


def _draw_ways(canvas: PlanCanvas, runs: tuple[Run, ...], color: str, dash: object) -> None:
    """Draw each leg of each way; a leg of one place is none. Where a hollow runs over the next leg begins
    at its rim: the water between stands."""
    legs = [canvas.window.to_page(leg[:, :2]) for one in runs for leg in one.legs if len(leg) > 1]
    if legs:
        canvas.lines(legs, color=color, width=pens.RULE, dash=dash, zorder=3.8, gid="rain")
