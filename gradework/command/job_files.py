"""A job and the files named in it, from the disk to a plan."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gradework.project.job import Job
    from gradework.project.work import Plan


def read_job_file(path: Path) -> Job:
    """Read and check a job. Raises ``InputError``."""
    from gradework.files import MOST_JOB, read_bytes
    from gradework.project.reading import read_job

    return read_job(read_bytes(path, most=MOST_JOB), str(path))


def plan_of(job: Job, path: Path) -> Plan:
    """Read the notes of the job at ``path``, and work out the whole plan. Raises ``InputError``."""
    from gradework.project.work import plan

    places = job.survey.places
    notes = _beside(path, job.survey.notes)
    return plan(job, notes, None if places is None else _beside(path, places))


def _beside(path: Path, name: str) -> bytes:
    """Read a file named in the job, which stands beside it."""
    from gradework.files import read_bytes

    return read_bytes(path.parent / name, shown=str(path.parent / name))
