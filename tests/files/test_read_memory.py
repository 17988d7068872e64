"""Notes that need more memory than is free are refused before the work begins, with both figures."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from gradework.errors import InputError
from gradework.files import read
from gradework.files.read import BYTES_PER_ROW, SMALL, free_memory, read_bytes

ROWS = b"A,1,2,3\n"


def table(tmp_path: Path, rows: int) -> Path:
    path = tmp_path / "big.csv"
    path.write_bytes(b"station,x,y,elevation\n" + ROWS * (rows - 1))
    return path


def test_what_does_not_fit_is_told_with_both_figures(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = table(tmp_path, 60_000)
    monkeypatch.setattr(read, "free_memory", lambda: 60_000 * BYTES_PER_ROW)
    assert read_bytes(path) == path.read_bytes()
    monkeypatch.setattr(read, "free_memory", lambda: 60_000 * BYTES_PER_ROW - 1)
    with pytest.raises(InputError) as told:
        read_bytes(path)
    (fault,) = told.value.faults
    assert fault.code == "notes-need-memory"
    assert "60,000 rows, which need about 60 MB" in str(fault)
    monkeypatch.setattr(read, "free_memory", lambda: -5)
    with pytest.raises(InputError, match="the 0 MB that are free"):
        read_bytes(path)


def test_rows_that_end_in_a_carriage_return_count_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = table(tmp_path, 60_000)
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r"))
    monkeypatch.setattr(read, "free_memory", lambda: 1)
    with pytest.raises(InputError, match="60,000 rows"):
        read_bytes(path)


def test_small_tables_and_silent_systems_are_let_pass(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(read, "free_memory", lambda: 1)
    read_bytes(table(tmp_path, SMALL - 1))
    monkeypatch.setattr(read, "free_memory", lambda: None)
    read_bytes(table(tmp_path, SMALL + 1))


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux is asked")
def test_the_least_of_machine_container_and_limit_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    files: dict[str, str | None] = {
        "/proc/meminfo": "MemTotal: 9000 kB\nMemFree: 10 kB\nMemAvailable: 7000 kB\nSwapFree: 500 kB",
        "/sys/fs/cgroup/memory.max": "max",
        "/sys/fs/cgroup/memory.current": "123",
    }
    monkeypatch.setattr(read, "_text", files.get)
    monkeypatch.setattr(read, "_of_limit", lambda: None)
    assert free_memory() == 7500 * 1024
    files["/sys/fs/cgroup/memory.max"] = "5000123"
    assert free_memory() == 5_000_000
    monkeypatch.setattr(read, "_of_limit", lambda: 4_000_000)
    assert free_memory() == 4_000_000
    files.clear()
    monkeypatch.setattr(read, "_of_limit", lambda: None)
    assert free_memory() is None
    monkeypatch.setattr(sys, "platform", "plan9")
    monkeypatch.setattr(read, "_of_limit", lambda: 1)
    assert free_memory() is None


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux is asked")
@pytest.mark.parametrize("piped", [False, True])
def test_a_limit_set_by_the_user_is_kept_by_a_whole_run(tmp_path: Path, piped: bool) -> None:
    """A million rows under ``ulimit -v`` of 600 MB: an answer in plain words instead of a crash."""
    path = table(tmp_path, 1_000_000)
    command = (
        'ulimit -v 600000; exec "$0" -m gradework cutfill "$1" --units m --level 3 --corner 0,0 --size 1,1'
    )
    done = subprocess.run(
        ["sh", "-c", command, sys.executable, "-" if piped else str(path)],
        capture_output=True,
        text=True,
        check=False,
        input=path.read_text() if piped else None,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert "1,000,000 rows, which need about 1,000 MB of memory" in done.stderr
    assert done.stderr.count("\n") == 1
