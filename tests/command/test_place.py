"""`gradework place`: the answer, the map, the job it writes, what it refuses, and being stopped."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from gradework.earthwork.siting import search
from gradework.project import place as planning
from gradework.project import siting

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "place.schema.json").read_text("utf-8"))

JOB = """# Invented: a shed on a slope that levels out above.
name  = "Shed above"
units = "m"
build = "slab"

[survey]
notes = "yard.csv"

[building]                # the shed
size   = [3, 2]
corner = [4.5, 6]         # where the old one stood
turn   = 0

[soil]
ground = "firm"

[slab]

[place]
turns = "given"
least = "fall"
"""


def shots() -> str:
    """Level ground from x = 12 on, below it a slope."""
    rows = [
        f"{i}-{j},{2 * i},{2 * j},{50 - 0.06 * max(12 - 2 * i, 0):.3f}" for i in range(11) for j in range(8)
    ]
    return "\n".join(["station,x,y,elevation", *rows, ""])


@pytest.fixture
def yard(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    (tmp_path / "yard.csv").write_text(shots(), "utf-8")
    return tmp_path


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small search: the ground is simple."""
    monkeypatch.setattr(siting, "Search", partial(search.Search, coarse=300, most=900))


def test_it_says_how_to_move_it_and_writes_that_job(run: Callable[..., Any], yard: Path) -> None:
    done = run("place", str(yard), "--take", "1")
    assert done.status == 0
    assert "move it" in done.out
    assert "toward larger x" in done.out
    assert "less fall under it" in done.out
    assert (yard / "place" / "place.pdf").read_bytes().startswith(b"%PDF")
    text = (yard / "job-place-1.toml").read_text("utf-8")
    assert "# Invented: a shed" in text
    assert "# where the old one stood" in text
    assert (yard / "job.toml").read_text("utf-8") == JOB
    moved, old = tomllib.loads(text), tomllib.loads(JOB)
    assert moved["building"].pop("corner")[0] >= 11.9
    del old["building"]["corner"]
    assert moved == old


def test_json_keeps_its_schema_and_agrees_with_the_plan(run: Callable[..., Any], yard: Path) -> None:
    done = run("place", str(yard), "--take", "1", "--json")
    jsonschema.validate(done.document, SCHEMA)
    first = done.document["placements"][0]
    assert first["fall_m"] <= 0.001
    assert done.document["now"]["fall_m"] == pytest.approx(0.18)
    planned = run("plan", str(yard / "job-place-1.toml"), "--dry-run", "--json").document
    [option] = planned["options"]
    assert first["level_m"] == pytest.approx(option["level_m"])
    assert first["buildable"] == option["buildable"]
    assert first["fall_m"] == pytest.approx(planned["footprint"]["fall_m"], abs=1e-9)
    assert first["cost"] == (None if option["cost"] is None else pytest.approx(option["cost"]))
    assert run("place", str(yard), "-q").status == 0  # its own map is replaced


def test_a_job_that_stands_there_is_not_replaced(run: Callable[..., Any], yard: Path) -> None:
    (yard / "job-place-1.toml").write_text("mine", "utf-8")
    assert run("place", str(yard), "--take", "1").status == 74
    assert (yard / "job-place-1.toml").read_text("utf-8") == "mine"
    assert run("place", str(yard), "--take", "9").status == 2


def test_ctrl_c_gives_the_best_so_far(
    run: Callable[..., Any], yard: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rounds = search.Search.rounds

    def stopped(self: search.Search) -> Any:
        for number, known in enumerate(rounds(self)):
            if number == 2:
                raise KeyboardInterrupt
            yield known

    monkeypatch.setattr(search.Search, "rounds", stopped)
    done = run("place", str(yard), "--json")
    assert done.status == 0
    assert done.document["stopped"]
    assert len(done.document["placements"]) == 1
    assert "place-stopped" in [one["code"] for one in done.document["findings"]]


def test_ctrl_c_before_a_place_is_planned_tells_the_best_by_the_ground(
    run: Callable[..., Any], yard: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = planning.stand

    def stopped(job: Any, *more: Any, **how: Any) -> Any:
        if job.building.corner[0] > 5.0:
            raise KeyboardInterrupt
        return whole(job, *more, **how)

    monkeypatch.setattr(planning, "stand", stopped)
    done = run("place", str(yard))
    assert done.status == 0
    assert "the best by the ground so far, not planned in full." in " ".join(done.out.split())
    assert "place-stopped" in done.out
    assert "place-none-builds" not in done.out


def test_where_it_fits_nowhere_the_answer_is_no(run: Callable[..., Any], yard: Path) -> None:
    text = JOB + "\n[site]\nboundary = [[0, 0], [2, 0], [2, 2], [0, 2]]\n"
    (yard / "job.toml").write_text(text, "utf-8")
    done = run("place", str(yard))
    assert done.status == 1
    assert "place-nowhere" in done.out


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (('corner = [4.5, 6]         # where the old one stood\n', ""), "job-missing-key"),
        (('turns = "given"', 'turns = "square"\nsquare_to = "fence"'), "job-clash"),
        (('turns = "given"', 'square_to = "fence"'), "job-clash"),
        (("[place]", '[site]\nsetback = "1 m"\n[place]'), "job-clash"),
        (
            ("size   = [3, 2]\ncorner = [4.5, 6]         # where the old one stood\nturn   = 0",
             "outline = [[4, 6], [7, 6], [7, 8], [4, 8]]"),
            "place-rectangle",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_placed_is_told(
    run: Callable[..., Any], yard: Path, change: tuple[str, str], code: str
) -> None:
    assert change[0] in JOB
    (yard / "job.toml").write_text(JOB.replace(*change), "utf-8")
    done = run("place", str(yard))
    assert done.status == 2
    assert f"[{code}]" in done.err
