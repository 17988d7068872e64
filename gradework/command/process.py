"""What the process of a command sets for itself before the work, and how it leaves."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import MutableMapping
from typing import NoReturn

_MADE_BEFORE_GARBAGE = 50_000  # objects; loading modules makes as many, and none of them is garbage


def prepare(environment: MutableMapping[str, str] = os.environ) -> None:
    """Keep the linear algebra under numpy on one thread, unless the user has said otherwise; look for garbage
    less often.

    A survey is a few hundred rows: starting the threads costs more than all the arithmetic, on a busy machine
    a hundred times more. One thread also adds in the same order on every machine.

    >>> prepare(own := {"OPENBLAS_NUM_THREADS": "4"}), own["OPENBLAS_NUM_THREADS"]
    (None, '4')
    """
    environment.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(_MADE_BEFORE_GARBAGE)


def leave(status: int) -> NoReturn:
    """End the process with ``status``, without looking for garbage in every module that was loaded.

    Everything is written by now, and the system takes the memory back at once.
    """
    gc.freeze()
    sys.exit(status)
