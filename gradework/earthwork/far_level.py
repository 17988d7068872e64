"""A level that cannot belong to this ground: almost always another unit or another datum."""

from __future__ import annotations

from typing import TYPE_CHECKING

from gradework.errors import Faults

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.units import Display

FARTHEST = 15.24
"""[m] A level 50 ft above or below all ground under the outline is refused; no small building needs that."""


def refuse_far_level(pieces: Pieces, level: float, show: Display) -> None:
    """Raise InputError ``level-far-from-ground`` for a level over 50 ft from all ground under the outline."""
    low, high = pieces.lowest, pieces.highest
    if low - FARTHEST <= level <= high + FARTHEST:
        return
    faults = Faults()
    if level > high:
        place = f"{show.elevation(level - high)} above the highest ground under it ({show.elevation(high)})"
    else:
        place = f"{show.elevation(low - level)} below the lowest ground under it ({show.elevation(low)})"
    faults.stop(
        "level-far-from-ground",
        f"the level {show.elevation(level)} lies {place}",
        "a level near the ground",
        "check the unit of the level, and that it counts from the same benchmark as the shots",
    )
