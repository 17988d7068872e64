"""Every hole that each pier might have, one for each plan its stacks may ask for, and the ground in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NoReturn

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.errors import CheckError, Fault, Faults, InputError
from gradework.foundations.piers.layout import Frame, Place, hole_outline
from gradework.foundations.piers.neighbours import overlapping

if TYPE_CHECKING:
    from gradework.foundations.piers.spec import PierSpec
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


# Whether the holes of piers leave each other room, and which key of the job is to blame where not.


def overlaps(places: Sequence[Place], frame: Frame, spec: PierSpec, show: Display) -> list[Fault]:
    """Tell of holes that overlap.

    Of piers given one by one every two are told, at the later of them. In rows one spacing is the cause of
    all that overlap along a row, and one of all between rows, so the first two of each kind are told.
    """
    local = frame.to_local(np.array([(place.x, place.y) for place in places]))
    numbers = overlapping(local, [spec.hole_size] * len(places))
    pairs = ((places[first], places[later]) for first, later in numbers)
    causes: list[tuple[Place, Place, str, tuple[str, ...]]]
    if spec.positions:
        causes = [(a, b, "positions", ("positions", b.name)) for a, b in pairs]
    else:
        between = ("between", "row_spacing") if spec.layout.rows is None else ("rows", "rows")
        told: dict[tuple[str, str], tuple[Place, Place]] = {}
        for a, b in pairs:
            told.setdefault(("spacing", "spacing") if a.row == b.row else between, (a, b))
            if len(told) == 2:
                break
        causes = [(a, b, cause, (key,)) for (cause, key), (a, b) in told.items()]
    along, across = (show.depth(side) for side in spec.hole_size)
    faults = Faults()
    for first, second, cause, about in causes:
        faults.note(
            "piers-overlap",
            variant=cause,
            about=about,
            one=repr(first.name),
            other=repr(second.name),
            along=along,
            across=across,
        )
    return faults.all


# The ground in each pier's own hole: highest, lowest, and what there is to dig, in closed form.


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


def refuse_holes(
    surface: Surface, places: Sequence[Place], frame: Frame, spec: PierSpec, show: Display
) -> NoReturn:
    """Raise ``InputError`` with every hole that reaches outside the survey, and with holes that overlap."""
    faults = overlaps(places, frame, spec, show)
    for place in places:
        try:
            clip(surface, hole_outline(place, frame, spec.hole_size))
        except InputError as error:
            about = ("positions", place.name) if spec.positions else ()
            faults += [replace(fault, about=about) for fault in error.faults]
    if faults:
        raise InputError(faults)
    raise CheckError("a pier has no hole, and nothing says why")


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
        """Give the digging down to those bottoms (n,) [m³ in place]; NaN for none.

        All ground of a hole is above its bottom, so the mean depth tells it; ``PierGround.dig_to`` computes
        it the other way for the hole that is chosen.
        """
        pieces = [None if g is None else g.pieces for g in self.ground]
        return np.array([p.area * (p.mean - p.lowest + depth) if p else np.nan for p in pieces])


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
