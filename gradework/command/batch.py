"""``gradework batch FOLDER | JOB ...``: many jobs planned, those that changed only, and one table of all."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import quote

import click

from gradework.command.jobs import notes_of
from gradework.command.main import LeafCommand
from gradework.command.options import InputName, OutputName, common_options, force_option, shown_path
from gradework.command.processes import done_of
from gradework.command.progress import working
from gradework.command.screen import Screen
from gradework.errors import LONGEST_PATH, MOST_SHOWN, InputError, OutputError, fault, visible
from gradework.exchange.batch import batch_record, batch_tables, deliveries_of, yard_of
from gradework.files.done import jobs_below, results_of, still_made_of
from gradework.files.read import MOST_JOB, read_bytes
from gradework.files.write import write_folder
from gradework.project.batch import By, Yard, added_up, in_order
from gradework.project.job.read import read_job
from gradework.project.plan import plan
from gradework.report.batch import batch_text, stops_text
from gradework.report.page.batch import batch_page

_EXAMPLES = """
gradework batch yards
gradework batch yards --workers 2 --sort stops
gradework batch north/job.toml south/job.toml -o this-week
"""

Tell = Callable[[str], None]

# What is done with one job, here or in a process of its own, which finds it by name.


class Task(NamedTuple):
    """One job to plan: its file; ``force``: files that are not ours go; ``again``: even if unchanged."""

    job: Path
    force: bool = False
    again: bool = False


def _name(task: Task) -> str:
    """What a job is called in the tables and on the screen."""
    return visible(str(task.job), LONGEST_PATH)


def find_jobs(named: Sequence[Path]) -> list[Path]:
    """Every job that was named, and all below each folder, each once. Raises ``InputError`` without any."""
    found: dict[Path, Path] = {}
    for path in named:
        jobs = list(jobs_below(path)) if path.is_dir() else [path]
        if not jobs:
            raise InputError([fault("batch-no-job", file=str(path))])
        for job in jobs:
            found.setdefault(job.resolve(), job)
    return list(found.values())


def do(task: Task) -> Yard:
    """Plan one job and write its folder of results, unless they are still those of the same inputs.

    Whatever goes wrong with it becomes its row. Ctrl-C is raised.
    """
    try:
        return _done(task)
    except InputError as problem:
        return _faulty(task, *map(str, problem.faults[:MOST_SHOWN]))
    except OutputError as problem:
        return _faulty(task, f"error: {problem} [result-not-written]")
    except MemoryError:
        return _faulty(task, str(fault("batch-job-broke", variant="memory", file=str(task.job))))
    except Exception as problem:
        what = visible(f"{type(problem).__name__}: {problem}", 200)
        return _faulty(task, str(fault("batch-job-broke", what=what, file=str(task.job))))


def _done(task: Task) -> Yard:
    data = read_bytes(task.job, most=MOST_JOB)
    job = read_job(data, str(task.job))
    notes, places, breaklines = notes_of(job, task.job)
    given = {"job": data, "notes": notes, "places": places, "breaklines": breaklines}
    made_of = {name: part for name, part in given.items() if part is not None}
    folder, name = results_of(task.job), _name(task)
    if not task.again and still_made_of(folder, made_of):
        return yard_of(name, job, json.loads((folder / "result.json").read_bytes()), new=False)
    from gradework.library.figures import all_files  # loads matplotlib: not where nothing is to be done

    files, record = all_files(plan(job, notes, places, breaklines))
    write_folder(files, folder, force=task.force, made_of=made_of)
    return yard_of(name, job, record, new=True)


def _faulty(task: Task, *faults: str) -> Yard:
    return Yard(_name(task), "", "fault", faults=faults, new=True)


def _died(task: Task) -> Yard:
    return _faulty(task, str(fault("batch-job-broke", variant="died", file=str(task.job))))


# The command.


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
    writes it with the orders added up by supplier and day: batch.html, which leads to the page of each job,
    batch.csv, batch-order.csv and batch.json. Ctrl-C keeps what is done. The exit status is 1 where a job
    has errors or cannot be built as drawn.
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
    files = {"batch.html": _page(yards, tasks, folder), **batch_tables(document), "batch.json": text.encode()}
    write_folder(files, folder, force=given["force"])
    if screen.as_json:
        screen.document(document)
    elif screen.quiet:
        screen.answer(stops_text(yards))
    else:
        where = f"All of it: {', '.join([*files][:-1])} and {[*files][-1]} in {shown_path(folder)}"
        screen.answer(batch_text(yards, deliveries_of(yards), where))
    if stopped:
        raise KeyboardInterrupt
    if any(yard.outcome != "buildable" for yard in yards):
        click.get_current_context().exit(1)


def _page(yards: Sequence[Yard], tasks: Sequence[Task], folder: Path) -> bytes:
    """The page of all, with the way from its ``folder`` to the page of each job that has one now."""
    planned = {yard.job for yard in yards if yard.outcome in ("buildable", "not buildable")}
    pages = {name: results_of(task.job) / "report.html" for task in tasks if (name := _name(task)) in planned}
    links = {name: _way(folder, page) for name, page in pages.items()}
    return batch_page(
        yards, deliveries_of(yards), added_up(one for yard in yards for one in yard.lines), links
    )


def _way(folder: Path, page: Path) -> str:
    """Give the way from a folder to a page as a link, every letter as its bytes; "" from disk to disk.

    >>> _way(Path("yards/batch"), Path("yards/a b/results/report.html"))
    '../a%20b/results/report.html'
    """
    try:
        way = os.path.relpath(page, folder)
    except ValueError:  # on Windows nothing leads from one disk to another
        return ""
    return quote(os.fsencode(Path(way).as_posix()))


def _do_all(tasks: Sequence[Task], workers: int, done: list[Yard], say: Tell) -> None:
    """Do every task into ``done``, and say how far it is and how long the rest takes."""
    start = time.monotonic()
    for yard in done_of(do, tasks, workers, _died):
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
    return [Yard(name, "", "not done") for name in map(_name, tasks) if name not in names]
