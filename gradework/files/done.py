"""Which jobs stand below a folder, and whether the results of one are still those of the same inputs."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from gradework import __version__
from gradework.files.ownership import (
    MANIFEST,
    digest,
    digest_of_file,
    digests_in,
    is_plain_file,
    read_if_small,
)

JOB = "job.toml"


def jobs_below(folder: Path, unread: Callable[[OSError], None]) -> Iterator[Path]:
    """Every ``job.toml`` in a folder and below it, by name; no hidden folders, no links to folders.

    ``unread`` is told of each folder that cannot be looked into; the others are looked through all the same.
    """
    for here, inner, files in os.walk(folder, onerror=unread):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        if JOB in files:
            yield Path(here, JOB)


def results_of(job: Path) -> Path:
    """The folder of results beside a job; one of its own where several jobs may stand beside each other.

    >>> results_of(Path("yard/job.toml")).as_posix(), results_of(Path("yard/shed.toml")).as_posix()
    ('yard/results', 'yard/results-shed')
    """
    return job.parent / ("results" if job.name == JOB else f"results-{job.stem}")


def still_made_of(folder: Path, made_of: Mapping[str, bytes]) -> bool:
    """Tell whether this version made the results in ``folder`` of these inputs, and all are as written."""
    manifest = read_if_small(folder / MANIFEST)
    try:
        told = json.loads(manifest)
        same = told["version"] == __version__ and told["made_of"] == {
            name: digest(data) for name, data in made_of.items()
        }
    except (ValueError, KeyError, TypeError, RecursionError):
        return False
    files = digests_in(manifest)
    if not same or not files:
        return False
    paths = {folder / name: known for name, known in files.items()}
    try:
        return all(is_plain_file(path) and digest_of_file(path) == known for path, known in paths.items())
    except OSError:
        return False
