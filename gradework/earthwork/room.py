"""Working room beside a dig and its laid-back face: what is dug outside the outline to build at its edge.

The floor of the dig runs on level for the width of the room w, all round; from there the face rises to the
ground, m out for each 1 up. Both are cut from the real ground: the room as the ground under the outline grown
by w less that under the outline, the face as a side slope up from there. Over even ground of depth d this is
w d + m d²/2 for each metre of side, and w² d + w m d² + m² d³/3 more at each square corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.batter import BatterGround, batter_ground
from gradework.earthwork.clip import Pieces, clip
from gradework.earthwork.footprint import Side, sides
from gradework.earthwork.rings import half_turns
from gradework.earthwork.volumes import cut_and_fill
from gradework.errors import InputError

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class RoomGround:
    """The ground beside a dig, ready to be asked for any level of its floor.

    inner, wide : ground under the outline, and under the outline with the room; ``wide`` is None where the
    survey ends within the room or the room closes a notch.  face : the ground beyond, for the face laid back.
    edge : sides of the outline where there is no ``wide``, of the one with the room where the outline turns
    inward; then room and face are reckoned by the closed form along the ground of the sides.  turns : the
    tangent of half the turn at the first corner of each side (1 at a square one).  room, slope : w [m] and
    m [-].
    """

    inner: Pieces
    wide: Pieces | None
    face: BatterGround | None
    edge: tuple[Side, ...]
    turns: Floats
    room: float
    slope: float

    @property
    def exact(self) -> bool:
        """Whether all of it is cut from the real ground; else the face follows the ground of the sides."""
        return self.wide is not None and (self.face is not None or self.slope == 0.0)

    def volumes(self, floors: Floats) -> Floats:
        """What is dug outside the outline [m³ in place] with the floor at each level (m,) [m]."""
        if self.wide is None:
            return self._along(floors, self.room)
        strip = self.strip(floors)
        if self.slope == 0.0:
            return strip
        return strip + (self._along(floors, 0.0) if self.face is None else self.face.dug(floors))

    def strip(self, floors: Floats) -> Floats:
        """What is dug in the working room alone [m³], without the face beyond it."""
        if self.wide is None:
            return self._along(floors, self.room, faced=False)
        pairs = zip(cut_and_fill(self.wide, floors), cut_and_fill(self.inner, floors), strict=True)
        return np.array([max(0.0, wide.cut - inner.cut) for wide, inner in pairs])

    def ends(self, floor: float) -> bool:
        """Whether the survey ends before the face has met the ground, so that more is dug than told."""
        if self.wide is None:
            return bool(self.volumes(np.array([floor]))[0] > 0.0)
        return self.face is not None and bool(self.face.digging.passes.leaving(-floor))

    def _along(self, floors: Floats, room: float, *, faced: bool = True) -> Floats:
        """The closed form along the ground of the sides, straight between its points."""
        slope = self.slope if faced else 0.0
        dug = np.zeros(len(floors))
        for side in self.edge:
            deep = side.ground[None, :] - floors[:, None]
            one, two = np.maximum(deep[:, :-1], deep[:, 1:]), np.minimum(deep[:, :-1], deep[:, 1:])
            # only the part of each stretch that lies above the floor
            share = np.where(two < 0.0, one / np.where(one > two, one - two, 1.0), 1.0)
            share, high, low = np.clip(share, 0.0, 1.0), np.maximum(one, 0.0), np.maximum(two, 0.0)
            length = share * np.diff(side.along)
            mean, square = 0.5 * (high + low), (high * high + high * low + low * low) / 3.0
            dug += (length * (room * mean + 0.5 * slope * square)).sum(axis=1)
        deep = np.maximum(np.array([side.ground[0] for side in self.edge])[None, :] - floors[:, None], 0.0)
        corner = room**2 * deep + room * slope * deep**2 + slope**2 * deep**3 / 3.0
        return np.maximum(0.0, dug + corner @ self.turns)


def room_ground(surface: Surface, outline: Outline, *, room: float, slope: float) -> RoomGround:
    """The ground beside a dig under ``outline``; ``room`` w [m] and ``slope`` m [-], both zero or more."""
    inner = clip(surface, outline)
    turns = np.concatenate([half_turns(ring) for ring in outline.rings])
    try:
        grown = outline.grown(room)
        wide = clip(surface, grown)
    except InputError:
        return RoomGround(inner, None, None, sides(outline, inner), turns, room, slope)
    if slope == 0.0:
        return RoomGround(inner, wide, None, (), turns, room, slope)
    if grown.is_convex:
        return RoomGround(inner, wide, batter_ground(surface, grown, slope), (), turns, room, slope)
    turns = np.concatenate([half_turns(ring) for ring in grown.rings])  # a hole may have closed
    return RoomGround(inner, wide, None, sides(grown, wide), turns, room, slope)
