"""``gradework batch FOLDER | JOB ...``: many jobs planned, those that changed only, and one table of all."""

from __future__ import annotations

import json
import os
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple, TypeVar
from urllib.parse import quote

import click

from gradework import __version__
from gradework.command.cluster import Cluster
from gradework.command.jobs import around_of, notes_of
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
Done = TypeVar("Done")

# What is done with one job, here, in a process of its own or on a cluster, which find it by name.


class Task(NamedTuple):
    """One job to plan: its file; ``force``: files that are not ours go; ``again``: even if unchanged."""

    job: Path
    force: bool = False
    again: bool = False


class Inputs(NamedTuple):
    """All that a job is planned from, and what messages call it."""

    name: str
    job: bytes
    notes: bytes
    places: bytes | None
    breaklines: bytes | None
    around: bytes | None


class Made(NamedTuple):
    """What comes of a job: its files by name, its row, and the version that made them."""

    files: Mapping[str, bytes]
    yard: Yard
    version: str


def _name(task: Task) -> str:
    """What a job is called in the tables and on the screen."""
    return visible(str(task.job), LONGEST_PATH)


def find_jobs(named: Sequence[Path]) -> tuple[list[Path], list[Yard]]:
    """Every job that was named, and all below each folder, each once; and a row of each folder that cannot be
    looked into. Raises ``InputError`` where there is none, or two would write their results into one folder.
    """
    found: dict[str, Path] = {}
    unread: list[OSError] = []
    for path in named:
        jobs = list(jobs_below(path, unread.append)) if path.is_dir() else [path]
        if not jobs and not unread:
            raise InputError([fault("batch-no-job", file=str(path))])
        for job in jobs:
            found.setdefault(os.path.realpath(job), job)
    barred = [fault("batch-barred", file=str(one.filename), reason=one.strerror) for one in unread]
    if not found:
        raise InputError(barred)
    # one of many may be gone; a name that is mistyped is told at once
    if not any(map(os.path.lexists, found)):
        for job in found.values():
            read_bytes(job, most=MOST_JOB)
    _refuse_shared(found.values())
    return list(found.values()), [_faulty(one.file, str(one)) for one in barred]


def _refuse_shared(jobs: Iterable[Path]) -> None:
    """``shed.toml`` and ``shed.txt`` beside each other would write over each other's results."""
    owners: dict[str, Path] = {}
    for job in jobs:
        first = owners.setdefault(os.path.normcase(os.path.abspath(results_of(job))), job)
        if first is not job:
            raise InputError([fault("batch-shared", file=str(job), other=str(first))])


def do(task: Task) -> Yard:
    """Plan one job and write its folder of results, unless they are still those of the same inputs.

    Whatever goes wrong with it becomes its row. Ctrl-C is raised.
    """
    got = _ready(task)
    if isinstance(got, Yard):
        return got
    made = planned(got)
    return made if isinstance(made, Yard) else _written(task, got, made)


def _ready(task: Task) -> Inputs | Yard:
    """Read all that a job is planned from; its row, where it is kept or cannot be read."""
    return _or_faulty(str(task.job), partial(_read, task))


def planned(inputs: Inputs) -> Made | Yard:
    """Plan one job, and touch no file; its row, where that goes wrong.

    One at a time in a process: a worker of a cluster may have threads, and what draws knows none.
    """
    with _ALONE:
        return _or_faulty(inputs.name, partial(_planned, inputs))


def _written(task: Task, inputs: Inputs, made: Made) -> Yard:
    def write() -> Yard:
        write_folder(made.files, results_of(task.job), force=task.force, made_of=_made_of(inputs))
        return made.yard

    return _or_faulty(inputs.name, write)


_ALONE = threading.Lock()


def _or_faulty(name: str, work: Callable[[], Done]) -> Done | Yard:
    """What comes of ``work``, or the row of a job that it went wrong with."""
    try:
        return work()
    except InputError as problem:
        return _faulty(name, *map(str, problem.faults[:MOST_SHOWN]))
    except OutputError as problem:
        return _faulty(name, f"error: {problem} [result-not-written]")
    except MemoryError:
        return _faulty(name, str(fault("batch-job-broke", variant="memory", file=name)))
    except Exception as problem:
        what = visible(f"{type(problem).__name__}: {problem}", 200)
        return _faulty(name, str(fault("batch-job-broke", what=what, file=name)))


def _read(task: Task) -> Inputs | Yard:
    name, data = str(task.job), read_bytes(task.job, most=MOST_JOB)
    job = read_job(data, name)
    inputs = Inputs(name, data, *notes_of(job, task.job), around_of(job, task.job))
    folder = results_of(task.job)
    if task.again or not still_made_of(folder, _made_of(inputs)):
        return inputs
    try:
        return yard_of(_name(task), job, json.loads((folder / "result.json").read_bytes()), new=False)
    except (OSError, ValueError, TypeError, LookupError, AttributeError):  # a manifest like ours, of others
        return inputs


def _planned(inputs: Inputs) -> Made:
    from gradework.library.figures import all_files  # loads matplotlib: not where nothing is to be done

    job = read_job(inputs.job, inputs.name)
    files, record = all_files(plan(job, inputs.notes, inputs.places, inputs.breaklines, around=inputs.around))
    return Made(files, yard_of(visible(inputs.name, LONGEST_PATH), job, record, new=True), __version__)


def _made_of(inputs: Inputs) -> dict[str, bytes]:
    """The inputs as the manifest names them."""
    given = {"job": inputs.job, "notes": inputs.notes}
    more = {"places": inputs.places, "breaklines": inputs.breaklines, "around": inputs.around}
    return given | {name: part for name, part in more.items() if part is not None}


def _faulty(name: str, *faults: str) -> Yard:
    return Yard(visible(name, LONGEST_PATH), "", "fault", faults=faults, new=True)


def _died(task: Task) -> Yard:
    return _faulty(str(task.job), str(fault("batch-job-broke", variant="died", file=str(task.job))))


def _on_cluster(tasks: Sequence[Task], address: str) -> Iterator[Yard]:
    """Do every task, its planning on a cluster; files are read and written here, and by nobody else."""
    with Cluster(address, planned) as cluster:
        left, given = list(reversed(tasks)), dict[Inputs, Task]()
        while left or given:
            while left and not cluster.busy:
                got = _ready(task := left.pop())
                if isinstance(got, Yard):
                    yield got
                    continue
                given[got] = task
                cluster.give(got)
            for inputs, made in cluster.taken():
                yield _received(given.pop(inputs), inputs, made, address)


def _received(task: Task, inputs: Inputs, made: Made | Yard | None, address: str) -> Yard:
    """Write what a worker has made; None is of one that was ended, wherever it was tried."""
    if made is None:
        return _died(task)
    if isinstance(made, Yard):
        return made
    if made.version != __version__:
        raise InputError([fault("batch-cluster", variant="version", address=address, what=made.version)])
    return _written(task, inputs, made)


# The command.


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("named", type=InputName(path_type=Path), nargs=-1, metavar="[FOLDER | JOB]...")
@click.option(
    "--workers",
    type=click.IntRange(min=1, max=64),
    metavar="N",
    help="So many processes at once [default: 1].",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Plan on the workers of a running Dask cluster (extra: cluster).",
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
    workers: int | None,
    scheduler: str | None,
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
    if scheduler is not None and workers is not None:
        raise click.UsageError("Give --workers or --scheduler: a cluster has workers of its own.")
    named = named or (Path(),)
    jobs, barred = find_jobs(named)
    tasks = [Task(job, given["force"], again) for job in jobs]
    folder = output or (named[0] if len(named) == 1 and named[0].is_dir() else Path()) / "batch"
    _refuse_results(folder, jobs)
    done: list[Yard] = []
    stopped: KeyboardInterrupt | InputError | None = None
    with working(screen, f"planning {len(tasks)} jobs") as say:
        engine = (
            done_of(do, tasks, workers or 1, _died) if scheduler is None else _on_cluster(tasks, scheduler)
        )
        try:
            _do_all(engine, len(tasks), done, say)
        except KeyboardInterrupt as problem:
            stopped = problem
        except InputError as problem:  # the cluster is none, or is gone
            if not done:
                raise
            stopped = problem
    yards = in_order([*done, *_not_done(tasks, done), *barred], sort)
    document = batch_record(yards, stopped=stopped is not None)
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    files = {"batch.html": _page(yards, tasks, folder), **batch_tables(document), "batch.json": text.encode()}
    write_folder(files, folder, force=given["force"])
    if screen.as_json:
        if not isinstance(stopped, InputError):  # which is the one document then
            screen.document(document)
    elif screen.quiet:
        screen.answer(stops_text(yards))
    else:
        where = f"All of it: {', '.join([*files][:-1])} and {[*files][-1]} in {shown_path(folder)}"
        screen.answer(batch_text(yards, deliveries_of(yards), where))
    if stopped is not None:
        raise stopped
    if any(yard.outcome != "buildable" for yard in yards):
        click.get_current_context().exit(1)


def _refuse_results(folder: Path, jobs: Sequence[Path]) -> None:
    """The table would take the place of the results of a job."""
    for job in jobs:
        if os.path.realpath(folder) == os.path.realpath(results_of(job)):
            told = f"{shown_path(folder)} is where the results of {shown_path(job)} go; give another folder"
            raise click.BadParameter(told, param_hint="-o")


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


def _do_all(engine: Iterable[Yard], count: int, done: list[Yard], say: Tell) -> None:
    """Take what the engine does into ``done``, and say how far it is and how long the rest takes."""
    start = time.monotonic()
    for yard in engine:
        done.append(yard)
        new, left = sum(one.new for one in done), count - len(done)
        # what is kept takes no time, so only what was planned tells how long the rest may take
        more = (time.monotonic() - start) / new * left if new else 0.0
        wait = f", about {_time(more)} left" if more else ""
        say(f"{len(done)} of {count} jobs done{wait}")


def _time(seconds: float) -> str:
    """Say how long it takes.

    >>> _time(4.2), _time(200.0)
    ('5 s', '4 min')
    """
    return f"{int(seconds) + 1} s" if seconds < 90 else f"{int(seconds / 60) + 1} min"


def _not_done(tasks: Sequence[Task], done: Sequence[Yard]) -> list[Yard]:
    names = {yard.job for yard in done}
    return [Yard(name, "", "not done") for name in map(_name, tasks) if name not in names]
