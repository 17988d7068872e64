"""``gradework asbuilt JOB READINGS``: is what was built level and square, and what to do where it is not."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any

import click

from gradework.command.jobs import foundation_option, job_argument, plan_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.options import InputName, common_options, length, lengths, read_input, show_option
from gradework.command.screen import Screen
from gradework.command.survey_options import reading_options, sheet_option, survey_form
from gradework.exchange.yard_records import asbuilt_record
from gradework.project.asbuilt import AsBuilt, Measured, check_built, read_tops
from gradework.project.plan import Plan
from gradework.project.setout import SetOutError
from gradework.project.stations.forms import SurveyForm
from gradework.report.yard import asbuilt_text

_EXAMPLES = """
gradework asbuilt my-yard/job.toml tops.csv
gradework asbuilt my-yard/job.toml tops.csv --sides 16,12,16,12 --diagonals 20,20.03
gradework asbuilt my-yard/job.toml tops.csv --known BM=104.20 --tolerance "1/8 in"
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@job_argument
@click.argument("readings", type=InputName())
@click.option(
    "--sides", metavar="A,B,C,D", help="Sides of the building as measured: corners 1-2, 2-3, 3-4, 4-1."
)
@click.option("--diagonals", metavar="P,Q", help="Diagonals as measured: corners 1-3, 2-4.")
@click.option(
    "--tolerance", metavar="LENGTH", help="How much neighbouring tops may differ [default: 1/4 in]."
)
@sheet_option
@reading_options("known", "hi", "strings", "heights")
@foundation_option
@show_option
@common_options
def asbuilt(*, screen: Screen, job: Path, readings: str, **given: Any) -> None:
    """Check what was built: each top high or low, the common level that needs the least work, what to do at
    each pier, and squareness.

    READINGS is a CSV file or a workbook (xlsx, ods, xls), or - for standard input: the tops by their names,
    as elevations or as readings of any way of levelling. Exit status 1 when it does not pass.
    """
    plan = plan_of(read_job_file(job, show=given["show"]), job)
    built = _checked(plan, readings, given)
    if screen.as_json:
        screen.document(asbuilt_record(built))
    else:
        screen.answer(asbuilt_text(built))
        screen.findings(built.findings)
    if not built.passed:
        click.get_current_context().exit(1)


def _checked(plan: Plan, readings: str, given: dict[str, Any]) -> AsBuilt:
    measured = _measured(plan, given)
    tolerance = length(given["tolerance"], "--tolerance", plan.job.unit)
    if tolerance is not None and not 0.0 < tolerance < 1.0:
        raise click.BadParameter("a length above zero, such as 1/4 in", param_hint="--tolerance")
    data, name = read_input(readings, given["sheet"])
    try:
        tops = read_tops(plan, data, name, _form(plan, given))
        return check_built(plan, tops, name, kind=given["foundation"], measured=measured, tolerance=tolerance)
    except SetOutError as problem:
        raise click.UsageError(f"{problem}.", click.get_current_context()) from None


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
