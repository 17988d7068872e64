"""Where words meet the terminal: answers and findings on standard output, all else on standard error."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TextIO

import click

if TYPE_CHECKING:
    from gradework.errors import Finding

_PLAIN = {
    "\N{SUPERSCRIPT TWO}": "2",
    "\N{SUPERSCRIPT THREE}": "3",
    "\N{DEGREE SIGN}": " deg",
    "\N{MINUS SIGN}": "-",
    "\N{MULTIPLICATION SIGN}": "x",
    "\N{EN DASH}": "-",
    "\N{NO-BREAK SPACE}": " ",
}
_WORD_COLOURS = {"stop": "red", "error": "red", "warning": "yellow"}
_LEADING_WORD = r"(?m)^( *)(stop|warning|error)(?=:)"


class Screen:
    """How this run speaks: quiet or not, coloured or not, words or one JSON document."""

    def __init__(self, *, quiet: bool = False, colour: bool = True, as_json: bool = False) -> None:
        self.quiet = quiet
        self.colour = colour
        self.as_json = as_json

    def answer(self, text: str) -> None:
        """Give the result, on standard output."""
        self._say(text, sys.stdout)

    def document(self, content: Mapping[str, Any]) -> None:
        """Give the result as one JSON document; a number that is not finite is a fault of ours."""
        import json  # help and words need none of it

        text = json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False)
        # JSON itself escapes the controls of ASCII only; all others stand inside of strings, too
        text = harmless(text, lambda letter: json.dumps(letter)[1:-1])
        if not _takes(sys.stdout, text):
            text = json.dumps(content, indent=1, allow_nan=False)
        sys.stdout.write(text + "\n")

    def note(self, text: str) -> None:
        """Say something in passing, on standard error, unless quiet."""
        if not self.quiet:
            self._say(text, sys.stderr)

    def complain(self, text: str) -> None:
        """Tell an error, on standard error, even when quiet."""
        self._say(text, sys.stderr)

    def findings(self, findings: Iterable[Finding]) -> None:
        """Tell the findings, which belong to the answer, the gravest first; quiet leaves the stops only.

        A JSON document holds its own.
        """
        told = [finding for finding in findings if finding.severity == "stop" or not self.quiet]
        if told:
            self._say(_in_words(told), sys.stdout)

    def noticed(self, findings: Iterable[Finding]) -> None:
        """Tell what had been found before an error, with it on standard error; quiet leaves out the notes."""
        told = [finding for finding in findings if finding.severity != "note" or not self.quiet]
        if told:
            self.complain(_in_words(told))

    def failure(self, what: str, status: int, faults: Sequence[Mapping[str, Any]] = (), **more: Any) -> None:
        """Tell that there is no result, and why; as JSON with the records of the ``faults``."""
        if not self.as_json:
            self.complain(f"error: {what}")
            return
        self.document({"record": 1, "status": status, "error": what, "faults": faults, **more})

    def _say(self, text: str, stream: TextIO) -> None:
        text = harmless(text)
        if self.colour and wants_colour(stream):
            text = re.sub(
                _LEADING_WORD,
                lambda m: m.group(1) + click.style(m.group(2), fg=_WORD_COLOURS[m.group(2)], bold=True),
                text,
            )
        stream.write(writable(text, stream) + "\n")


def _in_words(findings: Iterable[Finding]) -> str:
    from gradework.report.plan import finding_lines  # a run without findings needs no words

    return "\n".join(finding_lines(findings))


def harmless(text: str, escape: Callable[[str], str] | None = None) -> str:
    """Let no letter through that a terminal would obey: every control, turned writing, other line ends.

    The last door: what is shown has been made `visible` where it was put into words, lines apart. Line feeds
    and all kinds of space stay. Without ``escape`` such a letter is made `visible` here.

    >>> harmless("yard\\x1b[2J\\n小屋")
    'yard\\\\x1b[2J\\n小屋'
    """
    if text.replace("\n", "").isprintable():
        return text
    import unicodedata  # a text that is clean needs neither

    from gradework.errors import visible

    escape = escape or visible

    def obeyed(letter: str) -> bool:
        return unicodedata.category(letter)[0] == "C" or letter in "\u2028\u2029"

    return "".join(escape(c) if c != "\n" and obeyed(c) else c for c in text)


def _takes(stream: TextIO, text: str) -> bool:
    try:
        text.encode(stream.encoding or "utf-8")
    except UnicodeEncodeError:
        return False
    return True


def writable(text: str, stream: TextIO) -> str:
    """Write what the stream has no letters for with plain ones: a pipe on Windows, a bare terminal.

    >>> import io
    >>> writable("4.32 m³, 297°, 小屋", io.TextIOWrapper(io.BytesIO(), "ascii"))
    '4.32 m3, 297 deg, ??'
    """
    if _takes(stream, text):
        return text
    encoding = stream.encoding or "utf-8"
    kept = []
    for letter in text:
        known = _takes(stream, letter)
        kept.append(letter if known else _PLAIN.get(letter, letter))
    return "".join(kept).encode(encoding, "replace").decode(encoding)


def wants_colour(stream: TextIO, environment: Mapping[str, str] = os.environ) -> bool:
    """Tell whether this stream shows colour: a terminal that is not dumb, and NO_COLOR unset or empty.

    FORCE_COLOR, set and not empty, turns it on; NO_COLOR wins over it.
    """
    if environment.get("NO_COLOR"):
        return False
    if environment.get("FORCE_COLOR"):
        return True
    return stream.isatty() and environment.get("TERM") != "dumb"


def columns() -> int:
    """The width of the terminal: COLUMNS if it is set, 80 where there is no terminal."""
    said = os.environ.get("COLUMNS", "")
    if said.isdecimal() and int(said) > 0:
        return int(said)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or 80  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):
        return 80
