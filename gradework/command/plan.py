"""``gradework plan JOB``: everything at once, a summary on the terminal and a folder of results."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gradework.command.jobs import JobName, plan_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.notes_as_job import Asked, are_notes, job_of_notes, new_in, notes_options
from gradework.command.options import (
    OutputName,
    common_options,
    end_with,
    force_option,
    paper_option,
    show_option,
    shown_path,
)
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.errors import Finding
from gradework.exchange.formats import format_files
from gradework.exchange.record import record
from gradework.files.write import write_folder
from gradework.library.results import picture_files, table_files
from gradework.project.from_notes import untouched
from gradework.project.job.model import Job
from gradework.project.plan import Plan
from gradework.project.plan import plan as planned
from gradework.project.specs import with_level
from gradework.report.first_screen import answer, verdict_and_stops
from gradework.report.plan import summary
from gradework.units.form import Form
from gradework.units.numbers import QuantityError

if TYPE_CHECKING:
    from gradework.drawings.paper import Paper

_EXAMPLES = """
gradework plan my-yard/job.toml
gradework plan my-yard/job.toml -o results --force
gradework plan my-yard/job.toml --level 101.2 --dry-run
gradework plan my-yard/job.toml --dry-run --json
gradework plan shots.csv --size 16,12 --units ft --piers
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("job", type=JobName(path_type=Path), default=".", metavar="[JOB | NOTES]")
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder of results [default: results, beside JOB].",
)
@click.option(
    "--level",
    metavar="LEVEL",
    help="Instead of the job's: an elevation, or least fill, balanced or least cost.",
)
@click.option("--full", is_flag=True, help="All of it: every pier, every line of the order, every note.")
@click.option(
    "--anyway",
    is_flag=True,
    help="Order what cannot be built as drawn all the same; never over what bears, edges or dug faces.",
)
@click.option("--pictures", is_flag=True, help="Also each drawing by itself, as PNG and SVG.")
@click.option(
    "--formats", is_flag=True, help="Also for other programs: LandXML, and GeoJSON in a reference system."
)
@show_option
@paper_option
@force_option
@click.option("-n", "--dry-run", is_flag=True, help="Draw and write nothing; list what would be written.")
@notes_options
@common_options
def plan(
    *,
    screen: Screen,
    job: Path,
    output: Path | None,
    level: str | None,
    full: bool,
    show: Form | None,
    force: bool,
    dry_run: bool,
    **given: Any,
) -> None:
    """Plan the foundation that JOB describes: level, digging, gravel, the order, drawings.

    JOB is a job file or its folder [default: this one]; or NOTES with --size, and the job that they stand for
    is written into the folder of results, never over another. Prints the answer on one screen and writes
    report.html (one page for a phone), sheets.pdf (every drawing), order.csv, stations.csv and result.json
    into a folder, all or none.
    """
    folder = job.parent / "results" if output is None else output
    asked = job_of_notes(job, folder, given, show) if are_notes(job, given) else None
    with working(screen, "working out the plan"):
        result = _planned(job, asked, level, show, anyway=given["anyway"])
    with working(screen, "drawing"):
        drawn, unseen = ({}, ()) if dry_run else _drawn(result, given["paper"], pictures=given["pictures"])
    more, unplaced = format_files(result) if given["formats"] else ({}, ())
    told = (*unseen, *unplaced)
    whole = replace(result, findings=(*result.findings, *told))
    document = record(whole)
    tables = table_files(whole, document)
    if asked is not None:
        tables |= asked.kept if dry_run else new_in(folder, asked.kept)
        job = folder / "job.toml"
    files = {**drawn, **tables, **more}
    if not dry_run:
        write_folder(files, folder, force=force, ours=untouched)
    if screen.as_json:
        screen.document(document)
    else:
        where = f"{shown_path(folder)}: report.html tells all of it, sheets.pdf, order.csv"
        where = "none written (--dry-run); --full tells all of it" if dry_run else where
        then = "the same command without --dry-run" if dry_run else f"gradework setout {shown_path(job)}"
        _tell(screen, result, told, full=full, files=where, then=then, notes=asked is not None)
    if dry_run:
        _list(
            screen,
            "would write",
            folder,
            [*picture_files(result, pictures=given["pictures"]), *tables, *more],
        )
    elif full or screen.as_json:
        _list(screen, "wrote", folder, [f"{name:<14} {_size(len(data))}" for name, data in files.items()])
    end_with(result.findings)


def _tell(screen: Screen, result: Plan, told: tuple[Finding, ...], *, full: bool, **rest: Any) -> None:
    """Print the answer, all of it or only its first line; ``told``: what drawings and formats left out."""
    if screen.quiet:
        screen.answer(verdict_and_stops(result))
    elif full:
        screen.answer(summary(replace(result, findings=(*result.findings, *told))))
    else:
        screen.answer(answer(result, told=told, **rest))


def _drawn(
    result: Plan, paper: Paper | None, *, pictures: bool
) -> tuple[dict[str, bytes], tuple[Finding, ...]]:
    """Draw it all, and tell what the drawings could not show."""
    from gradework.library.figures import draw_all, drawing_files  # a dry run draws nothing

    drawn = draw_all(result)
    return drawing_files(drawn, paper, pictures=pictures), drawn.findings


def _planned(path: Path, asked: Asked | None, level: str | None, show: Form | None, *, anyway: bool) -> Plan:
    if asked is None:
        return plan_of(_with_level(read_job_file(path, show=show), level), path, anyway=anyway)
    result = planned(_with_level(asked.job, level), asked.notes, anyway=anyway)
    return replace(result, findings=(*result.findings, *asked.findings))


def _with_level(job: Job, level: str | None) -> Job:
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
