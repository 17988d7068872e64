"""A job and its notes, however they are handed over: a path, bytes, tables made in Python."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gradework.errors import InputError, fault
from gradework.files.read import MOST_JOB, read_binary
from gradework.library.inputs import Source, bytes_of
from gradework.project.job import read as reading
from gradework.project.job.model import Job


def read_job(job: Source | Mapping[str, Any]) -> Job:
    """Read and check a job.

    Parameters
    ----------
    job
        The path of a job file, its bytes, or the same tables as a dictionary. Bare numbers are in the job's
        own ``units``.

    Returns
    -------
    Job
        All lengths in metres. One that was read from a path knows where its notes stand.

    Raises
    ------
    InputError
        With every fault at once: line and column, what was found, what was expected, what to do.

    Examples
    --------
    >>> import gradework as gw
    >>> gw.read_job("data/spring-pump-house/job.toml")
    <Job 'Spring pump house': pad, in m>
    >>> shed = {"name": "Shed", "units": "ft", "survey": {"notes": "yard.csv"},
    ...         "building": {"size": [16, 12], "corner": [0, 0]}}
    >>> gw.read_job(shed).building.size
    (4.8768, 3.6576)
    """
    if isinstance(job, Mapping):
        return reading.check_tables(job)
    given = bytes_of(job, "job.toml", most=MOST_JOB)
    read = reading.read_job(given.data, given.file)
    return read if given.folder is None else read.standing_in(str(given.folder))


def notes_of(
    job: Job, notes: Source | None, places: Source | None, breaklines: Source | None = None
) -> tuple[bytes, bytes | None, bytes | None]:
    """The bytes of the notes of a job, and of its tables of places and breaklines where it names any.

    Each is what was handed over, else the file beside the job.
    """
    survey = job.survey
    data = _beside(job, survey.notes, notes, "notes")
    placed = None if survey.places is None else _beside(job, survey.places, places, "places")
    lines = survey.breaklines
    return data, placed, None if lines is None else _beside(job, lines, breaklines, "breaklines")


def around_of(job: Job, around: Source | None) -> bytes | None:
    """The bytes of the airborne ground of a job, where it names any: handed over, else beside the job."""
    name = job.site.around
    if name is None:
        return None
    if isinstance(around, bytes):
        return around
    if around is None and job.folder is None:
        raise InputError([fault("notes-not-given", what="around")])
    return read_binary(Path(job.folder or "") / name if around is None else around)


def _beside(job: Job, name: str, given: Source | None, called: str) -> bytes:
    """What was handed over, else the file that the job names, beside its own."""
    if given is not None:
        return bytes_of(given, name).data
    if job.folder is None:
        raise InputError([fault("notes-not-given", what=called)])
    return bytes_of(str(Path(job.folder) / name), name).data
