"""One run at a time in a folder, and what a run that died has left there."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

from gradework.errors import OutputError, visible

LOCK = ".gradework.lock"

_STALE_AFTER = 60.0  # seconds; a part younger than this may belong to a run that is just starting


@contextlib.contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder alone; the system lets go by itself when a process dies."""
    path = folder / LOCK
    while True:
        _refuse_link(path)
        handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
        try:
            _refuse_shared(path, handle)
            if not _take(handle):
                other = os.read(handle, 20).decode("ascii", "replace").strip()
                place = visible(str(folder), 200)
                raise OutputError(f"run {visible(other) or '?'} is writing in {place}; wait for it to end")
            if _still_at(path, handle):
                break
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)  # the holder before us removed the file while we waited: lock the new one
    try:
        os.ftruncate(handle, 0)
        os.write(handle, f"{os.getpid()}\n".encode("ascii"))
        yield
    finally:
        with contextlib.suppress(OSError):
            os.unlink(path)
        with contextlib.suppress(OSError):
            os.close(handle)


def _refuse_link(path: Path) -> None:
    """The lock is emptied and written: through a link that would be somebody's file."""
    if path.is_symlink():
        raise OutputError(f"{visible(str(path), 200)} is a link, not our lock; remove it")


def _refuse_shared(path: Path, handle: int) -> None:
    """As `_refuse_link`, for a second name of a file, and for what is no file."""
    opened = os.fstat(handle)
    if not stat.S_ISREG(opened.st_mode) or opened.st_nlink > 1:
        raise OutputError(f"{visible(str(path), 200)} is something else than our lock; remove it")


def _take(handle: int) -> bool:
    if sys.platform == "win32":
        import msvcrt  # exists there only

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
    import fcntl  # exists on the other systems only

    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError as problem:
        # Some network disks know no locks; one run at a time is then the user's own care.
        if problem.errno not in (errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS):
            raise
    return True


def _still_at(path: Path, handle: int) -> bool:
    try:
        at = os.stat(path)
    except FileNotFoundError:
        return False
    mine = os.fstat(handle)
    return (at.st_dev, at.st_ino) == (mine.st_dev, mine.st_ino)


def abandoned(pid: int, age: float) -> bool:
    """Tell whether a part of process ``pid``, ``age`` seconds old, belongs to nobody any more."""
    if pid == os.getpid():
        return True
    if age < _STALE_AFTER:
        return False
    if sys.platform == "win32":
        return True  # asking about a process by signal would end it there
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError):
        return True
    except PermissionError:
        return False
    return False
