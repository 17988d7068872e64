"""How a run ends: every way out becomes one exit status and, where something is wrong, plain words."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import sys
from collections.abc import Sequence

import click
from click.exceptions import Exit

from gradework.command.screen import Screen
from gradework.errors import LONGEST_PATH, CheckError, GradeworkError, InputError, OutputError, visible

WRONG_USE = 2
OWN_FAULT = 70
NOT_WRITTEN = 74
INTERRUPTED = 130
READER_GONE = 141


def run_to_status(group: click.Group, arguments: Sequence[str]) -> int:
    """Run ``group`` and return the exit status; nothing escapes but a second Ctrl-C."""
    options = _before_the_end(arguments)
    quiet = any(re.fullmatch("--quiet|-[fn]*q[fn]*", option) for option in options)
    screen = Screen(quiet=quiet, as_json="--json" in options, colour="--no-color" not in options)
    try:
        status = _status_of(group, arguments, screen)
        _flush(sys.stdout)
        return status
    except KeyboardInterrupt:
        return _interrupted(screen)
    except OSError as problem:
        return _stream_failed(problem, screen)
    except Exception as problem:  # the last door: nobody outside may see a traceback
        return _own_fault(problem, screen, debug="--debug" in options)


def _status_of(group: click.Group, arguments: Sequence[str], screen: Screen) -> int:
    try:
        with group.make_context("gradework", list(arguments)) as context:
            group.invoke(context)
    except Exit as done:
        return done.exit_code
    except click.Abort:
        raise KeyboardInterrupt from None
    except click.ClickException as wrong:
        return _wrong_use(wrong, screen)
    except InputError as wrong:
        screen.faults(wrong.faults, wrong.status, wrong.findings)
        return wrong.status
    except OutputError as wrong:
        screen.failure(str(wrong), wrong.status)
        return wrong.status
    except MemoryError:
        screen.failure("this needs more memory than there is; use fewer shots", WRONG_USE)
        return WRONG_USE
    return 0


def _before_the_end(arguments: Sequence[str]) -> list[str]:
    given = list(arguments)
    return given[: given.index("--")] if "--" in given else given


def _wrong_use(wrong: click.ClickException, screen: Screen) -> int:
    context = getattr(wrong, "ctx", None)
    # the library for options repeats what was typed as it stands, on one line
    message = visible(wrong.format_message(), LONGEST_PATH)
    if context is not None and not screen.as_json:
        message += f"\nSee '{context.command_path} --help'."
    screen.failure(message, WRONG_USE)
    return WRONG_USE


def _interrupted(screen: Screen) -> int:
    with contextlib.suppress(OSError):
        screen.complain("stopped")
        sys.stderr.flush()
    if os.name == "posix":
        import signal  # names every signal in three enumerations, which a run that ends well does without

        # Dying by the signal itself tells a calling script to stop as well; the shell shows it as 130.
        _drop(sys.stdout)
        signal.signal(signal.SIGINT, signal.SIG_DFL)
        os.kill(os.getpid(), signal.SIGINT)
    return INTERRUPTED


def _stream_failed(problem: OSError, screen: Screen) -> int:
    """End after standard output failed: its reader went away, or what it goes to is full."""
    _drop(sys.stdout)
    if problem.errno == errno.EPIPE:
        return READER_GONE
    with contextlib.suppress(OSError):
        # standard output takes no more words, so the JSON form is of no use
        Screen(colour=screen.colour).complain(f"error: the output could not be written ({problem.strerror})")
    return NOT_WRITTEN


def _flush(stream: object) -> None:
    """Push out what is still held back, so that a full disk shows now and not after the exit status."""
    flush = getattr(stream, "flush", None)
    if flush is not None:
        flush()


def _drop(stream: object) -> None:
    """Let the interpreter's own last flush go nowhere; it would fail again and change the exit status."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())  # type: ignore[attr-defined]
        os.close(nowhere)


def _own_fault(problem: Exception, screen: Screen, *, debug: bool) -> int:
    import platform  # only needed once the program has failed
    import traceback

    from gradework import __version__
    from gradework.files import write_log

    trace = "".join(traceback.format_exception(problem))
    what = (
        "our arithmetic disagrees with itself, so nothing is shown or written"
        if isinstance(problem, CheckError)
        else "the program itself failed"
    )
    head = f"gradework {__version__}, Python {platform.python_version()}, {platform.platform()}\n"
    log = write_log(f"{head}{' '.join(map(repr, sys.argv[1:]))}\n{trace}")
    kept = f"; please send {visible(str(log), LONGEST_PATH)} with the job" if log else ""
    if debug:
        screen.complain(trace.rstrip())
    screen.failure(f"{what}{kept}", problem.status if isinstance(problem, GradeworkError) else OWN_FAULT)
    return OWN_FAULT
