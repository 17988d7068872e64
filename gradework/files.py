"""The only door to the disk: files are read whole and bounded, results are written whole or not at all.

It knows nothing of yards or plans, never prints, and never makes a file name out of user text. A folder of
results carries ``manifest.json`` with the SHA-256 of every file, put in place last: what stands in it is ours
and may be replaced; anything else is refused unless forced.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import stat
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from gradework import __version__
from gradework.errors import Fault, InputError, OutputError, visible

MOST_NOTES = 256 * 2**20
"""A notes file may be this large [bytes]: two million shots with room for remarks."""
MOST_JOB = 2**20
"""A job file may be this large [bytes]; the TOML reader is slow beyond it."""
MANIFEST = "manifest.json"
LOCK = ".gradework.lock"

_SAFE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_PART = re.compile(r"\.(?P<name>.+)\.(?P<pid>[0-9]+)\.part")
# Windows keeps these names for devices, with any ending.
_DEVICES = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))}
_STALE_AFTER = 60.0  # seconds; a part younger than this may belong to a run that is just starting


# ---- reading ---------------------------------------------------------------------------------------------


def read_bytes(path: str | os.PathLike[str], *, most: int = MOST_NOTES, shown: str | None = None) -> bytes:
    """Read a whole file of at most ``most`` bytes.

    ``shown`` is the name used in messages (the path as the user wrote it). Raises ``InputError`` when the
    file is missing, a folder, not permitted, too large or unreadable.
    """
    name = visible(shown if shown is not None else os.fspath(path), 200)
    try:
        with open(path, "rb") as stream:
            data = stream.read(most + 1)
    except (OSError, ValueError) as problem:
        raise InputError([_why_not_read(path, name, problem)]) from None
    _refuse_large(data, most, name)
    return data


def read_standard_input(*, most: int = MOST_NOTES) -> bytes:
    """Read what is piped in, at most ``most`` bytes."""
    try:
        data = sys.stdin.buffer.read(most + 1)
    except OSError as problem:
        raise InputError([_why_not_read("-", "standard input", problem)]) from None
    _refuse_large(data, most, "standard input")
    return data


def _refuse_large(data: bytes, most: int, name: str) -> None:
    if len(data) > most:
        found = f"more than {most // 2**20} MB" if most >= 2**20 else f"more than {most} bytes"
        fault = Fault(
            "file-too-large",
            found,
            "a file a person could have written",
            "check that this is the right file",
            name,
        )
        raise InputError([fault])


def _why_not_read(path: str | os.PathLike[str], name: str, problem: OSError | ValueError) -> Fault:
    if isinstance(problem, FileNotFoundError):
        return Fault("file-missing", "no such file", "a file that can be read", _nearest_name(path), name)
    if isinstance(problem, IsADirectoryError) or os.path.isdir(path):
        return Fault("file-is-folder", "this is a folder", "a file", "name the file inside it", name)
    if isinstance(problem, PermissionError):
        mend = "allow reading it, or close the program that holds it"
        return Fault("file-not-permitted", "not permitted to read it", "a file that can be read", mend, name)
    reason = problem.strerror if isinstance(problem, OSError) and problem.strerror else str(problem)
    return Fault(
        "file-unreadable", f"cannot read it ({reason})", "a file that can be read", "check the name", name
    )


def _nearest_name(path: str | os.PathLike[str]) -> str:
    import difflib  # only needed once something went wrong

    wanted = Path(path)
    if not wanted.parent.is_dir():
        return f"there is no folder {visible(str(wanted.parent), 100)}; check the path"
    try:
        present = sorted(entry.name for entry in os.scandir(wanted.parent) if entry.is_file())
    except OSError:
        return "check the name"
    close = difflib.get_close_matches(wanted.name, present, n=1, cutoff=0.5)
    return f"did you mean {visible(close[0])}?" if close else "check the name"


# ---- writing ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Written:
    """One file that now stands on the disk: its path and size [bytes]."""

    path: Path
    size: int


def safe_name(name: str) -> str:
    """Give back ``name`` if it is safe as a file name on every system, else raise ``OutputError``.

    >>> safe_name("order.csv")
    'order.csv'
    """
    plain = _SAFE.fullmatch(name) is not None and not name.endswith(".")
    if not plain or name.partition(".")[0].lower() in _DEVICES or name in (MANIFEST, LOCK):
        raise OutputError(f"{visible(name)!r} is not a safe name for a result file; nothing was written")
    return name


def write_folder(
    files: Mapping[str, bytes], folder: str | os.PathLike[str], *, force: bool = False, manifest: bool = True
) -> tuple[Written, ...]:
    """Write all ``files`` (name to bytes) into ``folder``, whole or not at all.

    Everything is first written beside its target and flushed to the disk, then put in place one by one, the
    manifest last; on any failure the old files are put back. A file that we did not make, or that was
    changed since, is refused unless ``force``. With ``manifest=False`` no manifest is kept, so every
    existing file counts as not ours. Raises ``OutputError``.
    """
    where = Path(folder)
    for name in files:
        safe_name(name)
    made: list[Path] = []
    try:
        _make_folder(where, made)
        with _locked(where):
            return _Batch(where, force=force, keep_manifest=manifest).write(files)
    except OSError as problem:
        raise OutputError(_why_not_written(where, problem)) from None
    finally:
        # A folder that we made and that stayed empty goes away again; rmdir refuses any other.
        for made_folder in reversed(made):
            with contextlib.suppress(OSError):
                os.rmdir(made_folder)


@dataclass
class _Batch:
    """One writing of a folder; the order of its steps is what keeps the old files whole."""

    folder: Path
    force: bool
    keep_manifest: bool
    parts: dict[str, Path] = field(default_factory=dict)  # target name to its new content
    backups: dict[str, Path] = field(default_factory=dict)  # target name to its old content
    placed: list[str] = field(default_factory=list)

    def write(self, files: Mapping[str, bytes]) -> tuple[Written, ...]:
        ours = self._known_as_ours() if self.keep_manifest else {}
        self._remove_stale_parts()
        old = self._look_at_targets(files, ours)
        wanted = dict(files)
        if self.keep_manifest:
            wanted[MANIFEST] = _manifest(files)
        gone = [n for n in ours if n not in wanted and n != MANIFEST and self._unchanged(n, ours)]
        try:
            for name, data in wanted.items():
                self.parts[name] = self._write_part(f".{name}.{os.getpid()}.part", data)
            for name in (*old, *gone):
                self.backups[name] = self._keep_old(name)
            self._put_in_place(wanted, gone)
        except BaseException:
            self._put_back()
            raise
        finally:
            self._sweep()
        return tuple(Written(self.folder / name, len(data)) for name, data in wanted.items())

    # -- before anything changes

    def _known_as_ours(self) -> dict[str, set[str]]:
        """Map each file named by a manifest here to the digests under which it is ours.

        A run that was killed while it put files in place leaves its new manifest as a part; that one counts
        too, so the next run may replace what it left.
        """
        ours: dict[str, set[str]] = {}
        for entry in sorted(os.listdir(self.folder)):
            part = _PART.fullmatch(entry)
            if entry != MANIFEST and not (part and part["name"] == MANIFEST):
                continue
            data = _read_if_small(self.folder / entry)
            for name, digest in _digests(data).items():
                ours.setdefault(name, set()).add(digest)
                ours.setdefault(MANIFEST, set()).add(_digest(data))
        return ours

    def _remove_stale_parts(self) -> None:
        now = time.time()
        for entry in os.listdir(self.folder):
            part = _PART.fullmatch(entry)
            if part is None:
                continue
            path = self.folder / entry
            with contextlib.suppress(OSError):
                if _abandoned(int(part["pid"]), now - path.lstat().st_mtime):
                    os.unlink(path)

    def _look_at_targets(self, files: Mapping[str, bytes], ours: dict[str, set[str]]) -> list[str]:
        """List the targets that exist already; refuse those that are not ours."""
        old = []
        for name in (*files, *([MANIFEST] if self.keep_manifest else [])):
            path = self.folder / name
            if not os.path.lexists(path):
                continue
            if path.is_dir() and not path.is_symlink():
                raise OutputError(f"{visible(str(path), 200)} is a folder where a result file should go")
            if not self.force and not self._unchanged(name, ours):
                changed = (
                    "was changed since it was written" if name in ours else "was not made by this program"
                )
                raise OutputError(
                    f"{visible(str(path), 200)} {changed}; nothing was written. "
                    "Give another folder with -o, or --force to replace it"
                )
            old.append(name)
        return old

    def _unchanged(self, name: str, ours: dict[str, set[str]]) -> bool:
        path = self.folder / name
        return name in ours and path.is_file() and _digest_of_file(path) in ours[name]

    # -- the writing itself

    def _write_part(self, name: str, data: bytes) -> Path:
        path = self.folder / name
        with contextlib.suppress(FileNotFoundError):
            os.unlink(path)  # left by an earlier process that had our number
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        try:
            try:
                rest = memoryview(data)
                while rest:
                    rest = rest[os.write(handle, rest) :]
                os.fsync(handle)
            finally:
                os.close(handle)
        except BaseException:
            with contextlib.suppress(OSError):
                os.unlink(path)
            raise
        return path

    def _keep_old(self, name: str) -> Path:
        """Keep the present file under a second name; a copy where the disk knows no hard links."""
        target = self.folder / name
        backup = self.folder / f".{name}.old.{os.getpid()}.part"
        with contextlib.suppress(FileNotFoundError):
            os.unlink(backup)
        try:
            os.link(target, backup, follow_symlinks=False)
        except (OSError, NotImplementedError):
            self._write_part(backup.name, target.read_bytes())
        return backup

    def _put_in_place(self, wanted: Mapping[str, bytes], gone: list[str]) -> None:
        for name in wanted:
            if name == MANIFEST:
                # What an earlier run made and this one does not would otherwise look like part of this one.
                for left in gone:
                    self.placed.append(left)
                    os.unlink(self.folder / left)
            self.placed.append(name)
            os.replace(self.parts[name], self.folder / name)
        if os.name == "posix":  # elsewhere a folder cannot be opened, and need not be
            handle = os.open(self.folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)

    def _put_back(self) -> None:
        """Undo ``_put_in_place``; the last file noted may or may not have been reached."""
        for name in reversed(self.placed):
            target = self.folder / name
            with contextlib.suppress(OSError):
                if name in self.backups:
                    os.replace(self.backups[name], target)
                elif name in self.parts and not self.parts[name].exists():
                    os.unlink(target)

    def _sweep(self) -> None:
        for path in (*self.parts.values(), *self.backups.values()):
            with contextlib.suppress(OSError):
                os.unlink(path)


def _make_folder(folder: Path, made: list[Path]) -> None:
    """Make ``folder`` and its missing parents, noting each in ``made``."""
    missing = []
    at = folder
    while not at.exists() and at != at.parent:
        missing.append(at)
        at = at.parent
    if not at.is_dir():
        raise OutputError(
            f"{visible(str(at), 200)} is a file, so no results can go into it; give another folder"
        )
    for path in reversed(missing):
        with contextlib.suppress(FileExistsError):  # another run was quicker
            os.mkdir(path)
            made.append(path)


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold the folder alone; the system lets go by itself when a process dies."""
    path = folder / LOCK
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        try:
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


def _abandoned(pid: int, age: float) -> bool:
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


def _manifest(files: Mapping[str, bytes]) -> bytes:
    content = {
        "made_by": "gradework",
        "version": __version__,
        "files": {
            name: {"sha256": _digest(data), "bytes": len(data)} for name, data in sorted(files.items())
        },
    }
    return (json.dumps(content, indent=1) + "\n").encode("ascii")


def _digests(manifest: bytes) -> dict[str, str]:
    """Read back a manifest of ours; anything else names no files."""
    try:
        content = json.loads(manifest)
        if content["made_by"] != "gradework":
            return {}
        return {str(name): str(entry["sha256"]) for name, entry in content["files"].items()}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _read_if_small(path: Path) -> bytes:
    try:
        if not stat.S_ISREG(path.stat().st_mode) or path.stat().st_size > MOST_JOB:
            return b""
        return path.read_bytes()
    except OSError:
        return b""


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _digest_of_file(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _why_not_written(folder: Path, problem: OSError) -> str:
    shown = visible(str(problem.filename or folder), 200)
    reasons = {
        errno.ENOSPC: f"the disk is full; nothing in {visible(str(folder), 200)} was changed",
        errno.EROFS: f"{shown} is on a disk that can only be read; give another folder with -o",
        errno.EACCES: f"not permitted to write {shown}; close it if it is open, or use another folder (-o)",
        errno.EPERM: f"not permitted to write {shown}; give another folder with -o",
    }
    return reasons.get(
        problem.errno or 0, f"cannot write {shown} ({problem.strerror}); the old files are kept"
    )


def write_log(text: str) -> Path | None:
    """Keep ``text`` in a new file of the system's temporary folder; None when that cannot be done."""
    import tempfile  # needed for our own faults only

    try:
        handle, name = tempfile.mkstemp(prefix="gradework-", suffix=".log")
        with os.fdopen(handle, "w", encoding="utf-8", errors="backslashreplace") as stream:
            stream.write(text)
    except OSError:
        return None
    return Path(name)
