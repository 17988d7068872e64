"""The rain of the roof on a plan: gutters with their pipes, and the clean stone of drip strips."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely

from gradework.drawings import pens
from gradework.drawings.page import Entry, area_entry, line_entry
from gradework.drawings.plan.water import draw_bottom, led_entry

if TYPE_CHECKING:
    from gradework.drawings.plan.ground import PlanCanvas
    from gradework.sitework.roof_water import RoofWater

STONE = "ooo"
"""Clean stone, as hatched."""


def draw_roof_water(canvas: PlanCanvas, roof: RoofWater | None) -> None:
    """Draw each gutter below its eave with the pipe to where it comes out, and each drip strip as stone."""
    if roof is None:
        return
    if strips := roof.of("drip strip"):
        parts = [shapely.get_parts(one.strip) for one in strips]
        rings = [canvas.window.to_page(shapely.get_coordinates(p.exterior)) for own in parts for p in own]
        canvas.region(
            rings, facecolor="none", edgecolor=pens.SOFT, hatch=STONE, linewidth=pens.FINE, zorder=1.3
        )
        canvas.entries.append(area_entry("Drip strip, clean stone", face="none", hatch=STONE, edge=pens.SOFT))
    gutters = roof.of("gutter")
    lines = [canvas.window.to_page(one.eave.line) for one in gutters]
    if not lines:
        return
    canvas.lines(lines, color=pens.WATER, width=pens.PAD, dash=pens.SOLID, zorder=4.2, gid="gutter")
    for line in lines:
        canvas.keep_off_line(line)
    canvas.entries.append(line_entry("Gutter", color=pens.WATER, width=pens.PAD, dash=pens.SOLID))
    _draw_pipes(canvas, roof)


def _draw_pipes(canvas: PlanCanvas, roof: RoofWater) -> None:
    """Draw the solid pipe from each downspout, with a head the way it falls."""
    spouts = [spout for one in roof.of("gutter") for spout in one.led]
    for spout in spouts:
        bends = np.array([(*spout.foot, spout.rows[0, 2]), spout.rows[-1]])
        draw_bottom(canvas, bends, "gutter pipe", pens.EVEN_DASH)
    if spouts:
        entry: Entry = led_entry("Pipe of a gutter, falls this way", pens.EVEN_DASH)
        canvas.entries.append(entry)
