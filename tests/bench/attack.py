"""Broken and hostile input: files of the demos, changed at random, through every command that reads them.

``python tests/bench attack 2000 7`` changes 2,000 times from seed 7 on; every hundredth run is a process of
its own that draws. Each run must end by itself with a status of the table in docs/conventions.md and plain
words: a traceback, status 70, a hang, a file that is half written or a folder that lost what was in it is
counted, and printed with its seed, so that it can be run again and kept as a small test.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from gradework.command.main import gradework, run_to_status

ROOT = Path(__file__).parents[2]
DATA = ROOT / "data"
SLOW, HUNG = 10.0, 60
"""[s] A run of over ten seconds (of the processor) is counted; one of sixty is stopped."""

STATUSES = {0, 1, 2, 74, 130}
"""How a run may end (docs/conventions.md): good, no, the input is wrong, not written, stopped by the user."""

EXTREMES = (
    "0", "-0", "1e9", "-1e9", "1e-9", "1e400", "nan", "inf", "99999999999999999999", "0.1e", "1/0", "12 1/4",
    "5' 3 1/2\"", "5-3", "½", "−3", "3,5", "1.234,5", "0x10", "", " ", "#REF!", "###", "=1+1", "-", "true",
    "2026-11-30", "12 in", "3 m", "1 furlong", "1e6 in", "\u200b4", "\uff11\uff12", "4" * 400,
)  # fmt: skip
WORDS = (
    "x",
    "elevation",
    "station",
    "BM",
    "BS",
    "IS",
    "FS",
    "note",
    "'",
    '"',
    "\t",
    ";",
    "\0",
    "\ufeff",
    "家",
    "[",
    "]",
)
COMMANDS = {
    "job": """
        plan {job} -n
        plan {job} -n --json
        plan {job} -n --full
        setout {job} -o {out}
        sheet {job} -o {out}/s.pdf
        cutfill {job}
        place {job} -o {out}
        section {job} --from 2,2 --to 20,12 -o {out}
    """,
    "notes": """
        plan {job} -n
        plan {notes} --size 12x8 --units ft -n
        reduce {notes} --units ft
        reduce {notes} --units m --grid 2
        cutfill {notes} --grid 5 --units ft --level 100
        cutfill {notes} --json
        cutfill {notes} --spread
    """,
    "readings": """
        asbuilt {job} {notes}
        asbuilt {job} {notes} --stage dug
        asbuilt {job} {notes} --stage bed --json
    """,
}
"""A command a line, by the kind of the file that is changed."""


class Case(NamedTuple):
    """One attack: which demo, what kind of file is changed, the file, and the command with its places."""

    demo: Path
    kind: str
    file: str
    command: tuple[str, ...]


def cases() -> list[Case]:
    """Every file of every demo with every command that reads it."""
    found = []
    for demo in sorted(path.parent for path in DATA.glob("*/job.toml")):
        for file in sorted(demo.iterdir()):
            if file.suffix == ".toml":
                kind = "job"
            elif file.suffix not in (".csv", ".xlsx"):
                continue
            else:
                kind = (
                    "readings"
                    if file.name in ("holes.csv", "beds.csv", "tops.csv", "spring.csv")
                    else "notes"
                )
            asked = [tuple(line.split()) for line in COMMANDS[kind].strip().splitlines()]
            found += [Case(demo, kind, file.name, command) for command in asked]
    return found


# How a file is changed: a few bytes, or by its grammar.


def flipped(data: bytes, dice: random.Random) -> bytes:
    """Some bytes are others."""
    made = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 5, 40))):
        if made:
            made[dice.randrange(len(made))] = dice.randrange(256)
    return bytes(made)


def cut_off(data: bytes, dice: random.Random) -> bytes:
    """The file ends early, or a piece of it is left out or comes twice."""
    one, two = sorted(dice.randrange(len(data) + 1) for _ in range(2))
    return dice.choice((data[:one], data[:one] + data[two:], data[:two] + data[one:], b""))


def numbers(data: bytes, dice: random.Random) -> bytes:
    """Some figures are what no figure should be."""
    text = data.decode("utf-8", "surrogateescape")
    spots = list(re.finditer(r"-?\d+(?:\.\d+)?", text))
    for spot in sorted(
        dice.sample(spots, min(len(spots), dice.choice((1, 1, 2, 6)))), key=lambda s: -s.start()
    ):
        near = str(float(spot[0]) * dice.choice((-1.0, 10.0, 12.0, 0.3048, 1000.0, 1.0 + 1e-9)))
        text = text[: spot.start()] + dice.choice((*EXTREMES, near, near, near)) + text[spot.end() :]
    return text.encode("utf-8", "surrogateescape")


def lines_shuffled(data: bytes, dice: random.Random) -> bytes:
    """Lines are left out, doubled, exchanged, blank, or run on."""
    rows = data.split(b"\n")
    for _ in range(dice.choice((1, 2, 4))):
        at, other = dice.randrange(len(rows)), dice.randrange(len(rows))
        change = dice.randrange(5)
        if change == 0 and len(rows) > 1:
            del rows[at]
        elif change == 1:
            rows.insert(at, rows[other])
        elif change == 2:
            rows[at], rows[other] = rows[other], rows[at]
        elif change == 3:
            rows.insert(at, dice.choice((b"", b",,,", b"# ", b"Total,1,2", b'"')))
        else:
            rows[at] += dice.choice((b",", b",7", b'"', b"\r", b" = 3"))
    return b"\n".join(rows)


def words(data: bytes, dice: random.Random) -> bytes:
    """Something that means something stands where it should not."""
    text = data.decode("utf-8", "surrogateescape")
    at = dice.randrange(len(text) + 1)
    text = text[:at] + dice.choice((*WORDS, *EXTREMES)) * dice.choice((1, 1, 3, 200)) + text[at:]
    return text.encode("utf-8", "surrogateescape")


CHANGES: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    flipped,
    cut_off,
    numbers,
    numbers,
    lines_shuffled,
    words,
)


class Ended(NamedTuple):
    """How a run ended: what was wrong ("" for nothing), its status, and how long it took [s]."""

    wrong: str
    status: int
    took: float


class Hung(BaseException):
    """A run that would not end."""


def _stop(*_: object) -> None:
    raise Hung


def attacked(seed: int, folder: Path, every: list[Case], *, apart: bool) -> Ended:
    """Run the attack of a seed in a folder that holds nothing but what it writes."""
    dice = random.Random(seed)
    case = dice.choice(every)
    yard = folder / "yard"
    shutil.copytree(case.demo, yard, ignore=shutil.ignore_patterns("results", "setout"))
    for old in sorted(yard.iterdir()):
        old.chmod(0o644)
    data = (yard / case.file).read_bytes()
    for _ in range(dice.choice((1, 1, 1, 2, 3))):
        data = dice.choice(CHANGES)(data, dice)
    (yard / case.file).write_bytes(data)
    kept = {path.name: path.read_bytes() for path in yard.iterdir()}
    named = {"job": str(yard / "job.toml"), "notes": str(yard / case.file), "out": str(folder / "out")}
    arguments = [word.format(**named) for word in case.command]
    if apart and arguments[0] == "plan":
        arguments = [word for word in arguments if word != "-n"]
        arguments += ["-o", str(folder / "out"), "--pictures"]
    (folder / "out").mkdir()
    clock = _of_children if apart else time.process_time
    started = clock()
    wrong, status = _apart(arguments) if apart else _here(arguments)
    took = clock() - started
    if not wrong and took > SLOW:
        wrong = "slow"
    lost = [
        name for name, was in kept.items() if not (yard / name).is_file() or (yard / name).read_bytes() != was
    ]
    if lost:
        wrong = "changed a file of the yard"
    left = [path.name for path in folder.rglob("*") if path.name.endswith((".part", ".lock"))]
    if left:
        wrong = "left a part behind"
    if wrong:
        print(f"    seed {seed}: {wrong}, status {status}, {took:.1f} s: {case.file} of {case.demo.name}, "
              f"{' '.join(case.command)}")  # fmt: skip
    return Ended(wrong, status, took)


def _of_children() -> float:
    """The time of the processor that processes started here took [s]."""
    took = resource.getrusage(resource.RUSAGE_CHILDREN)
    return took.ru_utime + took.ru_stime


def _here(arguments: list[str]) -> tuple[str, int]:
    out, err = io.StringIO(), io.StringIO()
    signal.signal(signal.SIGPROF, _stop)
    signal.setitimer(signal.ITIMER_PROF, HUNG)
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = run_to_status(gradework, arguments)
    except Hung:
        return "hung", -1
    except BaseException as escaped:
        return f"escaped: {type(escaped).__name__}", -1
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
    return _judged(status, out.getvalue() + err.getvalue()), status


def _apart(arguments: list[str]) -> tuple[str, int]:
    try:
        done = subprocess.run(
            [sys.executable, "-m", "gradework", *arguments], capture_output=True, timeout=HUNG, check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return "hung", -1
    return _judged(done.returncode, (done.stdout + done.stderr).decode("utf-8", "replace")), done.returncode


def _judged(status: int, said: str) -> str:
    if "Traceback (most recent call last)" in said:
        return "traceback"
    if status not in STATUSES:
        return f"status {status}"
    if status == 2 and "error" not in said:
        return "no word of what is wrong"
    if any(ord(letter) < 32 and letter not in "\n\t" for letter in said):
        return "raw control characters"
    return ""


def lines(count: int = 200, first: int = 1) -> Iterator[str]:
    """Attack ``count`` times, from the seed ``first`` on; ends with status 1 where anything is wrong."""
    every, wrong, ended = cases(), Counter[str](), Counter[int]()
    slowest = (0.0, 0)
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as folder:
            one = attacked(seed, Path(folder), every, apart=seed % 100 == 0)
        wrong[one.wrong] += 1
        ended[one.status] += 1
        slowest = max(slowest, (one.took, seed))
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told = ", ".join(f"{number} with {status}" for status, number in sorted(ended.items()))
    yield f"{count} attacks, seeds {first} to {first + count - 1}: {told}"
    yield f"slowest {slowest[0]:.1f} s (seed {slowest[1]}), most memory {most:.0f} MB"
    bad = {name: number for name, number in wrong.items() if name}
    yield (
        "nothing wrong" if not bad else "; ".join(f"{number} {name}" for name, number in sorted(bad.items()))
    )
    if bad:
        raise SystemExit(1)
