"""``gradework plan JOB``: everything at once, a summary on the terminal and a folder of results."""

from __future__ import annotations

from pathlib import Path

import click

from gradework.command.jobs import job_argument, plan_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.options import OutputName, common_options, show_option, shown_path
from gradework.command.screen import Screen
from gradework.errors import Finding
from gradework.exchange.record import record
from gradework.files.write import write_folder
from gradework.library.results import picture_files, table_files
from gradework.project.job.model import Job
from gradework.project.plan import Plan
from gradework.project.specs import with_level
from gradework.report.plan import summary
from gradework.units.display import Form
from gradework.units.numbers import QuantityError

_EXAMPLES = """
gradework plan my-yard/job.toml
gradework plan my-yard/job.toml -o results --force
gradework plan my-yard/job.toml --level 101.2 --dry-run
gradework plan my-yard/job.toml --dry-run --json
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@job_argument
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder of results [default: results, beside JOB].",
)
@click.option(
    "--level",
    metavar="RULE|LEVEL",
    help="Instead of the job's: least fill, balanced, least cost, or an elevation.",
)
@show_option
@click.option("-f", "--force", is_flag=True, help="Replace files that this program did not make.")
@click.option("-n", "--dry-run", is_flag=True, help="Draw and write nothing; list what would be written.")
@common_options
def plan(
    *,
    screen: Screen,
    job: Path,
    output: Path | None,
    level: str | None,
    show: Form | None,
    force: bool,
    dry_run: bool,
) -> None:
    """Plan the foundation that JOB describes: level, digging, gravel, the order, drawings.

    Writes plan and curve (PNG, SVG, PDF), drawings of piers, order.csv, stations.csv and result.json into a
    folder, all or none.
    """
    read = _read_job(job, level, show)
    result = plan_of(read, job)
    document = record(result)
    tables = table_files(result, document)
    folder = job.parent / "results" if output is None else output
    files, told = ({}, ()) if dry_run else _written(result, tables, folder, force=force)
    if screen.as_json:
        screen.document(document)
    else:
        screen.answer(summary(result))
    screen.findings(told)
    if dry_run:
        _list(screen, "would write", folder, [*picture_files(result), *tables])
    else:
        _list(screen, "wrote", folder, [f"{name:<14} {_size(len(data))}" for name, data in files.items()])
    if any(finding.severity == "stop" for finding in result.findings):
        click.get_current_context().exit(1)


def _written(
    result: Plan, tables: dict[str, bytes], folder: Path, *, force: bool
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """Draw, write it all, and tell what the drawings could not show."""
    from gradework.library.figures import draw_all, drawing_files  # a dry run draws nothing

    drawn = draw_all(result)
    files = {**drawing_files(drawn), **tables}
    write_folder(files, folder, force=force)
    return files, drawn.findings


def _read_job(path: Path, level: str | None, show: Form | None) -> Job:
    job = read_job_file(path, show=show)
    try:
        return job if level is None else with_level(job, level)
    except QuantityError as problem:
        raise click.BadParameter(str(problem), param_hint="--level") from None


def _list(screen: Screen, did: str, folder: Path, names: list[str]) -> None:
    screen.note(f"{did} {len(names)} files into {shown_path(folder)}:")
    for name in names:
        screen.note(f"  {name}")


def _size(count: int) -> str:
    return f"{count} bytes" if count < 1000 else f"{count / 1000:.0f} kB"
