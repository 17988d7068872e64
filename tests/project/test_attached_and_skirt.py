"""What a building that leans on another, and a skirt round its piers, change in the answer of the gate."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import shapely

from gradework.earthwork.nearby import polygon_of
from gradework.foundations.checks.check import Check
from gradework.foundations.checks.nearby import Works, near_looks
from gradework.ground.surface import Surface
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.nearby import nearby_of
from gradework.project.placed import leaning_findings, placed_building
from gradework.project.plan import Plan, plan
from gradework.project.specs import frost_rule

STUDIO = Path(__file__).parents[2] / "data" / "orchard-studio"


@lru_cache
def studio(old: str = "", new: str = "") -> Plan:
    text = (STUDIO / "job.toml").read_text("utf-8").replace('"least fill"', "100.29")
    assert old in text
    return plan(read_job(text.replace(old, new).encode()), (STUDIO / "yard.csv").read_bytes())


def checks(done: Plan, kind: str, name: str) -> list[Check]:
    own = done.foundations.judged_of(kind)
    assert own is not None
    return [check for check in own.checks if check.check == name]


ATTACHED = ("turn   = 0", "turn   = 0\nattached = true")


@pytest.mark.parametrize("kind", ["pad", "piers", "slab"])
def test_nothing_excuses_a_building_that_leans_on_another_from_frost(kind: str) -> None:
    (alone,) = checks(studio(), kind, "frost")
    (leaning,) = checks(studio(*ATTACHED), kind, "frost")
    assert alone.limit == 0.0
    assert alone.holds is True
    assert leaning.limit == pytest.approx(12 * 0.0254)
    assert leaning.holds is False
    assert leaning.value == pytest.approx(alone.value)
    assert "exception" not in leaning.source


def test_it_stops_the_plan_and_nothing_is_ordered() -> None:
    done = studio(*ATTACHED)
    assert done.held_back
    assert any(f.code in ("pier-frost", "check-fails") and f.severity == "stop" for f in done.findings)


HOUSE = """
[[site.near]]
name = "house"
kind = "{kind}"
outline = [[15, {off}], [31, {off}], [31, 38], [15, 38]]
"""


def beside_house(off: float, said: str = "", kind: str = "house") -> Job:
    text = (STUDIO / "job.toml").read_text("utf-8").replace("turn   = 0", f"turn   = 0\n{said}")
    return read_job((text + HOUSE.format(off=off, kind=kind)).encode())


@pytest.mark.parametrize(
    ("off", "said", "kind", "leans", "told"),
    [
        (24.0, "", "house", True, True),
        (23.9, "", "garage", True, True),  # the sketch lets the two overlap by an inch
        (24.1, "", "house", True, True),
        (24.5, "", "house", False, False),
        (24.0, "", "fence", False, False),
        (24.0, "attached = false", "house", False, False),
        (24.0, "attached = true", "house", True, False),
    ],
)
def test_a_building_that_touches_a_house_leans_on_it(
    off: float, said: str, kind: str, leans: bool, told: bool
) -> None:
    job = beside_house(off, said, kind)
    assert frost_rule(job).freestanding is not leans
    building, _ = placed_building(job)
    (near,) = nearby_of(job, building).neighbours
    assert near.leaned is leans
    codes = [(one.code, one.where) for one in leaning_findings(job)]
    assert codes == [("building-leans", "house")] * told


def test_nobody_walks_between_a_building_and_what_it_leans_on(ground: Callable[..., Surface]) -> None:
    job = beside_house(24.0)
    building, _ = placed_building(job)
    bare = polygon_of(building)
    none, nowhere = shapely.Polygon(), np.empty((0, 2))
    works = Works("slab", bare, bare, none, none, bare, 1.0, none, (), nowhere, nowhere, (), ())
    surface = ground([(x, y, 1.0) for x in (0.0, 20.0) for y in (0.0, 20.0)])
    (look,) = near_looks(surface, nearby_of(job, building), works, us=True)
    names = {check.check for check in look.checks}
    assert "room to walk" not in names
    assert "digging below 1:1" in names


def test_a_skirt_brings_the_falls_from_the_walls_back() -> None:
    assert checks(studio(), "piers", "water") == []
    skirted = studio("rows    = 2", "rows    = 2\nskirt = true")
    falls = checks(skirted, "piers", "water")
    assert [check.where for check in falls] == [
        fall.wall for fall in skirted.foundations.around["piers"].drainage.before
    ]
    toward = [check for check in falls if check.holds is False]
    assert toward  # rain from above comes to two walls of the studio
    piers = skirted.foundations.judged_of("piers")
    assert piers is not None
    assert not piers.buildable
    assert skirted.foundations.winner is None or skirted.foundations.winner.foundation != "piers"
