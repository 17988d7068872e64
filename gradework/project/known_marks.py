"""The known marks of a job with their places: those that are given, then those that were taped from them."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, cast

from gradework.errors import Fault, Finding, InputError, visible
from gradework.project.mark_table import TiedMark, taped
from gradework.project.tied_place import tied_place

if TYPE_CHECKING:
    from collections.abc import Mapping

    from gradework.fieldnotes.place_notes import Side
    from gradework.project.job import Job

    Point = tuple[float, float]


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
                placed[name], told = tied_place(name, mark.ties, placed, side, job.show, seen=seen)
            except InputError as problem:
                raise job.located(problem, (home[name], "marks", name)) from None
            findings += told
    return KnownMarks({name: placed[name] for name in named}, tuple(findings))


def _circle(job: Job, waiting: Mapping[str, TiedMark], home: Mapping[str, str]) -> list[InputError]:
    """A fault for each mark that waits for another that waits for it, each at its line."""
    found = []
    for name, mark in waiting.items():
        others = ", ".join(visible(other) for other in mark.ties if other in waiting)
        fault = Fault(
            "mark-ties-circle",
            f"{visible(name)} is tied from {others}, which in turn waits for it",
            "marks that lead back to given places",
            "give one of these marks its place as [x, y], or tie it from marks that have one",
        )
        found.append(job.located(InputError([fault]), (home[name], "marks", name)))
    return found
