"""What a building that leans on another, and a skirt round its piers, change in the answer of the gate."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest

from gradework.foundations.checks.check import Check
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan

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
