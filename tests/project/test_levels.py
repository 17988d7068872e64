"""The level of a pad among those that can be built, held against a dense scan that asks the gate."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.checks.clearance import siding_clear
from gradework.foundations.checks.gate import Judged
from gradework.project.designed import Yard, looked_at, plan_pad
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.levels import (
    COST_STEP,
    NEAR,
    STEP,
    Found,
    cheapest_buildable,
    highest_buildable,
    lowest_buildable,
)
from gradework.project.plan import Plan, plan
from gradework.project.specs import at_level

PRICES = """
[prices]
gravel = "30 per tonne"
dig = "45 per m3"
haul = "15 per m3"
boards = "28 per m2"
stakes = 3
screws = 0.1
timbers = "60 per m2"
pins = 4
timber_screws = 2
"""

REST = """fabric = "1.2 per m2"
lumber = "530 per m3"
setout_stakes = 1
string = 8
seed = "9 per kg"
"""


# The search alone, on checks that are made up.


def asks(
    passes: Callable[[float], bool], cost: Callable[[float], float] = lambda _: 0.0, name: str = "water"
) -> tuple[Callable[[float], Found], list[float]]:
    asked: list[float] = []

    def ask(level: float) -> Found:
        asked.append(level)
        check = Check(name, 0.0 if passes(level) else -1.0, 0.0, "m", COMMON, "least")
        return Found(level, Judged("pad", level, level, cost(level), (check,)), None, money=cost(level))

    return ask, asked


@pytest.mark.parametrize("edge", [10.0, 10.013, 10.3, 10.55])
def test_the_lowest_level_that_passes_is_found_to_one_reading(edge: float) -> None:
    ask, asked = asks(lambda level: level >= edge)
    found = lowest_buildable(ask, 10.0, 10.6)
    assert found is not None
    assert found.judged.buildable
    assert edge <= found.level <= edge + NEAR
    assert len(asked) <= math.ceil(0.6 / STEP) + 6


def test_none_is_found_where_none_passes_or_raising_mends_nothing() -> None:
    assert lowest_buildable(asks(lambda _: False)[0], 10.0, 10.6) is None
    assert lowest_buildable(asks(lambda _: True)[0], 10.0, 9.9) is None
    ask, asked = asks(lambda level: level > 10.5, name="ground")
    assert lowest_buildable(ask, 10.0, 10.6) is None
    assert asked == [10.0]  # soft ground is as soft higher up


@pytest.mark.parametrize("edge", [10.0, 10.3, 10.59])
def test_from_above_the_highest_that_passes_is_found_to_a_step(edge: float) -> None:
    ask, asked = asks(lambda level: level <= edge)
    found = highest_buildable(ask, 9.5, 10.6)
    assert found is not None
    assert edge - STEP < found.level <= edge
    assert asked == sorted(asked, reverse=True)
    assert highest_buildable(asks(lambda _: False)[0], 10.0, 10.6) is None


def test_a_slab_that_water_comes_to_is_not_sought_lower() -> None:
    asked: list[float] = []

    def wet(level: float) -> Found:
        asked.append(level)
        fails = Check("water", -0.1, 0.0, "m", COMMON, "least")
        return Found(level, Judged("slab", level, level, None, (fails,)), None)

    assert highest_buildable(wet, 10.0, 10.6, slab=True) is None
    assert asked == [10.6]
    assert highest_buildable(wet, 10.0, 10.6) is None
    assert len(asked) > 2


def test_the_cheapest_is_that_of_all_and_a_further_check_never_makes_it_cheaper() -> None:
    rng = np.random.default_rng(5)
    for _ in range(200):
        levels = np.sort(rng.uniform(0.0, 1.0, 20)).tolist()
        alone = rng.uniform(0.0, 100.0, 20)
        more = alone + rng.choice([0.0, 30.0], 20)
        able, fewer = rng.random(20) < 0.7, rng.random(20) < 0.7
        costs = []
        for pass_by in (able, able & fewer):
            at = dict(zip(levels, zip(pass_by.tolist(), more.tolist(), strict=True), strict=True))
            ask, _ = asks(lambda level, at=at: at[level][0], lambda level, at=at: at[level][1])
            found = cheapest_buildable(ask, levels, alone.tolist())
            every = [money for passes, money in at.values() if passes]
            cost = math.inf if found is None else found.judged.cost
            assert cost == min(every, default=math.inf)
            costs.append(cost)
        assert costs[1] >= costs[0]


def test_siding_alone_asks_for_exactly_the_height_that_it_lacks() -> None:
    def ask(level: float) -> Found:
        from_ground = siding_clear(level - 9.95)
        around = type("Around", (), {"measures": ()})()
        return Found(level, Judged("pad", level, level, 0.0, (from_ground,)), around)

    found = lowest_buildable(ask, 10.0, 10.6)
    assert found is not None
    assert found.level == pytest.approx(9.95 + 6 * 0.0254, abs=1e-6)


# The whole pad on random yards, against a dense scan.


def job_of(rule: str, seed: int, datum: float = 0.0, rest: str = REST) -> tuple[Job, bytes]:
    rng = np.random.default_rng(seed)
    fall, turn = rng.uniform(0.03, 0.09), rng.uniform(0.0, 2.0 * np.pi)
    rows = ["x,y,elevation"]
    for x in np.arange(0.0, 21.1, 3.0):
        for y in np.arange(0.0, 21.1, 3.0):
            z = 30.0 + datum - fall * (x * np.cos(turn) + y * np.sin(turn)) + rng.normal(0.0, 0.02)
            rows.append(f"{x},{y},{z:.3f}")
    text = f"""name = "Yard"\nunits = "m"\n[survey]\nnotes = "y.csv"\n[building]\nsize = [4, 3]
corner = [8, 9]\n[pad]\nlevel = "{rule}"\ndrain = true\n{PRICES}{rest}"""
    return read_job(text.encode()), "\n".join(rows).encode()


@lru_cache
def planned(rule: str, seed: int, datum: float = 0.0) -> Plan:
    return plan(*job_of(rule, seed, datum))


def scanned(done: Plan, levels: list[float]) -> list[Judged]:
    """Ask the gate at each of these levels, whatever the search would do."""
    surface, building = done.surface, done.building
    yard = Yard(done.job, surface, done.nearby, clip(surface, building))
    return [
        looked_at(yard, plan_pad(at_level(done.job, "pad", level), surface, building, in_full=False)).judged
        for level in levels
    ]


SEEDS = (1, 3)


def reach(done: Plan) -> tuple[float, float]:
    limits = [limit for limit in done.pad.limits if limit.name != "what can be built"]
    return max(one.level for one in limits if one.least), min(one.level for one in limits if not one.least)


@pytest.mark.parametrize("seed", SEEDS)
def test_least_fill_is_the_lowest_level_that_the_gate_passes(seed: int) -> None:
    done = planned("least fill", seed)
    low, high = reach(done)
    own = done.judged
    assert own is not None
    assert own.level is not None
    levels = [level for level in np.arange(low, high + 1e-9, 0.04).tolist() if level < own.level - NEAR]
    if own.buildable:
        assert low - 1e-9 <= own.level <= high + 1e-9
        assert [one.level for one in scanned(done, levels) if one.buildable] == []
    else:
        levels = np.arange(low, high + 1e-9, 0.06).tolist()
        assert [one.level for one in scanned(done, levels) if one.buildable] == []


@pytest.mark.parametrize("seed", SEEDS)
def test_least_cost_is_the_cheapest_with_its_swale(seed: int) -> None:
    done = planned("least cost", seed)
    low, high = reach(done)
    dense = scanned(done, np.arange(low, high + 1e-9, 0.06).tolist())
    costs = [one.cost for one in dense if one.buildable and one.cost is not None]
    own = done.judged
    assert own is not None
    assert costs
    assert own.buildable
    assert own.cost is not None
    slope = max(abs(a.cost - b.cost) / 0.06 for a, b in pairwise(dense) if a.cost and b.cost)
    assert own.cost <= min(costs) + slope * COST_STEP  # between two levels asked it may lie lower


def test_prices_that_are_made_up_count_as_those_that_are_given() -> None:
    """Fabric, string and seed as the program makes them up, and as written into the job."""
    bare = plan(*job_of("least cost", 1, rest=""))
    made = bare.foundations.prices
    written = f'fabric = "{made.fabric} per m2"\nsetout_stakes = {made.setout_stakes}\n'
    written += f'lumber = "{made.lumber} per m3"\n'
    written += f'string = {made.string}\nseed = "{made.seed} per kg"\n'
    asked = plan(*job_of("least cost", 1, rest=written))
    assert asked.pad.chosen.level == pytest.approx(bare.pad.chosen.level, abs=1e-9)
    assert bare.foundations.invented == ("fabric", "lumber", "setout_stakes", "string", "seed")
    assert asked.foundations.invented == ()


def test_some_of_these_yards_can_be_built_and_some_are_raised_for_it() -> None:
    every = [planned("least fill", seed) for seed in SEEDS]
    assert sum(one.judged is not None and one.judged.buildable for one in every) >= 1
    assert any(one.pad.spec.lowest is not None for one in every)


def test_moving_the_datum_moves_the_level_and_nothing_else() -> None:
    seed = next(seed for seed in SEEDS if planned("least fill", seed).pad.spec.lowest is not None)
    here, there = planned("least fill", seed), planned("least fill", seed, 100.0)
    assert there.pad.chosen.level - here.pad.chosen.level == pytest.approx(100.0, abs=1e-6)
    assert there.pad.chosen.gravel == pytest.approx(here.pad.chosen.gravel, rel=1e-6)


def test_a_level_that_is_given_is_only_checked_and_the_nearest_is_told() -> None:
    seed = next(seed for seed in SEEDS if planned("least fill", seed).pad.spec.lowest is not None)
    low, _ = reach(planned("least fill", seed))
    job, notes = job_of("least fill", seed)
    done = plan(at_level(job, "pad", low), notes)
    assert done.pad.chosen.level == low
    assert done.held_back
    near = done.foundations.nearest
    assert near is not None
    assert near.level == pytest.approx(planned("least fill", seed).pad.chosen.level, abs=1e-6)
