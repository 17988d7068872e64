"""``gradework sheet``: a blank field sheet to print and take outside, for a job or for any taped grid."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import click

from gradework.command.jobs import JobName, notes_of, read_job_file
from gradework.command.main import LeafCommand
from gradework.command.options import (
    OutputName,
    common_options,
    force_option,
    paper_option,
    refuse_folder,
    show_option,
    shown_path,
)
from gradework.command.screen import Screen
from gradework.command.survey_options import grid_option, units_option
from gradework.errors import InputError
from gradework.exchange.record import finding_records
from gradework.fieldnotes.lettered import LetteredGrid
from gradework.files.write import write_folder
from gradework.project.field_sheet import FieldSheet, sheet_for_grid, sheet_for_job
from gradework.project.job.model import Job
from gradework.project.plan import surveyed
from gradework.survey.levelling.ways import WAYS, Method
from gradework.units.display import Display
from gradework.units.lengths import Unit, parse_length
from gradework.units.numbers import LengthError

_EXAMPLES = """
gradework sheet --grid 4ft --cols 8 --rows 6
gradework sheet my-yard/job.toml --method laser
gradework sheet --grid 5ft --cols 7 --rows 6 --ties "barn A,barn B"
gradework sheet --grid 1.5m --cols 9 --rows 7 --method water-level -o yard.pdf
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("job", type=JobName(path_type=Path), required=False)
@grid_option
@click.option("--cols", type=click.IntRange(min=1), metavar="N", help="Stations along x: A1 to AN.")
@click.option("--rows", type=click.IntRange(min=1), metavar="N", help="Rows along y: A, B, C ...")
@click.option(
    "--method",
    type=click.Choice(list(WAYS)),
    help="How heights are measured [default: that of JOB, or level].",
)
@click.option(
    "--ties", metavar="MARK,MARK[,...]", help="Add a table of ties from these marks [default: those of JOB]."
)
@units_option
@show_option
@paper_option
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The file to write [default: field-sheet.pdf, beside JOB or here].",
)
@force_option
@common_options
def sheet(*, screen: Screen, job: Path | None, output: Path | None, force: bool, **given: Any) -> None:
    """Make a field sheet to print at 100 % on A4 or Letter: a sketch grid with boxes to tick, the table for
    the readings with room to write, and the arithmetic check to do before leaving the yard.

    Give JOB, and the grid covers its building and the 10 ft around it; or --grid, --cols and --rows.
    """
    from gradework.drawings import lettering, paper  # matplotlib
    from gradework.drawings.field_sheet.sheet import draw_field_sheet

    refuse_folder(output, "--output")
    if job is None and given["grid"] is None and Path("job.toml").exists():
        job = Path("job.toml")
    made = _for_grid(given) if job is None else _for_job(job, given)
    pages, on = draw_field_sheet(made), given["paper"] or paper.paper_for(made.show)
    target = output or (Path() if job is None else job.parent) / "field-sheet.pdf"
    written = write_folder(
        {target.name: paper.pdf_of(pages, on)},
        target.parent,
        force=force,
        manifest=False,
        ours=paper.is_field_sheet,
    )
    made = replace(made, findings=(*lettering.unknown_letters((made.title, *made.ties)), *made.findings))
    if screen.as_json:
        screen.document({**_record(made), "pages": len(pages), "written": [str(w.path) for w in written]})
        return
    screen.answer("\n".join(shown_path(w.path) for w in written))
    screen.note(f"{len(pages)} pages, {made.rows * made.columns} stations; print at 100 %.")
    screen.findings(made.findings)


def _for_grid(given: dict[str, Any]) -> FieldSheet:
    missing = [name for name in ("grid", "cols", "rows") if given[name] is None]
    if missing:
        context = click.get_current_context()
        raise click.UsageError(f"Give JOB, or --grid, --cols and --rows (no --{missing[0]} here).", context)
    show = Display(given["units"] or _unit_of(given["grid"]), *filter(None, [given["show"]]))
    return sheet_for_grid(
        _grid(given["grid"], given["units"]),
        rows=given["rows"],
        columns=given["cols"],
        method=given["method"] or "level",
        show=show,
        ties=_ties(given["ties"]) or (),
    )


def _for_job(path: Path, given: dict[str, Any]) -> FieldSheet:
    job = _as_written(read_job_file(path, show=given["show"]), path)
    grid = None if given["grid"] is None else _grid(given["grid"], given["units"] or job.unit)
    own = job.survey.method if job.survey.method in WAYS else None
    return sheet_for_job(
        job,
        method=cast("Method", given["method"] or own or "level"),
        grid=grid,
        rows=given["rows"],
        columns=given["cols"],
        ties=_ties(given["ties"]),
    )


def _as_written(job: Job, path: Path) -> Job:
    """The job said as its notes are written, where they are there already and can be read; a sheet is most
    often made before them, and what is wrong with them is for others to tell."""
    try:
        return surveyed(job, *notes_of(job, path))[0]
    except InputError:
        return job


def _ties(text: str | None) -> tuple[str, ...] | None:
    """The names of the marks, with commas between them; None where nothing was said."""
    return None if text is None else tuple(" ".join(name.split()) for name in text.split(",") if name.strip())


def _unit_of(text: str) -> Unit:
    """The unit to show results in where none is declared: the one the spacing is written in."""
    return "m" if "m" in text.lower() else "ft"


def _grid(text: str, unit: Unit | None) -> LetteredGrid:
    parts = text.split(",")
    if len(parts) not in (1, 2):
        raise click.BadParameter("give one spacing, or two with a comma", param_hint="--grid")
    try:
        spacing = [parse_length(part, unit) for part in parts]
    except LengthError as problem:
        raise click.BadParameter(str(problem), param_hint="--grid") from None
    if not 0.01 <= min(spacing) <= max(spacing) <= 1000.0:
        raise click.BadParameter("a spacing lies between 1 cm and 1 km", param_hint="--grid")
    return LetteredGrid(spacing=(spacing[0], spacing[-1]))


def _record(made: FieldSheet) -> dict[str, Any]:
    grid = made.grid
    return {
        "record": 1,
        "method": made.method,
        "rows": made.rows,
        "columns": made.columns,
        "spacing_m": list(grid.spacing),
        "origin_m": list(grid.origin),
        "turn_degrees": grid.turn,
        "ties": list(made.ties),
        "findings": finding_records(made.findings),
    }
