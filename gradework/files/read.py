"""Reading a file whole and bounded, with plain words when it cannot be read."""

from __future__ import annotations

import os
import stat
import sys
import time
from pathlib import Path
from typing import IO

from gradework.errors import Fault, InputError, fault, visible

if sys.platform != "win32":
    import resource

# Whether what a file of notes will take of the memory is there, before a run begins that cannot end well.

BYTES_PER_ROW = 1000
"""Memory that a row of notes takes by the time the plan is drawn [bytes]: measured 720 to 920 with half a
million and a million shots, scattered and on a grid (tests/bench/million.py prints the peak), rounded up."""

SMALL = 50_000
"""So many rows fit anywhere; for fewer nobody asks the system."""


def refuse_if_too_hungry(data: bytes, name: str) -> None:
    """Raise ``InputError`` when a table of so many rows needs more memory than is free."""
    rows = max(data.count(b"\n"), data.count(b"\r"))
    if rows < SMALL:
        return
    free, needed = free_memory(), rows * BYTES_PER_ROW
    if free is not None and needed > free:
        left = f"{max(free, 0) / 1e6:,.0f} MB"
        told = fault(
            "notes-need-memory", file=name, rows=f"{rows:,}", needed=f"{needed / 1e6:,.0f} MB", free=left
        )
        raise InputError([told])


def free_memory() -> int | None:
    """What this process may still take [bytes]: the least of what the machine, its group and the user's limit
    leave; None where the system does not say."""
    if not sys.platform.startswith("linux"):
        return None
    known = [left for left in (_of_machine(), _of_group(), _of_limit()) if left is not None]
    return min(known, default=None)


def _of_machine() -> int | None:
    """Free memory and free swap of the machine."""
    words = (_text("/proc/meminfo") or "").split()
    found = [words.index(key) for key in ("MemAvailable:", "SwapFree:") if key in words]
    return sum(1024 * int(words[at + 1]) for at in found) if found else None


def _of_group() -> int | None:
    """What a container leaves."""
    most, now = (_text(f"/sys/fs/cgroup/memory.{name}") for name in ("max", "current"))
    if most is None or now is None or not most.isdecimal() or not now.isdecimal():
        return None
    return int(most) - int(now)


def _of_limit() -> int | None:
    """What ``ulimit -v`` leaves."""
    if sys.platform == "win32":
        return None
    most = resource.getrlimit(resource.RLIMIT_AS)[0]
    pages = _text("/proc/self/statm")
    if most == resource.RLIM_INFINITY or pages is None:
        return None
    return most - int(pages.split()[0]) * resource.getpagesize()


def _text(path: str) -> str | None:
    try:
        with open(path, encoding="ascii") as stream:
            return stream.read().strip()
    except OSError:
        return None


MOST_NOTES = 256 * 2**20
"""A notes file may be this large [bytes]: two million shots with room for remarks."""
MOST_JOB = 2**20
"""A job file may be this large [bytes]; the TOML reader is slow beyond it."""
WAIT_FOR_WRITER = 10.0
"""So long a named pipe is waited for that nobody has opened to write into [s]."""


def read_bytes(path: str | os.PathLike[str], *, most: int = MOST_NOTES, shown: str | None = None) -> bytes:
    """Read a whole file of at most ``most`` bytes.

    ``shown`` is the name used in messages (the path as the user wrote it). Raises ``InputError`` when the
    file is missing, a folder, a device, not permitted, too large or unreadable, needs more memory than is
    free, or is a pipe that nobody writes into. A pipe is read to its end, however slow its writer.
    """
    data = read_binary(path, most=most, shown=shown)
    refuse_if_too_hungry(data, visible(shown if shown is not None else os.fspath(path), 200))
    return data


MOST_AROUND = 512 * 2**20
"""A file of airborne ground may be this large [bytes]: a county's tile has 20 to 200 MB."""


def read_binary(path: str | os.PathLike[str], *, most: int = MOST_AROUND, shown: str | None = None) -> bytes:
    """The same of a file without rows, of which only what is near the yard is kept in memory."""
    name = visible(shown if shown is not None else os.fspath(path), 200)
    try:
        _refuse_device(os.stat(path).st_mode, name)
        # a pipe is opened without waiting for its writer, who may never come
        with open(path, "rb", opener=_without_waiting, buffering=0) as stream:
            opened = os.fstat(stream.fileno())
            _refuse_device(opened.st_mode, name)  # once more: another file may have come in its place
            first = _first_of_pipe(stream.fileno(), name) if stat.S_ISFIFO(opened.st_mode) else b""
            data = first + _all_of(stream, most + 1 - len(first), at_once=opened.st_size + 1)
    except (OSError, ValueError) as problem:
        raise InputError([_why_not_read(path, name, problem)]) from None
    _refuse_large(data, most, name)
    return data


def read_standard_input(*, most: int = MOST_NOTES) -> bytes:
    """Read what is piped in, at most ``most`` bytes."""
    try:
        data = sys.stdin.buffer.read(most + 1)
    except OSError as problem:
        raise InputError([_why_not_read("-", "standard input", problem)]) from None
    _refuse_large(data, most, "standard input")
    refuse_if_too_hungry(data, "standard input")
    return data


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _refuse_device(mode: int, name: str) -> None:
    if stat.S_ISCHR(mode) or stat.S_ISBLK(mode) or stat.S_ISSOCK(mode):
        raise InputError([fault("file-is-device", file=name)])


def _first_of_pipe(handle: int, name: str) -> bytes:
    """The first bytes of a pipe; raises ``InputError`` when nobody opens it to write."""
    until = time.monotonic() + WAIT_FOR_WRITER
    while True:
        try:
            first = os.read(handle, 2**16)
        except BlockingIOError:  # somebody has opened it and takes his time
            os.set_blocking(handle, True)
            return os.read(handle, 2**16)
        if first:
            os.set_blocking(handle, True)
            return first
        if time.monotonic() > until:
            break
        time.sleep(0.02)
    raise InputError([fault("pipe-without-writer", file=name, seconds=f"{WAIT_FOR_WRITER:g}")])


def _all_of(stream: IO[bytes], most: int, *, at_once: int) -> bytes:
    """At most ``most`` bytes, up to the end; each call takes as much memory as it asks for, ``at_once``."""
    parts = []
    while most > 0 and (part := stream.read(min(most, max(at_once, 2**16)))):
        parts.append(part)
        most -= len(part)
    return b"".join(parts)


def _refuse_large(data: bytes, most: int, name: str) -> None:
    if len(data) > most:
        size = f"{most // 2**20} MB" if most >= 2**20 else f"{most} bytes"
        raise InputError([fault("file-too-large", file=name, most=size)])


def _why_not_read(path: str | os.PathLike[str], name: str, problem: OSError | ValueError) -> Fault:
    if isinstance(problem, FileNotFoundError):
        return _missing(path, name)
    if isinstance(problem, IsADirectoryError) or os.path.isdir(path):
        return fault("file-is-folder", file=name)
    if isinstance(problem, PermissionError):
        return fault("file-not-permitted", file=name)
    reason = problem.strerror if isinstance(problem, OSError) and problem.strerror else str(problem)
    return fault("file-unreadable", file=name, reason=reason)


def _missing(path: str | os.PathLike[str], name: str) -> Fault:
    """No such file: tell which folder is missing on the way, or the nearest name that is there."""
    import difflib  # only needed once something went wrong

    wanted = Path(path)
    if not wanted.parent.is_dir():
        folder = visible(str(wanted.parent), 100)
        return fault("file-missing", variant="folder", file=name, folder=folder)
    try:
        present = sorted(entry.name for entry in os.scandir(wanted.parent) if entry.is_file())
    except OSError:
        present = []
    close = difflib.get_close_matches(wanted.name, present, n=1, cutoff=0.5)
    if close:
        return fault("file-missing", variant="near", file=name, near=visible(close[0]))
    return fault("file-missing", file=name)
