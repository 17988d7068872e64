"""How a job file is built, looked at before it is parsed: keys, values, brackets and dots are counted.

The TOML reader of the standard library takes minutes and gigabytes over a few kilobytes of nested keys, so
what no job needs is refused before it begins. Words in quotes and remarks count for nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from gradework.errors import Faults

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
_BASIC = re.compile(r'"[^"\\\n]*(?:\\.[^"\\\n]*)*"')
_LITERAL = re.compile(r"'[^'\n]*'")
_HEADING = re.compile(r"(?m)^[ \t]*\[\[?([^\[\],=\n]*)")
_KEY_START = re.compile(r"[\n{,]")


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
        found = (_BASIC if mark == '"' else _LITERAL).match(text, start)
    return -1 if found is None else found.end()


def _refuse_many(bare: str, mark: str, most: int, things: str, faults: Faults) -> None:
    if bare.count(mark) <= most:
        return
    at = -1
    for _ in range(most + 1):
        at = bare.index(mark, at + 1)
    _stop(
        "job-too-many",
        f"more than {most:,} {things}",
        "a job of a page or two",
        "check that this is the job file; shots belong into the notes, a long outline into fewer corners",
        bare,
        at,
        faults,
    )


def _refuse_dots(bare: str, faults: Faults) -> None:
    for start, key in _keys(bare):
        if key.count(".") > MOST_DOTS:
            _stop(
                "job-too-deep",
                f"a key of {key.count('.') + 1:,} parts with dots between them",
                "a key such as margin, or survey.grid.spacing",
                "write the key as in docs/job-file.md",
                bare,
                start,
                faults,
            )


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
            _stop(
                "job-too-deep",
                f"brackets inside brackets, more than {DEEPEST} deep",
                "a list or a list of pairs",
                "close the brackets",
                bare,
                opened[0],
                faults,
            )


def _stop(code: str, found: str, expected: str, mend: str, text: str, at: int, faults: Faults) -> None:
    start = text.rfind("\n", 0, at) + 1
    line = text.count("\n", 0, at) + 1
    faults.stop(code, found, expected, mend, line=line, column=at - start + 1)
