"""Which test of a room runs which line of the package.

Each test file is watched once; what was seen is kept until the file or the package changes. A test is given
the lines of the fixtures that it shares with others, and what is remembered by one test
(``functools.cache``) is forgotten before the next, so that each is watched as if it were alone.
"""

from __future__ import annotations

import functools
import hashlib
import json
import os
import select
import signal
import sys
import time
import traceback
from collections import defaultdict
from collections.abc import Callable, Generator, Sequence
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

import coverage
import pytest

ROOT = Path(__file__).parents[2]
OPTIONS = ("-p", "no:terminal", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:faulthandler")


class Tests(NamedTuple):
    """What a room's tests run: by file and line the numbers of the tests, and which lines run on import."""

    names: list[str]
    seconds: list[float]
    lines: dict[str, dict[int, list[int]]]
    imported: set[tuple[str, int]]
    failed: list[str]


def forked(work: Callable[[int], None], limit: float | None = None) -> tuple[str, bool]:
    """Work in a fork that writes to a pipe; return what it wrote, and whether a limit stopped it.

    The limit [s] is of the clock; a fork may set itself one of the processor, which ends with SIGPROF.
    """
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        os.setpgid(0, 0)
        to_the_end(work, writer)
    os.close(writer)
    got, end = b"", None if limit is None else time.monotonic() + limit
    while True:
        left = None if end is None else max(0.0, end - time.monotonic())
        if not select.select([reader], [], [], left)[0]:
            os.killpg(child, signal.SIGKILL)
            break
        part = os.read(reader, 65536)
        if not part:
            break
        got += part
    os.close(reader)
    status = os.waitpid(child, 0)[1]
    stopped = os.WIFSIGNALED(status) and os.WTERMSIG(status) in (signal.SIGKILL, signal.SIGPROF)
    return got.decode(), stopped


def to_the_end(work: Callable[[int], object], writer: int) -> NoReturn:
    """Work in a fork, which ends here whatever happens."""
    try:
        work(writer)
    except BaseException:
        traceback.print_exc(file=sys.__stderr__)
    finally:
        os._exit(0)


def session(arguments: Sequence[str], plugin: object, base: Path) -> int:
    """Have pytest collect and run these, quietly; return its status."""
    return int(
        pytest.main([*OPTIONS, f"--rootdir={ROOT}", f"--basetemp={base}", *arguments], plugins=[plugin])
    )


def places(room: str) -> list[str]:
    """Where the tests of a room stand: the folder that mirrors it, and the examples in its docstrings."""
    return [str(ROOT / "tests" / room), str(ROOT / "gradework" / room)]


def watched(room: str, folder: Path) -> Tests:
    """The tests of a room that pass, and what each runs; test files that are new or changed are run now."""
    kept = {file: folder / f"{_state(file)}.json" for file in _test_files(room)}
    new = [str(file) for file, path in kept.items() if not path.exists()]
    if new:
        forked(lambda _: _watch(new, folder))
    tests = Tests([], [], {}, set(), [])
    for path in kept.values():
        names, seconds, lines, imported, failed = json.loads(path.read_text())
        first = len(tests.names)
        tests.names.extend(names)
        tests.seconds.extend(seconds)
        tests.failed.extend(failed)
        tests.imported.update(map(tuple, imported))
        for file, rows in lines.items():
            for line, numbers in rows.items():
                tests.lines.setdefault(file, {}).setdefault(int(line), []).extend(first + n for n in numbers)
    return tests


def _test_files(room: str) -> list[Path]:
    tests = sorted((ROOT / "tests" / room).rglob("test_*.py"))
    return tests + [
        path for path in sorted((ROOT / "gradework" / room).rglob("*.py")) if ">>>" in path.read_text()
    ]


def _state(file: Path) -> str:
    seen = hashlib.sha256(_package() + str(file.relative_to(ROOT)).encode() + file.read_bytes())
    return f"{file.stem}-{seen.hexdigest()[:16]}"


@functools.cache
def _package() -> bytes:
    seen = hashlib.sha256()
    for path in sorted((ROOT / "gradework").rglob("*.py")):
        seen.update(path.read_bytes())
    return seen.digest()


def _watch(files: Sequence[str], folder: Path) -> None:
    _tell_caches()
    coverage_of = coverage.Coverage(data_file=None, source=[str(ROOT / "gradework")], config_file=False)
    seen = _Watch(coverage_of)
    coverage_of.start()
    session(files, seen, folder / "base-watch")
    coverage_of.stop()
    data = coverage_of.get_data()
    rows = [
        (str(Path(path).relative_to(ROOT)), line, contexts)
        for path in data.measured_files()
        for line, contexts in data.contexts_by_lineno(path).items()
    ]
    for file in files:
        here = f"{Path(file).relative_to(ROOT)}"
        names = [name for name in seen.seconds if name.split("::")[0] == here and name not in seen.failed]
        runs = defaultdict[str, set[int]](set)
        for index, name in enumerate(names):
            for one in (name, f"file {here}", *seen.shared_by[name]):
                runs[one].add(index)
        lines: dict[str, dict[int, list[int]]] = defaultdict(dict)
        for source, line, contexts in rows:
            tests = set[int]().union(*(runs[one] for one in contexts if one in runs))
            if tests:
                lines[source][line] = sorted(tests)
        early = [
            (f, n)
            for f, n, contexts in rows
            if "" in contexts or any(one.startswith("file ") for one in contexts)
        ]
        failed = [name for name in seen.failed if name.split("::")[0] == here]
        seconds = [seen.seconds[name] for name in names]
        text = json.dumps([names, seconds, lines, early, failed])
        (folder / f"{_state(Path(file))}.json").write_text(text)


class _Watch:
    """Tells coverage which test runs; what is remembered by one test is forgotten before the next."""

    def __init__(self, watch: coverage.Coverage) -> None:
        self.watch, self.seconds, self.failed = watch, defaultdict[str, float](float), set[str]()
        self.shared_by = defaultdict[str, set[str]](set)
        self.shared, self.now = dict[int, str](), [""]

    def _switch(self, name: str) -> Generator[None, Any, Any]:
        self.now.append(name)
        self.watch.switch_context(name)
        result = yield
        self.now.pop()
        self.watch.switch_context(self.now[-1])
        return result

    @pytest.hookimpl(wrapper=True)
    def pytest_make_collect_report(self, collector: pytest.Collector) -> Generator[None, Any, Any]:
        return (yield from self._switch(f"file {collector.nodeid}"))

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, Any, Any]:
        for known in _remembering:
            known.cache_clear()
        start = time.perf_counter()
        result = yield from self._switch(item.nodeid)
        self.seconds[item.nodeid] = time.perf_counter() - start
        used = getattr(item, "_fixtureinfo", None)
        for fixtures in used.name2fixturedefs.values() if used else ():
            self.shared_by[item.nodeid] |= {
                self.shared[id(one)] for one in fixtures if id(one) in self.shared
            }
        return result

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Generator[None, Any, Any]:
        if fixturedef.scope == "function":
            return (yield)
        name = self.shared.setdefault(id(fixturedef), f"fixture {len(self.shared)}")
        return (yield from self._switch(name))

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed or report.skipped:
            self.failed.add(report.nodeid)


_remembering: list[Any] = []


def _tell_caches() -> None:
    """Have functools tell which functions remember, so that they can be made to forget."""
    plain = functools.lru_cache

    def lru_cache(maxsize: Any = 128, typed: bool = False) -> Any:
        made = plain(maxsize, typed)
        if not callable(maxsize):
            return lambda function: _kept(made(function))
        return _kept(made)

    def _kept(made: Any) -> Any:
        if getattr(made, "__module__", "").startswith(("gradework", "tests", "test_")):
            _remembering.append(made)
        return made

    functools.lru_cache = lru_cache  # type: ignore[assignment]
    functools.cache = lru_cache(None)  # type: ignore[assignment]
