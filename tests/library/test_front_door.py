"""The front door: what it offers, that it opens late, that each name has an example that runs."""

from __future__ import annotations

import ast
import doctest
import inspect
import re
import subprocess
import sys
from pathlib import Path

import pytest

import gradework

ROOT = Path(__file__).parents[2]
NAMES = list(gradework.__all__)
CLASSES = [name for name in NAMES if inspect.isclass(getattr(gradework, name))]
FUNCTIONS = [name for name in NAMES if name not in CLASSES]


def test_what_is_offered() -> None:
    assert sorted(NAMES) == sorted(set(NAMES))
    assert {"plan", "Plan", "read_job", "Stations", "build_surface", "clip", "cut_and_fill"} < set(NAMES)
    assert len(NAMES) == 28
    assert set(NAMES) < set(dir(gradework))
    with pytest.raises(AttributeError, match="no attribute 'plans'"):
        gradework.plans  # noqa: B018


def test_a_star_import_brings_them_all() -> None:
    space: dict[str, object] = {}
    exec("from gradework import *", space)
    assert set(NAMES) <= set(space)


def test_type_checkers_are_told_the_same_names_from_the_same_files() -> None:
    tree = ast.parse((ROOT / "gradework" / "__init__.py").read_text("utf-8"))
    told = {
        alias.asname: f"{node.module}.{alias.name}"
        for block in ast.walk(tree)
        if isinstance(block, ast.If)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    homes = {name: f"gradework.{home}.{name}" for name, home in gradework._HOMES.items()}
    assert told == homes


def test_opening_the_door_loads_nothing_and_a_light_name_little() -> None:
    script = """
import sys
before = set(sys.modules)
import gradework
mine = {name for name in sys.modules if name.startswith("gradework")}
assert mine == {"gradework"}, mine
assert not {"numpy", "pydantic", "matplotlib", "scipy", "shapely"} & set(sys.modules)
gradework.build_surface([(0, 0, 1), (1, 0, 1), (0, 1, 2)])
assert not {"matplotlib", "shapely", "pydantic", "pyproj"} & set(sys.modules), "arrays need none of these"
"""
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stderr


def sections(text: str) -> set[str]:
    """The headings of a docstring that are underlined."""
    return set(re.findall(r"(?m)^ *(\w+)\n *-{4,}$", text))


@pytest.mark.parametrize("name", FUNCTIONS)
def test_each_function_has_its_sections(name: str) -> None:
    function = getattr(gradework, name)
    found = sections(inspect.getdoc(function) or "")
    assert {"Parameters", "Returns", "Examples"} <= found
    source = inspect.getsource(function)
    assert "Raises" in found or name == "draw_plan", source
    parameters = re.search(r"(?s)Parameters\n-+\n(.*?)\n\n\w+\n-+", inspect.getdoc(function) or "")
    assert parameters is not None
    named = set(re.findall(r"\w+", " ".join(re.findall(r"(?m)^(\w.*)$", parameters[1]))))
    assert set(inspect.signature(function).parameters) == named


@pytest.mark.parametrize("name", CLASSES)
def test_each_class_has_its_sections(name: str) -> None:
    kind = getattr(gradework, name)
    found = sections(inspect.getdoc(kind) or "")
    assert {"Attributes", "Examples"} <= found
    if "__post_init__" in vars(kind) or name == "Job":
        assert "Raises" in found
    told = re.search(r"(?s)Attributes\n-+\n(.*?)\n\n\w+\n-+", inspect.getdoc(kind) or "")
    assert told is not None
    named = set(re.findall(r"\w+", " ".join(re.findall(r"(?m)^(\w.*)$", told[1]))))
    own = getattr(kind, "model_fields", None) or getattr(kind, "__dataclass_fields__", None)
    if own is not None and name != "Plan":  # a plan names what a reader wants, the schema has the rest
        assert named >= set(own) - {"findings"}
    instance_names = set(dir(kind)) | set(own or ()) | set(inspect.signature(kind).parameters)
    assert named <= instance_names


@pytest.mark.parametrize("name", NAMES)
def test_each_example_runs(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    thing = getattr(gradework, name)
    space = dict(vars(sys.modules[thing.__module__]))
    found = doctest.DocTestFinder(recurse=False).find(thing, name, globs=space)
    runner = doctest.DocTestRunner(verbose=False)
    tried = sum(runner.run(one).attempted for one in found)
    assert tried >= 1
    assert runner.failures == 0
