"""Writing a folder of results whole or not at all: parts first, then each put in place, the manifest last."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import signal
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from gradework.errors import OutputError, unwritten, visible
from gradework.files.ownership import (
    LOCK,
    MANIFEST,
    abandoned,
    digest,
    digest_of_file,
    digests_in,
    is_plain_file,
    is_result,
    locked,
    manifest_of,
    read_if_small,
)

_SAFE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")
_PART = re.compile(r"\.(?P<name>.+?)(?:\.old)?\.(?P<pid>[0-9]+)\.part")
# Windows keeps these names for devices, with any ending.
_DEVICES = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(10)), *(f"lpt{n}" for n in range(10))}


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
        raise unwritten("result-not-written", variant="name", name=repr(visible(name)))
    return name


def write_folder(
    files: Mapping[str, bytes],
    folder: str | os.PathLike[str],
    *,
    force: bool = False,
    manifest: bool = True,
    ours: Callable[[bytes], bool] | None = None,
    made_of: Mapping[str, bytes] | None = None,
) -> tuple[Written, ...]:
    """Write all ``files`` (name to bytes) into ``folder``, whole or not at all.

    Everything is first written beside its target and flushed to the disk, then put in place one by one, the
    manifest last; on any failure the old files are put back. A file that we did not make, or that was
    changed since, is refused unless ``force``; so is a folder that is a link. ``ours`` tells by its content
    whether another existing file may be replaced, too. With ``manifest=False`` no manifest is kept and the
    folder may be a link; then without ``ours`` no existing file may be. ``made_of``: the inputs, whose
    digests the manifest keeps for `files/done.py`. Raises ``OutputError``.
    """
    for name in files:
        safe_name(name)
    where = _behind_link(Path(folder), force=force) if manifest else Path(folder)
    made: list[Path] = []
    with _signals_held() as look:
        try:
            _make_folder(where, made)
            with locked(where):
                return _Batch(where, force, manifest, look, ours, made_of).write(files)
        except OSError as problem:
            raise _not_written(where, problem) from None
        finally:
            # A folder that we made and that stayed empty goes away again; rmdir refuses any other.
            for made_folder in reversed(made):
                with contextlib.suppress(OSError):
                    os.rmdir(made_folder)


class _Stopped(BaseException):
    """A signal came in while nothing had been put in place yet."""


@contextlib.contextmanager
def _signals_held() -> Iterator[Callable[[], None]]:
    """Let the signals that would end us wait until the folder is whole and swept, then deliver the first.

    Gives the function that tells whether one has come; it raises `_Stopped`. A signal that the caller ignores
    stays ignored, and the caller's own handler is called afterwards.
    """
    caught: list[int] = []

    def look() -> None:
        if caught:
            raise _Stopped

    handlers = {}
    if threading.current_thread() is threading.main_thread():  # no other may set a handler
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)  # Windows has no hanging up
            if number is not None and signal.getsignal(number) not in (signal.SIG_IGN, None):
                handlers[number] = signal.signal(number, lambda came, _: caught.append(came))
    try:
        yield look
    except _Stopped:
        raise unwritten("result-not-written", variant="stopped") from None
    finally:
        for number, handler in handlers.items():
            signal.signal(number, handler)
        if caught:
            signal.raise_signal(caught[0])


@dataclass
class _Batch:
    """One writing of a folder; the order of its steps is what keeps the old files whole."""

    folder: Path
    force: bool
    keep_manifest: bool
    look: Callable[[], None]  # raises once we are to stop
    ours: Callable[[bytes], bool] | None = None
    made_of: Mapping[str, bytes] | None = None
    parts: dict[str, Path] = field(default_factory=dict)  # target name to its new content
    backups: dict[str, Path] = field(default_factory=dict)  # target name to its old content
    placed: list[str] = field(default_factory=list)

    def write(self, files: Mapping[str, bytes]) -> tuple[Written, ...]:
        ours = self._known_as_ours() if self.keep_manifest else {}
        self._remove_stale_parts(files)
        old = self._look_at_targets(files, ours)
        wanted = dict(files)
        if self.keep_manifest:
            wanted[MANIFEST] = manifest_of(files, self.made_of)
        gone = [n for n in ours if n not in wanted and n != MANIFEST and self._unchanged(n, ours)]
        try:
            for name, data in wanted.items():
                self.look()
                self.parts[name] = self._write_part(f".{name}.{os.getpid()}.part", data)
            for name in (*old, *gone):
                self.backups[name] = self._keep_old(name)
            self.look()  # for the last time: a signal from here on waits the moment until all is in place
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
            if entry != MANIFEST and not (part and part["name"] == MANIFEST and ".old." not in entry):
                continue
            data = read_if_small(self.folder / entry)
            for name, known in digests_in(data).items():
                ours.setdefault(name, set()).add(known)
                ours.setdefault(MANIFEST, set()).add(digest(data))
        return ours

    def _remove_stale_parts(self, files: Mapping[str, bytes]) -> None:
        now = time.time()
        for entry in os.listdir(self.folder):
            part = _PART.fullmatch(entry)
            if part is None or not (is_result(part["name"]) or part["name"] in (MANIFEST, *files)):
                continue  # other programs call their half-loaded files so, too
            path = self.folder / entry
            with contextlib.suppress(OSError):
                if abandoned(int(part["pid"]), now - path.lstat().st_mtime):
                    os.unlink(path)

    def _look_at_targets(self, files: Mapping[str, bytes], ours: dict[str, set[str]]) -> list[str]:
        """List the targets that exist already; refuse those that are not ours."""
        old = []
        for name in (*files, *([MANIFEST] if self.keep_manifest else [])):
            path = self.folder / name
            if not os.path.lexists(path):
                continue
            if path.is_dir() and not path.is_symlink():
                raise unwritten("result-not-written", variant="folder", path=visible(str(path), 200))
            if not self.force and not self._unchanged(name, ours) and not self._looks_ours(path):
                raise self._kept(path, named=name in ours)
            old.append(name)
        return old

    def _kept(self, path: Path, *, named: bool) -> OutputError:
        """Why a target that exists is not replaced, and what to do; ``named``: a manifest names it."""
        shown, other = visible(str(path), 200), "folder" if self.keep_manifest else "name"
        if not self.keep_manifest and self.ours is None:  # nothing can tell whose it is: a job to fill in
            return unwritten("result-not-written", variant="there", path=shown)
        return unwritten(
            "result-not-written", variant="changed" if named else "foreign", path=shown, other=other
        )

    def _unchanged(self, name: str, ours: dict[str, set[str]]) -> bool:
        path = self.folder / name
        return name in ours and is_plain_file(path) and digest_of_file(path) in ours[name]

    def _looks_ours(self, path: Path) -> bool:
        return self.ours is not None and self.ours(read_if_small(path))

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
            if target.is_symlink():  # what it leads to is not ours to read
                os.symlink(os.readlink(target), backup)
            elif is_plain_file(target):
                self._write_part(backup.name, target.read_bytes())
            else:
                raise
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


def _behind_link(folder: Path, *, force: bool) -> Path:
    """The folder to write into: behind a link only if forced, since a link may come with somebody's job."""
    if not folder.is_symlink():
        return folder
    if not force:
        raise unwritten("result-not-written", variant="link", path=visible(str(folder), 200))
    return Path(os.path.realpath(folder))


def _make_folder(folder: Path, made: list[Path]) -> None:
    """Make ``folder`` and its missing parents, noting each in ``made``."""
    missing = []
    at = folder
    while not at.exists() and at != at.parent:
        missing.append(at)
        at = at.parent
    if not at.is_dir():
        raise unwritten("result-not-written", variant="file", path=visible(str(at), 200))
    for path in reversed(missing):
        with contextlib.suppress(FileExistsError):  # another run was quicker
            os.mkdir(path)
            made.append(path)


def _not_written(folder: Path, problem: OSError) -> OutputError:
    if problem.errno == errno.ENOSPC:
        return unwritten("result-not-written", variant="full", path=visible(str(folder), 200))
    shown = visible(str(problem.filename or folder), 200)
    if problem.errno == errno.EROFS:
        return unwritten("result-not-written", variant="read-only", path=shown)
    if problem.errno == errno.EACCES:
        return unwritten("result-not-written", variant="access", path=shown)
    if problem.errno == errno.EPERM:
        return unwritten("result-not-written", variant="permit", path=shown)
    return unwritten("result-not-written", variant="failed", path=shown, reason=problem.strerror)


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
