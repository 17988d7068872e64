"""``gradework place JOB``: where the building stands best, every place and turn looked at."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from gradework.command.jobs import foundation_option, job_argument, notes_of, read_job_file
from gradework.command.main import LeafCommand
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
from gradework.exchange.yard_records import place_record
from gradework.files.read import MOST_JOB, read_bytes
from gradework.files.write import write_folder
from gradework.project.job.site import WHATS
from gradework.project.place import place as placed
from gradework.project.place_job import moved_text
from gradework.report.place import place_text, verdict

if TYPE_CHECKING:
    from gradework.project.place import Placing

_EXAMPLES = """
gradework place my-yard/job.toml
gradework place my-yard/job.toml --least fall --turns square
gradework place my-yard/job.toml --take 1
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@job_argument
@click.option(
    "--least",
    type=click.Choice(WHATS),
    help="What is to be least; highest is the highest ground [default: the job's, else gravel].",
)
@click.option(
    "--turns",
    type=click.Choice(["free", "square", "given"]),
    help="Any turn, square to a line of the yard, or as it is [default: the job's, else free].",
)
@foundation_option
@click.option(
    "--take",
    type=click.IntRange(min=1),
    metavar="N",
    help="Write a job for place N beside JOB, never over it.",
)
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder of the map [default: place, beside JOB].",
)
@paper_option
@show_option
@force_option
@common_options
def place(*, screen: Screen, job: Path, output: Path | None, force: bool, **given: Any) -> None:
    """Find where the building of JOB stands best: all x, y and turns on the surveyed ground, inside the
    boundary and clear of what is near.

    Prints how to move and turn it, what that saves, the best place and three that clearly differ, each
    planned in full with what stops it, and the most that a place may have been missed by. Writes place.pdf,
    a map of the yard with all of them. Ctrl-C gives the best so far.
    """
    from gradework.library.figures import place_sheet  # loads matplotlib, which help does without

    read = read_job_file(job, show=given["show"])
    if given["turns"] is not None:
        change = {"turns": given["turns"]}
        read = read.model_copy(update={"place": read.place.model_copy(update=change)})
    with working(screen, "looking at places") as say:
        made = placed(read, *notes_of(read, job), least=given["least"], kind=given["foundation"], tell=say)
    taken = _taken(made, job, given["take"])
    files = {"place.pdf": place_sheet(made, given["paper"])} if made.spots else {}
    written = write_folder(files, output or job.parent / "place", force=force) if files else ()
    if taken:
        write_folder(taken, job.parent, force=force, manifest=False)
    if screen.as_json:
        screen.document(place_record(made))
    elif screen.quiet:
        screen.answer(verdict(made))
    else:
        screen.answer(place_text(made, shown_path(job)))
    if not screen.as_json:
        screen.findings(made.findings)
    for name in (*(one.path for one in written[:1]), *(job.parent / name for name in taken)):
        screen.note(f"wrote {shown_path(name)}")
    end_with(made.findings)


def _taken(made: Placing, job: Path, number: int | None) -> dict[str, bytes]:
    """The text of the job for one of the places, by its file name; nothing where none is asked for."""
    if number is None:
        return {}
    if number > len(made.spots):
        raise click.BadParameter(f"there are {len(made.spots)} places", param_hint="--take")
    text = read_bytes(job, most=MOST_JOB)
    return {f"{job.stem}-place-{number}.toml": moved_text(text, made.spots[number - 1].job)}
