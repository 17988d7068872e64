"""The ground in each pier's own hole: highest, lowest, and what there is to dig, in closed form."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork import Outline, Pieces, clip, cut_and_fill
from gradework.errors import CheckError, Fault, Faults, InputError
from gradework.foundations.pier_layout import Frame, Place, hole_outline

if TYPE_CHECKING:
    from gradework.ground import Surface


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
    surface: Surface, places: Sequence[Place], frame: Frame, hole: tuple[float, float]
) -> tuple[PierGround, ...]:
    """Look at the ground under each hole of plan ``hole`` (along, across) [m].

    Raises ``InputError`` with every hole that reaches outside the survey, and every two holes that overlap.
    """
    faults = Faults()
    found, outside = [], list[Fault]()
    for place in places:
        plan = hole_outline(place, frame, hole)
        try:
            found.append(PierGround(place, plan, clip(surface, plan)))
        except InputError as error:
            outside.extend(_named(fault, place) for fault in error.faults)
    local = frame.to_local(np.array([(p.x, p.y) for p in places]))
    order = np.argsort(local[:, 0], kind="stable")
    for index, first in enumerate(order):
        for second in order[index + 1 :]:
            apart = np.abs(local[second] - local[first])
            if apart[0] >= hole[0] - 1e-9:
                break
            if apart[1] < hole[1] - 1e-9:
                names = f"{places[first].name!r} and {places[second].name!r}"
                faults.add(
                    "piers-overlap", f"the holes of piers {names}", "apart", "move one, or a smaller margin"
                )
    if outside or faults.all:
        raise InputError([*outside, *faults.all])
    return tuple(found)


def _named(fault: Fault, place: Place) -> Fault:
    return Fault(
        fault.code,
        f"the hole of pier {place.name}: {fault.found}",
        fault.expected,
        fault.mend,
        fault.file,
        fault.line,
        fault.column,
    )
