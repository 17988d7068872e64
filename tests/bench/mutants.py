"""Mutants: one small wrong at a time in a room's code; do the room's own tests see it?

``python tests/bench mutants --room ground --count 100 --seed 1`` draws the next hundred of that room
(without a room: a share of each), runs the tests of the room that run the line, stops at the first that
fails, and adds a line for each to the log, so that slices add up. A line that no test of its room runs is
told as "not run". ``--again`` runs those that survived once more; ``--count 0`` shows what the log holds.
Mutants that change nothing anybody can see stand in ``equivalent_mutants.toml``, each with its reason.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import os
import re
import tempfile
import tomllib
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache, partial
from itertools import accumulate
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import mutant_runs
from mutant_lines import ROOT, Tests, watched
from mutant_runs import Mutant, Timed, Told
from mutations import mutations

ROOMS = ("units", "survey", "ground", "earthwork", "foundations", "sitework", "project")
KEPT = Path(tempfile.gettempdir()) / f"mutants-{os.getuid()}"
EQUIVALENT = Path(__file__).with_name("equivalent_mutants.toml")
ENDS = ("killed", "timed out", "survived", "not run")
Key = tuple[str, str, str]


def command(words: list[str]) -> None:
    """Run a slice and print what became of each mutant, then the sums of the log."""
    asked = _read_words(words)
    log: Path = asked.log
    known = _read_log(log)
    rooms = asked.room or list(ROOMS)
    equivalent = _equivalent()
    os.nice(5)
    _import_libraries()
    for room, count in zip(rooms, _shares(rooms, asked.count), strict=True):
        drawn = sorted(_all_of(room), key=partial(_lot, asked.seed))
        if asked.again:
            drawn = [one for one in drawn if known.get(_key(one), {}).get("ended") in ENDS[2:]]
            drawn = [one for one in drawn if _key(one) not in equivalent]
        else:
            drawn = [one for one in drawn if _key(one) not in known][:count]
        if drawn:
            print(f"\n{room}: {len(drawn)} mutants, seed {asked.seed}", flush=True)
            _run(room, drawn, asked, known)
    print("\n" + "\n".join(_sums(known, equivalent)))


def _read_words(words: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python tests/bench mutants", description=__doc__.splitlines()[0])
    parser.add_argument("--room", action="append", choices=ROOMS)
    parser.add_argument("--count", type=int, default=70, help="how many in all rooms asked for (70)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--again", action="store_true", help="run those that survived once more")
    parser.add_argument(
        "--most", type=float, default=60.0, help="seconds of tests for each, quickest first (60)"
    )
    parser.add_argument("--log", type=Path, default=KEPT / "log.jsonl")
    return parser.parse_args(words)


def _shares(rooms: list[str], count: int) -> list[int]:
    """As many for each room as it has of all mutants of the rooms, one at least."""
    sizes = [len(_all_of(room)) for room in rooms]
    return [max(round(count * size / sum(sizes)), min(count, 1)) for size in sizes]


def _all_of(room: str) -> list[Mutant]:
    files = sorted((ROOT / "gradework" / room).rglob("*.py"))
    return [Mutant(room, str(path.relative_to(ROOT)), one) for path in files for one in _of_file(path)]


_of_file = cache(lambda path: mutations(path.read_text()))


def _key(mutant: Mutant) -> Key:
    return mutant.file, mutant.change.function, mutant.change.change


def _lot(seed: int, mutant: Mutant) -> bytes:
    """Where a mutant comes in a draw: at random, but in the same place after edits elsewhere."""
    return hashlib.sha256(repr((seed, _key(mutant))).encode()).digest()


def _import_libraries() -> None:
    """What forks share: all but the package itself."""
    import matplotlib.figure
    import numpy.testing
    import pydantic
    import pyproj
    import scipy.optimize
    import scipy.sparse
    import scipy.spatial
    import shapely

    assert all((matplotlib, numpy, pydantic, pyproj, scipy, shapely))


def _run(room: str, drawn: list[Mutant], asked: argparse.Namespace, known: dict[Key, dict[str, Any]]) -> None:
    folder = KEPT / room
    folder.mkdir(parents=True, exist_ok=True)
    tests = watched(room, folder)
    if tests.failed:
        print(f"  left out, since they fail or are skipped as it is: {', '.join(tests.failed)}")

    ran: dict[Key, str] = {}

    def take(mutant: Mutant, told: Told) -> None:
        line = {
            "room": room, "file": mutant.file, "line": mutant.change.line, "function": mutant.change.function,
            "change": mutant.change.change, "seed": asked.seed, "ended": told.ended, "by": told.by,
            "tests": ran[_key(mutant)],
            "seconds": round(told.seconds, 2),
        }  # fmt: skip
        known[_key(mutant)] = line
        with asked.log.open("a") as out:
            out.write(json.dumps(line) + "\n")
        where = f"{mutant.file}:{mutant.change.line} {mutant.change.function}"
        print(f"  {told.ended:9} {told.seconds:6.1f} s  {where}: {mutant.change.change}", flush=True)

    warm: list[tuple[Mutant, Timed]] = []
    cold: list[tuple[Mutant, Timed]] = []
    for mutant in drawn:
        numbers, imported = _tests_of(mutant, tests)
        timed = _at_most(asked.most, _in_order(mutant, numbers, tests))
        ran[_key(mutant)] = f"{len(timed)} of {len(numbers)}"
        if not numbers:
            take(mutant, Told("not run", "", 0.0))
        else:
            (cold if imported else warm).append((mutant, timed))
    base = folder / f"base-{os.getpid()}"
    mutant_runs.run_warm(room, warm, base, take)
    for mutant, timed in cold:
        take(mutant, mutant_runs.run_cold(mutant, timed, base))


def _tests_of(mutant: Mutant, tests: Tests) -> tuple[list[int], bool]:
    """Numbers of the tests that run the mutant, and whether it must be imported to be seen."""
    change = mutant.change
    lines = tests.lines.get(mutant.file, {})
    if change.function and not change.function.endswith("."):
        spots = change.lines if any(line in lines for line in change.lines) else (change.statement,)
        numbers = {n for line in spots for n in lines.get(line, [])}
        return sorted(numbers), any((mutant.file, line) in tests.imported for line in spots)
    return sorted(_users(mutant, tests)), True


def _users(mutant: Mutant, tests: Tests) -> set[int]:
    """The tests that run a function which names what is set here, or that name it themselves."""
    names = _set_by(ast.parse((ROOT / mutant.file).read_text()), mutant)
    found: set[int] = set()
    for file, rows in tests.lines.items():
        used = _names_in(ROOT / file)
        for line in {line for name in names for line in used.get(name, ())}:
            found |= set(rows.get(line, ()))
    for index, test in enumerate(tests.names):
        if any(re.search(rf"\b{name}\b", _text(ROOT / test.split("::")[0])) for name in names):
            found.add(index)
    return found


def _set_by(tree: ast.Module, mutant: Mutant) -> set[str]:
    """The names that a statement outside functions sets; those that follow from them in the file as well."""
    inside = mutant.change.function.strip(".").split(".")[-1]
    names = {inside} if inside else set()
    simple = [one for one in ast.walk(tree) if isinstance(one, ast.Assign | ast.AnnAssign | ast.FunctionDef)]
    for one in simple:
        if one.lineno <= mutant.change.line <= (one.end_lineno or one.lineno) and not (
            isinstance(one, ast.FunctionDef) and mutant.change.line >= one.body[0].lineno
        ):
            names |= _targets(one)
    for one in tree.body:
        if isinstance(one, ast.Assign | ast.AnnAssign) and one.value is not None:
            read = {part.id for part in ast.walk(one.value) if isinstance(part, ast.Name)}
            names |= _targets(one) if read & names else set()
    return names


def _targets(one: ast.Assign | ast.AnnAssign | ast.FunctionDef) -> set[str]:
    if isinstance(one, ast.FunctionDef):
        return {one.name}
    targets = one.targets if isinstance(one, ast.Assign) else [one.target]
    return {part.id for target in targets for part in ast.walk(target) if isinstance(part, ast.Name)}


@cache
def _names_in(path: Path) -> dict[str, list[int]]:
    found: dict[str, list[int]] = defaultdict(list)
    for node in ast.walk(ast.parse(_text(path))):
        if isinstance(node, ast.Name | ast.Attribute):
            found[node.id if isinstance(node, ast.Name) else node.attr].append(node.lineno)
        elif isinstance(node, ast.FunctionDef):
            found[node.name].extend(range(node.body[0].lineno, (node.end_lineno or node.lineno) + 1))
    return found


_text = cache(lambda path: path.read_text())


def _in_order(mutant: Mutant, numbers: list[int], tests: Tests) -> Timed:
    """File by file, those named as the mutant's file first, then the quickest."""
    stem = Path(mutant.file).stem
    total: Counter[str] = Counter()
    for n in numbers:
        total[tests.names[n].split("::")[0]] += tests.seconds[n]  # type: ignore[assignment]

    def rank(n: int) -> tuple[bool, float, str, float]:
        file = tests.names[n].split("::")[0]
        return stem not in file, total[file], file, tests.seconds[n]

    return [(tests.names[n], tests.seconds[n]) for n in sorted(numbers, key=rank)]


def _at_most(most: float, timed: Timed) -> Timed:
    """The first that are done within ``most`` seconds; one at least."""
    sums = accumulate(seconds for _, seconds in timed)
    return [one for one, total in zip(timed, sums, strict=True) if total <= most] or timed[:1]


def _read_log(log: Path) -> dict[Key, dict[str, Any]]:
    """The last line of each mutant."""
    log.parent.mkdir(parents=True, exist_ok=True)
    lines = log.read_text().splitlines() if log.exists() else []
    rows = [json.loads(line) for line in lines]
    return {(row["file"], row["function"], row["change"]): row for row in rows}


def _equivalent() -> set[Key]:
    if not EQUIVALENT.exists():
        return set()
    rows = tomllib.loads(EQUIVALENT.read_text())["mutant"]
    return {(row["file"], row["function"], row["change"]) for row in rows}


def _sums(known: dict[Key, dict[str, Any]], equivalent: set[Key]) -> Iterator[str]:
    """A line for each room: how many ended how, and how many of a hundred that can be seen were."""
    yield (
        f"{'':12}{'mutants':>9}" + "".join(f"{end:>11}" for end in ENDS) + f"{'equivalent':>12}{'killed':>9}"
    )
    for room in (*ROOMS, "all"):
        rows = [(key, row["ended"]) for key, row in known.items() if room in (row["room"], "all")]
        alike = sum(key in equivalent and ended in ENDS[2:] for key, ended in rows)
        ends = Counter(ended for key, ended in rows if key not in equivalent or ended not in ENDS[2:])
        told = "".join(f"{ends[end]:11}" for end in ENDS)
        real = len(rows) - alike
        share = f"{(ends['killed'] + ends['timed out']) / real:9.1%}" if real else f"{'':9}"
        yield f"{room:12}{len(rows):9}{told}{alike:12}{share}"
