"""Faults found while working, pointed at the lines of the job that caused them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from gradework.errors import InputError

if TYPE_CHECKING:
    from gradework.project.job import Job


@contextmanager
def pointing_into(job: Job, *path: str) -> Iterator[None]:
    """Let the faults raised inside, which know no file, point at a line of the job."""
    try:
        yield
    except InputError as problem:
        raise job.located(problem, path) from None
