"""The text of a job file before and beside its TOML: is it built as jobs are, and where does each key stand?

The TOML reader of the standard library checks the text but forgets the places. This scanner goes once over
text that it has accepted already, so it trusts the syntax, interprets nothing but the structure, and never
reports a fault of its own.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field

from gradework.errors import Faults

# How a job file is built, looked at before it is parsed: keys, values, brackets and dots are counted.
#
# The TOML reader of the standard library takes minutes and gigabytes over a few kilobytes of nested keys,
# so what no job needs is refused before it begins. Words in quotes and remarks count for nothing.

MOST_KEYS = 2_000
"""Equals signs; a job of every key has about 150, and each named mark or pier is one more."""

MOST_VALUES = 10_000
"""Commas; an outline of a thousand corners has two thousand."""

MOST_DOTS = 8
"""Dots in one key or heading: nothing in a job lies deeper than four tables."""

DEEPEST = 12
"""Brackets inside brackets; a list of holes has four."""

_OPENING = re.compile(r"\"\"\"|'''|[\"'#]")
_LONG_END = re.compile(r"\\.|\"{3,5}", re.DOTALL)
_LONG_LITERAL_END = re.compile(r"'{3,5}")
_SHORT_BASIC = re.compile(r'"[^"\\\n]*(?:\\.[^"\\\n]*)*"')
_LITERAL = re.compile(r"'[^'\n]*'")
_HEADING = re.compile(r"(?m)^[ \t]*\[\[?([^\[\],=\n]*)")


def look(text: str, faults: Faults) -> None:
    """Refuse a job that is built as no job is; line ends must be bare newlines. Raises ``InputError``."""
    bare = _without_words(text)
    _refuse_depth(bare, faults)
    _refuse_many(bare, "=", MOST_KEYS, "keys", faults)
    _refuse_many(bare, ",", MOST_VALUES, "values", faults)
    for bracket in "[{":
        _refuse_many(bare, bracket, MOST_VALUES, "brackets", faults)
    _refuse_dots(bare, faults)


def _without_words(text: str) -> str:
    """The text with every word in quotes and every remark filled with ``k``, each as long as it was.

    It ends where a quote is opened and never closed: there the TOML reader stops too.
    """
    pieces, at = [], 0
    while (opening := _OPENING.search(text, at)) is not None:
        pieces.append(text[at : opening.start()])
        at = _end(text, opening)
        if at < 0:
            return "".join(pieces)
        pieces.append(("k" if opening.group() != "#" else " ") * (at - opening.start()))
    return "".join((*pieces, text[at:]))


def _end(text: str, opening: re.Match[str]) -> int:
    """Where what was opened ends; -1 if it does not."""
    start, mark = opening.span()[0], opening.group()
    if mark == "#":
        end = text.find("\n", start)
        return len(text) if end < 0 else end
    if mark == '"""':
        at = opening.end()
        while (found := _LONG_END.search(text, at)) is not None and found.group()[0] == "\\":
            at = found.end()
    elif mark == "'''":
        found = _LONG_LITERAL_END.search(text, opening.end())
    else:
        found = (_SHORT_BASIC if mark == '"' else _LITERAL).match(text, start)
    return -1 if found is None else found.end()


def _refuse_many(bare: str, mark: str, most: int, things: str, faults: Faults) -> None:
    if bare.count(mark) <= most:
        return
    at = -1
    for _ in range(most + 1):
        at = bare.index(mark, at + 1)
    line, column = _line_and_column(bare, at)
    faults.halt("job-too-many", line=line, column=column, most=f"{most:,}", things=things)


def _refuse_dots(bare: str, faults: Faults) -> None:
    for start, key in _keys(bare):
        if key.count(".") > MOST_DOTS:
            line, column = _line_and_column(bare, start)
            parts = f"{key.count('.') + 1:,}"
            faults.halt("job-too-deep", variant="dots", line=line, column=column, parts=parts)


def _keys(bare: str) -> Iterator[tuple[int, str]]:
    """Where each key begins, and the key: what stands before an equals sign, or in a heading."""
    for heading in _HEADING.finditer(bare):
        yield heading.start(1), heading.group(1)
    at = 0
    while (equals := bare.find("=", at)) >= 0:
        start = max(at, *(bare.rfind(mark, at, equals) + 1 for mark in "\n{,"))
        yield start, bare[start:equals]
        at = equals + 1


def _refuse_depth(bare: str, faults: Faults) -> None:
    opened: list[int] = []
    for bracket in re.finditer(r"[\[\]{}]", bare):
        if bracket.group() in "]}":
            del opened[-1:]
            continue
        opened.append(bracket.start())
        if len(opened) > DEEPEST:
            line, column = _line_and_column(bare, opened[0])
            faults.halt("job-too-deep", line=line, column=column, deepest=DEEPEST)


def _line_and_column(text: str, at: int) -> tuple[int, int]:
    """The line and the column of an offset, both from 1."""
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


Path = tuple[str | int, ...]
"""Keys and list indices from the top of the document: ``("building", "size", 1)``."""

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_FILLING = re.compile(r"(?:[ \t\n]+|#[^\n]*)*")  # blanks, line ends, comments
_BASIC = re.compile(r'"(?:[^"\\\n]|\\.)*"')
# A long string ends at the last three of up to five quotes in a row.
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}', re.DOTALL)
_LONG_LITERAL = re.compile(r"'''(?:[^']|'{1,2}(?!'))*'{3,5}", re.DOTALL)
_SCALAR = re.compile(r"[^,\]}#\n]+")


@dataclass(frozen=True, slots=True)
class Place:
    """A line and a column, both from 1."""

    line: int
    column: int


@dataclass
class Positions:
    """Offsets of keys and values in a text; ask with ``key`` and ``value``."""

    text: str
    keys: dict[Path, int] = field(default_factory=dict)
    values: dict[Path, int] = field(default_factory=dict)
    broken_tables: list[int] = field(default_factory=list)
    """Inline tables that run over a line end (not TOML before 1.1): the offset of each."""

    def key(self, path: Path) -> Place:
        """Give the place of the key itself; where there is none (a list item) the place of its value."""
        return self.place(self.keys[path]) if path in self.keys else self.value(path)

    def value(self, path: Path) -> Place:
        """Give the place of the value; of something absent, the place of the nearest table around it."""
        for length in range(len(path), 0, -1):
            at = self.values.get(path[:length], self.keys.get(path[:length]))
            if at is not None:
                return self.place(at)
        return Place(1, 1)

    def place(self, offset: int) -> Place:
        """Turn an offset into line and column."""
        return Place(*_line_and_column(self.text, offset))


def find_positions(text: str) -> Positions:
    """Map every key and value of ``text``, which ``tomllib`` has accepted; line ends must be bare newlines.

    >>> where = find_positions('[pad]\\nmargin = "12 in"')
    >>> where.value(("pad", "margin"))
    Place(line=2, column=10)
    """
    scanner = _Scanner(Positions(text))
    scanner.document()
    return scanner.found


class _Scanner:
    """Walks over the text once; ``at`` is the offset of the next character."""

    def __init__(self, found: Positions) -> None:
        self.found = found
        self.text = found.text
        self.at = 0
        self.table: Path = ()
        self.counts: dict[Path, int] = {}  # tables seen so far in each array of tables

    def document(self) -> None:
        while True:
            self._skip(_FILLING)
            if self.at >= len(self.text):
                return
            if self.text.startswith("[[", self.at):
                self._array_header()
            elif self.text[self.at] == "[":
                self._table_header()
            else:
                self._pair(self.table)

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        self.at = match.end() if match else self.at

    def _take(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:  # cannot be in accepted text; moving on keeps the walk finite
            self.at += 1
            return ""
        self.at = match.end()
        return match.group()

    def _dotted_key(self) -> list[tuple[str, int]]:
        parts = []
        while True:
            self._skip(_SPACE)
            start = self.at
            parts.append((self._key_part(), start))
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return parts
            self.at += 1

    def _key_part(self) -> str:
        if self.text.startswith('"', self.at):
            raw = self._take(_BASIC)
            decoded: str = tomllib.loads(f"k={raw}")["k"]  # escapes mean what the reader says
            return decoded
        if self.text.startswith("'", self.at):
            return self._take(_LITERAL)[1:-1]
        return self._take(_BARE)

    def _resolve(self, parts: list[tuple[str, int]]) -> Path:
        """Follow a header's parts, going into the latest table of each array of tables on the way."""
        path: Path = ()
        for name, start in parts:
            path = (*path, name)
            self.found.keys.setdefault(path, start)
            if path in self.counts:
                path = (*path, self.counts[path] - 1)
        return path

    def _table_header(self) -> None:
        start = self.at
        self.at += 1
        parts = self._dotted_key()
        self.table = self._resolve(parts)
        self.found.keys[self.table] = parts[-1][1]
        self.found.values[self.table] = start
        self.at += 1

    def _array_header(self) -> None:
        start = self.at
        self.at += 2
        parts = self._dotted_key()
        array = (*self._resolve(parts[:-1]), parts[-1][0])
        self.found.keys.setdefault(array, parts[-1][1])
        self.found.values.setdefault(array, start)
        number = self.counts.get(array, 0)
        self.counts[array] = number + 1
        self.table = (*array, number)
        self.found.values[self.table] = start
        self.at += 2

    def _pair(self, inside: Path) -> None:
        path = inside
        for name, start in self._dotted_key():
            path = (*path, name)
            self.found.keys.setdefault(path, start)
        self.at += 1  # the equals sign
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        self.found.values[path] = self.at
        following = self.text[self.at : self.at + 3]
        if following == '"""':
            self._take(_LONG_BASIC)
        elif following == "'''":
            self._take(_LONG_LITERAL)
        elif following[:1] == '"':
            self._take(_BASIC)
        elif following[:1] == "'":
            self._take(_LITERAL)
        elif following[:1] == "[":
            self._array(path)
        elif following[:1] == "{":
            self._inline_table(path)
        else:
            self._take(_SCALAR)

    def _array(self, path: Path) -> None:
        self.at += 1
        number = 0
        while True:
            self._skip(_FILLING)
            if self.text[self.at : self.at + 1] in ("]", ""):
                self.at += 1
                return
            self._value((*path, number))
            number += 1
            self._skip(_FILLING)
            if self.text.startswith(",", self.at):
                self.at += 1

    def _inline_table(self, path: Path) -> None:
        opened = self.at
        broken = False
        self.at += 1
        while True:
            before = self.at
            self._skip(_FILLING)
            broken = broken or "\n" in self.text[before : self.at]
            if self.text[self.at : self.at + 1] in ("}", ""):
                self.at += 1
                break
            if self.text.startswith(",", self.at):
                self.at += 1
                continue
            self._pair(path)
        if broken:
            self.found.broken_tables.append(opened)
