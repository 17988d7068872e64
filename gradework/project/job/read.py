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
        _tell(faults, where.place(offset), "job-broken-table")
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
        faults.halt("file-too-large", variant="job")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        column = problem.start - (data.rfind(b"\n", 0, problem.start) + 1) + 1
        faults.halt("job-encoding", line=line, column=column, byte=f"0x{data[problem.start]:02x}")
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
        _tell(faults, at, "job-value", variant="endless")
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
    faults.note("job-syntax", line=line, column=column, marked=marked, reason=reason)


def _validate(document: Mapping[str, Any], where: Positions, faults: Faults) -> Job | None:
    for path, code, variant, values in clashes(document):
        at = where.key(path)
        faults.note(code, variant=variant, line=at.line, column=at.column, **values)
    try:
        return Job.model_validate(document)
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
        at, told = where.value(path), error["ctx"]
        found = f"{_label(path)}: {told['found']}"
        own = Fault(told["code"], found, told["expected"], told["fix"], faults.file, at.line, at.column)
        faults.all.append(own)
    elif kind == "extra_forbidden":
        _unknown_key(path, where, faults)
    elif kind == "missing" and isinstance(path[-1], int):  # the second value of a pair
        _tell(faults, where.value(path), "job-value", variant="one-of-two", key=_label(path), count=path[-1])
    elif kind == "missing":
        at = where.key(path[:-1]) if len(path) > 1 else Place(1, 1)
        add = f"{path[-1]} = {_example(path)}"
        _tell(faults, at, "job-missing-key", key=path[-1], place=_in_table(path[:-1]), add=add)
    else:
        _wrong_shape(kind, error, where, faults)


def _tell(faults: Faults, at: Place, code: str, *, variant: str = "", **values: Any) -> None:
    faults.note(code, variant=variant, line=at.line, column=at.column, **values)


def _in_table(path: Path) -> str:
    table = ".".join(str(part) for part in path)
    return f"in [{table}]" if table else "at the top of the file"


def _label(path: Path) -> str:
    """Name a value by its key; an item of a list by the key of the list."""
    return next((part for part in reversed(path) if isinstance(part, str)), "")


_SHAPES = {"too_short": "few", "too_long": "many", "tuple_type": "list", "list_type": "list"}
"""The wordings of `job-value` for what the model library calls a wrong shape; anything else is no table."""


def _wrong_shape(kind: str, error: Any, where: Positions, faults: Faults) -> None:
    """Say in plain words what shape a table or list should have."""
    path: Path = tuple(error["loc"])
    values = {"key": _label(path), "value": shown(error["input"])}
    for name, limit in (("least", "min_length"), ("most", "max_length")):
        if limit in error.get("ctx", {}):
            values[name] = error["ctx"][limit]
    _tell(faults, where.value(path), "job-value", variant=_SHAPES.get(kind, "table"), **values)


def _unknown_key(path: Path, where: Positions, faults: Faults) -> None:
    known = _known_keys(path[:-1])
    name = str(path[-1])
    near = difflib.get_close_matches(name[:_LONGEST_GUESSED].lower(), known, n=1, cutoff=0.5)
    elsewhere = [table for table, keys in _all_keys().items() if name in keys and table]
    elsewhere.sort(key=lambda table: table in FOUNDATIONS)  # such a table asks for one foundation more
    variant, other = "", ""
    if near:
        variant, other = "near", near[0]
    elif elsewhere:
        variant, other = "elsewhere", elsewhere[0]
    _tell(
        faults,
        where.key(path),
        "job-unknown-key",
        variant=variant,
        key=repr(visible(name)),
        place=_in_table(path[:-1]),
        known=", ".join(known),
        other=other,
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
