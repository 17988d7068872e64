"""From the bytes of a job file to a checked ``Job``, or every fault in it with line and column."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from gradework.errors import Fault, Faults, InputError, visible
from gradework.project.job.clashes import clashes
from gradework.project.job.model import FOUNDATIONS, Job
from gradework.project.job.toml_text import Path, Place, Positions, find_positions, look
from gradework.project.job.values import CUSTOM, shown

# Faults found while working, pointed at the lines of the job that caused them.

_KEYS = {
    "level-far-from-ground": "level",
    "pad-prices-missing": "level",
    "outline-margin": "margin",
    "batter-hollow": "edge",
}
"""The key, within the table at work, that a fault is about where it does not say so itself."""


@contextmanager
def pointing_into(job: Job, *path: str) -> Iterator[None]:
    """Let the faults raised inside, which know no file, point at a line of the job.

    Each at the key it is about where the job has it, else at its table, else (a pad that nobody wrote down)
    at the building.
    """
    try:
        yield
    except InputError as problem:
        here = path if path[0] in job.model_fields_set else ("building",)
        located: list[Fault] = []
        for fault in problem.faults:
            about = fault.about or ((_KEYS[fault.code],) if fault.code in _KEYS else ())
            located += job.located(InputError([fault]), (*here, *about)).faults
        raise InputError(located, problem.findings) from None


MOST_BYTES = 2**20
"""A job file may be this large [bytes]; the TOML reader takes seconds beyond it."""

_LONGEST_GUESSED = 60
"""Letters; for a longer key no nearest one is looked for."""

_AT = re.compile(r"\s*\((?:at line (?P<line>\d+), column (?P<column>\d+)|at end of document)\)\s*$")
_LONG_NUMBER = re.compile(r"[0-9_]{1000,}")


def read_job(text: bytes, file: str = "job.toml") -> Job:
    """Read a job file; ``file`` is the name used in messages.

    Raises ``InputError`` with every fault: file, line, column, the value, what was expected, the fix.
    """
    faults = Faults(file)
    document, where = _parse(_decode(text, faults), faults)
    for offset in where.broken_tables:
        at = where.place(offset)
        faults.add(
            "job-broken-table",
            "a table in braces that runs over a line end",
            "the whole of it on one line",
            "put it on one line, or write it as a [table] of its own",
            line=at.line,
            column=at.column,
        )
    job = _validate(document, where, faults)
    faults.raise_if_any()
    assert job is not None
    return job.read_from(file, where)


def check_tables(tables: Mapping[str, Any]) -> Job:
    """Check the tables of a job that was made in Python; its faults have no file and no line.

    Raises ``InputError`` with every fault.
    """
    faults = Faults()
    job = _validate(tables, Positions(""), faults)
    if faults.all or job is None:
        raise InputError([replace(one, line=0, column=0) for one in faults.all])
    return job


def _decode(data: bytes, faults: Faults) -> str:
    if len(data) > MOST_BYTES:
        faults.stop(
            "file-too-large",
            "more than 1 MB",
            "a job of a page or two",
            "check that this is the job file, not the notes",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        column = problem.start - (data.rfind(b"\n", 0, problem.start) + 1) + 1
        faults.stop(
            "job-encoding",
            f"byte 0x{data[problem.start]:02x}, which is not UTF-8 text",
            "a text file in UTF-8",
            "save the job as plain text in UTF-8",
            line=line,
            column=column,
        )
    return text.replace("\r\n", "\n")


def _parse(text: str, faults: Faults) -> tuple[dict[str, Any], Positions]:
    look(text, faults)
    try:
        return tomllib.loads(text), find_positions(text)
    except tomllib.TOMLDecodeError as problem:
        _syntax_fault(str(problem), text, faults)
    except ValueError:  # the reader's own word for a number of thousands of digits
        found = _LONG_NUMBER.search(text)
        at = Positions(text).place(found.start() if found else 0)
        faults.add(
            "job-value",
            "a number of thousands of digits",
            "an ordinary number",
            "fix the number",
            line=at.line,
            column=at.column,
        )
    raise InputError(faults.all)


def _syntax_fault(message: str, text: str, faults: Faults) -> None:
    at = _AT.search(message)
    lines = text.split("\n")
    if at and at["line"]:
        line, column = int(at["line"]), int(at["column"])
    else:
        line = next((n for n in range(len(lines), 0, -1) if lines[n - 1].strip()), 1)
        column = len(lines[line - 1]) + 1
    content = lines[line - 1] if line <= len(lines) else ""
    start = max(0, column - 1 - 30)
    marked = f"{visible(content[start : column - 1], 60)}^{visible(content[column - 1 :], 30)}"
    reason = visible(_AT.sub("", message), 100)
    fix = "fix the line at the ^ (text needs quotes, a table of more than one line its own [heading])"
    faults.add("job-syntax", f"cannot read: {marked}", f"TOML ({reason})", fix, line=line, column=column)


def _validate(document: Mapping[str, Any], where: Positions, faults: Faults) -> Job | None:
    unit = document.get("units")
    known = unit if unit in ("ft", "in", "m", "ftUS") else None
    for clash in clashes(document):
        at = where.key(clash.path)
        faults.add(clash.code, clash.found, clash.expected, clash.fix, line=at.line, column=at.column)
    try:
        # without a usable unit the lengths are still checked for their form; the fault about it stops the job
        return Job.model_validate(document, context={"unit": known or "m"})
    except ValidationError as problem:
        for error in problem.errors(include_url=False):
            if not _echoes(error):
                _note(error, where, faults)
    return None


def _echoes(error: Any) -> bool:
    """Whether a list is called too short only because some of its values, told by themselves, do not fit."""
    if error["type"] != "too_short" or not isinstance(error["input"], list):
        return False
    return len(error["input"]) >= int(error["ctx"]["min_length"])


def _note(error: Any, where: Positions, faults: Faults) -> None:
    path: Path = tuple(error["loc"])
    kind: str = error["type"]
    if kind == CUSTOM:
        told = error["ctx"]
        found = f"{_label(path)}: {told['found']}"
        _add(faults, where.value(path), told["code"], found, told["expected"], told["fix"])
    elif kind == "extra_forbidden":
        _unknown_key(path, where, faults)
    elif kind == "missing" and isinstance(path[-1], int):  # the second value of a pair
        found = f"{_label(path)}: a list of {path[-1]}"
        _add(
            faults,
            where.value(path),
            "job-value",
            found,
            "a list of 2",
            "count the values between the brackets",
        )
    elif kind == "missing":
        at = where.key(path[:-1]) if len(path) > 1 else Place(1, 1)
        table = f"in [{_label(path[:-1])}]" if len(path) > 1 else "at the top of the file"
        example = _example(path)
        _add(
            faults,
            at,
            "job-missing-key",
            f"no {path[-1]} {table}",
            f"{path[-1]} = {example}",
            f"add the line {path[-1]} = {example}",
        )
    else:
        expected, fix = _shape(kind, error.get("ctx", {}))
        _add(
            faults, where.value(path), "job-value", f"{_label(path)}: {shown(error['input'])}", expected, fix
        )


def _label(path: Path) -> str:
    """Name a value by its key; an item of a list by the key of the list."""
    return next((part for part in reversed(path) if isinstance(part, str)), "")


def _add(faults: Faults, at: Place, code: str, found: str, expected: str, fix: str) -> None:
    faults.add(code, found, expected, fix, line=at.line, column=at.column)


def _shape(kind: str, context: Mapping[str, Any]) -> tuple[str, str]:
    """Say in plain words what shape a table or list should have."""
    if kind == "too_short":  # only lists of any length have a least one; a pair misses its second value
        return f"a list of at least {context['min_length']}", "add what is missing between the brackets"
    if kind == "too_long":
        return f"a list of {context['max_length']}", "count the values between the brackets"
    if kind in ("tuple_type", "list_type"):
        return "a list in brackets", "write it as [first, second]"
    return "a table", "write it as a [table] with its keys below"


def _unknown_key(path: Path, where: Positions, faults: Faults) -> None:
    known = _known_keys(path[:-1])
    name = str(path[-1])
    near = difflib.get_close_matches(name[:_LONGEST_GUESSED].lower(), known, n=1, cutoff=0.5)
    elsewhere = [table for table, keys in _all_keys().items() if name in keys and table]
    elsewhere.sort(key=lambda table: table in FOUNDATIONS)  # such a table asks for one foundation more
    if near:
        fix = f"did you mean {near[0]}?"
    elif elsewhere:
        fix = f"it belongs in [{elsewhere[0]}]"
    else:
        fix = "take the line out"
    table = ".".join(str(part) for part in path[:-1])
    place = f"in [{table}]" if table else "at the top of the file"
    at = where.key(path)
    _add(
        faults,
        at,
        "job-unknown-key",
        f"unknown key {visible(name)!r} {place}",
        f"one of {', '.join(known)}",
        fix,
    )


def _table_of(annotation: Any) -> type[BaseModel] | None:
    """Find the table model in a field's annotation: itself, optional, or in a list of tables."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((table for part in get_args(annotation) if (table := _table_of(part)) is not None), None)


def _known_keys(path: Path) -> list[str]:
    table: type[BaseModel] = Job
    for part in path:
        if isinstance(part, int):
            continue
        inner = table.model_fields.get(str(part))
        table = (_table_of(inner.annotation) if inner else None) or table
    return list(table.model_fields)


def _all_keys() -> dict[str, list[str]]:
    found = {"": list(Job.model_fields)}
    for name, described in Job.model_fields.items():
        table = _table_of(described.annotation)
        if table is not None:
            found[name] = list(table.model_fields)
    return found


def _example(path: Path) -> str:
    """Give an example value for a required key, from its description in the model."""
    table: type[BaseModel] = Job
    for part in path[:-1]:
        inner = table.model_fields.get(str(part))
        table = (_table_of(inner.annotation) if inner else None) or table
    described = table.model_fields.get(str(path[-1]))
    examples = described.examples if described is not None else None
    return str(examples[0]) if examples else "..."
