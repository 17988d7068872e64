"""Many tasks, one after another or in processes that start afresh: none carries over what another set."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

Task = TypeVar("Task")
Done = TypeVar("Done")


def done_of(
    do: Callable[[Task], Done], tasks: Sequence[Task], workers: int, died: Callable[[Task], Done]
) -> Iterator[Done]:
    """Do every task, and give what comes of each; Ctrl-C waits for those under way, and is raised.

    ``do`` is a function at the top of a file, which a process finds by its name; ``died`` gives what comes of
    a task whose process was ended from outside.
    """
    if min(workers, len(tasks)) <= 1:
        yield from map(do, tasks)
        return
    left = list(tasks)
    try:
        for task, done in _in_processes(do, tasks, workers):
            left.remove(task)
            yield done
    except BrokenProcessPool:  # one that was killed takes all that wait with it: find out which, alone
        for task in left:
            yield _alone(do, task, died)


def _in_processes(
    do: Callable[[Task], Done], tasks: Sequence[Task], workers: int
) -> Iterator[tuple[Task, Done]]:
    pool = _pool(min(workers, len(tasks)))
    try:
        futures: dict[Future[Done], Task] = {pool.submit(do, task): task for task in tasks}
        for future in as_completed(futures):
            yield futures[future], future.result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _alone(do: Callable[[Task], Done], task: Task, died: Callable[[Task], Done]) -> Done:
    with _pool(1) as pool:
        try:
            return pool.submit(do, task).result()
        except BrokenProcessPool:
            return died(task)


def _pool(workers: int) -> ProcessPoolExecutor:
    afresh = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(workers, mp_context=afresh, initializer=_leave_ctrl_c)


def _leave_ctrl_c() -> None:
    """Let the one who waits for us decide: a terminal sends Ctrl-C to all of its processes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
