"""Where does the building of a job stand best? All places by the ground first, then the best few as a whole.

The search looks at the ground alone; what it finds is planned and put before the gate like any other job.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.siting.search import Search, Sited
from gradework.errors import Finding, finding
from gradework.foundations.checks.gate import winner_of
from gradework.foundations.pad.design import Pad
from gradework.foundations.pad.rules import PadChoice
from gradework.ground.surface import Surface, build_surface
from gradework.project.designed import option_of
from gradework.project.elsewhere import Stood, stand
from gradework.project.plan import surveyed
from gradework.project.siting import TURNS_BY, as_turned, job_at, least_of, search_of, steps_of, written
from gradework.project.stations.notes import noticed

if TYPE_CHECKING:
    from gradework.foundations.checks.gate import Judged
    from gradework.project.job.model import Job
    from gradework.project.job.site import What
    from gradework.survey.stations import Stations

Floats = NDArray[np.float64]
Tell = Callable[[str], None]

SHOWN = 4
"""The best place, and three that clearly differ from it."""

TRIED = 8
"""So many of the best places are planned in full until four are found that can be built."""

SHARED = 0.6
"""[-] Two places differ clearly where they have no more of their ground in common."""

NEARLY = 4.0
"""A place that is easy to set out is taken where it comes to no more than so many times what the search
leaves unlooked at; that is a centimetre of ground."""


@dataclass(frozen=True, eq=False)
class Spot:
    """One place of the building, and one foundation planned there.

    ``job`` puts it there; ``place`` (3,) is its middle [m] and turn [radians], ``corner`` (3,) its first
    corner [m] and turn [degrees]; ``value`` is what was searched for, NaN where the place is not allowed;
    ``barred`` names what bars it. ``stood`` is None where it leaves the survey, or was not ``planned`` since
    the search was stopped.
    """

    job: Job
    place: Floats
    corner: Floats
    value: float
    barred: str
    stood: Stood | None
    planned: bool = True

    @property
    def judged(self) -> Judged | None:
        """What the gate says of it."""
        return None if self.stood is None else self.stood.found.judged

    @property
    def buildable(self) -> bool:
        """Whether it can be built there as drawn, and stands where it may."""
        return not self.barred and self.judged is not None and self.judged.buildable

    @property
    def chosen(self) -> PadChoice | None:
        """What a pad takes there; None of another foundation."""
        own = None if self.stood is None else self.stood.planned
        return own.chosen if isinstance(own, Pad) else None

    def _taken(self, name: str) -> float | None:
        if self.stood is None:
            return None
        own = option_of(self.job, None, self.stood.under, self.stood.planned)
        return own.takes.get(name) if own.planned else None

    @property
    def gravel(self) -> float | None:
        """Gravel [m³, compacted]."""
        return self._taken("gravel") if self.chosen is None else self.chosen.gravel

    @property
    def excavation(self) -> float | None:
        """Digging [m³ in place], without what is dug beside it."""
        return self._taken("digging") if self.chosen is None else self.chosen.excavation

    @property
    def fall(self) -> float | None:
        """Highest less lowest ground under the building [m]."""
        return None if self.stood is None else self.stood.under.highest - self.stood.under.lowest

    @property
    def level(self) -> float | None:
        """Top of the foundation [m]."""
        return None if self.judged is None else self.judged.level

    def figure(self, kind: str, least: What) -> float:
        """What it comes to in the whole plan, where that holds what was asked for; else by the ground."""
        figure: float | None = self.value
        if least == "cost":
            figure = self.money
        elif kind == "pad" and least in ("gravel", "digging"):
            figure = self.gravel if least == "gravel" else self.excavation
        return math.inf if figure is None or math.isnan(figure) else figure

    @property
    def money(self) -> float:
        """What all of it costs, with made-up prices where the job has none; infinite where not known."""
        return math.inf if self.stood is None else self.stood.found.money


@dataclass(frozen=True, eq=False)
class Placing:
    """What came of looking for a better place.

    ``here`` is where the job puts it, ``spots`` are the best places by the whole plan, those that can be
    built first; ``sited`` is what the search knows, ``missed`` the most that an allowed place can be better
    than the best one found, in what was searched for: m³ of gravel or digging, m of fall or height, money.
    """

    job: Job
    stations: Stations
    surface: Surface
    kind: str
    least: What
    search: Search
    sited: Sited
    here: Spot
    spots: tuple[Spot, ...]
    missed: float
    stopped: bool
    findings: tuple[Finding, ...]

    @property
    def best(self) -> Spot | None:
        """The best place that can be built; None where there is none."""
        return next((spot for spot in self.spots if spot.buildable), None)


def place(
    job: Job,
    notes: bytes,
    places: bytes | None = None,
    breaklines: bytes | None = None,
    *,
    least: str | None = None,
    kind: str | None = None,
    tell: Tell = lambda _: None,
) -> Placing:
    """Look for the best place of the building of a job.

    ``least`` and ``kind`` (a foundation) stand in for what the job says; ``tell`` is handed what is being
    done. Ctrl-C ends the search, and what it has found by then is planned; once more, and nothing is planned
    any more. Raises ``InputError``.
    """
    job, stations = surveyed(job, notes, places, breaklines)
    with noticed(stations.findings):
        surface = build_surface(stations)
        kind = kind or _chosen(job, surface)
        wanted = least_of(job, least)
        search = search_of(job, surface, kind, wanted)
        sited, stopped = _searched(search, tell)
        corner, _ = written(job, search.here[None])
        here = _spot(job, search, surface, kind, search.here, corner[0])
        spots, again = _planned(job, search, surface, kind, wanted, tell, few=stopped)
    search.hold(np.array([search.here, *(spot.place for spot in spots)]))
    best = min((spot.value for spot in spots), default=math.nan)
    missed = max(best - sited.bound, 0.0) if spots else math.nan
    stopped = stopped or again
    told = tuple(_findings(job, search, sited, spots, stopped=stopped))
    return Placing(job, stations, surface, kind, wanted, search, sited, here, spots, missed, stopped, told)


def _chosen(job: Job, surface: Surface) -> str:
    """The foundation to place: the one to be built, else the cheapest that can be where it stands now."""
    if job.build or len(job.asked) == 1:
        return job.chosen
    judged = [stood.found.judged for kind in job.asked if (stood := stand(job, surface, kind)) is not None]
    best = winner_of(judged)
    return job.asked[0] if best is None else best.foundation


def _searched(search: Search, tell: Tell) -> tuple[Sited, bool]:
    """Run the search to its end, or to Ctrl-C."""
    sited = Sited(np.empty((0, 3)), np.empty(0), math.inf, 0, over=False)
    try:
        for sited in search.rounds():
            tell(f"looking at places: {sited.looked:,}")
    except KeyboardInterrupt:
        return sited, True
    return sited, False


def _planned(
    job: Job, search: Search, surface: Surface, kind: str, least: What, tell: Tell, *, few: bool
) -> tuple[tuple[Spot, ...], bool]:
    """Plan the best places in full, until four of them can be built; ``few``: the best alone. Says whether
    Ctrl-C came."""
    found: list[Spot] = []
    stopped = False
    try:
        apart = search.different(1 if few else TRIED, SHARED)
        for number, rough in enumerate(apart):
            if sum(spot.buildable for spot in found) >= SHOWN:
                break
            tell(f"planning place {number + 1} in full")
            place, corner = snapped(job, search, rough)
            found.append(_spot(job_at(job, corner), search, surface, kind, place, corner))
    except KeyboardInterrupt:
        stopped = True
        if not found:  # the best by the ground is told all the same
            place, corner = snapped(job, search, search.different(1, SHARED)[0])
            found.append(
                replace(_spot(job_at(job, corner), search, surface, None, place, corner), planned=False)
            )
    return _ranked(found, kind, least), stopped


def _spot(
    there: Job, search: Search, surface: Surface, kind: str | None, place: Floats, corner: Floats
) -> Spot:
    """Plan the foundation of a job that puts the building at a place; nothing without a ``kind``."""
    value, barred = float(search.values_of(place[None])[0]), search.allowed.barred_by(place)
    stood = None if kind is None else stand(there, surface, kind)
    return Spot(there, place, corner, value, barred, stood)


def _ranked(found: Sequence[Spot], kind: str, least: What) -> tuple[Spot, ...]:
    """Four of them, those that can be built first, by what they take; the best by the ground is among them,
    so that what stops it is told."""
    ranked = sorted(found, key=lambda spot: (not spot.buildable, spot.figure(kind, least)))
    shown = ranked[:SHOWN]
    if found and not any(spot is found[0] for spot in shown):
        shown[-1] = found[0]
    return tuple(shown)


# A place that is easy to set out: by whole steps from where it stands now.


def snapped(job: Job, search: Search, rough: Floats) -> tuple[Floats, Floats]:
    """Move a place to one that is written in round steps from here, as coarse as it loses next to nothing:
    its middle and turn (3,), its corner and turn [degrees] (3,)."""
    here, slack = search.here, search.slack * NEARLY
    [rough] = as_turned(rough[None], here)
    best = float(search.values_of(rough[None])[0])
    last: tuple[Floats, Floats] | None = None
    for step, degrees in zip(steps_of(job), TURNS_BY, strict=True):
        each = np.array([step, step, math.radians(degrees)])
        off = (rough - here) / each
        near = np.stack(np.meshgrid(*([np.floor(o), np.ceil(o)] for o in off), indexing="ij"), axis=-1)
        tried = here + np.unique(near.reshape(-1, 3), axis=0) * each
        if search.turns is not None:  # the turn is one of those allowed, whatever the step
            tried[:, 2] = rough[2]
        corners, places = written(job, tried)
        values = search.values_of(places)
        if np.isnan(values).all():
            continue
        number = int(np.nanargmin(values))
        last = places[number], corners[number]
        if values[number] <= best + slack:
            return last
    if last is not None:
        return last
    corners, places = written(job, rough[None])
    return places[0], corners[0]


def _findings(
    job: Job, search: Search, sited: Sited, spots: Sequence[Spot], *, stopped: bool
) -> Sequence[Finding]:
    told: list[Finding] = []
    if stopped:
        looked = f"{sited.looked:,}"
        told.append(finding("place-stopped", "warning", "the search", looked=looked))
    if not len(sited.values) and not stopped:
        size = " x ".join(job.show.length(side) for side in search.allowed.built)
        told.append(finding("place-nowhere", "stop", "the survey", size=size))
    elif any(spot.planned for spot in spots) and not any(spot.buildable for spot in spots):
        told.append(finding("place-none-builds", "stop", "the places", count=len(spots)))
    return told
