"""What a run has written into a folder, by name and SHA-256: so that the next one knows what is ours."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import stat
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from gradework import __version__
from gradework.errors import unwritten, visible

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

# One run at a time in a folder, and what a run that died has left there.

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
                raise unwritten("result-not-written", variant="busy", run=visible(other) or "?", folder=place)
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
        raise unwritten("result-not-written", variant="lock-link", path=visible(str(path), 200))


def _refuse_shared(path: Path, handle: int) -> None:
    """As `_refuse_link`, for a second name of a file, and for what is no file."""
    opened = os.fstat(handle)
    if not stat.S_ISREG(opened.st_mode) or opened.st_nlink > 1:
        raise unwritten("result-not-written", variant="lock-other", path=visible(str(path), 200))


def _take(handle: int) -> bool:
    if sys.platform == "win32":
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
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


MANIFEST = "manifest.json"

_MOST = 2**20  # bytes; a manifest of ours is a page

# A manifest may come with somebody else's folder and say anything: it is believed only for names that this
# program gives to results, plain ones, so that nothing beside them or outside the folder is ever touched.
_RESULT = re.compile(
    r"(?:(?:plan|order|section|swale)(?:-(?:pad|piers|slab))?(?:-[0-9]{1,4})?|curve|piers"
    r"|(?:shopping|days|pier-rows|pier-details)(?:-[0-9]{1,4})?"
    r"|stations|result|setout|corners|place|batch|batch-order)\.(?:png|svg|pdf|csv|json)|(?:plan|corners)\.txt|(?:report|batch)\.html|sheets\.pdf|yard\.geojson|ground\.xml"
)


def is_result(name: str) -> bool:
    """Tell whether this program could have written a result of that name into a folder with a manifest.

    >>> is_result("pier-rows-2.png"), is_result("../plan.png"), is_result("yard.csv")
    (True, False, False)
    """
    return _RESULT.fullmatch(name) is not None


def manifest_of(files: Mapping[str, bytes], made_of: Mapping[str, bytes] | None = None) -> bytes:
    """Name each file with its digest; ``made_of``: the inputs by what they are, told by their digests."""
    content = {
        "made_by": "gradework",
        "version": __version__,
        **({"made_of": {name: digest(data) for name, data in made_of.items()}} if made_of else {}),
        "files": {name: {"sha256": digest(data), "bytes": len(data)} for name, data in sorted(files.items())},
    }
    return (json.dumps(content, indent=1) + "\n").encode("ascii")


def digests_in(manifest: bytes) -> dict[str, str]:
    """Read back a manifest of ours; anything else names no files, and no file but a result is named."""
    try:
        content = json.loads(manifest)
        if content["made_by"] != "gradework":
            return {}
        return {
            name: str(entry["sha256"]) for name, entry in content["files"].items() if is_result(str(name))
        }
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def read_if_small(path: Path) -> bytes:
    """The bytes of a file of at most a megabyte; nothing for a link, which we never write."""
    try:
        if not is_plain_file(path) or path.lstat().st_size > _MOST:
            return b""
        return path.read_bytes()
    except OSError:
        return b""


def is_plain_file(path: str | os.PathLike[str]) -> bool:
    """Tell whether a file stands there itself: no link, folder or device, and not nothing."""
    try:
        return stat.S_ISREG(os.lstat(path).st_mode)
    except OSError:
        return False


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def digest_of_file(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
