"""Block piers on gravel beds, planned as a whole: one top, and for each pier its hole, bed and stack."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from gradework.earthwork import clip
from gradework.errors import CheckError
from gradework.foundations.pier_ground import PierGround, ground_of_piers
from gradework.foundations.pier_layout import (
    building_frame,
    lay_out_given,
    lay_out_rows,
)
from gradework.foundations.pier_limits import pier_findings
from gradework.foundations.pier_no_top import why_no_top
from gradework.foundations.pier_plan import Pier, PierChoice, Piers, StackPart
from gradework.foundations.pier_spec import PierPrices, PierSpec
from gradework.foundations.pier_stacks import (
    MONEY_STEPS,
    NANOMETRES,
    StackTable,
    laid_order,
    pieces_in_course,
    stack_table,
)
from gradework.foundations.pier_tops import (
    GOALS,
    Goal,
    TopChoice,
    TopProblem,
    best_top,
    stacks_that_fit,
)
from gradework.foundations.pier_words import Alternative, difference_in_words

if TYPE_CHECKING:
    from gradework.earthwork import Outline, Pieces
    from gradework.ground import Surface
    from gradework.units import Display

__all__ = ["Pier", "PierChoice", "Piers", "StackPart", "design_piers"]

MOST_ALTERNATIVES = 3

SAME_LEVEL = 1e-5
"""Bottom, bed and stack must add up to the top within 0.01 mm [m]."""


def design_piers(
    surface: Surface,
    building: Outline,
    spec: PierSpec,
    prices: PierPrices,
    show: Display,
    *,
    every_goal: bool = True,
) -> Piers:
    """Plan the piers of a building on the ground: the best top for the goal, proved best.

    ``every_goal`` also works out what the other goals would give; without it ``choices`` holds the one.
    Raises ``InputError`` where holes leave the survey or overlap, ``CheckError`` when a pier does not add up.
    """
    if spec.positions:
        places = lay_out_given(building, spec.positions, show, spec.layout.along)
    else:
        places = lay_out_rows(building, spec.layout, show)
    frame = building_frame(building, spec.layout.along)
    ground = ground_of_piers(surface, places, frame, spec, show)
    under = clip(surface, building)
    goals = GOALS if every_goal else (spec.goal,)
    problems = _problems(ground, under, spec, prices, goals)
    found = {goal: best_top(problem, goal) for goal, problem in problems.items()}
    plan = Piers(spec, prices, ground, under, spec.goal, None, (), (), ())
    chosen = found[spec.goal]
    if chosen is None:
        return replace(plan, findings=(why_no_top(problems[spec.goal], spec, show),))
    choices = []
    for goal, choice in found.items():
        if choice is not None:
            choices.append(
                _summary(choice, _build(ground, problems[goal], choice, spec, prices))
            )
    piers = _build(ground, problems[spec.goal], chosen, spec, prices)
    piers = tuple(
        replace(
            pier, alternatives=_alternatives(problems[spec.goal], chosen, i, pier, show)
        )
        for i, pier in enumerate(piers)
    )
    plan = replace(
        plan, top=chosen.top / NANOMETRES, piers=piers, choices=tuple(choices)
    )
    return replace(plan, findings=pier_findings(plan, building, show))


def _problems(
    ground: Sequence[PierGround],
    under: Pieces,
    spec: PierSpec,
    prices: PierPrices,
    goals: Sequence[Goal],
) -> dict[Goal, TopProblem]:
    size = spec.hole_size
    tables: dict[bool, StackTable] = {}
    for cheapest in sorted({goal == "least money" for goal in goals}):
        first: Literal["money", "units"] = "money" if cheapest else "units"
        tables[cheapest] = stack_table(
            spec.units, tallest=spec.stack_limit, across=spec.across, first=first
        )
    problem = TopProblem(
        bottoms=np.array([g.low for g in ground]) - spec.hole_depth,
        table=tables[spec.goal == "least money"],
        bed_least=spec.bed_least,
        bed_most=spec.bed_most,
        deeper=spec.deeper,
        area=size[0] * size[1],
        gravel=prices.gravel,
        digging=prices.digging,
        lowest_top=under.highest + spec.clearance if spec.top is None else spec.top,
        highest_top=spec.top,
    )
    return {
        goal: replace(problem, table=tables[goal == "least money"]) for goal in goals
    }


def _build(
    ground: Sequence[PierGround],
    problem: TopProblem,
    choice: TopChoice,
    spec: PierSpec,
    prices: PierPrices,
) -> tuple[Pier, ...]:
    return tuple(
        _pier(g, problem, choice, index, spec, prices) for index, g in enumerate(ground)
    )


def _pier(
    ground: PierGround,
    problem: TopProblem,
    choice: TopChoice,
    index: int,
    spec: PierSpec,
    prices: PierPrices,
) -> Pier:
    table = problem.table
    row = int(choice.rows[index])
    courses = table.courses[row].tolist()
    bottom, bed = (
        int(choice.bottoms[index]) / NANOMETRES,
        int(choice.beds[index]) / NANOMETRES,
    )
    dig, bed_volume = ground.dig_to(bottom), bed * problem.area
    stack = tuple(
        _part(table, kind, count) for kind, count in enumerate(courses) if count
    )
    height = sum(part.unit.thickness * part.count for part in stack)
    if abs(bottom + bed + height - choice.top / NANOMETRES) > SAME_LEVEL:
        raise CheckError(
            f"pier {ground.place.name}: bottom, bed and stack do not add up to the top"
        )
    if bottom > ground.low - spec.hole_depth + SAME_LEVEL:
        raise CheckError(f"pier {ground.place.name}: the hole is not deep enough")
    place = ground.place
    return Pier(
        place.name,
        place.row,
        place.number,
        place.x,
        place.y,
        ground.hole,
        place.tributary,
        ground_high=ground.high,
        ground_low=ground.low,
        bottom=bottom,
        deeper=int(choice.extra[index]) / NANOMETRES,
        dig=dig,
        bed=bed,
        bed_volume=bed_volume,
        stack=stack,
        laid=tuple(table.units[kind] for kind in laid_order(table.units, courses)),
        height=height,
        top=choice.top / NANOMETRES,
        mass=float(table.mass[row]),
        pieces=int(table.pieces[row]),
        cost=int(table.price[row]) / MONEY_STEPS
        + prices.gravel * bed_volume
        + prices.digging * dig,
        alternatives=(),
    )


def _part(table: StackTable, kind: int, count: int) -> StackPart:
    unit = table.units[kind]
    return StackPart(
        unit, count, count * pieces_in_course(unit, table.units, table.across)
    )


def _summary(choice: TopChoice, piers: Sequence[Pier]) -> PierChoice:
    return PierChoice(
        choice.goal,
        choice.top / NANOMETRES,
        sum(pier.pieces for pier in piers),
        float(sum(pier.cost for pier in piers)),
        float(sum(pier.dig for pier in piers)),
        float(sum(pier.bed_volume for pier in piers)),
        choice.tops_compared,
    )


def _alternatives(
    problem: TopProblem, choice: TopChoice, index: int, pier: Pier, show: Display
) -> tuple[Alternative, ...]:
    """Give the next best stacks of one pier under the same top, cheapest first."""
    table, own = problem.table, int(choice.rows[index])
    rows, beds, extra = stacks_that_fit(
        problem, choice.top, float(problem.bottoms[index])
    )
    money = table.price / MONEY_STEPS
    per_metre = problem.area / NANOMETRES
    cost = money[rows] + per_metre * (problem.gravel * beds + problem.digging * extra)
    here = int(np.flatnonzero(rows == own)[0])
    order = [int(k) for k in np.lexsort((table.pieces[rows], cost)) if k != here][
        :MOST_ALTERNATIVES
    ]
    found = []
    for k in order:
        bed = float(beds[k] - beds[here]) / NANOMETRES
        deeper = float(extra[k] - extra[here]) / NANOMETRES
        courses = table.courses[rows[k]].tolist()
        words = difference_in_words(
            table.units, table.courses[own].tolist(), courses, bed, deeper, show
        )
        more = int(table.pieces[rows[k]] - pier.pieces)
        found.append(
            Alternative(
                words, tuple(courses), bed, deeper, more, float(cost[k] - cost[here])
            )
        )
    return tuple(found)
