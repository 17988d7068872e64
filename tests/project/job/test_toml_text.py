"""The place of every key and value, against the standard library's reading of the same text."""

from __future__ import annotations

import json
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gradework.project.job.toml_text import Path, Place, find_positions


def leaves(value: Any, path: Path = ()) -> dict[Path, Any]:
    """List every scalar of a document with its path."""
    if isinstance(value, dict):
        return {k: v for name, inner in value.items() for k, v in leaves(inner, (*path, name)).items()}
    if isinstance(value, list):
        return {k: v for number, inner in enumerate(value) for k, v in leaves(inner, (*path, number)).items()}
    return {path: value}


def value_at(text: str, place: Place) -> Any:
    """Read the value that starts at a place, by giving the reader ever less of the text behind it."""
    rest = "\n".join(text.split("\n")[place.line - 1 :])[place.column - 1 :]
    for end in range(1, len(rest) + 1):
        if end < len(rest) and rest[end] not in ",]}#\n":
            continue
        try:
            return tomllib.loads("k = " + rest[:end])["k"]
        except tomllib.TOMLDecodeError:
            continue
    raise AssertionError(f"no value at {place}: {rest[:40]!r}")


KEYS = st.one_of(
    st.text("abc_-19", min_size=1, max_size=4),
    st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=5).map(json.dumps),
    st.text('a.b [#]="', max_size=5).map(lambda s: f"'{s}'"),
)
STRINGS = st.one_of(
    st.text("ab ]},#[{=\\\"'\n", max_size=8).map(json.dumps),
    st.text('ab ]},#[{=\\"', max_size=8).map(lambda s: f"'{s}'"),
    st.text("ab ]},#[{='\n", max_size=8).map(lambda s: f'"""{s}"""'),
    st.text('ab ]},#[{=\\"\n', max_size=8).map(lambda s: f"'''{s}'''"),
    st.sampled_from(
        ['"""a""""', '"""a"""""', "'''b''''", "'''b'''''", '"""\n\\\n  x"""', '"\\u0041\\""', "'''''''"]
    ),
)
SCALARS = st.one_of(
    STRINGS,
    st.integers(-999, 999).map(str),
    st.sampled_from(
        [
            "true",
            "false",
            "1.5e3",
            "-0.25",
            "0x1F",
            "1_000",
            "1979-05-27T07:32:00Z",
            "1979-05-27 07:32:00",
            "07:32:00",
        ]
    ),
)
GAPS = st.sampled_from(["", " ", "\n", " # no ] } value = 1\n", "\n\n\t"])


@st.composite
def arrays(draw: st.DrawFn, inner: st.SearchStrategy[str]) -> str:
    items = draw(st.lists(inner, max_size=3))
    text = "[" + draw(GAPS)
    for number, item in enumerate(items):
        text += (
            item + draw(GAPS) + ("," if number + 1 < len(items) or draw(st.booleans()) else "") + draw(GAPS)
        )
    return text + "]"


@st.composite
def inline_tables(draw: st.DrawFn, inner: st.SearchStrategy[str]) -> str:
    pairs = draw(st.lists(st.tuples(DOTTED, inner), max_size=3))
    # a line end is allowed in an array inside an inline table, but not between its own parts
    return "{" + ", ".join(f" {key} = {value} " for key, value in pairs) + "}"


DOTTED = st.lists(KEYS, min_size=1, max_size=3).map(" . ".join)
VALUES = st.recursive(SCALARS, lambda inner: st.one_of(arrays(inner), inline_tables(inner)), max_leaves=6)
PAIRS = st.tuples(DOTTED, VALUES).map(lambda pair: f"{pair[0]} = {pair[1]}")
HEADERS = st.one_of(DOTTED.map("[{}]".format), DOTTED.map("[[ {} ]] # new".format))
DOCUMENTS = st.lists(st.one_of(PAIRS, PAIRS, HEADERS, st.just("  # remark"), st.just("")), max_size=8)


@settings(deadline=None, max_examples=100)
@given(DOCUMENTS)
def test_every_scalar_is_where_the_map_says(parts: list[str]) -> None:
    text = ""
    for (
        part
    ) in parts:  # keep only what the reader accepts: a chance clash of keys drops one line, not the case
        try:
            tomllib.loads(text + part + "\n")
        except tomllib.TOMLDecodeError:
            continue
        text += part + "\n"
    document = tomllib.loads(text)
    where = find_positions(text)
    for path, value in leaves(document).items():
        if isinstance(value, dict | list):
            continue
        assert path in where.values
        assert value_at(text, where.value(path)) == value


DOCUMENT = """\
# a job
name = "Yard" # said
units = 'ft'
[building]
  size = [16, [12,
    13], "x"]
site.north = { turn = 5, at = [ {x = 1}, {x = 2} ] }

[[marks]]
name = "BM"
[marks.tie]
length = 4
[[marks]]
"na\\u006de" = '''two
lines'''
tie.length = 5
"""


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        (("name",), 2, 8),
        (("units",), 3, 9),
        (("building",), 4, 1),
        (("building", "size"), 5, 10),
        (("building", "size", 0), 5, 11),
        (("building", "size", 1, 1), 6, 5),
        (("building", "size", 2), 6, 10),
        (("building", "site", "north", "turn"), 7, 23),
        (("building", "site", "north", "at", 1, "x"), 7, 47),
        (("marks", 0, "name"), 10, 8),
        (("marks", 0, "tie", "length"), 12, 10),
        (("marks", 1), 13, 1),
        (("marks", 1, "name"), 14, 15),
        (("marks", 1, "tie", "length"), 16, 14),
    ],
)
def test_places_in_a_drawn_document(path: Path, line: int, column: int) -> None:
    tomllib.loads(DOCUMENT)
    assert find_positions(DOCUMENT).value(path) == Place(line, column)


def test_key_places_and_absent_things() -> None:
    where = find_positions(DOCUMENT)
    assert where.key(("building", "site", "north", "turn")) == Place(7, 16)
    assert where.key(("marks", 1, "name")) == Place(14, 1)
    assert where.value(("building", "corner")) == Place(4, 1)  # absent: the table it is missing from
    assert where.value(("nothing",)) == Place(1, 1)


def test_an_inline_table_over_two_lines_is_noted() -> None:
    assert find_positions("a = { b = 1,\n c = 2 }\n").broken_tables == [4]
    assert find_positions("a = { b = [1,\n 2] }\n").broken_tables == []
