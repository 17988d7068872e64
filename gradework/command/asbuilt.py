"""``gradework asbuilt JOB READINGS``: is what was built level and square, and what to do where it is not."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any

import click

from gradework.command.jobs import JobName, foundation_option, plan_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.options import InputName, common_options, length, lengths, read_input, show_option
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.command.survey_options import reading_options, sheet_option, survey_form
from gradework.exchange import yard_records
from gradework.project import asbuilt as checking
from gradework.project import digging, settling
from gradework.project.asbuilt import Measured
from gradework.project.plan import Plan
from gradework.project.stations.forms import SurveyForm
from gradework.project.tops import read_tops
from gradework.report import later, yard

_EXAMPLES = """
gradework asbuilt my-yard/job.toml tops.csv
gradework asbuilt my-yard tops.csv --sides 16,12,16,12 --diagonals 20,20.03
gradework asbuilt my-yard tops.csv --known BM=104.20 --tolerance "1/8 in"
gradework asbuilt my-yard/job.toml holes.csv --stage dug --rock 1-3
gradework asbuilt my-yard/job.toml spring.csv --stage later --first tops.csv
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("job", type=JobName(path_type=Path), metavar="[JOB]")
@click.argument("readings", type=InputName(), required=False, metavar="READINGS")
@click.option(
    "--stage",
    type=click.Choice(["top", "dug", "bed", "later"]),
    default="top",
    help="What was read: finished tops; bottoms of holes, or the subgrade; tops of beds, or the base course; "
    "the tops once more, after a winter [default: top].",
)
@click.option(
    "--first",
    type=InputName(),
    metavar="READINGS",
    help="Earlier readings: the first tops for --stage later, the holes as dug for --stage bed.",
)
@click.option(
    "--rock", metavar="PIER", multiple=True, help="This hole cannot go deeper; may be repeated (--stage dug)."
)
@click.option(
    "--sides", metavar="A,B,C,D", help="Sides of the building as measured: corners 1-2, 2-3, 3-4, 4-1."
)
@click.option("--diagonals", metavar="P,Q", help="Diagonals as measured: corners 1-3, 2-4.")
@click.option(
    "--tolerance", metavar="LENGTH", help="By how much two tops side by side may differ [default: 1/4 in]."
)
@sheet_option
@reading_options("known", "hi", "strings", "heights")
@foundation_option
@show_option
@common_options
def asbuilt(*, screen: Screen, job: Path, readings: str | None, **given: Any) -> None:
    """Check what was built: each top high or low, the common level that needs the least work, what to do at
    each pier, and squareness. With --stage: what to build on the holes or beds as they are, under the same
    top; what to dig or fill at each stake of a pad; what has settled since.

    JOB is a job file or its folder; with READINGS alone it is this folder. READINGS is a CSV file or a
    workbook (xlsx, ods, xls), or - for standard input: points by their names, as elevations or as readings of
    any way of levelling. Exit status 1 when it does not pass.
    """
    if readings is None:  # one name alone is that of the readings
        job, readings = Path("job.toml"), str(job)
    with working(screen, "working out the plan"):
        plan = plan_of(read_job_file(job, show=given["show"]), job)
    _refuse_unused(given)
    built, record, text = _checked(plan, readings, given)
    if screen.as_json:
        screen.document(record(built))
    else:
        screen.answer(text(built))
        screen.findings(built.findings)
    if not built.passed:
        click.get_current_context().exit(1)


_USED = {
    "first": ("bed", "later"),
    "rock": ("dug",),
    "sides": ("top",),
    "diagonals": ("top",),
}
"""Options that only some stages use."""


def _refuse_unused(given: dict[str, Any]) -> None:
    stage = given["stage"]
    for option, stages in _USED.items():
        if given[option] and stage not in stages:
            ways = " or ".join(f"--stage {one}" for one in stages)
            raise click.UsageError(f"--{option} goes with {ways} only.", click.get_current_context())
    if stage == "later" and given["first"] is None:
        raise click.UsageError("Name the first readings: --first tops.csv.", click.get_current_context())


def _checked(plan: Plan, readings: str, given: dict[str, Any]) -> tuple[Any, Any, Any]:
    """Give the answer of the stage, how it is written as a record, and how it is told."""
    measured = _measured(plan, given)
    tolerance = length(given["tolerance"], "--tolerance", plan.job.unit)
    if tolerance is not None and not 0.0 < tolerance < 1.0:
        raise click.BadParameter("a length above zero, such as 1/4 in", param_hint="--tolerance")
    form, kind, stage = _form(plan, given), given["foundation"], given["stage"]
    data, name = read_input(readings, given["sheet"])
    read = read_tops(plan, data, name, form)
    earlier = None if given["first"] is None else read_tops(plan, *read_input(given["first"]), form)
    if stage == "top":
        built = checking.check_built(plan, read, name, kind=kind, measured=measured, tolerance=tolerance)
        return built, yard_records.asbuilt_record, yard.asbuilt_text
    if stage == "later":
        assert earlier is not None
        settled = settling.check_settled(plan, earlier, read, name, kind=kind, tolerance=tolerance)
        return settled, yard_records.settled_record, later.settled_text
    dug = digging.check_dug(
        plan, read, name, stage, kind=kind, earlier=earlier, rock=given["rock"], tolerance=tolerance
    )
    return dug, yard_records.asdug_record, later.asdug_text


def _measured(plan: Plan, given: dict[str, Any]) -> Measured:
    unit, sides, diagonals = plan.job.unit, given["sides"], given["diagonals"]
    if (sides is None) != (diagonals is None):
        context = click.get_current_context()
        raise click.UsageError("Give --sides and --diagonals together, or neither.", context)
    if sides is None:
        return Measured()
    return Measured(lengths(sides, "--sides", unit, (4,)), lengths(diagonals, "--diagonals", unit, (2,)))


def _form(plan: Plan, given: dict[str, Any]) -> SurveyForm:
    """Read the options that all notes of readings have; places are of no use here, so none is asked for."""
    absent: defaultdict[str, Any] = defaultdict(lambda: None)
    absent.update({**given, "marks": (), "units": plan.job.unit})
    return survey_form(absent)
