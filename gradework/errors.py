"""What can go wrong, and how it is told: the error tree, faults of the input, findings about the job.

It never prints, never reads a file, and never decides a limit. The tree::

    GradeworkError            status 70, never raised itself
    ├── InputError            status 2: the input cannot be used; carries every Fault found
    ├── CheckError            status 70: our own arithmetic disagrees with itself; nothing is written
    └── OutputError           status 74: a result could not be written

A fault is about the text the user gave: it names file, line, column, what was found, what was expected
and the fix. A finding is about his yard or his plan: usable, but worth knowing; its severity "stop"
makes the answer "no". Every code is explained in ``messages.toml`` beside this file, and its sentences
stand there as templates, so that all words can be edited in one place: call sites pass values only.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Literal, NoReturn

Severity = Literal["note", "warning", "stop"]

MOST_SHOWN = 20
"""So many faults are shown at once; the rest are counted."""

_LONGEST_VALUE = 40

LONGEST_PATH = 4096
"""Letters of a path that are shown: all of it, so that it can be copied."""


def visible(text: str, longest: int = _LONGEST_VALUE) -> str:
    """Make user text safe to show on a terminal: control characters as escapes, cut at ``longest`` letters.

    >>> visible("A1\\x1b[2J")
    'A1\\\\x1b[2J'
    """
    some = text[: longest + 1]  # each letter is shown as one or more, so no more are needed
    shown = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in some)
    return shown if len(shown) <= longest else shown[: longest - 3] + "..."


class SheetName(str):
    """What messages call a sheet of a workbook; its lines are rows, and its columns those of the sheet.

    ``skipped``: how many empty columns left of the table its text leaves out. ``findings``: of its choice.

    >>> at_line(SheetName("yard.xlsx, sheet Yard"), 7), at_line("yard.csv", 7)
    ('yard.xlsx, sheet Yard, row 7', 'yard.csv line 7')
    """

    skipped: int
    findings: tuple[Finding, ...]

    def __new__(cls, text: str, skipped: int = 0, findings: tuple[Finding, ...] = ()) -> SheetName:
        """Name a sheet."""
        made = super().__new__(cls, text)
        made.skipped, made.findings = skipped, findings
        return made


def cell_name(row: int, column: int) -> str:
    """The cell in a row and a column, both from 1, as a spreadsheet names it.

    >>> cell_name(7, 3), cell_name(1, 28)
    ('C7', 'AB1')
    """
    letters = ""
    while column > 0:
        column, last = divmod(column - 1, 26)
        letters = chr(65 + last) + letters
    return f"{letters}{row}"


def at_line(file: str, line: int) -> str:
    """Where a finding about one line of a file is."""
    if isinstance(file, SheetName):
        return SheetName(f"{file}, row {line}")
    return f"{file} line {line}"


_LINE_NUMBER = re.compile(r"\b([Ll])ine(s?)(?= [0-9])")


def _row_for_line(match: re.Match[str]) -> str:
    return ("Row" if match[1] == "L" else "row") + match[2]


_ROWS: ContextVar[bool] = ContextVar("lines are rows of a sheet", default=False)


@contextmanager
def counting_rows(file: str) -> Iterator[None]:
    """Let all that is told inside call numbered lines rows, where ``file`` is a sheet."""
    before = _ROWS.set(isinstance(file, SheetName))
    try:
        yield
    finally:
        _ROWS.reset(before)


def as_rows(text: str, place: str = "") -> str:
    """Call numbered lines rows in a sentence about a sheet, or about notes from one.

    >>> as_rows("A is on lines 4 and 9", SheetName("yard.xlsx, sheet Yard"))
    'A is on rows 4 and 9'
    """
    return _LINE_NUMBER.sub(_row_for_line, text) if _ROWS.get() or isinstance(place, SheetName) else text


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing in the input that cannot be used.

    ``found`` and ``expected`` are plain words without a full stop; ``fix`` says what to do. ``line`` and
    ``column`` count from 1; 0 means the fault belongs to the whole file (or to the whole line). ``about``
    names keys of the job, inside the table at work, for a room that knows no lines: the project turns it
    into line and column.
    """

    code: str
    found: str
    expected: str
    fix: str
    file: str = ""
    line: int = 0
    column: int = 0
    about: tuple[str | int, ...] = ()

    def __str__(self) -> str:
        place = visible(self.file, LONGEST_PATH)
        if self.line and isinstance(self.file, SheetName):
            place += f", cell {cell_name(self.line, self.column)}" if self.column else f", row {self.line}"
        elif self.line:
            place += f":{self.line}" + (f":{self.column}" if self.column else "")
        head = f"{place}: " if place else ""
        expected = f"; expected {self.expected}" if self.expected else ""
        return f"{head}error: {self.found}{expected} - {self.fix} [{self.code}]"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing about the yard or the plan that the builder should know.

    Attributes
    ----------
    code
        Short and fixed, such as "pad-cut-deep"; ``gradework explain CODE`` tells more.
    severity
        "note", "warning" or "stop"; a stop means: not like this.
    where
        A place in the yard's own words.
    value, limit
        What was found, and what it is held against: SI (the unit of each code stands in ``messages.toml``),
        or None.
    advice
        A whole sentence or two in the user's units: what was seen and what to do.

    Examples
    --------
    >>> seen = Finding("pad-cut-deep", "warning", "under the pad", 0.6, 0.4572, "The digging is 24 in deep.")
    >>> seen.severity, seen.value
    ('warning', 0.6)
    """

    code: str
    severity: Severity
    where: str
    value: float | None
    limit: float | None
    advice: str


Dialect = Literal["us", "gb"]
"""Whose trade words: "us" in jobs in feet and inches, "gb" in metric ones."""

_MESSAGES = Path(__file__).with_name("messages.toml")


@cache
def _text() -> str:
    return "\n" + _MESSAGES.read_text("utf-8")


@cache
def entry(code: str) -> Mapping[str, str]:
    """One table of ``messages.toml``: its own lines only, since reading all of it takes 50 ms.

    Raises KeyError for a code without a table.
    """
    start = _text().find(f"\n[{code}]\n")
    if start < 0:
        raise KeyError(code)
    end = re.search(r"^\[", _text()[start + 2 :], re.MULTILINE)
    table = _text()[start : start + 2 + end.start()] if end else _text()[start:]
    found: Mapping[str, str] = tomllib.loads(table)[code]
    return found


def words(dialect: Dialect) -> Mapping[str, str]:
    """The trade words that differ between the two dialects, by the name that templates use for them.

    >>> words("us")["subgrade"], words("gb")["subgrade"]
    ('subgrade', 'formation')
    """
    place = ("us", "gb").index(dialect)
    return {name: pair[place] for name, pair in entry("words").items()}


def sentence(code: str, part: str, *, dialect: Dialect = "us", **values: object) -> str:
    """Fill the template ``part`` of a code ("" where it has none) with values, and with the trade words.

    A template names its values in braces; the first letter of the whole sentence is made a capital when the
    template begins with a value in a word's place, as ``{Wall}`` for ``wall``.
    """
    template = entry(code).get(part, "")
    if "{" not in template:
        return template
    fields = {name for _, name, _, _ in Formatter().parse(template) if name}
    given: dict[str, object] = {**values}
    if not fields <= given.keys():
        given = {**words(dialect), **given}
    for name in fields - given.keys():  # {Wall} is {wall} at the head of a sentence
        given[name] = _capital(str(given[name.lower()]))
    return template.format_map(given)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def finding(
    code: str,
    severity: Severity,
    where: str,
    value: float | None = None,
    limit: float | None = None,
    *,
    variant: str = "",
    dialect: Dialect = "us",
    **values: object,
) -> Finding:
    """Make a finding whose advice is the template ``say`` (or ``say-VARIANT``) of its code."""
    part = f"say-{variant}" if variant else "say"
    advice = as_rows(sentence(code, part, dialect=dialect, **values), where)
    return Finding(code, severity, as_rows(where), value, limit, advice)


def fault(
    code: str,
    *,
    variant: str = "",
    dialect: Dialect = "us",
    file: str = "",
    line: int = 0,
    column: int = 0,
    about: tuple[str | int, ...] = (),
    **values: object,
) -> Fault:
    """Make a fault from the templates ``found``, ``expected`` and ``do`` of its code.

    A variant's own part (``found-VARIANT`` ...) stands in for the plain one where there is one.
    """

    def part(name: str) -> str:
        own = f"{name}-{variant}"
        return as_rows(sentence(code, own if own in entry(code) else name, dialect=dialect, **values), file)

    return Fault(code, part("found"), part("expected"), part("do"), file, line, column, about)


class GradeworkError(Exception):
    """The root of the tree; ``status`` is the exit status of a command that ends with it."""

    status = 70


class InputError(GradeworkError):
    """The input cannot be used; it tells everything that is wrong with it at once.

    Attributes
    ----------
    faults
        Every fault, in the order of the file: ``code``, ``found``, ``expected``, ``fix``, ``file``, ``line``
        and ``column`` (from 1; 0 for the whole file).
    findings
        What had been noticed until then: it holds whatever is fixed, and is told as well.
    status
        The exit status of a command that ends with it, 2.

    Examples
    --------
    >>> import gradework as gw
    >>> try:
    ...     gw.read_spots(b"station,x,y,elevation\\nA,0,0,ten\\n", unit="m")
    ... except gw.InputError as problem:
    ...     print(problem.faults[0].code, problem.faults[0].line, problem.faults[0].column)
    notes-cell 2 7
    """

    status = 2

    def __init__(self, faults: Iterable[Fault], findings: Iterable[Finding] = ()) -> None:
        self.faults: tuple[Fault, ...] = tuple(sorted(faults, key=lambda f: (f.file, f.line, f.column)))
        self.findings = tuple(findings)
        super().__init__("\n".join(str(f) for f in self.faults[:MOST_SHOWN]))


class CheckError(GradeworkError):
    """Two ways of computing the same thing disagree: an internal error, so nothing is shown or written."""


class OutputError(GradeworkError):
    """A result could not be written (disk full, folder in the way, file not ours)."""

    status = 74


def unwritten(code: str, *, variant: str, **values: object) -> OutputError:
    """The error for a result that was not written, in the words of ``messages.toml`` for this case."""
    return OutputError(sentence(code, f"found-{variant}", dialect="us", **values))


class Faults:
    """Collects the faults of a document so that all are shown at once, with what was ``noticed`` in it."""

    def __init__(self, file: str = "") -> None:
        self.file = file
        self.all: list[Fault] = []
        self.noticed: tuple[Finding, ...] = ()

    def add(
        self,
        code: str,
        found: str,
        expected: str,
        fix: str,
        *,
        line: int = 0,
        column: int = 0,
        about: tuple[str | int, ...] = (),
    ) -> None:
        """Note one fault and go on."""
        self.all.append(Fault(code, found, expected, fix, self.file, line, column, about))

    def stop(
        self,
        code: str,
        found: str,
        expected: str,
        fix: str,
        *,
        line: int = 0,
        column: int = 0,
        about: tuple[str | int, ...] = (),
    ) -> NoReturn:
        """Note one fault after which nothing more can be read, and raise all."""
        self.add(code, found, expected, fix, line=line, column=column, about=about)
        raise InputError(self.all, self.noticed)

    def note(
        self,
        code: str,
        *,
        variant: str = "",
        line: int = 0,
        column: int = 0,
        about: tuple[str | int, ...] = (),
        **values: object,
    ) -> None:
        """Note one fault, worded in ``messages.toml``, and go on."""
        place = {"file": self.file, "line": line, "column": column, "about": about}
        self.all.append(fault(code, variant=variant, **place, **values))  # type: ignore[arg-type]

    def halt(
        self,
        code: str,
        *,
        variant: str = "",
        line: int = 0,
        column: int = 0,
        about: tuple[str | int, ...] = (),
        **values: object,
    ) -> NoReturn:
        """Note a fault, worded in ``messages.toml``, after which nothing can be read, and raise all."""
        self.note(code, variant=variant, line=line, column=column, about=about, **values)
        raise InputError(self.all, self.noticed)

    def raise_if_any(self) -> None:
        """Raise ``InputError`` with every fault noted so far, if there is one."""
        if self.all:
            raise InputError(self.all, self.noticed)
