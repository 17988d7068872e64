"""What is being done, on a terminal, while it takes longer than a second."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

from gradework.command.screen import Screen, wants_colour

PATIENCE = 1.0
"""Nothing is said about what is done within so many seconds."""


@contextmanager
def working(screen: Screen, what: str) -> Iterator[None]:
    """Show ``what`` on standard error while the work inside takes longer than ``PATIENCE``.

    Only on a terminal that can take a line back, and not when quiet; nothing is left of it afterwards.
    """
    if screen.quiet or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield
        return
    lock, over = threading.Lock(), threading.Event()
    stop = [lambda: None]

    def show() -> None:
        from rich.console import Console  # only work that takes long on a terminal needs it
        from rich.status import Status

        with lock:
            if not over.is_set():
                colour = screen.colour and wants_colour(sys.stderr)
                status = Status(what, console=Console(stderr=True, no_color=not colour, highlight=False))
                status.start()
                stop[0] = status.stop

    waiting = threading.Timer(PATIENCE, show)
    waiting.daemon = True
    waiting.start()
    try:
        yield
    finally:
        waiting.cancel()
        over.set()
        with lock:
            stop[0]()
