"""Whether what a file of notes will take of the memory is there, before a run begins that cannot end well."""

from __future__ import annotations

import sys

from gradework.errors import Fault, InputError

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
        fault = Fault(
            "notes-need-memory",
            f"{rows:,} rows, which need about {needed / 1e6:,.0f} MB of memory",
            f"notes that fit into the {max(free, 0) / 1e6:,.0f} MB that are free",
            "close other programs, or keep only the shots around the building",
            name,
        )
        raise InputError([fault])


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
    import resource  # not on every system

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
