"""The words of a place: which way to move, which way to turn, and the one line of a plan."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import gradework
from gradework.project.job.read import read_job
from gradework.project.plan import plan
from gradework.report.first_screen import answer
from gradework.report.instead import shift_words, turn_words
from gradework.units.display import FEET, METRIC

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("by", "north", "said"),
    [
        ((1.2192, -0.6096), None, "4.0 ft toward larger x and 2.0 ft toward smaller y"),
        ((0.0, 1.2192), 90.0, "4.0 ft north"),
        ((1.2192, 0.0), 90.0, "4.0 ft east"),
        ((1.2192, 0.0), 0.0, "4.0 ft north"),
        ((0.0, 1.2192), 0.0, "4.0 ft west"),
        ((0.0, 0.001), None, ""),
    ],
)
def test_moves_are_said_by_north_where_it_is_known(
    by: tuple[float, float], north: float | None, said: str
) -> None:
    assert shift_words(by, FEET, north) == said


def test_metres_and_turns() -> None:
    assert shift_words((-0.25, 0.0), METRIC, None) == "0.25 m toward smaller x"
    assert turn_words(12.0) == "12 degrees to the left"
    assert turn_words(-0.5) == "0.5 degrees to the right"


def test_a_plan_says_that_a_better_place_is_near_in_one_line() -> None:
    rows = [
        f"{i}-{j},{2 * i},{2 * j},{50 - 0.2 * max(i - 4.5, 0.0):.3f}" for i in range(11) for j in range(8)
    ]
    notes = "\n".join(["station,x,y,elevation", *rows, ""]).encode()
    text = """name = "Shed"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [3, 2]
corner = [8.4, 6]
[soil]
ground = "firm"
[piers]
floor = { treated = true }
"""
    done = plan(read_job(text.encode()), notes)
    assert done.better is not None
    [line] = [one for one in answer(done).splitlines() if one.startswith("Place")]
    assert "toward smaller x" in line
    assert line.endswith("see gradework place.")


def test_the_page_shows_what_moving_the_orchard_studio_saves() -> None:
    page = (ROOT / "docs" / "commands" / "place.md").read_text("utf-8")
    (shown,) = re.findall(r"```text\n(Orchard studio: .*?)```", page, re.DOTALL)
    found = gradework.place(ROOT / "data" / "orchard-studio" / "job.toml")
    assert found.summary().startswith(shown)
    assert found.here.judged is not None
    assert found.best is not None
    assert found.best.judged is not None
    assert (found.best.judged.cost or 0.0) < (found.here.judged.cost or 0.0)
    assert found.missed < 0.2 * found.best.value
