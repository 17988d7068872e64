"""The pages that walk through a yard: each command on them runs, and prints what the page shows."""

from __future__ import annotations

import doctest
import re
import shlex
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "your-yard-in-an-evening.md").read_text("utf-8")
WALK = (ROOT / "docs" / "from-yard-to-floor.md").read_text("utf-8")
BLOCK = re.compile(r"```console\n\$ gradework (.*?)\n(.*?)```", flags=re.DOTALL)
NOT_YET = ("not buildable", "Not yet.", " tops need a shim", "--stage dug", "--stage bed")
"""Words of an answer, or of what was asked, that the readings of the examples give no pass."""


def blocks() -> list[tuple[str, str]]:
    return [*BLOCK.findall(PAGE), *BLOCK.findall(WALK)]


@pytest.mark.parametrize(("line", "shown"), blocks(), ids=[line[:40] for line, _ in blocks()])
def test_the_commands_print_what_the_page_shows(line, shown, run, tmp_path, monkeypatch) -> None:
    (tmp_path / "data").symlink_to(ROOT / "data")
    monkeypatch.chdir(tmp_path)
    done = run(*shlex.split(line))
    assert done.status == (1 if any(words in line + shown for words in NOT_YET) else 0), done.err
    said = done.out + done.err
    assert doctest.OutputChecker().check_output(shown, said, doctest.ELLIPSIS), said


def test_the_walk_goes_the_whole_way() -> None:
    """Every step of the work has its command, in the order of work."""
    lines = [line for line, _ in BLOCK.findall(WALK)]
    steps = [line.split()[0] + re.sub(r".*(--stage \w+).*|.*", r" \1", line).rstrip() for line in lines]
    assert steps == [
        "sheet", "plan", "plan", "setout", "asbuilt --stage dug", "asbuilt --stage bed", "asbuilt",
        "asbuilt --stage later",
    ]  # fmt: skip


def test_the_job_on_the_page_is_that_of_the_example() -> None:
    job = (ROOT / "data" / "evening" / "job.toml").read_text("utf-8")
    shown = re.search(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
    lines = [line for line in shown[1].splitlines() if line]
    plain = [re.sub(r"\s+#.*", "", line) for line in job.splitlines()]
    assert lines == [line for line in lines if line in plain]


def test_its_links_lead_to_headings() -> None:
    headings = {
        re.sub(r"[^\w -]", "", line.lstrip("# ")).strip().lower().replace(" ", "-")
        for line in (ROOT / "docs" / "field-notes.md").read_text("utf-8").splitlines()
        if line.startswith("#")
    }
    assert set(re.findall(r"\(field-notes\.md#([^)]+)\)", PAGE)) <= headings


def test_the_page_counts_as_the_plan_does(run) -> None:
    done = run("plan", ROOT / "data" / "evening" / "job.toml", "--dry-run", "--json").document
    pad = done["pad"]
    assert f"{pad['level_m'] / 0.3048:.2f} ft" == "99.52 ft"
    assert round((100.0 * 0.3048 - pad["level_m"]) / 0.0254 * 4) / 4 == 5.75
    (judged,) = done["options"]
    assert judged["measures"][-1]["kind"] == "apron"
    assert [check["holds"] for check in judged["checks"] if check["check"] == "water"] == [True] * 4
