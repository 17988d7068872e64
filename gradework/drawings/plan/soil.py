"""Where soil is spread, on a plan: a hatched field, how deep it lies, how far its edges run out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import pens
from gradework.drawings.lettering import Style
from gradework.drawings.page import area_entry

if TYPE_CHECKING:
    from gradework.drawings.plan.ground import PlanCanvas
    from gradework.sitework.soil import SoilPlan

SPREAD = "..\\\\"
"""Soil, as hatched: dots and strokes the other way than cut ground."""

_DEPTH = Style(6.5)


def draw_soil(canvas: PlanCanvas, soil: SoilPlan | None) -> None:
    """Draw each patch with its depth in it where that finds room, else in the legend alone."""
    if soil is None or not soil.patches:
        return
    show = canvas.show
    for one in soil.patches:
        ring = canvas.window.to_page(one.ring)
        canvas.region(
            [ring],
            facecolor="none",
            edgecolor=pens.EARTH,
            hatch=SPREAD,
            linewidth=pens.FINE,
            linestyle=pens.EVEN_DASH,
            zorder=1.2,
            gid="spread soil",
        )
        x, y = np.mean(ring, axis=0).tolist()
        canvas.label(f"soil {show.depth(one.thick)}", (x, y), _DEPTH, role="soil")
    thick = show.depth(max(one.thick for one in soil.patches))
    words = f"Soil spread {thick} deep"
    canvas.entries.append(area_entry(words, face="none", hatch=SPREAD, edge=pens.EARTH))
