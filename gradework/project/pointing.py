"""Faults found while working, pointed at the lines of the job that caused them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from gradework.errors import Fault, InputError

if TYPE_CHECKING:
    from gradework.project.job import Job


_KEYS = {
    "level-far-from-ground": "level",
    "pad-prices-missing": "level",
    "outline-margin": "margin",
    "batter-hollow": "edge",
}
"""The key, within the table at work, that a fault is about where it does not say so itself."""


@contextmanager
def pointing_into(job: Job, *path: str) -> Iterator[None]:
    """Let the faults raised inside, which know no file, point at a line of the job.

    Each at the key it is about where the job has it, else at its table, else (a pad that nobody wrote down)
    at the building.
    """
    try:
        yield
    except InputError as problem:
        here = path if path[0] in job.model_fields_set else ("building",)
        located: list[Fault] = []
        for fault in problem.faults:
            about = fault.about or ((_KEYS[fault.code],) if fault.code in _KEYS else ())
            located += job.located(InputError([fault]), (*here, *about)).faults
        raise InputError(located, problem.findings) from None
