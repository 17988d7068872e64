"""What is being done, on a terminal, while it takes longer than a second."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from gradework.command.screen import Screen, wants_colour

PATIENCE = 1.0
"""Nothing is said about what is done within so many seconds."""


@contextmanager
def working(screen: Screen, what: str) -> Iterator[Callable[[str], None]]:
    """Show ``what`` on standard error while the work inside takes longer than ``PATIENCE``; the work may say
    something else as it goes on.

    Only on a terminal that can take a line back, and not when quiet; nothing is left of it afterwards.
    """
    if screen.quiet or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield lambda _: None
        return
    lock, over = threading.Lock(), threading.Event()
    stop: list[Callable[[], None]] = [lambda: None]
    words, status = [what], list[Any]()

    def show() -> None:
        from rich.console import Console  # only work that takes long on a terminal needs it
        from rich.status import Status

        with lock:
            if not over.is_set():
                colour = screen.colour and wants_colour(sys.stderr)
                console = Console(stderr=True, no_color=not colour, highlight=False)
                status.append(Status(words[0], console=console))
                status[0].start()
                stop[0] = status[0].stop

    def say(now: str) -> None:
        with lock:
            words[0] = now
            if status and not over.is_set():
                status[0].update(now)

    waiting = threading.Timer(PATIENCE, show)
    waiting.daemon = True
    waiting.start()
    try:
        yield say
    finally:
        waiting.cancel()
        over.set()
        with lock:
            stop[0]()
