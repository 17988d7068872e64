"""Where things stand, as it was measured with a tape: ties, offsets, rays. Metres and degrees, nothing
computed.

``line`` counts from 1; 0 means none. ``rise`` is the height between the two ends of a distance taped on the
slope [m], with or without a sign; None where the tape was held level.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Tie:
    """The distance from a known mark to a station [m].

    ``side``: on which hand the station lies for someone who stands at the station's first mark and looks to
    its second; None where it was not said.
    """

    station: str
    mark: str
    distance: float
    rise: float | None = None
    side: Side | None = None
    line: int = 0


@dataclass(frozen=True, slots=True)
class Offset:
    """Distance ``along`` a baseline from its start [m], and square off it [m]: left positive, right
    negative."""

    station: str
    along: float
    offset: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class Ray:
    """An angle from the zero direction [degrees] and a distance [m] from one place."""

    station: str
    angle: float
    distance: float
    rise: float | None = None
    line: int = 0
