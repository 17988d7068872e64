"""The way in on a plan: the door in its wall, steps with their treads, or a ramp with the way up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradework.drawings import pens
from gradework.drawings.page import line_entry

if TYPE_CHECKING:
    from gradework.drawings.plan.ground import PlanCanvas
    from gradework.sitework.access import Access

DOOR = pens.pen(1.2)
"""A door is a heavier stroke on the line of its wall."""


def draw_door(canvas: PlanCanvas, access: Access | None) -> None:
    """Draw the door and what is built in front of it; nothing where the job names no door."""
    if access is None:
        return
    door, to_page = access.door, canvas.window.to_page
    opening = to_page(door.places(0.0, 2))
    canvas.lines([opening], color=pens.WARNING, width=DOOR, dash=pens.SOLID, zorder=5.2, gid="door")
    canvas.keep_off_line(opening)
    words = "Door"
    if access.built:
        ring = to_page(door.ring(0.0, access.out))
        canvas.region([ring], fill=False, edgecolor=pens.BLACK, linewidth=pens.RULE, zorder=4.6, gid="way in")
        canvas.lines(
            [to_page(door.places(away, 2)) for away in _edges(access)],
            color=pens.BLACK, width=pens.FINE, zorder=4.6, gid="treads",
        )  # fmt: skip
        for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
            canvas.keep_off_line(np.array([start, end]))
        up = f"{access.risers} risers of {canvas.show.depth(access.riser or 0.0)}"
        words = f"Door; ramp 1:{access.slope:g}" if access.ramp else f"Door; steps, {up}"
    canvas.entries.append(line_entry(words, color=pens.WARNING, width=DOOR, dash=pens.SOLID))


def _edges(access: Access) -> list[float]:
    """How far out the edges of landing and treads lie [m]; of a ramp, that of its landing."""
    start = [access.landing] if access.landing else []
    if access.going is None:
        return start
    count = round((access.out - access.landing) / access.going)
    return start + [access.landing + number * access.going for number in range(1, count)]
