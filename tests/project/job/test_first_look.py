"""A job that is built as no job is, is refused before it is parsed: at once, and at its place."""

from __future__ import annotations

import re
import time
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gradework.errors import Faults, InputError
from gradework.project.cutfill import read_outline
from gradework.project.job import read
from gradework.project.job.read import read_job
from gradework.project.job.toml_text import DEEPEST, MOST_DOTS, MOST_KEYS, MOST_VALUES, _without_words, look
from gradework.units.display import METRIC

GOOD = """\
name = "Studio"
units = "ft"
[survey]
notes = "yard.csv"
[building]
size = [16, 12]
corner = [20, 14]
"""
MB = 10**6 - 1000

HOSTILE = {
    "dotted key": GOOD + "a." * 28_000 + "a = 1\n",
    "dotted key of quotes": GOOD + '"a".' * 28_000 + "a = 1\n",
    "dotted key in braces": GOOD + "x = { b = 1, " + "a." * 28_000 + "a = 1 }\n",
    "deep heading": GOOD + "[" + "a." * (MB // 2) + "a]\n",
    "deep heading of tables": GOOD + "[[" + "a." * (MB // 2) + "a]]\n",
    "keys": GOOD + "".join(f"k{i} = 1\n" for i in range(MB // 12)),
    "headings": GOOD + "".join(f"[t{i}]\n" for i in range(MB // 9)),
    "tables in a list": GOOD + "[[q]]\n" * (MB // 6),
    "values": "x = [" + "1," * (MB // 2) + "]\n" + GOOD,
    "empty lists": "x = [" + "[]," * (MB // 3) + "]\n" + GOOD,
    "deep list": "x = " + "[" * (MB // 2) + "]" * (MB // 2) + "\n" + GOOD,
    "deep table": "x = " + "{a=" * 5000 + "1" + "}" * 5000 + "\n" + GOOD,
    "open brackets": "x = " + "[" * MB,
    "commas": "," * MB,
    "equals signs": "=" * MB,
}


@pytest.mark.parametrize("name", list(HOSTILE))
def test_refused_before_it_is_parsed(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    class Unused:
        def loads(self, _: str) -> None:
            raise AssertionError("parsed")

    monkeypatch.setattr(read, "tomllib", Unused())
    start = time.process_time()
    with pytest.raises(InputError) as told:
        read_job(HOSTILE[name].encode())
    assert time.process_time() - start < 2.0  # measured 0.3 s at most
    (fault,) = told.value.faults
    assert fault.code in ("job-too-deep", "job-too-many")
    assert fault.line > 0
    assert fault.column > 0


def test_the_place_of_what_is_too_much() -> None:
    with pytest.raises(InputError) as told:
        read_job((GOOD + "[pad]\n" + "a." * 9 + "a = 1\n").encode())
    (fault,) = told.value.faults
    assert (fault.code, fault.line, fault.column) == ("job-too-deep", 9, 1)
    assert "a key of 10 parts" in fault.found


def test_words_and_remarks_count_for_nothing() -> None:
    name = "a.b.c.d.e.f.g.h.i.j.k = [[[[[[[[[[[[[[[[" + "," * 100
    remark = "# " + "," * 20_000 + "=" * 5_000 + "[" * 20_000
    text = GOOD.replace("Studio", name) + remark + "\n"
    assert read_job(text.encode()).name == name
    for long in ('"""', "'''"):
        assert read_job(GOOD.replace('"Studio"', f"{long}{name}{long}").encode()).name == name


def test_what_is_allowed_passes() -> None:
    look("x = " + "[" * DEEPEST + "]" * DEEPEST, Faults())
    look("a." * MOST_DOTS + "a = 1", Faults())
    look("k = 1\n" * MOST_KEYS, Faults())
    look("x = [" + "1.5,\n" * MOST_VALUES + "]", Faults())


_PIECES = st.sampled_from(
    [
        "a",
        "=",
        '"',
        "'",
        '"""',
        "'''",
        "\\",
        '\\"',
        "#",
        "\n",
        "[",
        "]",
        ".",
        ",",
        " ",
        "x = 1\n",
        'k = "v"\n',
    ]
)


@given(st.lists(_PIECES, max_size=40).map("".join))
def test_the_skeleton_keeps_every_place_and_no_word(text: str) -> None:
    bare = _without_words(text)
    assert len(bare) <= len(text)
    assert not set(bare) & set("\"'#")
    assert all(a in (b, "k", " ") for a, b in zip(bare, text, strict=False))
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert len(bare) == len(text)
    assert bare.count("=") >= len(document) - len(re.findall(r"\[", text))


def test_an_outline_of_bad_rows_is_read_to_the_thousandth() -> None:
    start = time.process_time()
    with pytest.raises(InputError) as told:
        read_outline(b"a,b\n" * 250_000, "o.csv", show=METRIC)
    assert time.process_time() - start < 3.0  # was 20 s
    assert 1_000 <= len(told.value.faults) < 1_010
