"""``gradework plan JOB``: everything at once, a summary on the terminal and a folder of results."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from gradework.command.main import LeafCommand
from gradework.command.options import (
    InputName,
    OutputName,
    common_options,
    plan_of,
    read_job_file,
    show_option,
    shown_path,
)
from gradework.command.screen import Screen

if TYPE_CHECKING:
    from gradework.errors import Finding
    from gradework.project.job.model import Job
    from gradework.project.plan import Plan
    from gradework.units.form import Form


_EXAMPLES = """
gradework plan my-yard/job.toml
gradework plan my-yard/job.toml -o results --force
gradework plan my-yard/job.toml --level 101.2 --dry-run
gradework plan my-yard/job.toml --dry-run --json
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("job", type=InputName(path_type=Path))
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
    from gradework.exchange.record import record
    from gradework.report.plan import summary

    read = _read_job(job, level, show)
    result = plan_of(read, job)
    document = record(result)
    tables = _tables(result, document)
    folder = job.parent / "results" if output is None else output
    files, told = ({}, ()) if dry_run else _written(result, tables, folder, force=force)
    if screen.as_json:
        screen.document(document)
    else:
        screen.answer(summary(result))
    screen.findings(told)
    if dry_run:
        _list(screen, "would write", folder, [*_pictures(result), *tables])
    else:
        _list(screen, "wrote", folder, [f"{name:<14} {_size(len(data))}" for name, data in files.items()])
    if any(finding.severity == "stop" for finding in result.findings):
        click.get_current_context().exit(1)


def _written(
    result: Plan, tables: dict[str, bytes], folder: Path, *, force: bool
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """Draw, write it all, and tell what the drawings could not show."""
    from gradework.files.write import write_folder

    drawn, left_out = _drawings(result)
    files = {**drawn, **tables}
    write_folder(files, folder, force=force)
    return files, (*_unknown_letters(result), *left_out)


def _read_job(path: Path, level: str | None, show: Form | None) -> Job:
    from gradework.project.specs import with_level
    from gradework.units.numbers import QuantityError

    job = read_job_file(path, show=show)
    try:
        return job if level is None else with_level(job, level)
    except QuantityError as problem:
        raise click.BadParameter(str(problem), param_hint="--level") from None


def _tables(result: Plan, document: dict[str, object]) -> dict[str, bytes]:
    from gradework.library.results import table_files

    return table_files(result, document)


def _drawings(result: Plan) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """Draw everything; tell once what found no room on the plans."""
    from gradework.library.results import draw_all, drawing_files

    drawn = draw_all(result)
    return drawing_files(drawn), drawn.findings


def _pictures(result: Plan) -> list[str]:
    """Name what would be drawn, without drawing it: how many pages the piers fill is not known before."""
    from gradework.library.results import compared

    kinds = ("png", "svg", "pdf")
    once = ["plan", "curve"] if "pad" in result.foundations.asked else ["plan"]
    names = [f"{name}.{kind}" for name in once for kind in kinds]
    names += [f"plan-{kind}.{form}" for kind in compared(result) for form in ("png", "pdf")]
    piers = result.foundations.piers
    if piers is not None and piers.piers:
        names += [
            f"{name}.{kind} (one a page)" for name in ("pier-rows", "pier-details") for kind in kinds[:2]
        ]
        names.append("piers.pdf")
    return names


def _unknown_letters(result: Plan) -> tuple[Finding, ...]:
    from gradework.drawings.lettering import unknown_letters
    from gradework.drawings.plan.sheet import MOST_NAMES

    piers = result.foundations.piers
    names = (result.job.name, result.job.survey.notes, *result.stations.names[:MOST_NAMES])
    return unknown_letters((*names, *(pier.name for pier in piers.piers)) if piers else names)


def _list(screen: Screen, did: str, folder: Path, names: list[str]) -> None:
    screen.note(f"{did} {len(names)} files into {shown_path(folder)}:")
    for name in names:
        screen.note(f"  {name}")


def _size(count: int) -> str:
    return f"{count} bytes" if count < 1000 else f"{count / 1000:.0f} kB"
