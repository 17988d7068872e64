"""Run a room's tests on mutants: a fork of a warm process for each.

A process that has imported the libraries (not the package) forks one that collects the tests of a room.
From there each mutant is a fork of its own, whose function gets the code of the mutant in place; the disk
is never touched. What runs when a module is imported (constants, defaults) forks from the first process
instead, and imports the mutant. Processes that a test starts see the package as it is on the disk.
"""

from __future__ import annotations

import gc
import importlib.machinery
import importlib.util
import json
import os
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any, NamedTuple

import mutations
import pytest
from _pytest.runner import runtestprotocol
from mutant_lines import ROOT, forked, places, session, to_the_end

SLACK, TIMES = 10.0, 5.0
"""A test of a mutant may take five times the seconds of the processor that it took when watched, and ten."""

CLOCK = 10.0
"""All of a mutant may take ten times that by the clock: the machine may be busy."""

Timed = list[tuple[str, float]]
"""Tests in the order they are run, with the seconds they took when they were watched."""


class Mutant(NamedTuple):
    """One mutation of a file of a room."""

    room: str
    file: str  # from the root
    change: mutations.Mutation


class Told(NamedTuple):
    """How a mutant ended: killed, survived or timed out; by which test; in how many seconds."""

    ended: str
    by: str
    seconds: float


class _Serve:
    """Takes the place of pytest's loop: hands the collected tests by name to what is to be done."""

    def __init__(self, work: Callable[[dict[str, pytest.Item]], None]) -> None:
        self.work = work

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.work({item.nodeid: item for item in session.items})
        return True


def _first_failure(items: dict[str, pytest.Item], timed: Timed) -> str:
    chosen = [(items[name], seconds) for name, seconds in timed if name in items]
    for (item, seconds), after in zip(chosen, [*chosen[1:], (None, 0.0)], strict=True):
        signal.setitimer(signal.ITIMER_PROF, SLACK + TIMES * seconds)
        if any(report.failed for report in runtestprotocol(item, nextitem=after[0], log=False)):
            return item.nodeid
    return ""


def _limit(timed: Timed) -> float:
    return CLOCK * (SLACK + TIMES * sum(seconds for _, seconds in timed))


def _told(written: str, late: bool, started: float) -> Told:
    """A fork that ended without a word died of its mutant."""
    took = time.monotonic() - started
    if late:
        return Told("timed out", "", took)
    by = written.removeprefix("=") if written else "(the process died)"
    return Told("killed" if by else "survived", by, took)


def run_warm(
    room: str, asked: list[tuple[Mutant, Timed]], base: Path, take: Callable[[Mutant, Told], None]
) -> None:
    """Run mutants of function bodies, each on the tests named, in a fork that has collected them all."""

    def serve(items: dict[str, pytest.Item], out: int) -> None:
        for mutant, _ in asked:
            importlib.import_module(_module(mutant.file))
        known = _functions()
        for index, (mutant, timed) in enumerate(asked):
            code = _code_of(mutant)

            functions = known[mutant.file, mutant.change.function]
            assert functions, mutant

            def one(
                pipe: int, code: CodeType = code, functions: Any = functions, timed: Timed = timed
            ) -> None:
                for function in functions:
                    function.__code__ = code
                os.write(pipe, b"=" + _first_failure(items, timed).encode())

            started = time.monotonic()
            told = _told(*forked(one, _limit(timed)), started)
            os.write(out, (json.dumps([index, *told]) + "\n").encode())

    _stream(
        lambda out: session(places(room), _Serve(lambda items: serve(items, out)), base),
        lambda row: take(asked[row[0]][0], Told(*row[1:])),
    )


def run_cold(mutant: Mutant, timed: Timed, base: Path) -> Told:
    """Run a mutant of what runs on import: fork, import the mutant, collect its tests, run them."""
    files = sorted({str(ROOT / name.split("::")[0]) for name, _ in timed})

    def work(pipe: int) -> None:
        sys.meta_path.insert(0, _Instead(mutant))
        try:
            importlib.import_module(_module(mutant.file))  # before pytest does, which asks no finder of ours
        except Exception:
            os.write(pipe, b"=(importing it fails)")
            return

        def run(items: dict[str, pytest.Item]) -> None:
            os.write(pipe, b"=" + _first_failure(items, timed).encode())

        if session(files, _Serve(run), base) not in (0, 1, 5):
            os.write(pipe, b"=(importing it fails)")

    started = time.monotonic()
    return _told(*forked(work, _limit(timed)), started)


def _stream(work: Callable[[int], object], take: Callable[[Any], None]) -> None:
    """Fork, and take each line that it writes as it comes."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        to_the_end(work, writer)
    os.close(writer)
    with os.fdopen(reader) as lines:
        for line in lines:
            take(json.loads(line))
    os.waitpid(child, 0)


def _functions() -> dict[tuple[str, str], list[FunctionType]]:
    """The functions of the package that stand in a module or a class, by file and name."""
    found = defaultdict[tuple[str, str], list[FunctionType]](list)
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and one.__code__.co_filename.startswith(f"{ROOT}/gradework/"):
            file = str(Path(one.__code__.co_filename).relative_to(ROOT))
            found[file, one.__code__.co_qualname].append(one)
    return found


def _compiled(mutant: Mutant) -> CodeType:
    path = ROOT / mutant.file
    return compile(mutations.mutated(path.read_text(), mutant.change), str(path), "exec")


def _code_of(mutant: Mutant) -> CodeType:
    def within(code: CodeType) -> Iterator[CodeType]:
        for part in code.co_consts:
            if isinstance(part, CodeType):
                yield part
                yield from within(part)

    return next(code for code in within(_compiled(mutant)) if code.co_qualname == mutant.change.function)


class _Instead(importlib.machinery.SourceFileLoader):
    """Finds and loads the mutant where its module is asked for."""

    def __init__(self, mutant: Mutant) -> None:
        self.mutant = mutant
        super().__init__(_module(mutant.file), str(ROOT / mutant.file))

    def find_spec(self, name: str, *_: object) -> Any:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def get_code(self, _: str) -> CodeType:
        return _compiled(self.mutant)


def _module(file: str) -> str:
    return file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
