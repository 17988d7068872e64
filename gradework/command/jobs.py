"""A job and the files named in it, from the command line to a plan: where each command on a job begins."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from gradework.command.options import InputName
from gradework.files.read import MOST_JOB, read_binary, read_bytes
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.units.form import Form

Option = Callable[[Any], Any]


class JobName(InputName):
    """The name of a job file, or of the folder that it is the ``job.toml`` of."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Find the job in a folder."""
        path = Path(super().convert(value, param, ctx))
        return path / "job.toml" if path.is_dir() else path


job_argument: Option = click.argument("job", type=JobName(path_type=Path), default=".")
"""JOB: nothing is the folder one stands in."""

foundation_option: Option = click.option(
    "--foundation",
    type=click.Choice(["pad", "piers", "slab"]),
    help="Which foundation of the job [default: the one to be built].",
)


def read_job_file(path: Path, *, show: Form | None = None) -> Job:
    """Read and check a job, said as ``show`` asks. Raises ``InputError``."""
    job = read_job(read_bytes(path, most=MOST_JOB), str(path))
    return job if show is None else job.saying(show)


def plan_of(job: Job, path: Path, *, anyway: bool = False) -> Plan:
    """Read the notes of the job at ``path``, and work out the whole plan. Raises ``InputError``."""
    return plan(job, *notes_of(job, path), around=around_of(job, path), anyway=anyway)


def notes_of(job: Job, path: Path) -> tuple[bytes, bytes | None, bytes | None]:
    """Read the notes of the job at ``path``, and its tables of places and breaklines where it has any."""
    notes = _beside(path, job.survey.notes)
    tables = (job.survey.places, job.survey.breaklines)
    places, breaklines = (None if name is None else _beside(path, name) for name in tables)
    return notes, places, breaklines


def around_of(job: Job, path: Path) -> bytes | None:
    """Read the airborne ground of the job at ``path``, where it names any."""
    name = job.site.around
    return None if name is None else read_binary(path.parent / name, shown=str(path.parent / name))


def _beside(path: Path, name: str) -> bytes:
    """Read a file named in the job, which stands beside it."""
    return read_bytes(path.parent / name, shown=str(path.parent / name))
