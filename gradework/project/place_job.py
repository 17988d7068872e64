"""The text of a job with its building at another place: all else in it stays as it was written."""

from __future__ import annotations

import json
import re
import tomllib
from typing import TYPE_CHECKING, Any

from gradework.errors import CheckError, InputError
from gradework.project.job.read import read_job
from gradework.units.lengths import METRES_PER, decimals_of

if TYPE_CHECKING:
    from gradework.project.job.model import Job

_HEADING = re.compile(r"\s*\[\s*(?P<name>[^\]]*?)\s*\]\s*(?:#.*)?$")
_KEY = re.compile(r"\s*(?P<key>[A-Za-z_.\"' ]+?)\s*=")
_MOVED = ("corner", "turn", "ties", "second_ties", "side")
"""What is said of a place; the first line that says it gives way to the new one, the others go."""

_SAME = 1e-9
"""[m, degrees] A place read back is the one that was written."""


def moved_text(text: bytes, there: Job) -> bytes:
    """Write the job ``text`` with its building where ``there`` has it.

    Raises ``CheckError`` where the text, read again, does not put it there.
    """
    lines = text.decode("utf-8-sig").replace("\r\n", "\n").split("\n")
    corner, turn = there.building.corner, there.building.turn
    assert corner is not None
    per, digits = float(METRES_PER[there.unit]), decimals_of(there.unit)
    place = ", ".join(_figure(round(value / per, digits)) for value in corner)
    made = "\n".join(_rewritten(lines, f"[{place}]", _figure(turn))).encode()
    _check(made, there)
    return made


def _figure(value: float) -> str:
    return f"{value + 0.0:.10g}"


def _check(made: bytes, there: Job) -> None:
    wrong = "the job with its building moved does not read back as that"
    try:
        again = read_job(made).building
    except InputError as problem:
        raise CheckError(f"{wrong}: {problem}") from None
    wanted = there.building
    assert wanted.corner is not None
    off = [abs(a - b) for a, b in zip(again.corner or (1e9, 1e9), wanted.corner, strict=True)]
    if max(*off, abs(again.turn - wanted.turn)) > _SAME or again.size != wanted.size:
        raise CheckError(wrong)


def _rewritten(lines: list[str], corner: str, turn: str) -> list[str]:
    """Go through the lines; a statement may run over several, as a list of places does."""
    made: list[str] = []
    table, at, told, home = "", 0, False, -1
    while at < len(lines):
        heading, key = _HEADING.match(lines[at]), _KEY.match(lines[at])
        if heading is not None:
            table = re.sub("[\"' ]", "", heading["name"])
        name = "" if key is None or heading is not None else re.sub("[\"' ]", "", key["key"])
        whole = f"{table}.{name}".strip(".")
        first, _, rest = whole.partition(".")
        if whole == "building" and name:  # all of it on one line
            end, value = _statement(lines, at)
            made.append(_on_one_line(value["building"], corner, turn))
            told, at = True, end
            continue
        if first == "building" and rest.partition(".")[0] in _MOVED:
            end = at + 1 if heading is not None or not name else _statement(lines, at)[0]
            if not told and table in ("", "building"):
                prefix = "" if table else "building."
                made += [f"{prefix}corner = {corner}{_remark(lines[at])}", f"{prefix}turn = {turn}"]
                told = True
            at = end
            continue
        made.append(lines[at])
        home = len(made) if home < 0 and first == "building" and table in ("", "building") else home
        at += 1
    if not told and home < 0:  # nothing of the building stands in its own table
        made += ["", "[building]", f"corner = {corner}", f"turn = {turn}"]
    elif not told:  # ties in a table of their own
        prefix = "" if _HEADING.match(made[home - 1]) else "building."
        made[home:home] = [f"{prefix}corner = {corner}", f"{prefix}turn = {turn}"]
    return made


def _on_one_line(building: dict[str, Any], corner: str, turn: str) -> str:
    pairs = [f"{one} = {_value(had)}" for one, had in building.items() if one not in _MOVED]
    return f"building = {{ {', '.join([*pairs, f'corner = {corner}', f'turn = {turn}'])} }}"


def _remark(line: str) -> str:
    """The remark behind a statement, with the space before it; none where words in quotes may hold a #."""
    found = None if '"' in line or "'" in line else re.search(r"\s*#.*$", line)
    return "" if found is None else found.group()


def _statement(lines: list[str], start: int) -> tuple[int, dict[str, Any]]:
    """Where the statement that begins at a line ends, and what it says."""
    for end in range(start + 1, len(lines) + 1):
        try:
            return end, tomllib.loads("\n".join(lines[start:end]))
        except tomllib.TOMLDecodeError:
            continue
    raise CheckError("a statement of the job does not end")


def _value(value: Any) -> str:
    """Write a table between braces; a word, a number, a truth value or a list of them TOML and JSON have
    alike."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{name} = {_value(had)}' for name, had in value.items())} }}"
    return json.dumps(value, ensure_ascii=False)
