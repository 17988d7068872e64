"""`gradework batch --scheduler`: a killed worker costs nothing but time, and no address makes it hang."""

from __future__ import annotations

import hashlib
import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import distributed
import pytest

from gradework.command import batch as work
from gradework.command.cluster import Cluster
from gradework.errors import InputError
from gradework.project.batch import Yard

ROOT = Path(__file__).parents[2]
JOBS = ("a", "b", "c", "d")
LONGEST = 300.0  # [s]; a machine that has much else to do


@contextmanager
def local_cluster(folder: Path, **settings: str) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """A scheduler and two workers, each a process that stands elsewhere: the address, and all three."""
    more = {"PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", **settings}
    told = folder / "scheduler.json"

    def started(name: str, *words: str) -> subprocess.Popen[bytes]:
        command = [
            sys.executable,
            "-W",
            "ignore",
            "-m",
            f"distributed.cli.dask_{name}",
            "--no-dashboard",
            *words,
        ]
        quiet = subprocess.DEVNULL
        return subprocess.Popen(command, cwd="/", env={**os.environ, **more}, stdout=quiet, stderr=quiet)

    processes = [started("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(told))]
    try:
        wait_for(lambda: told.exists() and told.read_text().endswith("}"))
        address = json.loads(told.read_text())["address"]
        one_thread = ("--no-nanny", "--nthreads", "1", "--name")
        processes += [started("worker", address, *one_thread, name) for name in ("first", "second")]
        with distributed.Client(address, timeout=LONGEST) as client:
            client.wait_for_workers(2, timeout=LONGEST)
        yield address, processes
    finally:
        for process in processes:
            process.kill()
            process.wait()


def wait_for(ready: Callable[[], object]) -> None:
    end = time.monotonic() + LONGEST
    while not ready():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture
def yards(tmp_path: Path, plane_job: bytes, plane_notes: bytes) -> Callable[[str], Path]:
    """Makes a folder with four jobs and a broken one, below one of that name."""

    def make(name: str) -> Path:
        for job in (*JOBS, "lost"):
            folder = tmp_path / name / "yards" / job
            folder.mkdir(parents=True)
            (folder / "job.toml").write_bytes(plane_job.replace(b"Tool store", job.encode()))
            if job != "lost":
                (folder / "yard.csv").write_bytes(plane_notes)
        return tmp_path / name

    return make


def digests(folder: Path) -> dict[str, str]:
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files
    }


@pytest.mark.slow
def test_a_worker_killed_in_the_middle_changes_no_byte(
    run: Callable[..., Any], yards: Callable[[str], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    alone, shared = yards("alone"), yards("shared")
    monkeypatch.chdir(alone)
    assert run("batch", "yards").status == 1
    with local_cluster(tmp_path) as (address, (_, first, _)):
        command = [sys.executable, "-m", "gradework", "batch", "yards", "--scheduler", address, "-q"]
        given = {**os.environ, "PYTHONPATH": str(ROOT)}
        batch = subprocess.Popen(
            command, cwd=shared, env=given, stdout=subprocess.PIPE, stderr=subprocess.PIPE
        )
        with distributed.Client(address, timeout=LONGEST) as client:

            def working() -> list[str]:
                info = client.scheduler_info()["workers"]
                name = next((where for where, one in info.items() if one["name"] == "first"), "")
                return list(client.processing().get(name, ()))

            wait_for(lambda: list(shared.rglob("manifest.json")) and working())
            assert len(list(shared.rglob("manifest.json"))) < len(JOBS)
            first.kill()
        out, err = batch.communicate(timeout=LONGEST)
    assert (batch.returncode, err) == (1, b"")
    assert b"5 jobs: 4 can be built as drawn, 1 with errors." in out
    assert digests(shared) == digests(alone)
    assert len(digests(shared)) > 5 * len(JOBS)


@pytest.mark.slow
def test_a_task_that_kills_workers_is_told_and_a_cluster_that_is_gone_ends_it(tmp_path: Path) -> None:
    with local_cluster(tmp_path, DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES="0") as (address, processes):
        with Cluster(address, os._exit) as deadly:
            deadly.give(3)
            assert list(deadly.taken()) == [(3, None)]
        with Cluster(address, time.sleep) as lasting:
            lasting.give(0.0)  # the other worker goes on
            assert list(lasting.taken()) == [(0.0, None)]
            lasting.give(2 * LONGEST)
            processes[0].kill()
            with pytest.raises(InputError, match="stopped answering"):
                list(lasting.taken())


def test_an_address_where_no_scheduler_answers_ends_within_seconds(
    run: Callable[..., Any], yards: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(yards("here"))
    with socket.socket() as mute:
        mute.bind(("127.0.0.1", 0))
        mute.listen()
        for address in (
            "tcp://127.0.0.1:1",
            f"tcp://127.0.0.1:{mute.getsockname()[1]}",
            "nowhere",
            "x://y",
            "",
        ):
            start = time.monotonic()
            done = run("batch", "yards", "--scheduler", address)
            assert (done.status, done.out) == (2, "")
            assert "[batch-cluster]" in done.err
            assert done.err.count("\n") == 1
            assert time.monotonic() - start < 30.0
    assert not list(Path().rglob("results"))
    assert not Path("yards/batch").exists()


def test_without_dask_it_names_the_extra(
    run: Callable[..., Any], yards: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(yards("here"))
    monkeypatch.setitem(sys.modules, "distributed", None)
    done = run("batch", "yards", "--scheduler", "tcp://127.0.0.1:1")
    assert (done.status, done.out) == (2, "")
    assert "gradework[cluster]" in done.err
    both = run("batch", "yards", "--scheduler", "x", "--workers", "2")
    assert both.status == 2
    assert "--workers or --scheduler" in both.err


def test_a_worker_with_another_version_writes_nothing(tmp_path: Path) -> None:
    task = work.Task(tmp_path / "job.toml")
    inputs = work.Inputs("job.toml", b"", b"", None, None, None)
    made = work.Made({"order.csv": b"x"}, Yard("job.toml", "", "buildable"), "0.0.1")
    with pytest.raises(InputError, match=r"gradework 0\.0\.1"):
        work._received(task, inputs, made, "tcp://there:1")
    assert list(tmp_path.iterdir()) == []
