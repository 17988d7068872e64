"""Many tasks on a running Dask cluster: given out a few ahead, done again elsewhere where a worker dies.

A worker only works things out: it is handed bytes and hands back bytes, and touches no file. So one that is
killed leaves nothing behind, and two that were given the same task by mistake do no harm.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Iterator
from concurrent.futures import CancelledError
from types import TracebackType
from typing import Any, Generic, Literal, TypeVar

from gradework.errors import InputError, fault, visible

Task = TypeVar("Task")
Done = TypeVar("Done")

_LOUD = ("client", "comm", "comm.core", "core", "batched", "worker")
"""What Dask tells on standard error of a cluster that is lost; all that matters is told in our own words."""

REACHED_WITHIN = 5.0
"""[s] So long a scheduler may take to answer."""

WORKING_WITHIN = 30.0
"""[s] So long its first worker may take to be there: workers that were just started load a while."""

LOOKED_AFTER = 5.0
"""[s] So often, while nothing comes back, it is asked whether scheduler and workers are still there."""

GIVEN_UP_AFTER = 60.0
"""[s] So long a cluster may be without a worker: one that is started anew takes a while."""


class Cluster(Generic[Task, Done]):
    """A cluster to give tasks to; as a context, which lets go of what is not done yet."""

    def __init__(self, address: str, do: Callable[[Task], Done]) -> None:
        """Reach the scheduler. ``do`` stands at the top of a file, so that a worker finds it by its name.

        Raises ``InputError`` where Dask is not installed, no scheduler answers, or there is no worker.
        """
        try:
            import distributed  # an extra of its own: only this option needs it
        except ImportError:
            raise InputError([fault("batch-no-dask")]) from None
        for logger in ("distributed", *(f"distributed.{part}" for part in _LOUD)):
            logging.getLogger(logger).setLevel(logging.CRITICAL)
        self._dask, self._address, self._do = distributed, address, do
        self._given: dict[Any, Task] = {}
        self._alone = 0.0  # [s] without a worker
        try:
            asyncio.run(self._asked())
            self._client = distributed.Client(address, timeout=REACHED_WITHIN)
        except Exception as problem:  # whatever it is that listens there may answer anything
            raise self._problem("unreached", problem) from None
        try:
            self._client.wait_for_workers(1, timeout=WORKING_WITHIN)
        except (OSError, TimeoutError):
            self._client.close(timeout=LOOKED_AFTER)
            raise self._problem("workless") from None

    async def _asked(self) -> None:
        """Ask what listens there: a client by itself waits without end for what never answers so."""
        async with self._dask.rpc(self._address, timeout=REACHED_WITHIN) as there:
            await asyncio.wait_for(there.identity(), REACHED_WITHIN)

    def __enter__(self) -> Cluster[Task, Done]:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> Literal[False]:
        self._client.close(timeout=LOOKED_AFTER)
        return False

    @property
    def busy(self) -> bool:
        """Whether every worker has enough to do: more would only fill its memory."""
        most = self._threads()
        return most is None or len(self._given) >= 2 * max(most, 1)

    def give(self, task: Task) -> None:
        """Let some worker do a task."""
        self._given[self._client.submit(self._do, task, pure=False)] = task

    def taken(self) -> Iterator[tuple[Task, Done | None]]:
        """Wait until a task is done; give each that is, with None where it was ended wherever it was tried.

        Raises ``InputError`` where the workers cannot do it at all, or the cluster is gone.
        """
        ready: Any = ()
        while self._given and not ready:
            try:
                done = self._dask.wait(list(self._given), timeout=LOOKED_AFTER, return_when="FIRST_COMPLETED")
                ready = done.done
            except (OSError, TimeoutError):
                self._look()
            except (CancelledError, asyncio.CancelledError) as lost:  # what it is called hangs on the version
                raise self._problem("lost", lost) from None
        for future in ready:
            yield self._given.pop(future), self._outcome(future)

    def _outcome(self, future: Any) -> Done | None:
        problem = future.exception() if future.status == "error" else None
        if isinstance(problem, self._dask.scheduler.KilledWorker):
            return None
        if problem is not None:
            raise self._problem("unfit", problem)
        if future.status != "finished":
            raise self._problem("lost")
        try:
            done: Done = future.result()
        except Exception as lost:  # its worker, or the scheduler, went while the answer was on its way
            raise self._problem("lost", lost) from None
        return done

    def _look(self) -> None:
        """Raise ``InputError`` where the scheduler is gone for good, or there was no worker for long."""
        if self._client.status not in ("running", "connecting"):
            raise self._problem("lost")
        self._alone = self._alone + LOOKED_AFTER if self._threads() == 0 else 0.0
        if self._alone >= GIVEN_UP_AFTER:
            raise self._problem("lost")

    def _threads(self) -> int | None:
        """How many tasks the workers can do at once; None while it cannot be asked."""
        if self._client.status != "running":
            return None
        try:
            most: int = sum(self._client.nthreads().values())
        except (OSError, TimeoutError, ValueError, AttributeError):  # gone since it was looked at
            return None
        return most

    def _problem(self, variant: str, problem: BaseException | None = None) -> InputError:
        what = visible(f"{type(problem).__name__}: {problem}", 200) if problem is not None else ""
        return InputError(
            [fault("batch-cluster", variant=variant, address=visible(self._address), what=what)]
        )
