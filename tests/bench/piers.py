"""Thirty piers and six kinds of units over the whole range of tops, beside the mixed-integer program."""

from __future__ import annotations

import io
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pier_oracles
from matplotlib.figure import Figure

from gradework.drawings.piers.elevation import PierSheet, draw_pier_rows
from gradework.drawings.plan.sheet import draw_plan
from gradework.foundations.piers.bearing import Demand
from gradework.foundations.piers.best_top import best_top
from gradework.foundations.piers.posing import Dug, holes_allowed
from gradework.foundations.piers.stacks import StackTable, _tables_of, nanometres, stack_tables
from gradework.foundations.piers.top_problem import TopProblem
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND, BlockUnit
from gradework.project.job.read import read_job
from gradework.project.options import plan_piers
from gradework.project.plan import plan as plan_job
from gradework.units.amounts import M_PER_IN as INCH

TALLEST = {1: 36 * INCH, 2: 48 * INCH}
SIX_UNITS = (
    *UNITS_ON_HAND["US"],
    BlockUnit("6 in hollow block", 5.625 * INCH, 0.397, 0.194, 11.0, 2.3, hollow=True, may_cap=False),
    BlockUnit("paver", 1.5 * INCH, 0.397, 0.194, 6.0, 1.4, may_cap=False),
    BlockUnit("brick", 2.25 * INCH, 0.194, 0.092, 2.0, 0.8, may_cap=False),
)


# Beds that forgive much make the choice easy for any method. The tight ones leave 15 mm in the bed, 10 mm in
# the hole: there, stacks of different heights really have to meet. Every pier may be single or double, on its
# blocks or on one of three pads, as far as its load and the four corners allow.
EASY = {"bed_most": 0.15, "deeper": 0.15, "step": 0.005, "lowest_top": None}
TIGHT = {"bed_most": 0.115, "deeper": 0.01, "step": 0.005, "lowest_top": 30.2}
UNITS = (*SIX_UNITS, *BASE_PADS["US"])
BEARING = 71.8


def _case(rules: dict[str, float | None]) -> Any:
    random = np.random.default_rng(30)
    bottoms = 30.0 - np.round(random.uniform(0.0, 0.5, 30), 4)
    loads = np.round(random.choice([3.5, 5.5, 7.0, 12.5], 30), 1)
    forms = [form for across in TALLEST for form in pier_oracles.every_form(UNITS, across)]
    plans = sorted({form.plan for form in forms}, key=lambda plan: (plan[0] * plan[1], plan))
    ground = {}
    for number, plan in enumerate(plans):
        # a smaller hole holds ground that is a little higher
        area = (plan.along / 1e9 + 0.2) * (plan.across / 1e9 + 0.2)
        ground[plan] = pier_oracles.Ground(
            bottoms - 0.01 * number, np.full(30, 0.2 * area + 0.01 * number), area
        )
    fixed = {"bed_least": 0.1, "gravel": 45.0, "digging": 30.0}
    return pier_oracles.Case(
        UNITS, TALLEST, loads.tolist(), [k < 4 for k in range(30)], BEARING, ground, {**fixed, **rules}
    )


def _plan(case: Any) -> tuple[float, float]:
    """Plan from the bare list of units; give the least money and the seconds it took."""
    start = time.process_time()  # other programs on the machine shall not count
    tables = [
        table
        for across, most in TALLEST.items()
        for table in stack_tables(UNITS, tallest=most, across=across)
    ]

    def dug(table: StackTable) -> Dug:
        found = case.ground[tuple(nanometres(side) for side in table.plan)]
        return Dug(SimpleNamespace(area=found.area), found.bottoms, found.dug)  # type: ignore[arg-type]

    demand = Demand(np.array(case.loads), np.array(case.corners))
    holes = tuple(hole for hole, _ in holes_allowed(tables, dug, demand, BEARING))
    problem = TopProblem(holes, **case.rules)
    choice = best_top(problem, "least money")
    seconds = time.process_time() - start
    assert choice is not None
    money = 0.0
    for pier, (kind, row) in enumerate(zip(choice.kinds.tolist(), choice.rows.tolist(), strict=True)):
        hole = holes[kind]
        lengths = 45.0 * choice.beds[pier] + 30.0 * choice.extra[pier]
        money += hole.table.price[row] / 1e6 + hole.area * lengths / 1e9 + 30.0 * hole.dug[pier]
    return float(money), seconds


def _one_drawing() -> float:
    """Draw and save one line in one pair of axes; the seconds of processor that it takes."""
    figure = Figure(figsize=(7.5, 10.2))
    start = time.process_time()
    figure.subplots().plot([0, 1], [0, 1])
    figure.savefig(io.BytesIO(), format="png", dpi=160)
    return time.process_time() - start


def _demo() -> str:
    """Plan the piers of the demo in full, beside drawing its plan and its piers: two sheets, as PNG."""
    folder = Path(__file__).parents[2] / "data" / "orchard-studio"
    job = read_job((folder / "job.toml").read_bytes())
    done = plan_job(job, (folder / "yard.csv").read_bytes())
    planned, drawn = [], []
    for _ in range(3):
        start = time.process_time()
        _tables_of.cache_clear()
        piers = plan_piers(job, done.surface, done.building)
        planned.append(time.process_time() - start)
        start = time.process_time()
        sheet = PierSheet(job.name, "yard.csv", job.show, done.surface, done.building, piers)
        for figure in (draw_plan(done), draw_pier_rows(sheet)[0]):
            figure.savefig(io.BytesIO(), format="png", dpi=160)
        drawn.append(time.process_time() - start)
    ours, theirs = min(planned), min(drawn)
    times = f"two sheets take {theirs / ours:.1f} times as long"
    return f"demo: its piers planned in {1e3 * ours:.0f} ms; {times}"


def lines() -> Iterator[str]:
    """Our search against one drawing and against the program; above 1 means that the other takes longer."""
    yield _demo()
    for name, rules in (("easy", EASY), ("tight", TIGHT)):
        case = _case(rules)
        ours = min(_plan(case)[1] for _ in range(5))
        money, _ = _plan(case)
        drawing = min(_one_drawing() for _ in range(3))
        yield f"{name} beds: search {1e3 * ours:.1f} ms; one drawing takes {drawing / ours:.1f} times as long"
        start = time.process_time()
        status, least = pier_oracles.best_by_program(case, "least money", seconds=60.0)
        theirs = time.process_time() - start
        agrees = f"its money less ours {least - money:.1e}" if status == "optimal" else status
        yield f"{name} beds: mixed-integer program {theirs:.2f} s, ratio {theirs / ours:.0f}; {agrees}"
