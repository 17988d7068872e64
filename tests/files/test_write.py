"""Files are read bounded; results are written whole or not at all, whatever call fails."""

from __future__ import annotations

import errno
import hashlib
import json
import multiprocessing
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from gradework.errors import InputError, OutputError
from gradework.files import read
from gradework.files.ownership import LOCK, MANIFEST, locked
from gradework.files.read import read_bytes
from gradework.files.write import safe_name, write_folder

OLD = {"plan.png": b"old picture" * 900, "order.csv": b"old order", "curve.svg": b"old curve"}
NEW = {"plan.png": b"new picture" * 1000, "order.csv": b"new order", "setout.pdf": b"new sheet"}


def content(folder: Path) -> dict[str, bytes]:
    """Everything in a folder but the manifest."""
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.name != MANIFEST} if folder.exists() else {}


def code_of(call: Callable[[], object]) -> str:
    with pytest.raises(InputError) as told:
        call()
    return told.value.faults[0].code


# ---- reading


def test_reads_what_is_there(tmp_path: Path) -> None:
    path = tmp_path / "ya rd (1) ü.csv"
    path.write_bytes(b"a,b\r\n")
    assert read_bytes(path) == b"a,b\r\n"


@pytest.mark.parametrize(
    ("name", "code", "fix"),
    [
        ("yrad.csv", "file-missing", "did you mean yard.csv?"),
        ("q", "file-missing", "check the name"),
        ("no/yard.csv", "file-missing", "there is no folder"),
        ("folder", "file-is-folder", "name the file inside it"),
        ("yard.csv/x", "file-unreadable", "check the name"),
        ("nul\0", "file-unreadable", "check the name"),
        ("n" * 400, "file-unreadable", "check the name"),
    ],
)
def test_what_cannot_be_read_is_told(tmp_path: Path, name: str, code: str, fix: str) -> None:
    (tmp_path / "yard.csv").write_text("x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError) as told:
        read_bytes(tmp_path / name, shown=name)
    fault = told.value.faults[0]
    assert (fault.code, fix in fault.fix) == (code, True)


def test_not_permitted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")  # a real chmod does not stop root

    (tmp_path / "x").write_bytes(b"")
    monkeypatch.setattr("builtins.open", refuse)
    assert code_of(lambda: read_bytes(tmp_path / "x")) == "file-not-permitted"


def test_a_file_that_grows_while_it_is_read_is_refused(tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(b"x" * 1001)
    assert code_of(lambda: read_bytes(tmp_path / "x", most=1000)) == "file-too-large"


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/null", "/dev/full", "/dev/tty", "socket", "link"])
@pytest.mark.skipif(os.name != "posix", reason="devices are files on POSIX only")
def test_a_device_is_refused_and_never_opened(
    tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    if not os.path.exists(name) and name.startswith("/"):
        pytest.skip(f"this system has no {name}")
    if name == "link":
        (tmp_path / name).symlink_to("/dev/zero")
    with socket.socket(socket.AF_UNIX) as one:
        if name == "socket":
            one.bind(name)

        def refuse(*_: object, **__: object) -> None:
            pytest.fail("opened")

        monkeypatch.setattr("builtins.open", refuse)
        monkeypatch.setattr(os, "open", refuse)
        assert code_of(lambda: read_bytes(name, most=1000)) == "file-is-device"


pipes = pytest.mark.skipif(os.name != "posix", reason="pipes have no names elsewhere")


@pipes
def test_a_pipe_that_nobody_writes_into_is_waited_for_a_little(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    os.mkfifo(tmp_path / "pipe")
    monkeypatch.setattr(read, "WAIT_FOR_WRITER", 0.3)
    begun = time.monotonic()
    with pytest.raises(InputError) as told:
        read_bytes(tmp_path / "pipe", shown="pipe")
    assert 0.3 <= time.monotonic() - begun < 30
    (fault,) = told.value.faults
    assert (fault.code, fault.file) == ("pipe-without-writer", "pipe")
    assert "0.3 seconds" in fault.found


@pipes
@pytest.mark.parametrize("before", [True, False], ids=["opened before", "opened later"])
@pytest.mark.parametrize("silence", [0.0, 0.6])
def test_a_pipe_is_read_to_its_end_however_slow_its_writer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, before: bool, silence: float
) -> None:
    """Once somebody has opened it to write, he may take his time: a command that works out the notes."""
    path = tmp_path / "pipe"
    os.mkfifo(path)
    monkeypatch.setattr(read, "WAIT_FOR_WRITER", 0.2 if before else 60.0)
    opened = os.open(path, os.O_RDWR) if before else None  # to read as well: alone it would wait for us

    def write() -> None:
        if opened is None:
            time.sleep(0.2)
        with open(path if opened is None else opened, "wb", buffering=0) as stream:
            for part in (b"first ", b"x" * 200_000, b" last"):
                time.sleep(silence)
                stream.write(part)

    writer = threading.Thread(target=write)
    writer.start()
    assert read_bytes(path) == b"first " + b"x" * 200_000 + b" last"
    writer.join()


@pipes
def test_an_endless_pipe_is_refused_without_reading_it_all(tmp_path: Path) -> None:
    child = subprocess.Popen(
        [sys.executable, "-c", "while True: print('x' * 1000)"],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert child.stdout is not None
    with child.stdout as stream:
        assert code_of(lambda: read_bytes(f"/dev/fd/{stream.fileno()}", most=100_000)) == "file-too-large"
    child.wait()


@pipes
def test_what_a_shell_hands_over_as_a_file_is_read(tmp_path: Path) -> None:
    """``<(command)`` names the end of a pipe whose writer may be gone already."""
    end, start = os.pipe()
    os.write(start, b"a,b\r\n")
    os.close(start)
    try:
        assert read_bytes(f"/dev/fd/{end}") == b"a,b\r\n"
    finally:
        os.close(end)


# ---- names


@pytest.mark.parametrize(
    "name",
    [
        *("", ".", "..", "../x", "/etc/x", "a/b", "a\\b", "c:x", "CON", "nul.csv", "com1.txt", "x.", "x "),
        *(".hidden", "ü.csv", "a" * 101, "a\0b", "a\nb", MANIFEST, LOCK, "-o"),
    ],
)
def test_unsafe_names_are_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(OutputError):
        safe_name(name)
    with pytest.raises(OutputError):
        write_folder({name: b""}, tmp_path / "new")
    assert not (tmp_path / "new").exists()


# ---- writing


def test_writes_a_folder_with_its_manifest(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "er" / "results"
    written = write_folder(NEW, folder)
    assert content(folder) == NEW
    assert {w.path.name: w.size for w in written if w.path.name != MANIFEST} == {
        n: len(d) for n, d in NEW.items()
    }
    manifest = json.loads((folder / MANIFEST).read_bytes())
    assert {n: e["sha256"] for n, e in manifest["files"].items()} == {
        n: hashlib.sha256(d).hexdigest() for n, d in NEW.items()
    }


def test_a_second_run_replaces_ours_and_removes_what_is_gone(tmp_path: Path) -> None:
    write_folder(OLD, tmp_path)
    (tmp_path / "mine.txt").write_text("the user's own")
    write_folder(NEW, tmp_path)
    assert content(tmp_path) == {**NEW, "mine.txt": b"the user's own"}


@pytest.mark.parametrize("case", ["foreign", "edited", "foreign manifest", "folder in the way"])
def test_what_is_not_ours_is_refused_without_force(tmp_path: Path, case: str) -> None:
    if case == "edited":
        write_folder(OLD, tmp_path)
        (tmp_path / "order.csv").write_bytes(b"my remarks")
    elif case == "foreign":
        (tmp_path / "order.csv").write_bytes(b"my remarks")
    elif case == "foreign manifest":
        (tmp_path / MANIFEST).write_text('{"made_by": "somebody"}')
    else:
        (tmp_path / "order.csv").mkdir()
    before = sorted((p.name, p.read_bytes() if p.is_file() else b"") for p in tmp_path.iterdir())
    with pytest.raises(OutputError):
        write_folder(NEW, tmp_path)
    assert sorted((p.name, p.read_bytes() if p.is_file() else b"") for p in tmp_path.iterdir()) == before
    if case == "folder in the way":
        with pytest.raises(OutputError, match="is a folder"):
            write_folder(NEW, tmp_path, force=True)
    else:
        write_folder(NEW, tmp_path, force=True)
        assert (tmp_path / "order.csv").read_bytes() == b"new order"


def test_a_link_is_replaced_and_its_target_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "precious.txt"
    target.write_text("precious")
    folder = tmp_path / "results"
    folder.mkdir()
    (folder / "order.csv").symlink_to(target)
    with pytest.raises(OutputError):
        write_folder(NEW, folder)
    write_folder(NEW, folder, force=True)
    assert target.read_text() == "precious"
    assert not (folder / "order.csv").is_symlink()


def test_a_file_where_the_folder_should_be(tmp_path: Path) -> None:
    (tmp_path / "results").write_text("x")
    for place in ("results", "results/deeper"):
        with pytest.raises(OutputError, match="is a file"):
            write_folder(NEW, tmp_path / place)


def test_without_manifest_everything_present_is_foreign(tmp_path: Path) -> None:
    write_folder({"job.toml": b"1"}, tmp_path, manifest=False)
    assert [p.name for p in tmp_path.iterdir()] == ["job.toml"]
    with pytest.raises(OutputError):
        write_folder({"job.toml": b"2"}, tmp_path, manifest=False)


# ---- a manifest says what it likes, and links lead anywhere: what lies outside stays untouched


def forged(folder: Path, names: dict[str, bytes]) -> None:
    """A manifest with the right digests for any names at all."""
    entries = {name: {"sha256": hashlib.sha256(data).hexdigest()} for name, data in names.items()}
    (folder / MANIFEST).write_text(json.dumps({"made_by": "gradework", "files": entries}))


@pytest.fixture
def precious(tmp_path: Path) -> Path:
    path = tmp_path / "precious.txt"
    path.write_bytes(b"precious")
    return path


@pytest.mark.parametrize("force", [False, True])
@pytest.mark.parametrize(
    "name",
    [
        *("../../precious.txt", "..\\..\\precious.txt", "{absolute}", "sub/../../../precious.txt"),
        *(
            "sub/plan.png",
            "./mine.txt",
            "mine.txt",
            "job.toml",
            "yard.csv",
            ".hidden",
            "PLAN.PNG",
            "x-plan.png",
        ),
    ],
)
def test_a_manifest_is_believed_only_for_names_that_this_program_writes(
    tmp_path: Path, precious: Path, name: str, force: bool
) -> None:
    folder = tmp_path / "a" / "results"
    (folder / "sub").mkdir(parents=True)
    own = [folder / n for n in ("mine.txt", "job.toml", "yard.csv", ".hidden", "PLAN.PNG", "x-plan.png")]
    for path in (*own, folder / "sub" / "plan.png"):
        path.write_bytes(b"precious")
    forged(folder, {name.replace("{absolute}", str(precious)): b"precious"})
    try:
        write_folder(NEW, folder, force=force)
    except OutputError:
        assert not force  # a manifest that names nothing of ours is not ours either
    for path in (*own, folder / "sub" / "plan.png", precious):
        assert path.read_bytes() == b"precious"


@pytest.mark.parametrize(
    "content", [b"[]", b'{"made_by": "gradework", "files": {"plan.png": 3}}', b"\xff", b"{"]
)
def test_a_manifest_that_is_none_names_nothing(tmp_path: Path, content: bytes) -> None:
    (tmp_path / MANIFEST).write_bytes(content)
    with pytest.raises(OutputError, match="was not made by this program"):
        write_folder(NEW, tmp_path)


links = pytest.mark.skipif(os.name != "posix", reason="links need a permission elsewhere")


@links
@pytest.mark.parametrize("force", [False, True])
def test_a_result_that_is_a_link_is_not_ours_whatever_the_digest(
    tmp_path: Path, precious: Path, force: bool
) -> None:
    folder = tmp_path / "results"
    folder.mkdir()
    (folder / "plan.png").symlink_to(precious)  # written again
    (folder / "curve.png").symlink_to(precious)  # no longer made
    forged(folder, {"plan.png": b"precious", "curve.png": b"precious"})
    if force:
        write_folder(NEW, folder, force=True)
        assert not (folder / "plan.png").is_symlink()
    else:
        with pytest.raises(OutputError, match=r"plan\.png was changed"):
            write_folder(NEW, folder)
    assert (folder / "curve.png").is_symlink()
    assert precious.read_bytes() == b"precious"


@links
@pytest.mark.parametrize("name", [MANIFEST, f".{MANIFEST}.1.part"])
def test_a_manifest_that_is_a_link_is_not_believed(tmp_path: Path, precious: Path, name: str) -> None:
    folder = tmp_path / "results"
    folder.mkdir()
    forged(tmp_path, {"order.csv": b"my remarks"})
    before = (tmp_path / MANIFEST).read_bytes()
    (folder / name).symlink_to(tmp_path / MANIFEST)
    (folder / "order.csv").write_bytes(b"my remarks")
    with pytest.raises(OutputError, match="was not made by this program"):
        write_folder(NEW, folder)
    assert (folder / "order.csv").read_bytes() == b"my remarks"
    write_folder(NEW, folder, force=True)
    assert (tmp_path / MANIFEST).read_bytes() == before


@links
def test_an_old_link_is_put_back_as_a_link(tmp_path: Path, precious: Path) -> None:
    """Also where the disk knows no hard links, so that the old one cannot simply get a second name."""
    folder = tmp_path / "results"
    folder.mkdir()
    (folder / "order.csv").symlink_to(precious)
    with pytest.MonkeyPatch.context() as monkeypatch:

        def refuse(*_: object, **__: object) -> None:
            raise OSError(errno.EPERM, "no hard links here")

        real = os.replace

        def replace(old: Any, new: Any) -> None:
            if Path(new).name == "setout.pdf" and not str(old).count(".old."):
                raise OSError(errno.EIO, "broken")
            real(old, new)

        monkeypatch.setattr(os, "link", refuse)
        monkeypatch.setattr(os, "replace", replace)
        with pytest.raises(OutputError):
            write_folder(NEW, folder, force=True)
    assert os.readlink(folder / "order.csv") == str(precious)
    assert sorted(p.name for p in folder.iterdir()) == ["order.csv"]
    assert precious.read_bytes() == b"precious"


@links
def test_a_folder_of_results_that_is_a_link_is_asked_about(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    write_folder(OLD, elsewhere)
    (tmp_path / "results").symlink_to(elsewhere)
    with pytest.raises(OutputError, match=r"results is a link to another folder; .*--force"):
        write_folder(NEW, tmp_path / "results")
    assert content(elsewhere) == OLD
    write_folder(NEW, tmp_path / "results", force=True)
    assert content(elsewhere) == NEW
    (tmp_path / "nowhere").symlink_to(tmp_path / "not there")
    with pytest.raises(OutputError, match="is a link"):
        write_folder(NEW, tmp_path / "nowhere")
    assert not (tmp_path / "not there").exists()
    write_folder(NEW, tmp_path / "results" / "inner")  # a linked parent is how many folders are reached
    assert content(elsewhere / "inner") == NEW


@links
@pytest.mark.parametrize("kind", ["symbolic", "hard", "fifo", "folder"])
def test_a_lock_that_is_not_ours_is_never_written_through(tmp_path: Path, precious: Path, kind: str) -> None:
    folder = tmp_path / "results"
    folder.mkdir()
    lock = folder / LOCK
    make: dict[str, Callable[[], Any]] = {
        "symbolic": lambda: lock.symlink_to(precious),
        "hard": lambda: os.link(precious, lock),
        "fifo": lambda: os.mkfifo(lock),
        "folder": lock.mkdir,
    }
    make[kind]()
    for force in (False, True):
        with pytest.raises(OutputError, match=r"\.gradework\.lock"):
            write_folder(NEW, folder, force=force)
    assert precious.read_bytes() == b"precious"
    assert [p.name for p in folder.iterdir()] == [LOCK]


# ---- the n-th call fails

CALLS = ("open", "write", "fsync", "close", "replace", "link", "unlink", "mkdir", "ftruncate")


class Saboteur:
    """Makes the n-th of the watched calls fail, once or from then on."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, nth: int, number: int, *, for_ever: bool) -> None:
        self.count = 0
        self.nth, self.number, self.for_ever = nth, number, for_ever
        for name in CALLS:
            monkeypatch.setattr(os, name, self.wrapped(name, getattr(os, name)))

    def wrapped(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **kwargs: Any) -> Any:
            self.count += 1
            if self.count == self.nth or (self.for_ever and self.count > self.nth):
                if name == "close":
                    real(*args)  # a close that fails has let go of the file all the same
                raise OSError(self.number, os.strerror(self.number))
            return real(*args, **kwargs)

        return call


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
@pytest.mark.parametrize("fresh", [False, True], ids=["over old files", "new folder"])
def test_whichever_call_fails_the_old_files_are_whole(tmp_path: Path, number: int, fresh: bool) -> None:
    for nth in range(1, 200):
        folder = tmp_path / f"{nth}"
        if not fresh:
            write_folder(OLD, folder)
        before = content(folder)
        with pytest.MonkeyPatch.context() as monkeypatch:
            saboteur = Saboteur(monkeypatch, nth, number, for_ever=False)
            try:
                write_folder(NEW, folder)
                failed = False
            except OutputError:
                failed = True
        after = content(folder)
        assert after == (before if failed else NEW) or _only_cleaning_failed(after, failed), (
            nth,
            failed,
            sorted(after),
        )
        if failed:
            assert not [n for n in after if n.endswith(".part") or n == LOCK], (nth, sorted(after))
            assert folder.exists() is (not fresh), nth
        write_folder(NEW, folder)  # the next run is not hindered by what this one left
        assert content(folder) == NEW
        if saboteur.count < nth:
            break
    else:
        pytest.fail("the loop never reached a clean run")
    assert nth > 25  # so many places were tried


def _only_cleaning_failed(after: dict[str, bytes], failed: bool) -> bool:
    """A backup or the lock may stay when removing exactly that failed; the results are there all the same."""
    rest = {n: d for n, d in after.items() if not n.endswith(".part") and n != LOCK}
    return not failed and rest == NEW and len(after) - len(rest) == 1


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
def test_a_disk_that_stays_broken_never_tears_a_file(tmp_path: Path, number: int) -> None:
    for nth in range(1, 200):
        folder = tmp_path / f"{nth}"
        write_folder(OLD, folder)
        with pytest.MonkeyPatch.context() as monkeypatch:
            saboteur = Saboteur(monkeypatch, nth, number, for_ever=True)
            try:
                write_folder(NEW, folder)
                failed = False
            except OutputError:
                failed = True
        for name, data in content(folder).items():
            if not name.startswith("."):
                assert data in (OLD.get(name), NEW.get(name)), (nth, name)
        write_folder(NEW, folder, force=True)
        if not failed and saboteur.count < nth:
            break
    assert nth > 25


def test_a_disk_that_is_really_full(tmp_path: Path) -> None:
    """Limit the size of files for a child process: the system itself then refuses the write."""
    write_folder(OLD, tmp_path / "r")
    before = content(tmp_path / "r")
    script = (
        "import resource, signal, sys; from gradework.files.write import write_folder\n"
        "from gradework.errors import OutputError\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (5000, 5000))\n"
        "try: write_folder({'plan.png': b'x' * 20000, 'order.csv': b'y'}, sys.argv[1])\n"
        "except OutputError as told: print(told); sys.exit(74)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path / "r")], capture_output=True, check=False
    )
    assert done.returncode == 74, done.stderr
    assert content(tmp_path / "r") == before


# ---- killed, stale, locked


def _write_for_ever(folder: str) -> None:
    while True:
        write_folder(OLD, folder, force=True)
        write_folder(NEW, folder, force=True)


def test_killed_at_a_random_moment_no_file_is_torn(tmp_path: Path) -> None:
    context = multiprocessing.get_context("fork")
    for number in range(12):
        folder = tmp_path / str(number)
        child = context.Process(target=_write_for_ever, args=(str(folder),))
        child.start()
        deadline = time.monotonic() + 10
        while not (folder / MANIFEST).exists() and time.monotonic() < deadline:
            time.sleep(0.002)
        time.sleep(0.003 * number)
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        for name, data in content(folder).items():
            if not name.startswith("."):
                assert data in (OLD.get(name), NEW.get(name)), name
        write_folder(
            NEW, folder
        )  # not refused: what a killed run left counts as ours, and its lock died with it
        assert {n: d for n, d in content(folder).items() if not n.startswith(".")} == NEW


WRITING = """
import os, signal, sys
from gradework.files.write import write_folder
call, nth, reset, folder = sys.argv[1], int(sys.argv[2]), sys.argv[3], sys.argv[4]
if reset:
    signal.signal(signal.Signals[reset], signal.SIG_DFL if reset != "SIGINT" else signal.default_int_handler)
real, count = getattr(os, call), 0
def slow(*args, **kwargs):
    global count
    count += 1
    done = real(*args, **kwargs)
    if count == nth:
        print("in the middle", flush=True)
        sys.stdin.readline()  # comes after the signal
    return done
setattr(os, call, slow)
write_folder({"plan.png": b"new picture" * 1000, "order.csv": b"new order", "setout.pdf": b"new"}, folder)
print("not stopped", flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="signals")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGINT", "SIGHUP"])
@pytest.mark.parametrize(
    ("call", "nth", "new"),
    [
        *(("mkdir", 1, False), ("write", 2, False), ("fsync", 1, False), ("fsync", 4, False)),
        *(("replace", 1, True), ("replace", 4, True), ("fsync", 5, True)),
    ],
)
def test_a_signal_leaves_the_old_files_or_the_new_ones_and_nothing_else(
    tmp_path: Path, name: str, call: str, nth: int, new: bool
) -> None:
    folder = tmp_path / "deep" / "results"
    if call != "mkdir":
        write_folder(OLD, folder)
    before = content(folder)
    child = subprocess.Popen(
        [sys.executable, "-c", WRITING, call, str(nth), name, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "in the middle\n"
    child.send_signal(signal.Signals[name])
    out, err = child.communicate("\n", timeout=60)
    assert (out, child.returncode) == ("", -signal.Signals[name]), err
    assert content(folder) == ({**NEW, "setout.pdf": b"new"} if new else before)
    assert folder.parent.exists() is (call != "mkdir")


@pytest.mark.skipif(os.name != "posix", reason="signals")
def test_a_run_that_ignores_hanging_up_is_not_stopped_by_it(tmp_path: Path) -> None:
    child = subprocess.Popen(
        [sys.executable, "-c", WRITING, "write", "2", "", str(tmp_path / "r")],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN),  # noqa: PLW1509 - as nohup does
    )
    assert child.stdout is not None
    child.stdout.readline()
    child.send_signal(signal.SIGHUP)
    out, _ = child.communicate("\n", timeout=60)
    assert (out, child.returncode) == ("not stopped\n", 0)
    assert content(tmp_path / "r") == {**NEW, "setout.pdf": b"new"}


def test_a_handler_of_the_caller_is_kept_and_called_after_the_sweep(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[list[str]] = []

    def handler(*_: object) -> None:
        seen.append(sorted(p.name for p in tmp_path.iterdir()))

    real = os.fsync

    def fsync(handle: int) -> None:
        real(handle)
        signal.raise_signal(signal.SIGTERM)

    before = signal.signal(signal.SIGTERM, handler)
    monkeypatch.setattr(os, "fsync", fsync)
    try:
        with pytest.raises(OutputError, match="stopped by a signal"):
            write_folder(NEW, tmp_path)
        assert seen == [[]]
        assert signal.getsignal(signal.SIGTERM) is handler
    finally:
        signal.signal(signal.SIGTERM, before)


def test_a_folder_is_written_from_any_thread(tmp_path: Path) -> None:
    """Only the first thread of a process may care for signals."""
    thread = threading.Thread(target=write_folder, args=(NEW, tmp_path))
    thread.start()
    thread.join()
    assert content(tmp_path) == NEW


def test_parts_of_dead_processes_are_cleaned_and_others_kept(tmp_path: Path) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    now = time.time()
    for name, age in [
        (f".plan.png.{dead.pid}.part", 120),
        (f".manifest.json.old.{dead.pid}.part", 120),
        (f".order.csv.{dead.pid}.part", 5),
        (f".curve.svg.{os.getppid()}.part", 120),
        (f".film.mkv.{dead.pid}.part", 120),  # some other program's
    ]:
        (tmp_path / name).write_text("x")
        os.utime(tmp_path / name, (now - age, now - age))
    write_folder(NEW, tmp_path)
    assert sorted(n for n in content(tmp_path) if n.startswith(".")) == sorted(
        [f".order.csv.{dead.pid}.part", f".curve.svg.{os.getppid()}.part", f".film.mkv.{dead.pid}.part"]
    )


def test_a_second_run_in_the_same_folder_is_refused(tmp_path: Path) -> None:
    with locked(tmp_path):
        script = (
            "import sys; from gradework.files.write import write_folder\n"
            "from gradework.errors import OutputError\n"
            "try: write_folder({'a': b''}, sys.argv[1])\n"
            "except OutputError as told: print(told); sys.exit(74)\n"
        )
        done = subprocess.run([sys.executable, "-c", script, str(tmp_path)], capture_output=True, check=False)
    assert done.returncode == 74
    assert f"run {os.getpid()} is writing in".encode() in done.stdout
    assert list(tmp_path.iterdir()) == []
    (tmp_path / LOCK).write_text("999999\n")  # left by a run that died
    write_folder(NEW, tmp_path)
    assert content(tmp_path) == NEW
