"""Whether the holes of piers leave each other room, and which key of the job is to blame where not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradework.errors import Fault, Faults
from gradework.foundations.pier_places import overlapping

if TYPE_CHECKING:
    from gradework.foundations.pier_layout import Frame, Place
    from gradework.foundations.pier_spec import PierSpec
    from gradework.units import Display

_MEND = {
    "spacing": "give a wider spacing, or a smaller margin",
    "row_spacing": "give a wider row_spacing, or a smaller margin",
    "rows": "give fewer rows, or a smaller margin",
    "positions": "move one of them, or make the margin smaller",
}


def overlaps(places: Sequence[Place], frame: Frame, spec: PierSpec, show: Display) -> list[Fault]:
    """Tell of holes that overlap.

    Of piers given one by one every two are told, at the later of them. In rows one spacing is the cause of
    all that overlap along a row, and one of all between rows, so the first two of each kind are told.
    """
    local = frame.to_local(np.array([(place.x, place.y) for place in places]))
    numbers = overlapping(local, [spec.hole_size] * len(places))
    pairs = ((places[first], places[later]) for first, later in numbers)
    causes: list[tuple[Place, Place, tuple[str, ...]]]
    if spec.positions:
        causes = [(a, b, ("positions", b.name)) for a, b in pairs]
    else:
        between = "row_spacing" if spec.layout.rows is None else "rows"
        told: dict[str, tuple[Place, Place]] = {}
        for a, b in pairs:
            told.setdefault("spacing" if a.row == b.row else between, (a, b))
            if len(told) == 2:
                break
        causes = [(a, b, (key,)) for key, (a, b) in told.items()]
    along, across = (show.depth(side) for side in spec.hole_size)
    faults = Faults()
    for first, second, about in causes:
        faults.add(
            "piers-overlap",
            f"the holes of piers {first.name!r} and {second.name!r} overlap",
            f"middles at least {along} apart along the beams, or {across} across them",
            _MEND[about[0]],
            about=about,
        )
    return faults.all
