"""The profile of a yard along any line: the ground as surveyed, and as it is once all is built.

Both are read off their surfaces exactly, since between the edges of the triangles they are straight.
Distances run from the start of the line [m].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gradework.errors import Faults, InputError, fault, finding, visible
from gradework.ground.breaklines import ON_LINE
from gradework.ground.profile import APART, cut_along, heights_beside, inside
from gradework.survey.stations import name_key
from gradework.units.lengths import parse_length
from gradework.units.numbers import LengthError

if TYPE_CHECKING:
    from gradework.errors import Finding
    from gradework.ground.surface import Surface
    from gradework.project.plan import Plan
    from gradework.survey.stations import Stations
    from gradework.units.display import Display
    from gradework.units.lengths import Unit

Floats = NDArray[np.float64]

SHORTEST = 0.01
"""[m] A line this short has no direction."""

STEP = 1e-4
"""[m] Heights on both sides of a place that differ by more are a step."""

MOST_ROWS = 5000
"""So many rows at even distances are given at the most."""


class End(NamedTuple):
    """An end of a line: the station there, "" of any other place, and the place [m], site."""

    station: str
    x: float
    y: float


class Row(NamedTuple):
    """One place of a line: distance from its start, the place, and the ground there [m]; None where there is
    none. A step gives two rows, before and after it."""

    at: float
    x: float
    y: float
    ground: float | None
    finished: float | None


class Passed(NamedTuple):
    """A station on the line: its name, distance from the start and elevation [m]."""

    name: str
    at: float
    elevation: float


@dataclass(frozen=True, eq=False)
class Profile:
    """The ground along a line from ``first`` to ``last``.

    ground, finished : stretches (k, 2, 2) of distance and elevation [m]; finished is None where nothing is
    planned, else that of ``foundation``.  stations : those the line passes.  walls : from where to where it
    is under the building.
    """

    first: End
    last: End
    ground: Floats
    finished: Floats | None
    foundation: str | None
    stations: tuple[Passed, ...]
    walls: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]

    @property
    def length(self) -> float:
        """Length of the line [m]."""
        return float(np.hypot(self.last.x - self.first.x, self.last.y - self.first.y))

    def bends(self) -> Floats:
        """Every distance (n,) [m] at which ground or finished ground bends, ends or steps, and both ends."""
        lines = [self.ground] if self.finished is None else [self.ground, self.finished]
        at = np.unique(np.concatenate(([0.0, self.length], *(one[:, :, 0].ravel() for one in lines))))
        kept: Floats = at[np.concatenate(([True], np.diff(at) > APART))]
        return kept

    def rows(self, at: Floats) -> list[Row]:
        """The ground at distances (n,) [m], in their order; two rows where it steps."""
        start = np.array([self.first.x, self.first.y])
        way = (np.array([self.last.x, self.last.y]) - start) / self.length
        sides = [heights_beside(self.ground, at)]
        sides.append(
            (sides[0][0] * np.nan,) * 2 if self.finished is None else heights_beside(self.finished, at)
        )
        rows: list[Row] = []
        for n, distance in enumerate(at.tolist()):
            x, y = (start + distance * way).tolist()
            both = [[before[n], after[n]] for before, after in sides]
            for one in both:  # at an end only one side is known
                one[:] = [one[k] if np.isfinite(one[k]) else one[1 - k] for k in (0, 1)]
            steps = any(abs(before - after) > STEP for before, after in both)
            for side in (0, 1) if steps else (0,):
                known = [float(one[side]) if np.isfinite(one[side]) else None for one in both]
                rows.append(Row(distance, x, y, known[0], known[1]))
        return rows


def read_end(text: str, stations: Stations, unit: Unit | None, show: Display, option: str) -> End:
    """Read an end of a line: the name of a station, or x,y in ``unit``.

    Raises ``InputError`` that names the ``option``.
    """
    number: dict[str, int] = {name_key(name): k for k, name in reversed(list(enumerate(stations.names)))}
    found = number.get(name_key(text))
    if found is not None:
        x, y = stations.xyz[found, :2].tolist()
        return End(stations.names[found], x, y)
    parts = text.split(",")
    if len(parts) == 2:
        try:
            x, y = (parse_length(part, unit) for part in parts)
            return End("", x, y)
        except LengthError:
            pass
    example = ",".join(show.job_number(one) for one in stations.xyz[0, :2].tolist())
    name = visible(stations.names[0])
    wrong = fault("section-end-unknown", text=visible(text), station=name, place=example)
    raise InputError([replace(wrong, file=option)])


def profile_on(
    surface: Surface, first: End, last: End, show: Display, *, plan: Plan | None = None
) -> Profile:
    """Follow a line over the surveyed ground, and the finished ground of a plan.

    Raises ``InputError`` where the line has no length or meets no surveyed ground.
    """
    start, end = np.array(first[1:]), np.array(last[1:])
    length = float(np.hypot(*(end - start)))
    if length < SHORTEST:
        Faults("--to").halt("section-no-length", place=show.place(*end.tolist()))
    way = (end - start) / length
    ground = cut_along(surface, start, way, 0.0, length)
    if not len(ground):
        Faults("--from").halt(
            "section-off-survey", start=show.place(*start.tolist()), end=show.place(*end.tolist())
        )
    return Profile(
        first,
        last,
        ground,
        None if plan is None else cut_along(plan.finished, start, way, 0.0, length),
        None if plan is None else plan.foundations.chosen,
        tuple(_passed(surface.stations, start, way, length)),
        () if plan is None else tuple(_within(inside(plan.building.rings, start, way), length)),
        tuple(_missing(ground, length, show)),
    )


def _passed(stations: Stations, start: Floats, way: Floats, length: float) -> list[Passed]:
    """The stations within 3 mm of the line, in its order."""
    arm = stations.xyz[:, :2] - start
    at, off = arm @ way, np.abs(arm[:, 0] * way[1] - arm[:, 1] * way[0])
    on = (off <= ON_LINE) & (at >= -ON_LINE) & (at <= length + ON_LINE)
    found = [
        Passed(name, float(np.clip(u, 0.0, length)), z)
        for name, u, z, passed in zip(
            stations.names, at.tolist(), stations.xyz[:, 2].tolist(), on.tolist(), strict=True
        )
        if passed
    ]
    return sorted(found, key=lambda one: one.at)


def _within(spans: Sequence[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    cut = [(max(first, 0.0), min(last, length)) for first, last in spans]
    return [(first, last) for first, last in cut if last > first]


def _missing(ground: Floats, length: float, show: Display) -> list[Finding]:
    """Say how much of the line has no surveyed ground."""
    known = float((ground[:, 1, 0] - ground[:, 0, 0]).sum())
    if length - known <= SHORTEST:
        return []
    return [
        finding(
            "section-part-unknown", "note", "the line", length - known, 0.0,
            missing=show.taped(length - known), length=show.taped(length),
            first=show.taped(float(ground[0, 0, 0])), last=show.taped(float(ground[-1, 1, 0])),
        )
    ]  # fmt: skip
