"""The figures of a plan by name, the files they are written as, and the sheet for setting out.

Loads matplotlib, so a command or a method that draws loads this file when it runs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

from gradework.drawings.curve import draw_curve
from gradework.drawings.engine import matplotlib
from gradework.drawings.lettering import unknown_letters
from gradework.drawings.paper import Paper, paper_for, pdf_of
from gradework.drawings.piers.details import pier_figures
from gradework.drawings.place import draw_places
from gradework.drawings.plan.sheet import MOST_NAMES, plan_and_findings
from gradework.drawings.save import figure_bytes
from gradework.drawings.section.along import draw_profile
from gradework.drawings.section.led import draw_profiles
from gradework.drawings.section.sheet import draw_section
from gradework.drawings.setout import setout_and_findings
from gradework.drawings.shopping import draw_shopping
from gradework.drawings.work_days import draw_days
from gradework.errors import Finding
from gradework.exchange.formats import format_files
from gradework.exchange.record import record
from gradework.library.results import PICTURES, SHEETS, compared, table_files
from gradework.project.plan import Plan, drawn_with
from gradework.project.setout import SettingOut

if TYPE_CHECKING:
    from gradework.project.job.model import Job
    from gradework.project.place import Placing
    from gradework.project.profile import Profile
    from gradework.survey.stations import Stations


class Drawn(NamedTuple):
    """All figures of a plan by name, in the order of work, what they cannot show (letters, names),
    and the paper that goes with its units."""

    figures: Mapping[str, matplotlib.figure.Figure]
    findings: tuple[Finding, ...]
    paper: Paper


def draw_all(plan: Plan) -> Drawn:
    """Draw everything: the shopping list, the days, the plan and sections of what is built, piers or the
    curve of a pad, then the other foundations."""
    figures, left_out = _figures(plan)
    return Drawn(figures, (*_unknown_letters(plan), *left_out), paper_for(plan.job.show))


def _figures(plan: Plan) -> tuple[dict[str, matplotlib.figure.Figure], tuple[Finding, ...]]:
    figure, told = plan_and_findings(plan)
    lists = (("shopping", draw_shopping(plan)), ("days", draw_days(plan)))
    figures = {
        f"{what}-{number}" if number > 1 else what: page
        for what, pages in lists
        for number, page in enumerate(pages, 1)
    }
    figures |= {"plan": figure, **_cut(plan, "")}
    piers = pier_figures(plan)
    if plan.foundations.chosen == "piers":
        figures |= piers
    if "pad" in plan.foundations.asked:
        figures["curve"] = draw_curve(plan)
    for kind in compared(plan):
        other = drawn_with(plan, kind)
        figures[f"plan-{kind}"], more = plan_and_findings(other)
        figures |= _cut(other, f"-{kind}")
        told += more
    return figures | piers, told


def _cut(plan: Plan, of: str) -> dict[str, matplotlib.figure.Figure]:
    """The sections through what is chosen, and the profiles of what leads water past a pad."""
    section = draw_section(plan)
    figures = {} if section is None else {f"section{of}": section}
    led = draw_profiles(plan)
    return figures | {f"swale{of}" + f"-{n}" * (n > 1): figure for n, figure in enumerate(led, start=1)}


def _unknown_letters(plan: Plan) -> tuple[Finding, ...]:
    """The letters of names that the font of the drawings does not have."""
    piers = plan.foundations.piers
    names = (plan.job.name, plan.job.survey.notes, *plan.stations.names[:MOST_NAMES])
    return unknown_letters((*names, *(pier.name for pier in piers.piers)) if piers else names)


def drawing_files(drawn: Drawn, paper: Paper | None = None, *, pictures: bool = False) -> dict[str, bytes]:
    """The files that figures are written as: one document to print, a page each; with ``pictures`` each also
    by itself, as PNG and SVG."""
    files = {SHEETS: pdf_of(list(drawn.figures.values()), paper or drawn.paper)} if drawn.figures else {}
    if pictures:
        for name, figure in drawn.figures.items():
            files |= {f"{name}.{kind}": figure_bytes(figure, kind) for kind in PICTURES}
    return files


def all_files(
    plan: Plan, paper: Paper | None = None, *, pictures: bool = False, formats: bool = False
) -> tuple[dict[str, bytes], dict[str, Any]]:
    """Every file of the folder of results, and the record in it, with what drawings and formats left out."""
    drawn = draw_all(plan)
    more, unplaced = format_files(plan) if formats else ({}, ())
    whole = replace(plan, findings=(*plan.findings, *drawn.findings, *unplaced))
    document = record(whole)
    drawings = drawing_files(drawn, paper, pictures=pictures)
    return {**drawings, **table_files(whole, document), **more}, document


def setout_sheet(made: SettingOut, paper: Paper | None = None) -> tuple[bytes, tuple[Finding, ...]]:
    """The sheet for setting out as a PDF, and what it cannot show: letters, names without room."""
    names = (
        made.plan.job.name,
        *(mark.name for mark in made.marks),
        *(point.stake.name for point in made.sheet.points),
    )
    pages, left_out = setout_and_findings(made)
    return pdf_of(pages, paper or paper_for(made.plan.job.show)), (*unknown_letters(names), *left_out)


def place_sheet(made: Placing, paper: Paper | None = None) -> bytes:
    """The map of the best places as a PDF."""
    return pdf_of([draw_places(made)], paper or paper_for(made.job.show))


def profile_sheet(
    profile: Profile, job: Job, stations: Stations, paper: Paper | None = None, *, stamp: str = ""
) -> bytes:
    """The profile along a line as a PDF, on paper that lies on its side."""
    page = draw_profile(profile, job.name, stations, job.show, stamp=stamp)
    return pdf_of([page], paper or paper_for(job.show))
