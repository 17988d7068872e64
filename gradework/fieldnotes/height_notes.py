"""Readings of the simple ways of levelling as they were written down: metres, nothing computed.

``line`` counts from 1; 0 means none. ``known``: the given elevation of the station, where it is a mark [m].
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Drop:
    """The drop from a string down to a station [m], how far along from its first end it hangs [m], and the
    name of the string where there are several."""

    station: str
    drop: float
    along: float | None = None
    line: int = 0
    string: str = ""
    known: float | None = None


@dataclass(frozen=True, slots=True)
class WaterPair:
    """The water of a water level above ``start`` and above ``end`` [m], read at the same time."""

    start: str
    first: float
    end: str
    second: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class Difference:
    """How much higher a station is than the mark [m], negative when lower."""

    station: str
    higher: float
    line: int = 0
    known: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One straightedge step to ``station``: level ``run`` [m], above 0; ``rise`` [m], minus for a fall."""

    station: str
    run: float
    rise: float
    line: int = 0
    known: float | None = None


@dataclass(frozen=True, slots=True)
class RodReading:
    """The rod reading at a station, up to one level plane [m]."""

    station: str
    reading: float
    line: int = 0
    known: float | None = None
