"""The rooms stand in one direction, and what has to start fast imports nothing heavy."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HEAVY = {"scipy", "shapely", "matplotlib", "pyproj", "pydantic", "rich", "jinja2"}


def loaded_by(script: str, *arguments: str) -> set[str]:
    """The top-level modules that a fresh process holds after running ``script``."""
    return {name.partition(".")[0] for name in modules_after(script, *arguments)}


def modules_after(script: str, *arguments: str) -> list[str]:
    """All modules that a fresh process holds after running ``script``."""
    tail = "\nimport sys, json; print(json.dumps(sorted(sys.modules)), file=sys.stderr)"
    command = [sys.executable, "-c", script + tail, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    names: list[str] = json.loads(done.stderr.splitlines()[-1])
    return names


def test_rooms_import_only_lower_rooms() -> None:
    """Run import-linter with the order in pyproject.toml; a folder without a place there fails too."""
    script = "from importlinter.cli import lint_imports_command; lint_imports_command()"
    done = subprocess.run(
        [sys.executable, "-c", script, "--no-cache"], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "6 kept, 0 broken" in done.stdout, done.stdout


def imported(file: Path, modules: dict[str, Path]) -> set[str]:
    """The modules of the project that a file imports anywhere: in functions and for types only, too.

    The version, which the root sets before its front door leads anywhere, does not count.
    """
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}: line {node.lineno}: a relative import"
            for name in node.names:
                whole = f"{node.module}.{name.name}"
                if whole == "gradework.__version__":
                    continue
                found.add(whole if whole in modules else str(node.module))
    return found & modules.keys()


def circle(arrows: dict[str, set[str]]) -> list[str]:
    """The modules of one circle of imports, first and last the same; none where every arrow points down."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as found:
        modules: list[str] = found.args[1]
        return modules
    return []


def test_a_circle_is_seen() -> None:
    assert circle({"a": {"b"}, "b": {"c"}, "c": set()}) == []
    assert set(circle({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})) == {"a", "b", "c"}


def test_no_files_import_each_other() -> None:
    """Between rooms the layers forbid circles; this holds inside them, in TYPE_CHECKING blocks as well."""
    files = sorted((ROOT / "gradework").rglob("*.py"))
    modules = {
        ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): file
        for file in files
    }
    arrows = {name: imported(file, modules) for name, file in modules.items()}
    assert arrows["gradework.foundations.pad.design"] >= {"gradework.foundations.pad.rules"}
    assert circle(arrows) == []


def test_nothing_imports_the_front_door_but_its_version() -> None:
    """Inside the house one walks from room to room; the door would let every arrow point upward."""
    files = [file for file in (ROOT / "gradework").rglob("*.py") if file.parent.name != "gradework"]
    modules = {"gradework": ROOT / "gradework" / "__init__.py"}
    assert [file.name for file in files if "gradework" in imported(file, modules)] == []


@pytest.mark.parametrize(
    ("script", "arguments", "also"),
    [
        ("import gradework", [], {"numpy", "click"}),
        ("import gradework.command.main", [], {"numpy"}),
        ("from gradework.command.main import run_to_status; from gradework.command.main import gradework\n"
         "import sys; run_to_status(gradework, sys.argv[1:])", ["--help"], {"numpy"}),
        ("import gradework.units, gradework.fieldnotes", [], {"numpy"}),
        ("import gradework.files", [], {"numpy", "click"}),
        ("import gradework.survey", [], set()),
        ("import gradework.ground", [], set()),
        ("import gradework.earthwork", [], set()),
        ("import gradework.project", [], {"numpy"}),
    ],
    ids=["door", "command", "help", "units", "files", "survey", "ground", "earthwork", "project"],
)  # fmt: skip
def test_light_paths_stay_light(script: str, arguments: list[str], also: set[str]) -> None:
    assert loaded_by(script, *arguments) & (HEAVY | also) == set()


LIGHT_CUTFILL = (
    "import sys; from gradework.command.main import gradework as group\n"
    "from gradework.command.main import run_to_status; assert run_to_status(group, sys.argv[1:]) == 0"
)
RECTANGLE = ["--level", "101.2", "--corner", "15,12", "--size", "16,12", "--json"]


def test_plain_cut_and_fill_loads_numpy_and_the_triangulation_only() -> None:
    """A rectangle well inside the survey needs no polygon library, no scipy, no model library."""
    words = ["data/orchard-studio/yard.csv", "--units", "ft", "--grid", "5", *RECTANGLE]
    assert loaded_by(LIGHT_CUTFILL, "cutfill", *words) & HEAVY == set()


def test_plain_spots_load_no_way_of_levelling() -> None:
    """The first row tells that there are no readings, before their readers and reductions are loaded."""
    words = ["data/orchard-studio/yard.csv", "--units", "ft", "--grid", "5", *RECTANGLE]
    loaded = set(modules_after(LIGHT_CUTFILL, "cutfill", *words))
    ways = {f"gradework.project.stations.{name}" for name in ("join", "placing", "reduce")}
    ways |= {f"gradework.survey.levelling.{name}" for name in ("reduce", "field_book", "network")}
    ways |= {f"gradework.fieldnotes.{name}" for name in ("levels", "heights", "places")}
    assert loaded & ways == set()


def test_plain_spots_load_neither_what_writes_nor_what_draws() -> None:
    """No digests, no contours, no words for a run that ends in JSON, and not the masked arrays of numpy."""
    words = ["data/orchard-studio/yard.csv", "--units", "ft", "--grid", "5", *RECTANGLE]
    loaded = set(modules_after(LIGHT_CUTFILL, "cutfill", *words))
    assert loaded & {"gradework.files.write", "hashlib", "difflib"} == set()
    assert loaded & {"gradework.ground.contours", "gradework.report"} == set()
    assert "numpy.ma" not in loaded


def test_help_loads_no_compression_and_guesses_at_no_word() -> None:
    loaded = modules_after(LIGHT_CUTFILL, "--help")
    assert {"lzma", "bz2", "difflib"} & set(loaded) == set()


def test_the_command_package_loads_click_only() -> None:
    loaded = [m for m in modules_after("import gradework.command.main") if m.startswith("gradework")]
    assert {m for m in loaded if not m.startswith("gradework.command")} == {"gradework"}
