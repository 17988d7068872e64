"""``gradework batch FOLDER | JOB ...``: many jobs planned, those that changed only, and one table of all."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from gradework.command.main import LeafCommand
from gradework.command.options import InputName, OutputName, common_options, force_option, shown_path
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.errors import LONGEST_PATH, visible
from gradework.exchange.batch import batch_record, batch_tables, deliveries_of
from gradework.files.write import write_folder
from gradework.library.batch import Task, done_of, find_jobs
from gradework.project.batch import By, Yard, in_order
from gradework.report.batch import batch_text, stops_text

_EXAMPLES = """
gradework batch yards
gradework batch yards --workers 2 --sort stops
gradework batch north/job.toml south/job.toml -o this-week
"""

Tell = Callable[[str], None]


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("named", type=InputName(path_type=Path), nargs=-1, metavar="[FOLDER | JOB]...")
@click.option(
    "--workers",
    type=click.IntRange(min=1, max=64),
    default=1,
    show_default=True,
    metavar="N",
    help="So many processes at once.",
)
@click.option(
    "--sort",
    type=click.Choice(["cost", "stops"]),
    default="cost",
    show_default=True,
    help="What can be built first, by cost; or what stops them first.",
)
@click.option("--again", is_flag=True, help="Plan all of them, also those that did not change.")
@click.option(
    "-o",
    "--output",
    type=OutputName(path_type=Path),
    help="The folder of the table [default: batch, in FOLDER if it is the only one, else here].",
)
@force_option
@common_options
def batch(
    *,
    screen: Screen,
    named: tuple[Path, ...],
    workers: int,
    sort: By,
    again: bool,
    output: Path | None,
    **given: Any,
) -> None:
    """Plan every job.toml in FOLDER [default: this one] and below it, and each JOB, as gradework plan does.

    The results of each go beside it, into results (results-NAME for NAME.toml). A job whose files did not
    change since is not planned again, and one with errors harms no other. Prints one table of all, and
    writes it with the orders added up by supplier and day: batch.csv, batch-order.csv and batch.json.
    Ctrl-C keeps what is done. The exit status is 1 where a job has errors or cannot be built as drawn.
    """
    named = named or (Path(),)
    tasks = [Task(job, given["force"], again) for job in find_jobs(named)]
    done: list[Yard] = []
    stopped = False
    with working(screen, f"planning {len(tasks)} jobs") as say:
        try:
            _do_all(tasks, workers, done, say)
        except KeyboardInterrupt:
            stopped = True
    yards = in_order([*done, *_not_done(tasks, done)], sort)
    folder = output or (named[0] if len(named) == 1 and named[0].is_dir() else Path()) / "batch"
    document = batch_record(yards, stopped=stopped)
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    write_folder({**batch_tables(document), "batch.json": text.encode()}, folder, force=given["force"])
    if screen.as_json:
        screen.document(document)
    elif screen.quiet:
        screen.answer(stops_text(yards))
    else:
        files = f"All of it: batch.csv, batch-order.csv and batch.json in {shown_path(folder)}"
        screen.answer(batch_text(yards, deliveries_of(yards), files))
    if stopped:
        raise KeyboardInterrupt
    if any(yard.outcome != "buildable" for yard in yards):
        click.get_current_context().exit(1)


def _do_all(tasks: Sequence[Task], workers: int, done: list[Yard], say: Tell) -> None:
    """Do every task into ``done``, and say how far it is and how long the rest takes."""
    start = time.monotonic()
    for yard in done_of(tasks, workers):
        done.append(yard)
        planned, left = sum(one.new for one in done), len(tasks) - len(done)
        # what is kept takes no time, so only what was planned tells how long the rest may take
        more = (time.monotonic() - start) / planned * left if planned else 0.0
        wait = f", about {_time(more)} left" if more else ""
        say(f"{len(done)} of {len(tasks)} jobs done{wait}")


def _time(seconds: float) -> str:
    """Say how long it takes.

    >>> _time(4.2), _time(200.0)
    ('5 s', '4 min')
    """
    return f"{int(seconds) + 1} s" if seconds < 90 else f"{int(seconds / 60) + 1} min"


def _not_done(tasks: Sequence[Task], done: Sequence[Yard]) -> list[Yard]:
    names = {yard.job for yard in done}
    told = [visible(str(task.job), LONGEST_PATH) for task in tasks]
    return [Yard(name, "", "not done") for name in told if name not in names]
