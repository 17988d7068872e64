"""What the process of a command sets for itself before the work, and how it leaves."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import MutableMapping
from typing import NoReturn

_MADE_BEFORE_GARBAGE = 50_000  # objects; loading modules makes as many, and none of them is garbage


def prepare(environment: MutableMapping[str, str] = os.environ) -> None:
    """Let closed streams lead nowhere, keep the linear algebra under numpy on one thread unless the user has
    said otherwise, and look for garbage less often.

    A survey is a few hundred rows: starting the threads costs more than all the arithmetic, on a busy machine
    a hundred times more. One thread also adds in the same order on every machine.

    >>> prepare(own := {"OPENBLAS_NUM_THREADS": "4"}), own["OPENBLAS_NUM_THREADS"]
    (None, '4')
    """
    _open_closed_streams()
    environment.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(_MADE_BEFORE_GARBAGE)


def _open_closed_streams() -> None:
    """Open /dev/null in the place of each standard stream that was closed (``>&-``).

    Otherwise the next file that is opened, a result, would get the number of the stream. Python has put None
    where a stream was closed.
    """
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)  # takes the lowest free number, which is this one
        if getattr(sys, name) is None:
            mode = "r" if name == "stdin" else "w"
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115 - lasts as long as we do


def leave(status: int) -> NoReturn:
    """End the process with ``status``, without looking for garbage in every module that was loaded.

    Everything is written by now, and the system takes the memory back at once.
    """
    gc.freeze()
    sys.exit(status)
