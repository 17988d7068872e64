"""The ground in each pier's own hole: highest, lowest, and what there is to dig, in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gradework.earthwork import Outline, Pieces, clip, cut_and_fill
from gradework.errors import CheckError, Fault, InputError
from gradework.foundations.pier_apart import overlaps
from gradework.foundations.pier_layout import Frame, Place, hole_outline

if TYPE_CHECKING:
    from gradework.foundations.pier_spec import PierSpec
    from gradework.ground import Surface
    from gradework.units import Display


@dataclass(frozen=True)
class PierGround:
    """One place, its hole and the ground in it; ``low`` and ``high`` [m]."""

    place: Place
    hole: Outline
    pieces: Pieces

    @property
    def low(self) -> float:
        """Give the lowest ground in the hole [m]."""
        return self.pieces.lowest

    @property
    def high(self) -> float:
        """Give the highest ground in the hole [m]."""
        return self.pieces.highest

    def dig_to(self, bottom: float) -> float:
        """Give what is dug, in place [m³], down to a level ``bottom`` [m] below all ground of the hole."""
        if bottom > self.low + 1e-9:
            raise CheckError(f"the bottom of pier {self.place.name} is above its lowest ground")
        return cut_and_fill(self.pieces, bottom)[0].cut


def ground_of_piers(
    surface: Surface, places: Sequence[Place], frame: Frame, spec: PierSpec, show: Display
) -> tuple[PierGround, ...]:
    """Look at the ground under each hole.

    Raises ``InputError`` with every hole that reaches outside the survey, and with holes that overlap.
    """
    found, outside = [], list[Fault]()
    for place in places:
        plan = hole_outline(place, frame, spec.hole_size)
        try:
            found.append(PierGround(place, plan, clip(surface, plan)))
        except InputError as error:
            about = ("positions", place.name) if spec.positions else ()
            outside.extend(
                replace(fault, found=f"the hole of pier {place.name}: {fault.found}", about=about)
                for fault in error.faults
            )
    faults = [*outside, *overlaps(places, frame, spec, show)]
    if faults:
        raise InputError(faults)
    return tuple(found)
