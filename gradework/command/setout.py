"""``gradework setout JOB``: stakes, marks and rod readings for today's instrument, and a sheet to print."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from gradework.command.jobs import foundation_option, job_argument, plan_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.options import (
    OutputName,
    common_options,
    end_with,
    force_option,
    length,
    paper_option,
    show_option,
    shown_path,
)
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.exchange.yard_records import setout_record, stake_table
from gradework.files.write import write_folder
from gradework.project.backsight import read_backsight
from gradework.project.plan import Plan
from gradework.project.setout import SettingOut, Wanted, set_out_plan
from gradework.report.yard import setout_text

_EXAMPLES = """
gradework setout my-yard/job.toml --hi 104.62
gradework setout my-yard/job.toml --backsight "BM 4.62" --row 1
gradework setout my-yard --string-above "12 in" --stake "building 1"
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@job_argument
@click.option(
    "--hi", metavar="ELEVATION", help="Today's height of instrument: the elevation of the line of sight."
)
@click.option(
    "--backsight", metavar='"MARK READING"', help="Or a mark of known elevation and the reading on it."
)
@click.option(
    "--string-above",
    "string",
    metavar="HEIGHT",
    help='A level string this far above the finished level: "12 in".',
)
@click.option(
    "--row",
    "rows",
    type=click.IntRange(min=1),
    metavar="N",
    multiple=True,
    help="Only this row of piers; may be repeated.",
)
@click.option("--stake", "stakes", metavar="NAME", multiple=True, help="Only this stake; may be repeated.")
@foundation_option
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder to write into [default: setout, beside JOB].",
)
@show_option
@paper_option
@force_option
@common_options
def setout(*, screen: Screen, job: Path, output: Path | None, force: bool, **given: Any) -> None:
    """Set out what JOB plans: stakes with their places, ties by tape, cut or fill, and the reading that means
    "on grade" for each level.

    Prints it, and writes setout.pdf, a sheet to print at 100 % on A4 or Letter (large type, boxes to tick),
    and setout.csv into a folder.
    """
    from gradework.library.figures import setout_sheet  # loads matplotlib, which help does without

    if given["hi"] is not None and given["backsight"] is not None:
        raise click.UsageError("Give --hi or --backsight, not both.", click.get_current_context())
    with working(screen, "working out the stakes"):
        made = _made(plan_of(read_job_file(job, show=given["show"]), job), given)
        page, unseen = setout_sheet(made, given["paper"])
        made = replace(made, findings=(*made.findings, *unseen))
    files = {"setout.pdf": page, "setout.csv": stake_table(made)}
    written = write_folder(files, output or job.parent / "setout", force=force)
    if screen.as_json:
        screen.document(setout_record(made))
    else:
        screen.answer(setout_text(made))
        screen.findings(made.findings)
    screen.note(f"wrote {shown_path(written[0].path)}; print it at 100 %.")
    end_with(made.findings)


def _made(plan: Plan, given: dict[str, Any]) -> SettingOut:
    seen = given["backsight"]
    wanted = Wanted(
        kind=given["foundation"],
        rows=given["rows"],
        stakes=given["stakes"],
        instrument=length(given["hi"], "--hi", plan.job.unit),
        backsight=None if seen is None else read_backsight(seen, plan),
        string=length(given["string"], "--string-above", plan.job.unit),
    )
    return set_out_plan(plan, wanted)
