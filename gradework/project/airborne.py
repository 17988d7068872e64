"""Airborne ground around the yard: read, held against the shots, and used for water where it does.

Levels, piers, digging, order and falls from walls never hang on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.ground.water.airborne import FEWEST, Beside, beside_shots, beyond_survey
from gradework.project.job.read import pointing_into
from gradework.sitework.from_beyond import FromBeyond, beyond_findings, from_beyond
from gradework.survey.airborne.fitted import Tied
from gradework.survey.stations import number_of, numbered

if TYPE_CHECKING:
    from gradework.foundations.checks.gate import Judged
    from gradework.ground.surface import Surface
    from gradework.ground.water.beyond import Beyond
    from gradework.project.job.model import Job
    from gradework.project.options import Foundations
    from gradework.survey.airborne.read import Airborne
    from gradework.survey.placing.crs import GroundFrame
    from gradework.units.display import Display
    from gradework.units.lengths import Unit

STANDARD_ERROR = 0.1
"""[m] Of heights from the air on open ground: 10 cm is what laser scans of quality level 2 are held to (USGS
Lidar Base Specification, non-vegetated vertical accuracy; from memory). Under trees and brush it is worse."""

ROUGHEST = 3.0
"""[-] Beside the shots it may be off by so many standard errors: else it is no ground, in another unit, or
another place (judgement)."""

REACH = 60.96
"""[m] Ground is read so far beyond the survey, 200 ft: water from farther off has a ditch or a street to go
(judgement)."""


@dataclass(frozen=True, eq=False)
class AirborneGround:
    """What came of a file of airborne ground.

    ``file``; ``air``: its points and the unit of their heights; ``beside`` the shots; ``sd`` [m]: how far a
    height may be off; ``beyond``: the ground that is used, None where it does not fit the shots;
    ``measures``: what of it comes to what is dug, by the kind of the foundation.
    """

    file: str
    air: Airborne
    beside: Beside
    sd: float
    beyond: Beyond | None
    measures: Mapping[str, tuple[FromBeyond, ...]]

    @property
    def limit(self) -> float:
        """How rough it may be beside the shots [m]."""
        return ROUGHEST * self.sd

    def findings(self, kind: str, show: Display) -> Iterable[Finding]:
        """Say what it was read as, how it fits, and what comes to what is dug for one foundation."""
        beside, heights, where = self.beside, _UNITS[self.air.unit], visible(self.file)
        values: dict[str, Any] = {
            "file": where, "points": f"{self.air.read:,}", "unit": heights,
            "known": _KNOWN[self.air.known], "met": beside.met, "sd": show.depth(self.sd),
            "most": show.depth(self.limit), "rough": show.depth(beside.rough) if beside.met else "",
            "shift": show.elevation(abs(beside.shift)) if beside.met else "",
            "way": "up" if beside.shift > 0.0 else "down", "fewest": FEWEST,
        }  # fmt: skip
        if self.beyond is None:
            variant = "few" if beside.met < FEWEST else ""
            rough = beside.rough if beside.met else None
            yield finding("around-unused", "warning", where, rough, self.limit, variant=variant, **values)
            return
        if self.air.off is not None:
            values |= {"variant": "fitted", "off": show.distance(self.air.off)}
        yield finding("around-used", "note", where, beside.rough, self.limit, **values)
        yield from beyond_findings(self.measures.get(kind, ()), show)


_UNITS = {"m": "metres", "ft": "feet", "ftUS": "US survey feet"}
_KNOWN = {
    "said": "as the job says",
    "heights": "as the file says",
    "places": "as the file does not say, like its places; if not, write around_unit under [site]",
}


def airborne_ground(job: Job, surface: Surface, data: bytes) -> AirborneGround:
    """Read the ground around a yard, and hold it against the shots.

    Raises ``InputError``: a survey whose places are in no reference system, all that is wrong with the file.
    """
    from gradework.survey.airborne.read import read_airborne  # loads pyproj

    site, frame = job.site, surface.stations.frame
    assert site.around is not None
    with pointing_into(job, "site"):
        if frame is None and site.around_at is None:
            raise InputError([fault("around-no-system", about=("around",))])
        placed = cast("GroundFrame", frame) if site.around_at is None else _tied(site.around_at, surface)
        unit, window = cast("Unit | None", site.around_unit), (surface.hull_xy, REACH)
        air = read_airborne(data, site.around, placed, window, unit)
    sd = STANDARD_ERROR if site.around_sd is None else site.around_sd
    beside = beside_shots(surface, air.xyz)
    fits = beside.met >= FEWEST and beside.rough <= ROUGHEST * sd
    # as rough as it was found to be, where that is more
    beyond = beyond_survey(surface, air.xyz, beside.shift, max(sd, beside.rough)) if fits else None
    return AirborneGround(site.around, air, beside, sd, beyond, {})


def _tied(places: Mapping[str, tuple[float, float]], surface: Surface) -> Tied:
    """The stations whose places in the file are given. Raises ``InputError`` for an unknown one."""
    known = numbered(surface.stations.names)
    numbers = [number_of(name, known) for name in places]
    for name, number in zip(places, numbers, strict=True):
        if number is None:
            some = ", ".join(visible(one) for one in surface.stations.names[:6])
            told = fault("around-at", variant="unknown", about=("around_at",), name=visible(name), some=some)
            raise InputError([told])
    yard = surface.stations.xyz[[number for number in numbers if number is not None], :2]
    return Tied(tuple(places), np.array(list(places.values())).reshape(-1, 2), yard)


def with_airborne(
    ground: AirborneGround, found: Foundations, show: Display
) -> tuple[AirborneGround, Foundations]:
    """Follow what comes to all that is dug, and let the checks hold that the survey alone leaves open."""
    if ground.beyond is None:
        return ground, found
    beyond = ground.beyond
    measures = {kind: tuple(from_beyond(one.measures, beyond)) for kind, one in found.around.items()}
    judged = tuple(_settled(one, measures.get(one.foundation, ()), show) for one in found.judged)
    same = {id(old): new for old, new in zip(found.judged, judged, strict=True)}
    instead = None if found.instead is None else same.get(id(found.instead), found.instead)
    return replace(ground, measures=measures), replace(found, judged=judged, instead=instead)


def _settled(one: Judged, found: Iterable[FromBeyond], show: Display) -> Judged:
    by_place = {beyond.measure.where: beyond for beyond in found}
    checks = tuple(
        by_place[check.where].check(check, show)
        if check.check == "water carried" and check.holds is None and check.where in by_place
        else check
        for check in one.checks
    )
    return replace(one, checks=checks)
