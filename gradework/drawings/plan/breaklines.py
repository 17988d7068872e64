"""Breaklines on a plan: heavy lines along which the ground breaks, each with its name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.drawings import pens
from gradework.drawings.labels import label_places, without_room
from gradework.drawings.lettering import Style, name, shortened, width_mm
from gradework.drawings.page import line_entry
from gradework.drawings.plan.ground import PlanCanvas

if TYPE_CHECKING:
    from gradework.ground.surface import Surface

_STYLE = Style(points=8, weight="bold", color=pens.EARTH)
_LONGEST_MM = 45.0
_WORDS = "Breakline: the ground breaks here"


def draw_breaklines(canvas: PlanCanvas, surface: Surface) -> None:
    """Draw the lines that no triangle of ``surface`` reaches across, their names along them.

    A name that finds no room is told in the findings of the canvas.
    """
    if not surface.breaklines:
        return
    width, dash = pens.FOOTPRINT, pens.BREAKLINE_DASH
    left_out = []
    for line in surface.breaklines:
        page = canvas.window.to_page(surface.along(line)[:, :2])
        canvas.lines(
            [page], color=pens.EARTH, width=width, dash=dash, zorder=2.6, gid=f"breakline {line.name}"
        )
        text = shortened(name(line.name), _STYLE.points, _LONGEST_MM)
        for place in label_places(page, width_mm(text, _STYLE.points, _STYLE.weight) + 1.0):
            if canvas.label(text, (place.x, place.y), _STYLE, degrees=place.degrees, role="breakline"):
                break
        else:
            left_out.append(text)
    canvas.entries.append(line_entry(_WORDS, color=pens.EARTH, width=width, dash=dash))
    canvas.findings += without_room("The plan", left_out, len(surface.breaklines))
