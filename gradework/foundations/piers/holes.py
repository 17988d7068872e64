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

Size = tuple[float, float]


# Whether the holes of piers leave each other room, and which key of the job is to blame where not.


def overlaps(
    places: Sequence[Place], frame: Frame, sizes: Sequence[Size], spec: PierSpec, show: Display
) -> list[Fault]:
    """Tell of holes that overlap, each of its own size (along, across) [m].

    Of piers given one by one every two are told, at the later of them. In rows one spacing is the cause of
    all that overlap along a row, and one of all between rows, so the first two of each kind are told.
    """
    local = frame.to_local(np.array([(place.x, place.y) for place in places]))
    size = {place.name: own for place, own in zip(places, sizes, strict=True)}
    pairs = ((places[first], places[later]) for first, later in overlapping(local, sizes))
    causes: list[tuple[Place, Place, str, tuple[str, ...]]]
    if spec.positions:
        causes = [(a, b, "positions", ("positions", b.name)) for a, b in pairs]
    else:
        within, between = _causes(spec)
        told: dict[tuple[str, str], tuple[Place, Place]] = {}
        for one, other in pairs:
            told.setdefault(within if one.row == other.row else between, (one, other))
            if len(told) == 2:
                break
        causes = [(*both, cause, (key,) if key else ()) for (cause, key), both in told.items()]
    faults = Faults()
    for first, second, cause, about in causes:
        along, across = (show.depth(side) for side in size[second.name])
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


def _causes(spec: PierSpec) -> tuple[tuple[str, str], tuple[str, str]]:
    """Give what sets piers too close along a row and between rows: variant of the fault, and key of [piers].

    A spacing that is not given follows from the wood, so a wider one would only stop the plan elsewhere.
    """
    layout = spec.layout
    along = ("skids", "") if layout.spacing is None else ("spacing", "spacing")
    if layout.rows is not None:
        return along, ("rows", "rows")
    return along, ("joists", "") if layout.row_spacing is None else ("between", "row_spacing")


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


def refuse_overlaps(
    places: Sequence[Place], frame: Frame, sizes: Sequence[Size], spec: PierSpec, show: Display
) -> None:
    """Raise ``InputError`` with holes that overlap, each of its own size (along, across) [m]."""
    faults = overlaps(places, frame, sizes, spec, show)
    if faults:
        raise InputError(faults)


def refuse_holes(
    surface: Surface,
    places: Sequence[Place],
    frame: Frame,
    sizes: Sequence[Size],
    spec: PierSpec,
    show: Display,
) -> NoReturn:
    """Raise ``InputError`` with every hole that reaches outside the survey, and with holes that overlap.

    ``sizes`` (along, across) [m] are those of the smallest hole that each pier may have.
    """
    faults = overlaps(places, frame, sizes, spec, show)
    for place, size in zip(places, sizes, strict=True):
        try:
            clip(surface, hole_outline(place, frame, size))
        except InputError as error:
            about = ("positions", place.name) if spec.positions else ()
            faults += [replace(fault, about=about) for fault in error.faults]
    if faults:
        raise InputError(faults)
    raise CheckError("a pier has no hole, and nothing says why")


Floats = NDArray[np.float64]


@dataclass(frozen=True)
class HoleKind:
    """Holes of one ``size`` (along, across) [m]: the ground in that of each pier.

    None where it reaches outside the survey; whether it leaves its neighbours room is ``room.py``'s to say.
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


def hole_kind(surface: Surface, places: Sequence[Place], frame: Frame, size: tuple[float, float]) -> HoleKind:
    """Look at the ground in holes of one ``size`` (along, across) [m] at each place."""
    return HoleKind(size, tuple(_ground(surface, place, frame, size) for place in places))


def _ground(surface: Surface, place: Place, frame: Frame, size: tuple[float, float]) -> PierGround | None:
    plan = hole_outline(place, frame, size)
    try:
        return PierGround(place, plan, clip(surface, plan))
    except InputError:
        return None  # told by whoever needs a hole there and finds none
