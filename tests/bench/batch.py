"""Many jobs in one call: jobs per minute with one process, with two, and on a local Dask cluster."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[2]
YARD = ROOT / "data" / "evening"

ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
"""Two workers on two cores must not fight over them with threads of their own."""


def lines(jobs: int = 12, rounds: int = 3) -> Iterator[str]:
    """Each way plans the same ``jobs`` in turn, as the machine drifts; the best round counts.

    Every way starts the command anew, and with it the processes; the workers of a cluster stay.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for number in range(jobs):
            shutil.copytree(YARD, folder / f"yards/{number:02d}", ignore=shutil.ignore_patterns("results"))
        ways = {"1 process": ("--workers", "1"), "2 processes": ("--workers", "2")}
        with cluster(folder, 1) as one, cluster(folder, 2) as two:
            ways |= {"cluster, 1 worker": ("--scheduler", one), "cluster, 2 workers": ("--scheduler", two)}
            for words in ways.values():
                seconds(folder, words, "yards/00")  # so that the workers have loaded what they need
            taken: dict[str, list[float]] = {way: [] for way in ways}
            for _ in range(rounds):
                for way, words in ways.items():
                    taken[way].append(seconds(folder, words))
    best = {way: min(times) for way, times in taken.items()}
    for way, time_taken in best.items():
        ratio = best["1 process"] / time_taken
        yield f"{way}: {jobs * 60 / time_taken:.1f} jobs per minute, {ratio:.2f} times those of 1 process"
    for count, alone in (("1 worker", "1 process"), ("2 workers", "2 processes")):
        more = best[f"cluster, {count}"] / best[alone] - 1.0
        yield f"what the engine adds with {count}: {100 * more:+.0f} % of the time of {alone}"


def seconds(folder: Path, words: tuple[str, ...], what: str = "yards") -> float:
    """Plan all of them anew: the whole command, with its start."""
    command = [sys.executable, "-m", "gradework", "batch", what, "--again", "-q", *words]
    start = time.perf_counter()
    subprocess.run(command, cwd=folder, capture_output=True, check=True, env={**os.environ, **ONE_THREAD})
    return time.perf_counter() - start


@contextmanager
def cluster(folder: Path, workers: int) -> Iterator[str]:
    """The address of a scheduler with so many workers, each a process with one thread."""
    told = folder / f"scheduler-{workers}.json"
    quiet = subprocess.DEVNULL
    dask = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--no-dashboard", "--host", "127.0.0.1"]
    command = [*dask, "--port", "0", "--scheduler-file", str(told)]
    running = [subprocess.Popen(command, cwd=folder, stdout=quiet, stderr=quiet)]
    try:
        while not told.exists() or not told.read_text().endswith("}"):
            time.sleep(0.05)
        address = str(json.loads(told.read_text())["address"])
        dask = [sys.executable, "-m", "distributed.cli.dask_worker", "--no-dashboard", "--no-nanny"]
        command = [*dask, "--nthreads", "1", address]
        env = {**os.environ, **ONE_THREAD}
        running += [
            subprocess.Popen(command, cwd=folder, stdout=quiet, stderr=quiet, env=env) for _ in range(workers)
        ]
        yield address
    finally:
        for process in running:
            process.kill()
            process.wait()
