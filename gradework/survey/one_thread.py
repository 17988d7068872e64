"""Small matrices on one thread: what linear algebra costs where a survey is solved in little tiles.

A tile has at most 160 shots. Its eigenvalues take 2 ms on one thread; spread over the processors, the threads
wait for each other in loops that burn ten times as much and, on a busy machine, take fifty times as long. The
command says so to the library before numpy is loaded; whoever imports the rooms has loaded numpy long before.
One thread also adds in the same order on every machine.
"""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import numpy as np

_LOCK = threading.RLock()  # the number of threads belongs to the whole process: two must not restore at once
_PLACES = ("../numpy.libs", ".dylibs", ".libs")
_NAMES = ("scipy_openblas_{}_num_threads64_", "openblas_{}_num_threads64_", "openblas_{}_num_threads")

Threads = tuple[Callable[[], int], Callable[[int], None]]


@cache
def _threads() -> Threads | None:
    """Find what tells and what sets the number of threads of the OpenBLAS that came with numpy, if it did.

    Other libraries (a system's own, MKL, Accelerate) are left as they are.
    """
    root = Path(np.__file__).parent
    for path in (found for place in _PLACES for found in sorted((root / place).glob("*openblas*"))):
        try:
            library = ctypes.CDLL(str(path))
        except OSError:
            continue
        for name in _NAMES:
            if hasattr(library, name.format("set")):
                tell, put = getattr(library, name.format("get")), getattr(library, name.format("set"))
                tell.restype, put.restype, put.argtypes = ctypes.c_int, None, [ctypes.c_int]
                return tell, put
    return None


@contextmanager
def one_thread() -> Iterator[None]:
    """Keep numpy's linear algebra on one thread inside of a block or a decorated function."""
    found = _threads()
    if found is None:
        yield
        return
    tell, put = found
    with _LOCK:
        before = tell()
        if before > 1:
            put(1)
        try:
            yield
        finally:
            if before > 1:
                put(before)
