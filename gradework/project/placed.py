"""Where the known marks and the building of a job stand: as given, or taped from marks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple, cast

import numpy as np

from gradework.earthwork.nearby import WALLS, Neighbour, polygon_of
from gradework.earthwork.outline import Outline
from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.fieldnotes.places import Tie
from gradework.project.job.values import taped
from gradework.survey.placing.ties import tie_places

if TYPE_CHECKING:
    from gradework.fieldnotes.places import Side
    from gradework.project.job.model import Job
    from gradework.project.job.site import NearTable
    from gradework.project.job.survey import TiedTable
    from gradework.project.job.values import Point, TiedMark
    from gradework.units.display import Display


class KnownMarks(NamedTuple):
    """``places``: (x, y) [m] by name, in the order they are named, ``[setout]`` first; ``findings`` about
    the taped ones."""

    places: Mapping[str, Point]
    findings: tuple[Finding, ...]


def known_marks(job: Job) -> KnownMarks:
    """Find the places of all marks of ``[survey]`` and ``[setout]``; a name in both counts as in the survey.

    A taped mark may be tied from any other, also from one that is taped itself. Its side is its own, seen
    from the first of its marks to the second, or that of ``[survey]``, seen from the first mark with a given
    place to the second. Raises ``InputError`` that points into the job: ties that fix no place, an unknown
    mark, marks that are tied in a circle.
    """
    tables = {"setout": job.setout.marks or {}, "survey": job.survey.marks or {}}
    named = {**tables["setout"], **tables["survey"]}
    home = {name: table for table, marks in tables.items() for name in marks}
    waiting = taped(named)
    placed: dict[str, Point] = {name: place for name, place in named.items() if name not in waiting}
    given = list(placed)
    findings: list[Finding] = []
    while waiting:
        ready = [name for name, mark in waiting.items() if not waiting.keys() & mark.ties.keys()]
        if not ready:
            raise InputError(fault for problem in _circle(job, waiting, home) for fault in problem.faults)
        for name in ready:
            mark = waiting.pop(name)
            side = mark.side or cast("Side | None", job.survey.side)
            seen = list(mark.ties) if mark.side else given
            try:
                placed[name], told = _tied_place(name, mark.ties, placed, side, job.show, seen)
            except InputError as problem:
                raise job.located(problem, (home[name], "marks", name)) from None
            findings += told
    return KnownMarks({name: placed[name] for name in named}, tuple(findings))


def _circle(job: Job, waiting: Mapping[str, TiedMark], home: Mapping[str, str]) -> list[InputError]:
    """A fault for each mark that waits for another that waits for it, each at its line."""
    found = []
    for name, mark in waiting.items():
        others = ", ".join(visible(other) for other in mark.ties if other in waiting)
        told = fault("mark-ties-circle", mark=visible(name), others=others)
        found.append(job.located(InputError([told]), (home[name], "marks", name)))
    return found


def _tied_place(
    name: str,
    ties: Mapping[str, float],
    marks: Mapping[str, Point],
    side: Side | None,
    show: Display,
    seen: Sequence[str],
) -> tuple[Point, tuple[Finding, ...]]:
    """Find the place called ``name`` from its distances [m] to known marks, and what its ties say of it.

    ``side``: on which hand it lies, from the first of the marks ``seen`` to the second.
    """
    rows = [Tie(name, mark, distance) for mark, distance in ties.items()]
    found = tie_places(rows, marks, side=side, seen=seen, show=show)
    x, y = found.xy[0].tolist()
    return (x, y), found.findings


def survey_marks(job: Job) -> dict[str, Point]:
    """Give the marks that the survey names, in its order."""
    if not job.survey.marks:
        return {}
    places = known_marks(job).places
    return {name: places[name] for name in job.survey.marks}


def tied_to(job: Job) -> tuple[str, ...]:
    """The marks that the stations are taped from; none where their places are known otherwise."""
    table = job.survey
    by_tape = table.placing == "ties" or (table.placing is None and table.places and not table.baseline)
    return tuple(table.marks or ()) if by_tape and table.seat is None and table.crs is None else ()


def taped_from(job: Job) -> dict[str, Point]:
    """Give the marks that the stations of this job are taped from, with their places."""
    names = tied_to(job)
    return {name: place for name, place in survey_marks(job).items() if name in names}


MOST_APART = 0.05
"""The taped places of two corners may be so much nearer or farther than the building is long [m]: 2 in."""


def placed_building(job: Job) -> tuple[Outline, tuple[Finding, ...]]:
    """Give the outline of the building where it stands, and what the ties say that it and the marks were
    taped by.

    Raises ``InputError`` that points into the job.
    """
    building, marks = job.building, known_marks(job)
    told = marks.findings
    try:
        if building.outline is not None:
            return Outline.polygon([building.outline, *building.holes], show=job.show), told
        assert building.size is not None
        corner, turn = building.corner, building.turn
        if corner is None:
            corner, turn, more = _tied_corner(building, building.size[0], marks.places, turn, job.show)
            told = (*told, *more)
        return Outline.rectangle(corner, building.size, turn, show=job.show), told
    except InputError as problem:
        raise job.located(problem, ("building",)) from None


def _tied_corner(
    table: TiedTable, along: float, marks: Mapping[str, Point], turn: float, show: Display
) -> tuple[Point, float, tuple[Finding, ...]]:
    """Find the first corner of a building ``along`` [m] from its ties, its turn where both were taped, and
    what the ties say of them.

    Raises ``InputError``: ties that do not meet, marks that are not known, two corners that are not as far
    apart as the building is long.
    """
    assert table.ties is not None
    side = cast("Side | None", table.side)
    seen = list(table.ties)
    first, told = _tied_place("first corner", table.ties, marks, side, show, seen)
    if table.second_ties is None:
        return first, turn, told
    second, more = _tied_place("second corner", table.second_ties, marks, side, show, seen)
    apart = math.dist(first, second)
    if abs(apart - along) > MOST_APART:
        raise InputError([fault("corners-apart", apart=show.length(apart), length=show.length(along))])
    turn = math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))
    return first, turn, (*told, *more)


# What it leans on: one that touches a house is not freestanding.

LEANS = 0.05
"""[m] A building this near to a house or garage leans on it: nobody gets between, and one moves the other."""


def leans_on(job: Job) -> tuple[str, ...]:
    """Name the houses and garages near that the building touches; none where the job says that it is not
    attached."""
    walls = [one for one in job.site.near if one.kind in WALLS]
    if not walls or job.building.attached is False:
        return ()
    house = polygon_of(placed_building(job)[0])
    return tuple(one.name for one in walls if neighbour_of(one).shape.distance(house) <= LEANS)


def neighbour_of(table: NearTable, *, leaned: bool = False) -> Neighbour:
    """Give one thing near as the job tells it; ``leaned``: the building leans on it."""
    places = np.array(table.outline or table.line or ())
    return Neighbour(table.name, table.kind, places, table.outline is not None, table.setback, leaned)


def leaning_findings(job: Job) -> tuple[Finding, ...]:
    """Tell of each house that the building touches, where the job does not say that it leans on it."""
    if job.building.attached is not None:
        return ()
    names = (visible(name) for name in leans_on(job))
    return tuple(finding("building-leans", "warning", name, name=name) for name in names)
