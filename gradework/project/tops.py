"""What was read of what is built, by name, and what ties those readings to the levels of the plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, finding, visible
from gradework.fieldnotes.headers import ELEVATION, NOTE, STATION
from gradework.fieldnotes.names import names_in, remarks_in
from gradework.fieldnotes.table import read_table
from gradework.project.benchmarks import known_levels
from gradework.project.stations.forms import SurveyForm
from gradework.project.stations.join import read_yard
from gradework.project.stations.method import method_of
from gradework.survey.stations import name_key

if TYPE_CHECKING:
    from gradework.project.plan import Plan

MARK_AGREES = 0.010
"""A mark among elevations may be this far from its own elevation [m]: 0.03 ft, more than three readings with
a builder's level are off together (common practice, no source)."""


@dataclass(frozen=True)
class Tops:
    """Levels by name [m], as read; ``tied`` to the datum of the plan or not; what the reduction noticed.

    ``lines``: the line of the readings that each name stands in. ``notes``: what was written beside it.
    """

    levels: Mapping[str, float]
    tied: bool
    findings: tuple[Finding, ...]
    lines: Mapping[str, int]
    notes: Mapping[str, str]


def read_tops(plan: Plan, readings: bytes, file: str, form: SurveyForm) -> Tops:
    """Read notes of any way of levelling, or elevations by name; marks of known elevation are left out.

    Known are those of ``form`` and every benchmark of the plan that the column of stations names. Where it
    names none of them, the station of the survey that the readings begin on. Raises ``InputError``.
    """
    method = form.readings.method or method_of(readings, file)
    if method == "spots":
        return _elevations(plan, readings, file)
    known = _known(plan, names_in(readings, file), form)
    if method == "water-level" and not known:
        # heights above a mark may leave out the mark itself: the one that was said, else the first
        marks = {mark.name: mark.elevation for mark in plan.benchmarks}
        name = form.readings.benchmark or next(iter(marks), "")
        known = {name: marks[name]} if name in marks else {}
    known |= form.readings.known
    given = replace(form.readings, known=known)
    yard = read_yard(
        readings, file, replace(form, readings=given), unit=plan.job.unit, show=plan.job.show.form
    )
    heights = yard.reduced.heights
    marks_read = {name_key(name) for name in (*known, *yard.reduced.marks)}
    built = pier_names(plan)
    # a turning point may stand on a pier: its name still counts as a top
    levels = {
        name: float(level)
        for name, level in zip(heights.names, heights.elevation, strict=True)
        if name_key(name) not in marks_read or plain_name(name) in built
    }
    tied = not any(told.code == "benchmark-assumed" for told in yard.findings)
    lines = dict(zip(heights.names, heights.lines, strict=True))
    return Tops(levels, tied, yard.findings, lines, remarks_in(readings, file))


def _known(plan: Plan, names: tuple[str, ...], form: SurveyForm) -> dict[str, float]:
    """Give the known elevations of what is named, under the names as they stand in the readings [m]."""
    own = {name_key(mark.name): mark.elevation for mark in plan.benchmarks}
    known = {name: own[name_key(name)] for name in names if name_key(name) in own}
    if known or not names or form.readings.known:
        return known
    # ground that was dug since is no mark, so of the shots only the one that the readings begin on counts
    levels = {name_key(name): z for name, z in known_levels((), plan.stations).items()}
    first = names[0]
    return {first: levels[name_key(first)]} if name_key(first) in levels else {}


def pier_names(plan: Plan) -> frozenset[str]:
    """Give the plain names of the piers of the plan."""
    piers = plan.foundations.piers
    return frozenset() if piers is None else frozenset(plain_name(pier.name) for pier in piers.piers)


def plain_name(name: str) -> str:
    """Give a name without capitals and the word "pier".

    >>> plain_name(" Pier 1-2"), plain_name("1-2")
    ('1-2', '1-2')
    """
    return name_key(name).removeprefix("pier").strip()


def _elevations(plan: Plan, readings: bytes, file: str) -> Tops:
    """Elevations by name; the marks among them say whether they are on the datum of the plan."""
    fields = (STATION, ELEVATION, NOTE)
    table = read_table(
        readings, file, fields=fields, needed=(STATION.name, ELEVATION.name), unit=plan.job.unit
    )
    rows = [(table.text(row, STATION.name), table.needed_length(row, ELEVATION.name)) for row in table.rows]
    table.faults.raise_if_any()
    levels = {name: float(level) for name, level in rows if level is not None}
    lines = {table.text(row, STATION.name): row.line for row in table.rows}
    notes = {table.text(row, STATION.name): table.text(row, NOTE.name) for row in table.rows}
    marks = {name_key(mark.name): mark.elevation for mark in plan.benchmarks}
    read = [name for name in levels if name_key(name) in marks and plain_name(name) not in pier_names(plan)]
    found = tuple(
        _mark_off(name, levels[name], marks[name_key(name)], plan)
        for name in read
        if abs(levels[name] - marks[name_key(name)]) > MARK_AGREES
    )
    tops = {name: level for name, level in levels.items() if name not in read}
    return Tops(tops, not found, found, lines, notes)


def _mark_off(name: str, level: float, known: float, plan: Plan) -> Finding:
    show = plan.job.show
    return finding(
        "asbuilt-mark-off",
        "stop",
        visible(name),
        level - known,
        MARK_AGREES,
        mark=visible(name),
        level=show.elevation(level),
        known=show.elevation(known),
    )
