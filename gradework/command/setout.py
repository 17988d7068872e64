"""``gradework setout JOB``: stakes, marks and rod readings for today's instrument, and a sheet to print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gradework.command.main import LeafCommand
from gradework.command.options import (
    InputName,
    OutputName,
    common_options,
    length,
    plan_of,
    read_job_file,
    show_option,
    shown_path,
)
from gradework.command.screen import Screen

if TYPE_CHECKING:
    from gradework.project.plan import Plan
    from gradework.project.setout import SettingOut, Wanted


_EXAMPLES = """
gradework setout my-yard/job.toml --hi 104.62
gradework setout my-yard/job.toml --backsight "BM 4.62" --row 1
gradework setout my-yard/job.toml --string "12 in" --stake 1-1 --stake "building 1"
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("job", type=InputName(path_type=Path))
@click.option(
    "--hi", metavar="ELEVATION", help="Today's height of instrument: the elevation of the line of sight."
)
@click.option(
    "--backsight", metavar='"MARK READING"', help="Or a mark of known elevation and the reading on it."
)
@click.option("--string", metavar="HEIGHT", help='A level string this far above the finished level: "12 in".')
@click.option(
    "--row",
    "rows",
    type=click.IntRange(min=1),
    metavar="N",
    multiple=True,
    help="Only this row of piers; may be repeated.",
)
@click.option("--stake", "stakes", metavar="NAME", multiple=True, help="Only this stake; may be repeated.")
@click.option(
    "--foundation",
    type=click.Choice(["pad", "piers", "slab"]),
    help="Which foundation of the job [default: the one to be built].",
)
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder to write into [default: setout, beside JOB].",
)
@show_option
@click.option("-f", "--force", is_flag=True, help="Replace files that this program did not make.")
@common_options
def setout(*, screen: Screen, job: Path, output: Path | None, force: bool, **given: Any) -> None:
    """Set out what JOB plans: stakes with their places, ties by tape, cut or fill, and the reading that means
    "on grade" for each level.

    Prints it, and writes setout.pdf, a sheet to print at 100 % on A4 or Letter (large type, boxes to tick),
    and setout.csv into a folder.
    """
    from gradework.drawings.field_sheet.sheet import pdf_of
    from gradework.drawings.lettering import unknown_letters
    from gradework.drawings.setout import setout_and_findings
    from gradework.exchange.yard_records import setout_record, stake_table
    from gradework.files.write import write_folder
    from gradework.report.yard import setout_text

    if given["hi"] is not None and given["backsight"] is not None:
        raise click.UsageError("Give --hi or --backsight, not both.", click.get_current_context())
    made = _made(plan_of(read_job_file(job, show=given["show"]), job), given)
    pages, left_out = setout_and_findings(made)
    files = {"setout.pdf": pdf_of(pages), "setout.csv": stake_table(made)}
    written = write_folder(files, output or job.parent / "setout", force=force)
    if screen.as_json:
        screen.document(setout_record(made))
    else:
        screen.answer(setout_text(made))
        screen.findings(made.findings)
    names = (
        made.plan.job.name,
        *(mark.name for mark in made.marks),
        *(p.stake.name for p in made.sheet.points),
    )
    screen.findings((*unknown_letters(names), *left_out))
    screen.note(f"wrote {shown_path(written[0].path)}; print it at 100 %, on A4 or Letter.")


def _made(plan: Plan, given: dict[str, Any]) -> SettingOut:
    from gradework.project.setout import SetOutError, set_out_plan

    try:
        return set_out_plan(plan, _wanted(plan, given))
    except SetOutError as problem:
        text = str(problem)
        full = text if text.endswith("?") else f"{text}."
        raise click.UsageError(full, click.get_current_context()) from None


def _wanted(plan: Plan, given: dict[str, Any]) -> Wanted:
    from gradework.project.setout import Wanted, read_backsight

    seen = given["backsight"]
    return Wanted(
        kind=given["foundation"],
        rows=given["rows"],
        stakes=given["stakes"],
        instrument=length(given["hi"], "--hi", plan.job.unit),
        backsight=None if seen is None else read_backsight(seen, plan.job, plan.stations),
        string=length(given["string"], "--string", plan.job.unit),
    )
