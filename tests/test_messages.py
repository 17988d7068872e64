"""Every code in the source is explained, every explanation is used, and the page is made from them."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from string import Formatter

import pytest

from gradework.command.explain import messages_page
from gradework.errors import sentence

ROOT = Path(__file__).parents[1]
DOCUMENT: dict[str, dict[str, str]] = tomllib.loads((ROOT / "gradework" / "messages.toml").read_text("utf-8"))
WORDS = set(DOCUMENT["words"])
MESSAGES = {code: entry for code, entry in DOCUMENT.items() if code != "words"}
EXPLANATION = {"kind", "title", "why", "fix"}
PARTS = {"fault": ("found", "expected", "do"), "finding": ("say",)}
SOURCES = sorted((ROOT / "gradework").rglob("*.py"))
CODE = re.compile(r"[a-z][a-z0-9]*(?:-[a-z0-9]+)*")
MAKERS = {"Fault", "Finding", "add", "stop", "Clash", "refuse", "_add"}
TELLERS = {
    "note": "fault",
    "halt": "fault",
    "fault": "fault",
    "finding": "finding",
    "refuse": "fault",
    "unwritten": "fault",
}
UNITS = {"m", "m2", "m3", "m3/s", "-", "deg", "kg", "kPa", "kN"}


def strings(node: ast.AST) -> Iterator[str]:
    """Every text constant inside a node that looks like a code."""
    for inner in ast.walk(node):
        if isinstance(inner, ast.Constant) and isinstance(inner.value, str) and CODE.fullmatch(inner.value):
            yield inner.value


def chosen(node: ast.expr | None) -> Iterator[str]:
    """The constants an argument can be: itself, or either branch of a choice."""
    if isinstance(node, ast.IfExp):
        yield from chosen(node.body)
        yield from chosen(node.orelse)
    elif isinstance(node, ast.Constant):
        yield from strings(node)


def codes_made(tree: ast.AST) -> Iterator[str]:
    """The codes handed to a maker of faults or findings as ``code`` or in the place where makers take it."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if name in TELLERS:
            yield from chosen(node.args[0] if node.args else None)
        if name in MAKERS and len(node.args) + len(node.keywords) >= 4:  # not the add of a set
            place = 2 if name == "_add" else 1 if name == "Clash" else 0
            yield from chosen(node.args[place] if place < len(node.args) else None)
        for keyword in node.keywords:
            if keyword.arg == "code":
                yield from chosen(keyword.value)


TREES = {path: ast.parse(path.read_text("utf-8")) for path in SOURCES}


def test_every_code_that_is_made_is_explained() -> None:
    made = {code: path.name for path, tree in TREES.items() for code in codes_made(tree)}
    assert len(made) > 10  # the search itself works
    assert {code: file for code, file in made.items() if code not in MESSAGES} == {}


def test_every_explanation_is_used() -> None:
    used = {text for tree in TREES.values() for text in strings(tree)}
    assert [code for code in MESSAGES if code not in used] == []


@pytest.mark.parametrize("code", MESSAGES)
def test_each_explanation_is_whole(code: str) -> None:
    entry = MESSAGES[code]
    assert CODE.fullmatch(code)
    assert entry["kind"] in ("fault", "finding")
    templates = {key for key in entry if key.partition("-")[0] in PARTS[entry["kind"]]}
    assert set(entry) - {"unit"} - templates == EXPLANATION
    assert not entry["title"].endswith(".")
    assert "\n" not in entry["title"]
    assert len(entry["title"]) <= 90
    assert entry["why"].rstrip().endswith((".", "?", ")"))
    assert entry["fix"].rstrip().endswith((".", "?", ")"))
    if "unit" in entry:
        assert entry["kind"] == "finding"
        assert entry["unit"] in UNITS


def fields(template: str) -> set[str]:
    """The values that a template asks for, by the names that call sites use, without the trade words."""
    names = {name for _, name, _, _ in Formatter().parse(template) if name}
    return {name[:1].lower() + name[1:] for name in names} - WORDS


TEMPLATES = [
    (code, key)
    for code, entry in MESSAGES.items()
    for key in entry
    if key.partition("-")[0] in PARTS[entry["kind"]]
]


@pytest.mark.parametrize(("code", "key"), TEMPLATES)
def test_each_template_is_filled(code: str, key: str) -> None:
    """With sample values, in both dialects: nothing in braces is left, nothing is doubled."""
    template = MESSAGES[code][key]
    values = {name: f"<{name}>" for name in fields(template)}
    for dialect in ("us", "gb"):
        told = sentence(code, key, dialect=dialect, **values)
        assert "{" not in told
        assert "  " not in told
        assert told == told.strip()
        assert all(f"<{name}>" in told.replace("<" + name.capitalize(), "<" + name) for name in values)
    if key.startswith("say"):
        assert template.endswith((".", "?", ")", "}"))
    else:
        assert not template.endswith(".")


def tellers() -> Iterator[tuple[str, ast.Call, str]]:
    """Every call that tells a fault or a finding by its code: file, call, kind."""
    for path, tree in TREES.items():
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                name = (
                    node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                )
                if name in TELLERS and node.args and (name == "finding" or len(node.args) == 1):
                    yield path.name, node, TELLERS[name]


PLACES = {"variant", "dialect", "file", "line", "column", "about"}
FIGURES = {"severity", "where", "value", "limit"}


def test_call_sites_hand_over_what_templates_ask_for() -> None:
    """Where code and case are written out, each value of the template is handed over, and no other."""
    wrong = []
    for file, call, kind in tellers():
        codes = list(chosen(call.args[0]))
        given = {k.arg for k in call.keywords if k.arg} - PLACES - (FIGURES if kind == "finding" else set())
        open_ended = any(k.arg is None for k in call.keywords)  # **values
        cases = [c for k in call.keywords if k.arg == "variant" for c in (list(texts_of(k.value)) or ["?"])]
        for code in codes:
            for case in cases or [""]:
                if case == "?":
                    continue
                keys = [f"{part}-{case}" if case else part for part in PARTS[kind]]
                found = [k if k in MESSAGES[code] else k.partition("-")[0] for k in keys]
                asked = set().union(*(fields(MESSAGES[code].get(key, "")) for key in found))
                told = any(key in MESSAGES[code] for key in keys)
                several = len(codes) * len(cases or [""]) > 1
                if not told or (asked - given and not open_ended) or (given - asked and not several):
                    wrong.append((file, call.lineno, code, case, sorted(asked ^ given)))
    assert wrong == []


def texts_of(node: ast.expr) -> Iterator[str]:
    """The texts that an argument can be, where it is written out."""
    if isinstance(node, ast.IfExp):
        yield from texts_of(node.body)
        yield from texts_of(node.orelse)
    elif isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value


CLAUSE = re.compile(r"\b(IRC|IBC|CFR|NDS|ACI|ASCE|GSA|NCC|DCA6)\b")
INCHES = re.compile(r"[0-9] (in|ft|sq ft|lb|psf|psi|yd)\b(?! [0-9])")  # no slope of 1 in 2


@pytest.mark.parametrize("key", [pair for pair in TEMPLATES if pair[1].startswith("say")])
def test_no_finding_has_a_clause_or_feet_of_its_own(key: tuple[str, str]) -> None:
    """Both depend on the job: a clause comes as a source, a length as the job shows lengths."""
    told = MESSAGES[key[0]][key[1]]
    assert not CLAUSE.search(told)
    assert not INCHES.search(told.replace("5 m or 16 ft", ""))


def test_every_source_in_a_finding_says_whose_rule_it_is() -> None:
    """What a finding cites has passed ``cited``: it tells a metric job that a rule of the US binds nobody."""
    bare = []
    for path, tree in TREES.items():
        for body in ast.walk(tree):
            if not isinstance(body, ast.FunctionDef):
                continue
            calls = [(getattr(n.func, "id", ""), n) for n in ast.walk(body) if isinstance(n, ast.Call)]
            told = [call for name, call in calls if name == "finding"]
            cites = any(keyword.arg == "source" for call in told for keyword in call.keywords)
            if cites and not {name for name, _ in calls} & {"cited", "told_source"}:
                bare.append((path.name, body.name))
    assert bare == []


def test_every_template_has_a_caller() -> None:
    """A wording that nothing says is dead: its code is told, and a case of it is named somewhere."""
    told = {code for _, call, _ in tellers() for code in strings(call)}
    named = {text for tree in TREES.values() for text in strings(tree)}
    dead = [
        (code, key)
        for code, key in TEMPLATES
        if code not in named or (key.partition("-")[2] and key.partition("-")[2] not in named)
    ]
    assert dead == []
    assert not TEMPLATES or told


def test_each_heading_stands_over_what_it_names() -> None:
    """A heading has tables of its own below it; the one for trade words stands over these."""
    lines = (ROOT / "gradework" / "messages.toml").read_text("utf-8").splitlines()
    marks = [line for line in lines if line.startswith(("# ----", "["))]
    below = {one: two for one, two in pairwise([*marks, ""]) if one.startswith("#")}
    assert len(below) > 5
    assert [one for one, two in below.items() if not two.startswith("[")] == []
    assert {one for one, two in below.items() if two == "[words]"} == {
        one for one in below if "trade words" in one
    }


def test_the_page_is_made_from_the_list() -> None:
    """Renew it with: python -m gradework explain --page > docs/messages.md."""
    assert (ROOT / "docs" / "messages.md").read_text("utf-8") == messages_page(MESSAGES)
