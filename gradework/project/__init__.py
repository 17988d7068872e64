"""The job file, and the one place that knows the whole order of work.

``read_job`` turns the text of a job file into a checked ``Job``; ``plan`` takes a job and the notes and
computes everything. Nothing here reads a file, draws, writes or prints.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gradework.project.job import Job
    from gradework.project.reading import read_job
    from gradework.project.work import Plan, plan

__all__ = ["Job", "Plan", "plan", "read_job"]

_HOMES = {"Job": "job", "read_job": "reading", "Plan": "work", "plan": "work"}


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for: the job needs pydantic, the work needs numpy."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib  # part of the start anyway

    return getattr(importlib.import_module(f"{__name__}.{_HOMES[name]}"), name)
