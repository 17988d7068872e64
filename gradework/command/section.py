"""``gradework section JOB --from A --to B``: the ground along any line, before and after."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gradework.command.jobs import foundation_option, job_argument, notes_of, plan_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.options import (
    OutputName,
    common_options,
    force_option,
    length,
    paper_option,
    show_option,
    shown_path,
)
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.errors import Fault, InputError
from gradework.exchange.profile import profile_record, profile_table
from gradework.files.write import write_folder
from gradework.ground.surface import build_surface
from gradework.project.plan import drawn_with, surveyed
from gradework.project.profile import MOST_ROWS, End, profile_on, read_end
from gradework.report.profile import even_distances, profile_text, round_step, verdict

if TYPE_CHECKING:
    from gradework.ground.surface import Surface
    from gradework.project.job.model import Job
    from gradework.project.plan import Plan
    from gradework.project.profile import Profile

_EXAMPLES = """
gradework section my-yard/job.toml --from A1 --to F6
gradework section my-yard/job.toml --from 0,10 --to 40,10 --every 2
gradework section my-yard/job.toml --from A1 --to 40,10 --surveyed
"""

_EVEN_ROWS = 40
"""So many even distances stand in the table, where nothing else is asked for."""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@job_argument
@click.option(
    "--from", "first", required=True, metavar="END", help="Where the line begins: a station, or x,y."
)
@click.option("--to", "last", required=True, metavar="END", help="Where it ends.")
@click.option("--every", metavar="LENGTH", help="Rows at these distances, too [default: a round length].")
@click.option("--surveyed", is_flag=True, help="The ground as surveyed only; nothing is planned.")
@foundation_option
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder to write into [default: section, beside JOB].",
)
@paper_option
@show_option
@force_option
@common_options
def section(*, screen: Screen, job: Path, output: Path | None, force: bool, **given: Any) -> None:
    """The ground of JOB along any line, as surveyed and as it is once the foundation is built.

    Prints how the ground falls and a short table; writes section.csv, with a row wherever the ground bends,
    and section.pdf, a drawing of it.
    """
    from gradework.library.figures import profile_sheet  # loads matplotlib, which help does without

    read = read_job_file(job, show=given["show"])
    every = length(given["every"], "--every", read.unit)
    with working(screen, "following the ground"):
        read, surface, plan = _planned(read, job, given)
        show = read.show
        found = _along(read, surface, plan, given)
        step = round_step(found.length, _EVEN_ROWS, show) if every is None else every
        if not 0.0 < found.length <= step * MOST_ROWS:
            raise click.BadParameter(f"that is no length, or over {MOST_ROWS} rows", param_hint="--every")
        stamp = "" if plan is None else plan.stamp()
        files = {
            "section.pdf": profile_sheet(found, read, surface.stations, given["paper"], stamp=stamp),
            "section.csv": profile_table(found, show, even_distances(found.length, step)),
        }
    written = write_folder(files, output or job.parent / "section", force=force)
    if screen.as_json:
        screen.document(profile_record(found, read.name))
    else:
        screen.answer(verdict(found, show) if screen.quiet else profile_text(found, read.name, show, every))
        screen.findings(found.findings)
    screen.note(f"wrote {shown_path(written[0].path)}")


def _planned(job: Job, path: Path, given: dict[str, Any]) -> tuple[Job, Surface, Plan | None]:
    """The ground, and the plan with the foundation asked for, unless nothing is to be planned."""
    if given["surveyed"]:
        if given["foundation"] is not None:
            raise click.UsageError("Give --surveyed or --foundation, not both.", click.get_current_context())
        job, stations = surveyed(job, *notes_of(job, path))
        return job, build_surface(stations), None
    plan = plan_of(job, path)
    kind = given["foundation"]
    if kind is not None:
        if kind not in plan.foundations.built:
            raise click.BadParameter(f"the job plans no {kind}", param_hint="--foundation")
        plan = drawn_with(plan, kind)
    return plan.job, plan.surface, plan


def _along(job: Job, surface: Surface, plan: Plan | None, given: dict[str, Any]) -> Profile:
    """Read both ends, and tell of all that is wrong with them at once."""
    ends: list[End] = []
    faults: list[Fault] = []
    for option in ("first", "last"):
        try:
            named = "--from" if option == "first" else "--to"
            ends.append(read_end(given[option], surface.stations, job.unit, job.show, named))
        except InputError as problem:
            faults += problem.faults
    if faults:
        raise InputError(faults)
    return profile_on(surface, ends[0], ends[1], job.show, plan=plan)
