"""Many jobs, one after another or in processes: each planned, drawn and written beside it, or kept as it is.

What a process does stands at the top of this file, so that one that starts afresh finds it by name.
"""

from __future__ import annotations

import json
import multiprocessing
import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import NamedTuple

from gradework.errors import LONGEST_PATH, MOST_SHOWN, InputError, OutputError, fault, visible
from gradework.exchange.batch import yard_of
from gradework.files.done import jobs_below, results_of, still_made_of
from gradework.files.read import MOST_JOB, read_bytes
from gradework.files.write import write_folder
from gradework.library.jobs import notes_of
from gradework.project.batch import Yard
from gradework.project.job.read import read_job
from gradework.project.plan import plan


class Task(NamedTuple):
    """One job to plan: its file; ``force``: files that are not ours go; ``again``: even if unchanged."""

    job: Path
    force: bool = False
    again: bool = False


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
    job = read_job(data, str(task.job)).standing_in(str(task.job.parent))
    notes, places, breaklines = notes_of(job, None, None)
    given = {"job": data, "notes": notes, "places": places, "breaklines": breaklines}
    made_of = {name: part for name, part in given.items() if part is not None}
    folder, name = results_of(task.job), visible(str(task.job), LONGEST_PATH)
    if not task.again and still_made_of(folder, made_of):
        return yard_of(name, job, json.loads((folder / "result.json").read_bytes()), new=False)
    from gradework.library.figures import all_files  # loads matplotlib: not where nothing is to be done

    files, record = all_files(plan(job, notes, places, breaklines))
    write_folder(files, folder, force=task.force, made_of=made_of)
    return yard_of(name, job, record, new=True)


def _faulty(task: Task, *faults: str) -> Yard:
    return Yard(visible(str(task.job), LONGEST_PATH), "", "fault", faults=faults, new=True)


# One after another, or in processes that start afresh: none carries what another has loaded or set.


def done_of(tasks: Sequence[Task], workers: int) -> Iterator[Yard]:
    """Do every task, and give the rows as they come; Ctrl-C waits for those under way, and is raised."""
    if min(workers, len(tasks)) <= 1:
        yield from map(do, tasks)
        return
    left = dict.fromkeys(tasks)
    try:
        for task, yard in _in_processes(tasks, workers):
            del left[task]
            yield yard
    except BrokenProcessPool:  # one that was killed takes all that wait with it: find out which, alone
        for task in list(left):
            yield _alone(task)


def _in_processes(tasks: Sequence[Task], workers: int) -> Iterator[tuple[Task, Yard]]:
    pool = _pool(min(workers, len(tasks)))
    try:
        futures: dict[Future[Yard], Task] = {pool.submit(do, task): task for task in tasks}
        for future in as_completed(futures):
            yield futures[future], future.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _alone(task: Task) -> Yard:
    with _pool(1) as pool:
        try:
            return pool.submit(do, task).result()
        except BrokenProcessPool:
            return _faulty(task, str(fault("batch-job-broke", variant="died", file=str(task.job))))


def _pool(workers: int) -> ProcessPoolExecutor:
    afresh = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=afresh, initializer=_leave_ctrl_c)


def _leave_ctrl_c() -> None:
    """Let the one who waits for us decide: a terminal sends Ctrl-C to all of its processes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
