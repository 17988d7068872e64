"""The pages keep their word: the README's code prints what it says, commands and links lead somewhere."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = [ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def test_the_code_prints_what_the_page_says(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    failed, tried = doctest.testfile(str(ROOT / "README.md"), module_relative=False, encoding="utf-8")
    assert tried >= 7
    assert failed == 0


def test_the_code_of_the_library_page_prints_what_it_says(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It writes, so it runs in a folder of its own."""
    (tmp_path / "data").symlink_to(ROOT / "data")
    monkeypatch.chdir(tmp_path)
    page = str(ROOT / "docs" / "library.md")
    failed, tried = doctest.testfile(page, module_relative=False, encoding="utf-8")
    assert tried >= 30
    assert failed == 0
    assert {"data", "plan.png", "results"} == {path.name for path in tmp_path.iterdir()}


def test_every_file_it_points_to_is_there() -> None:
    links = re.findall(r"\]\(([^)#]+)\)", README)
    assert len(links) >= 5
    assert [link for link in links if not (ROOT / link).exists()] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_link_of_a_page_leads_somewhere(page: Path) -> None:
    links = re.findall(r"\]\((?!https?:)([^)#]+)\)", page.read_text(encoding="utf-8"))
    assert [link for link in links if not (page.parent / link).exists()] == []


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_every_file_named_on_a_page_is_there(page: Path) -> None:
    named = re.findall(r"`((?:data|docs|gradework|tests)/[\w./-]+)`", page.read_text(encoding="utf-8"))
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_the_index_lists_every_page() -> None:
    index = ROOT / "docs" / "README.md"
    linked = {
        (index.parent / link).resolve() for link in re.findall(r"\]\(([^)#]+)\)", index.read_text("utf-8"))
    }
    pages = {page for page in (ROOT / "docs").rglob("*") if page.suffix in {".md", ".json", ".txt"}}
    assert len(pages) > 10
    assert pages - {index} - linked == set()


def test_both_commands_stand_on_the_first_screen_and_are_one_line_each() -> None:
    commands = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert "gradework plan data/orchard-studio/job.toml" in commands[0]
    assert "pytest" in commands[1]
    assert README.splitlines().index(commands[1]) < 40


def test_ci_runs_the_test_command_of_the_page() -> None:
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    pattern = re.search(r"grep -m1 -E '(.*)' README\.md", script)
    assert pattern is not None
    (command,) = [line for line in README.splitlines() if re.search(pattern[1], line)]
    assert command.endswith("pytest -q -n 2")
