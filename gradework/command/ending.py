"""How a run ends that did not end well: its exit status, and a plain sentence instead of a traceback."""

from __future__ import annotations

import contextlib
import errno
import os
import platform
import signal
import sys
import traceback

import click

from gradework import __version__
from gradework.command.screen import Screen
from gradework.errors import (
    LONGEST_PATH,
    MOST_SHOWN,
    CheckError,
    GradeworkError,
    InputError,
    OutputError,
    visible,
)
from gradework.files.write import write_log

USAGE_ERROR = 2
INTERNAL_ERROR = 70
NOT_WRITTEN = 74
INTERRUPTED = 130
PIPE_CLOSED = 141


def after_wrong_input(wrong: Exception, screen: Screen) -> int:
    """Tell a usage error, input that cannot be used or results not written; raise all else again."""
    if isinstance(wrong, click.ClickException):
        return _usage_error(wrong, screen)
    if isinstance(wrong, InputError):
        _tell_faults(wrong, screen)
        return wrong.status
    if isinstance(wrong, OutputError):
        screen.failure(str(wrong), wrong.status)
        return wrong.status
    raise wrong


def after_failure(problem: BaseException, screen: Screen, *, debug: bool) -> int:
    """The status after Ctrl-C, a stream that takes no more, or a fault of ours: the last door."""
    if isinstance(problem, KeyboardInterrupt):
        return _interrupted(screen)
    if isinstance(problem, OSError):
        return _stream_failed(problem, screen)
    return _internal_error(problem, screen, debug=debug)


def _usage_error(wrong: click.ClickException, screen: Screen) -> int:
    context = getattr(wrong, "ctx", None)
    # the library for options repeats what was typed as it stands, on one line
    message = visible(wrong.format_message(), LONGEST_PATH)
    if context is not None and not screen.as_json:
        message += f"\nSee '{context.command_path} --help'."
    screen.failure(message, USAGE_ERROR)
    return USAGE_ERROR


def _tell_faults(wrong: InputError, screen: Screen) -> None:
    """All faults: lines on standard error, or one JSON document on standard output.

    What had been noticed before comes first, so that the faults stand last.
    """
    faults = wrong.faults
    if not screen.as_json:
        screen.noticed(wrong.findings)
        for fault in faults[:MOST_SHOWN]:
            screen.complain(str(fault))
        if len(faults) > MOST_SHOWN:
            screen.complain(f"and {len(faults) - MOST_SHOWN} more errors like these")
        return
    told = [
        {
            "code": fault.code,
            "file": fault.file,
            "line": fault.line,
            "column": fault.column,
            "found": fault.found,
            "expected": fault.expected,
            "mend": fault.fix,  # the key of the documented record
        }
        for fault in faults
    ]
    more = {}
    if wrong.findings:
        from gradework.exchange.record import finding_records  # an error seldom has any

        more["findings"] = finding_records(wrong.findings)
    screen.failure("the input cannot be used", wrong.status, told, **more)


def _interrupted(screen: Screen) -> int:
    with contextlib.suppress(OSError):
        screen.complain("stopped")
        sys.stderr.flush()
    if os.name == "posix":
        # Dying by the signal itself tells a calling script to stop as well; the shell shows it as 130.
        _drop(sys.stdout)
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGINT)
    return INTERRUPTED


def _stream_failed(problem: OSError, screen: Screen) -> int:
    """End after standard output failed: the output pipe is closed, or the disk is full."""
    _drop(sys.stdout)
    if problem.errno == errno.EPIPE:
        return PIPE_CLOSED
    with contextlib.suppress(OSError):
        # standard output takes no more words, so the JSON form is of no use
        Screen(colour=screen.colour).complain(f"error: the output could not be written ({problem.strerror})")
    return NOT_WRITTEN


def _drop(stream: object) -> None:
    """Let the interpreter's own last flush go nowhere; it would fail again and change the exit status."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())  # type: ignore[attr-defined]
        os.close(nowhere)


def _internal_error(problem: BaseException, screen: Screen, *, debug: bool) -> int:
    trace = "".join(traceback.format_exception(problem))
    what = (
        "internal error: two ways to compute the same thing disagree, so nothing is shown or written"
        if isinstance(problem, CheckError)
        else "internal error"
    )
    head = f"gradework {__version__}, Python {platform.python_version()}, {platform.platform()}\n"
    log = write_log(f"{head}{' '.join(map(repr, sys.argv[1:]))}\n{trace}")
    kept = f"; please send {visible(str(log), LONGEST_PATH)} with the job" if log else ""
    if debug:
        screen.complain(trace.rstrip())
    screen.failure(f"{what}{kept}", problem.status if isinstance(problem, GradeworkError) else INTERNAL_ERROR)
    return INTERNAL_ERROR
