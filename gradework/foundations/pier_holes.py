"""Every hole that each pier might have, one for each plan its stacks may ask for, and the ground in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork import clip
from gradework.errors import InputError
from gradework.foundations.pier_ground import PierGround
from gradework.foundations.pier_layout import Frame, Place, hole_outline
from gradework.foundations.pier_places import overlapping

if TYPE_CHECKING:
    from gradework.ground import Surface

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class HoleKind:
    """Holes of one ``size`` (along, across) [m]: the ground in that of each pier, None where it cannot be.

    A hole cannot be where it reaches outside the survey, or would overlap another of its size.
    """

    size: tuple[float, float]
    ground: tuple[PierGround | None, ...]

    @property
    def area(self) -> float:
        """Give the plan of the hole [m²]."""
        return self.size[0] * self.size[1]

    def bottoms(self, depth: float) -> Floats:
        """Give the highest bottom of each hole (n,) [m]: ``depth`` [m] below its lowest ground, or NaN."""
        return np.array([np.nan if g is None else g.low - depth for g in self.ground])

    def dug(self, depth: float) -> Floats:
        """Give the digging down to those bottoms (n,) [m³ in place]; NaN for none."""
        return np.array([np.nan if g is None else g.dig_to(g.low - depth) for g in self.ground])


def hole_kinds(
    surface: Surface, places: Sequence[Place], frame: Frame, sizes: Sequence[tuple[float, float]]
) -> tuple[HoleKind, ...]:
    """Look at the ground in holes of each of the ``sizes`` (along, across) [m] at each place."""
    local = frame.to_local(np.array([(place.x, place.y) for place in places]))
    kinds = []
    for size in sizes:
        close = {number for pair in overlapping(local, [size] * len(places)) for number in pair}
        ground = [
            None if number in close else _ground(surface, place, frame, size)
            for number, place in enumerate(places)
        ]
        kinds.append(HoleKind(size, tuple(ground)))
    return tuple(kinds)


def _ground(surface: Surface, place: Place, frame: Frame, size: tuple[float, float]) -> PierGround | None:
    plan = hole_outline(place, frame, size)
    try:
        return PierGround(place, plan, clip(surface, plan))
    except InputError:
        return None  # told by whoever needs a hole there and finds none
