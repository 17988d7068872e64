"""The checks of the gate against the yard itself: folded planes, walked over in small steps, apart from the
program. A check that fails is true of the yard, and what moves with the datum is no check."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache
from typing import NamedTuple

import numpy as np
import pytest

from gradework.foundations.checks.check import Check
from gradework.foundations.checks.gate import Judged
from gradework.project.job.read import check_tables
from gradework.project.plan import Plan, plan

STEP, SIZE, CORNER, MARGIN, REACH = 1.5, (4.2, 3.1), (6.3, 6.7), 0.3, 3.048
SIDING, HELD, FALL = 0.1524, 0.6096, 0.05 * 3.048
READING, PUDDLE = 0.003175, 0.0254
BEAM = 0.150
"""Skids of the job [m]; joists 2x6 and boards of 3/4 in are the defaults."""


class Folded(NamedTuple):
    """Ground in two planes that meet over x = 9: how steep on both sides of it and along y, and how high."""

    left: float
    right: float
    along: float
    datum: float = 20.0

    def at(self, x: float, y: float) -> float:
        return self.datum + self.along * y + (self.left if x < 9.0 else self.right) * (x - 9.0)


def yards() -> Iterator[Folded]:
    rng = np.random.default_rng(20261130)
    for k in range(16):
        most = 0.01 + 0.01 * k
        yield Folded(*(float(v) for v in rng.uniform(-most, most, 3)))


YARDS = list(yards())


@cache
def planned(yard: Folded, freeboard: str = "50 mm") -> Plan:
    places = [(STEP * i, STEP * j) for i in range(13) for j in range(13)]
    rows = [f"P{n},{x},{y},{yard.at(x, y):.9f}" for n, (x, y) in enumerate(places)]
    job = check_tables(
        {
            "name": "Yard", "units": "m", "survey": {"notes": "yard.csv"}, "slab": {},
            "building": {"size": list(SIZE), "corner": list(CORNER)},
            "pad": {"margin": "300 mm", "freeboard": freeboard},
            "piers": {"floor": {"skid": "100x150", "species": "southern pine"}},
        }
    )  # fmt: skip
    return plan(job, "\n".join(["station,x,y,elevation", *rows]).encode())


def around(yard: Folded, margin: float) -> list[float]:
    """Ground along the outline, walked in small steps, its corners and the fold among them."""
    (x0, y0), (w, d) = (c - margin for c in CORNER), (s + 2 * margin for s in SIZE)
    along = np.linspace(0.0, 1.0, 301)
    xs, ys = [*(x0 + w * along), 9.0], y0 + d * along
    walked = [(x, y) for x in xs for y in (y0, y0 + d)] + [(x, y) for y in ys for x in (x0, x0 + w)]
    return [yard.at(x, y) for x, y in walked]


def falls(yard: Folded, top: float, margin: float) -> list[tuple[float, float]]:
    """From the edge of what is built before each wall: the least fall, the most that ground rises over it."""
    (x0, y0), (w, d) = CORNER, SIZE
    walls = [((x0, y0), (w, 0), (0, -1)), ((x0 + w, y0), (0, d), (1, 0)),
             ((x0 + w, y0 + d), (-w, 0), (0, 1)), ((x0, y0 + d), (0, -d), (-1, 0))]  # fmt: skip
    found = []
    for (x, y), (u, v), (out_x, out_y) in walls:
        starts = [(x + s * u, y + s * v) for s in np.linspace(0.0, 1.0, 61)]
        if u:
            starts.append((9.0, y))
        steps = np.linspace(margin + 1e-9, REACH, 121)
        looks = [[yard.at(a + t * out_x, b + t * out_y) for t in steps] for a, b in starts]
        rise = max(max(look) - min(look[0], top) for look in looks)
        if rise <= PUDDLE:  # nothing drains toward a side that stands above the ground
            looks = [[top, *look] for look in looks]
            rise = max(max(look) - top for look in looks)
        found.append((min(min(look[0], top) - look[-1] for look in looks), rise))
    return found


def named(judged: Judged, name: str) -> list[Check]:
    return [check for check in judged.checks if check.check == name]


def by_kind(done: Plan) -> dict[str, Judged]:
    return {one.foundation: one for one in done.foundations.judged}


def pad_told(yard: Folded, done: Plan) -> dict[str, float]:
    level, ground = done.pad.chosen.level, around(yard, MARGIN)
    outside = max(level, *ground)
    return {
        "held edge": max(level - min(ground), 0.0),
        "floor above ground": level + BEAM + 0.1397 + 0.01905 - outside,
        "siding": level + BEAM + 0.1397 - max(ground),
    }


def slab_told(yard: Folded, done: Plan) -> dict[str, float]:
    assert done.foundations.slab is not None
    level, ground = done.foundations.slab.level, around(yard, 0.0)
    return {
        "slab edge": max(0.0, level - done.foundations.slab.spec.edge_depth - min(ground)),
        "floor above ground": level - max(ground),
        "siding": level - max(ground),
    }


def piers_told(yard: Folded, done: Plan) -> dict[str, float]:
    assert done.foundations.piers is not None
    if done.foundations.piers.top is None:
        return {"common top": 0.0}
    spec, clear = done.foundations.piers.spec, done.foundations.piers.top - max(around(yard, 0.0))
    beam, joists = spec.floor.beam, spec.floor.joists
    return {
        "skids": clear,
        "joists": clear + beam,
        "siding": clear + beam + joists,
        "floor above ground": clear + beam + joists + spec.floor.boards,
    }


TOLD: dict[str, Callable[[Folded, Plan], dict[str, float]]] = {
    "pad": pad_told, "slab": slab_told, "piers": piers_told,
}  # fmt: skip


@pytest.mark.parametrize("yard", YARDS)
@pytest.mark.parametrize("kind", TOLD)
def test_heights_are_those_of_the_yard(yard: Folded, kind: str) -> None:
    done = planned(yard)
    judged = by_kind(done)[kind]
    told = TOLD[kind](yard, done)
    # a bench lies lower, heaped soil higher than the ground as it was
    if any(one.kind in ("swale", "apron", "plain_apron", "drain") for one in judged.measures):
        told = {name: value for name, value in told.items() if name == "held edge"}
    for name, value in told.items():
        (check,) = named(judged, name)
        assert check.value == pytest.approx(value, abs=2e-6), name
    limits = {"held edge": HELD, "siding": SIDING, "floor above ground": 0.0}
    for name, limit in limits.items():
        assert all(check.limit == pytest.approx(limit) for check in named(judged, name))


@pytest.mark.parametrize("yard", YARDS)
@pytest.mark.parametrize("kind", ["pad", "slab"])
def test_water_comes_to_a_wall_where_the_gate_says_so(yard: Folded, kind: str) -> None:
    done = planned(yard)
    judged = by_kind(done)[kind]
    top, margin = (done.pad.chosen.level, MARGIN) if kind == "pad" else (judged.level or math.nan, 0.0)
    cured = {ray.wall for one in done.foundations.around[kind].led for ray in one.looks}
    checks = named(judged, "water")
    assert len(checks) == 4
    for check, (fall, rise) in zip(checks, falls(yard, top, margin), strict=True):
        if check.where in cured:
            continue
        comes = rise > READING or fall < FALL - READING
        near = min(abs(rise - READING), abs(fall - FALL + READING)) < 1e-6
        assert near or check.holds is not comes
        if comes and not near:
            assert check.value == pytest.approx(-rise if rise > READING else fall, abs=1e-5)


@pytest.mark.parametrize("yard", YARDS)
def test_a_winner_fails_no_check_and_costs_least_of_those_that_do_not(yard: Folded) -> None:
    found = planned(yard).foundations
    able = [one for one in found.judged if not any(check.holds is False for check in one.checks)]
    if not able:
        assert found.winner is None
        return
    assert found.winner is not None
    assert found.winner in able
    assert found.winner.cost == min(one.cost for one in able if one.cost is not None)
    assert found.chosen == found.winner.foundation
    if found.comparison is not None and found.comparison.winner is not None:
        assert found.comparison.winner.level == found.winner.level


def test_the_yards_ask_for_every_answer() -> None:
    """Among them are yards where each foundation can be built, and where each cannot."""
    answers = {(one.foundation, one.buildable) for yard in YARDS for one in planned(yard).foundations.judged}
    assert {("pad", False), ("pad", True), ("slab", False), ("piers", True), ("slab", True)} <= answers


@pytest.mark.parametrize("yard", YARDS[::5])
def test_moving_the_datum_changes_no_check(yard: Folded) -> None:
    here, there = (by_kind(planned(y)) for y in (yard, yard._replace(datum=yard.datum + 87.5)))
    for kind, one in here.items():
        other = there[kind]
        assert [c.check for c in one.checks] == [c.check for c in other.checks]
        for check, moved in zip(one.checks, other.checks, strict=True):
            assert (check.holds, check.where) == (moved.holds, moved.where)
            assert check.limit == pytest.approx(moved.limit, abs=1e-9)
            if check.value is not None:
                assert check.value == pytest.approx(moved.value, abs=1e-6, rel=1e-6)
