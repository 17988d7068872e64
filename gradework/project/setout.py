"""Setting out a plan: which stakes for the foundation that is built, marks and levels known in the yard."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.nearby import Nearby
from gradework.errors import Finding, InputError, fault, finding, visible
from gradework.project.backsight import Backsight
from gradework.project.buying import laid_beside
from gradework.project.nearby import boards_off, stakes_near
from gradework.project.placed import known_marks as placed_marks
from gradework.sitework.order_of_work import with_first, with_heaps, with_steps
from gradework.sitework.past_walls import led
from gradework.sitework.pier_stakes import RowString, row_strings
from gradework.sitework.roof_water import roof_steps
from gradework.sitework.setout import (
    SetOut,
    Stake,
    StakedPoint,
    set_out,
)
from gradework.sitework.setout_ties import Mark
from gradework.sitework.soil import deeper_steps, soil_steps
from gradework.sitework.staking import check_stakes

if TYPE_CHECKING:
    from gradework.foundations.piers.plan import Piers
    from gradework.project.job.model import Job
    from gradework.project.plan import Plan
    from gradework.survey.stations import Stations


KINDS = ("pad", "piers", "slab")

AS_USUAL = 1e-6
"""A stake this near to where it stands without anything in the way has not moved [m]."""


@dataclass(frozen=True)
class SettingOut:
    """A whole sheet: what is set out and to which finished ``level`` [m], from which marks.

    ``marks_given`` is False where stations of the survey stand in for marks that the job does not name.
    ``rows`` are the strings of rows of piers, with their running places.
    """

    plan: Plan
    kind: str
    level: float
    sheet: SetOut
    marks: tuple[Mark, ...]
    marks_given: bool
    rows: tuple[RowString, ...]
    backsight: Backsight | None
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Wanted:
    """What to set out, and with what: rows and stakes picked (none: all), the line of sight [m], the string.

    ``string`` is the height of a string above the finished level [m]; ``kind`` None takes what is built.
    """

    kind: str | None = None
    rows: Sequence[int] = ()
    stakes: Sequence[str] = ()
    instrument: float | None = None
    backsight: Backsight | None = None
    string: float | None = None


def set_out_plan(plan: Plan, wanted: Wanted) -> SettingOut:
    """Work out the stakes of the foundation that is built.

    Raises ``InputError``, and ``CheckError`` where a stake does not lead back to its levels.
    """
    kind = wanted.kind or plan.foundations.chosen
    level = finished_level(plan, kind)
    marks, given = known_marks(plan.job, plan.stations)
    if len(marks) > 1 and (marks[0].x, marks[0].y) == (marks[1].x, marks[1].y):
        one, other = marks[0].name, marks[1].name
        raise InputError([fault("setout-refused", variant="twin", one=one, other=other)])
    height = wanted.string if wanted.string is not None else plan.job.setout.string
    string = None if height is None else level + height
    piers = plan.foundations.piers if kind == "piers" else None
    stakes = _picked(_stakes(plan, kind, level, string), wanted, piers)
    instrument = wanted.backsight.instrument if wanted.backsight else wanted.instrument
    seen = wanted.backsight
    sheet = set_out(
        stakes,
        marks=marks,
        instrument=instrument,
        string=string,
        backsight=seen is not None,
        dialect=plan.job.show.dialect,
    )
    beside = led(plan.foundations.measures_of(kind))
    heaps = [
        (plan.job.show.elevation(made.heaped_to), "the swale" if len(made.dug) else "the stakes at its foot")
        for made in beside
        if made.heaped_to is not None
    ]
    around = plan.foundations.around.get(kind)
    roof = () if around is None else roof_steps(around.roof, plan.job.show)
    steps = with_heaps(sheet.steps, heaps)
    laid = plan.foundations.soils.get(kind)
    if laid is not None:
        steps = with_first(steps, deeper_steps(laid.soil, plan.job.show))
    soil = () if laid is None else soil_steps(laid.soil, plan.job.show)
    sheet = replace(sheet, steps=with_steps(steps, (*roof, *soil)))
    sight = (seen.elevation, seen.reading) if seen else None if instrument is None else (instrument, 0.0)
    check_stakes(sheet.points, plan.surface, finished=level, sight=sight, string=string)
    found = (*_findings(sheet.points, plan), *_before_walls(plan, kind, stakes))
    strings = _row_strings(plan, kind, {point.stake.name for point in sheet.points})
    return SettingOut(plan, kind, level, sheet, marks, given, strings, wanted.backsight, found)


def _row_strings(plan: Plan, kind: str, names: set[str]) -> tuple[RowString, ...]:
    """Give the strings of the rows whose stakes are on the sheet."""
    piers = plan.foundations.piers
    if kind != "piers" or piers is None:
        return ()
    strings = row_strings(plan.building, piers, offset=boards_off(plan.job), nearby=plan.nearby)
    return tuple(string for string in strings if string.first in names)


def finished_level(plan: Plan, kind: str) -> float:
    """Give the level that is built to [m]: top of the gravel, of the piers, of the slab."""
    found = plan.foundations
    if kind not in found.asked:
        asked = ", ".join(found.asked)
        raise InputError([fault("setout-refused", file="--foundation", kind=kind, asked=asked)])
    if kind == "piers":
        assert found.piers is not None
        if found.piers.top is None:
            raise InputError([fault("setout-refused", variant="top")])
        return found.piers.top
    if kind == "slab":
        assert found.slab is not None
        return found.slab.level
    return found.pad.chosen.level


def known_marks(job: Job, stations: Stations) -> tuple[tuple[Mark, ...], bool]:
    """Give the marks of the job, those of ``[setout]`` first, or stations near the corners of the yard, and
    which of both it is.

    The baseline then runs along the lower side of the yard, where it does not cross the building.
    """
    if job.setout.marks or len(job.survey.marks or {}) > 1:
        return tuple(Mark(name, *place) for name, place in placed_marks(job).places.items()), True
    xy = np.asarray(stations.xyz)[:, :2]
    corners = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    outermost = dict.fromkeys(np.argmax(xy @ corners.T, axis=0).tolist())
    return tuple(Mark(stations.names[i], float(xy[i, 0]), float(xy[i, 1])) for i in outermost), False


def _stakes(plan: Plan, kind: str, level: float, string: float | None) -> tuple[Stake, ...]:
    built = plan.foundations.built[kind]
    laid = laid_beside(plan.foundations.around.get(kind), built)
    return stakes_near(plan.job, plan.surface, plan.nearby, built, level, string=string, laid=laid)


def _before_walls(plan: Plan, kind: str, stakes: Sequence[Stake]) -> Iterator[Finding]:
    """Say which boards and strings a wall, a fence or a lot line has stand nearer, or leaves no room for."""
    if not plan.nearby:
        return
    free = Nearby(plan.building)
    usual = stakes_near(plan.job, plan.surface, free, plan.foundations.built[kind], 0.0)
    all_of = {stake.name: stake for stake in _stakes(plan, kind, 0.0, None)}
    shown = {stake.name for stake in stakes}
    moved, gone = [], []
    for stake in usual:
        own = all_of.get(stake.name)
        if own is None:
            gone.append(stake.name)
        elif own.name in shown and math.dist((own.x, own.y), (stake.x, stake.y)) > AS_USUAL:
            moved.append(stake.name)
    if moved:
        yield finding(
            "stakes-before-wall", "note", ", ".join(moved), float(len(moved)), names=", ".join(moved)
        )
    if gone:
        names = ", ".join(gone)
        yield finding(
            "stakes-before-wall", "warning", names, float(len(gone)), variant="left-out", names=names
        )


def _picked(stakes: Sequence[Stake], wanted: Wanted, piers: Piers | None) -> list[Stake]:
    """Keep the rows and stakes that are asked for; all of them where none is."""
    if not wanted.rows and not wanted.stakes:
        return list(stakes)
    names = {stake.name.casefold(): stake.name for stake in stakes}
    names |= {
        stake.name.removeprefix("pier ").casefold(): stake.name for stake in stakes if stake.kind == "pier"
    }
    keep = set()
    for asked in wanted.stakes:
        if asked.casefold() not in names:
            near = difflib.get_close_matches(asked.casefold(), names, n=1, cutoff=0.5)
            name, guess = repr(visible(asked, 40)), f"did you mean {names[near[0]]!r}? " if near else ""
            raise InputError(
                [fault("setout-refused", variant="stake", file="--stake", name=name, guess=guess)]
            )
        keep.add(names[asked.casefold()])
    for row in wanted.rows:
        own = {f"pier {pier.name}" for pier in (piers.piers if piers else ()) if pier.row == row}
        own &= {stake.name for stake in stakes if stake.kind == "pier"}
        if not own:
            raise _no_row(row, piers)
        keep |= own | {f"row {row} start", f"row {row} end"}
    return [stake for stake in stakes if stake.name in keep]


def _no_row(row: int, piers: Piers | None) -> InputError:
    """Say which rows there are, or that piers given one by one do not line up in any."""
    last = 0 if piers is None else max((pier.row for pier in piers.piers), default=0)
    rows = f"rows 1 to {last}" if last > 1 else "row 1" if last else ""
    variant = "rowless" if piers is not None and piers.piers and not last else "row"
    return InputError([fault("setout-refused", variant=variant, file="--row", row=row, rows=rows)])


def _findings(points: Sequence[StakedPoint], plan: Plan) -> list[Finding]:
    """Say which readings the rod cannot show, and which ties by tape are weak."""
    show = plan.job.show
    found = []
    out = [(p, r) for p in points for r in p.readings if r.reach != "yes"]
    if out:
        point, reading = out[0]
        found.append(
            finding(
                "rod-out-of-reach",
                "warning",
                ", ".join(dict.fromkeys(p.stake.name for p, _ in out)),
                reading.reading,
                stake=point.stake.name,
                reading=show.rod(reading.reading),
                what=reading.what,
                reach=reading.reach,
                way="higher" if reading.reading < 0 else "lower",
            )
        )
    weak = [p for p in points if p.tie is not None and p.tie.weak]
    if weak:
        worst = min(weak, key=lambda p: min(p.tie.angle, 180.0 - p.tie.angle) if p.tie else 0.0)
        assert worst.tie is not None
        found.append(
            finding(
                "tie-tapes-flat",
                "note",
                ", ".join(p.stake.name for p in weak),
                worst.tie.angle,
                30.0,
                stake=worst.stake.name,
                angle=f"{worst.tie.angle:.0f}°",
            )
        )
    return found
