"""Block piers on gravel beds, planned as a whole: one top, and for each pier its hole, bed and stack."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.clip import clip
from gradework.errors import CheckError, Faults, Finding, finding, sentence
from gradework.foundations.piers.best_top import best_top, stacks_that_fit, tops_that_fit
from gradework.foundations.piers.holes import HoleKind, PierGround, hole_kinds, refuse_holes
from gradework.foundations.piers.layout import Place, building_frame, lay_out_given, lay_out_rows
from gradework.foundations.piers.limits import pier_findings
from gradework.foundations.piers.neighbours import overlapping
from gradework.foundations.piers.plan import (
    Alternative,
    Pier,
    PierChoice,
    Piers,
    StackPart,
    difference_in_words,
)
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.stacks import (
    MONEY_STEPS,
    NANOMETRES,
    StackTable,
    laid_order,
    pieces_in_course,
    stack_tables,
)
from gradework.foundations.piers.top_problem import GOALS, Goal, Hole, TopChoice, TopProblem
from gradework.units.amounts import M_PER_IN

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


# Why no common top suits all piers, and the least change that would make one possible.

_STEP = 0.25 * M_PER_IN  # a fix is given to a quarter of an inch, up to about a metre
_MOST_STEPS = 157
_TALLEST = 3.0


def why_no_top(problem: TopProblem, spec: PierSpec, show: Display, *, in_full: bool = True) -> Finding:
    """Give the stop finding for piers without a common top, with what would help where told ``in_full``."""
    if spec.top is not None:
        return _no_such_top(replace(problem, lowest_top=None, highest_top=None), spec.top, show)
    lowest = np.nanmax([hole.bottoms for hole in problem.holes], axis=0)
    fall = float(np.ptp(lowest))
    code, told = "piers-no-common-top", show.depth(fall)
    if not in_full:
        return finding(code, "stop", "piers", fall, variant="short", fall=told)
    ways = " ".join(_ways_to_one_top(problem, spec, show))
    return finding(code, "stop", "piers", fall, fall=told, ways=ways)


def _ways_to_one_top(problem: TopProblem, spec: PierSpec, show: Display) -> list[str]:
    """Say what would make a common top possible, each way by itself."""
    ways: list[str] = []

    def helps(way: str, **most: object) -> None:
        ways.append(sentence("piers-no-common-top", f"say-{way}", dialect=show.dialect, **most))

    deeper = _least_growth(lambda more: replace(problem, deeper=problem.deeper + more))
    if deeper is not None:
        helps("deeper", deeper=show.depth(spec.deeper + deeper))
    bed = _least_growth(lambda more: replace(problem, bed_most=problem.bed_most + more))
    if bed is not None:
        helps("bed", bed=show.depth(spec.bed_most + bed))
    tables = stack_tables(spec.units, tallest=min(2.0 * spec.stack_limit, _TALLEST), across=spec.across)
    taller = tuple(replace(h, table=table) for h, table in zip(problem.holes, tables, strict=True))
    if best_top(replace(problem, holes=taller), "fewest units") is not None:
        helps("stack", most=show.depth(spec.stack_limit))
    if not ways:
        helps("units")
    return ways


def _no_such_top(problem: TopProblem, top: float, show: Display) -> Finding:
    tops = tops_that_fit(problem) / NANOMETRES
    near = [show.elevation(float(t)) for t in (*tops[tops < top][-1:], *tops[tops > top][:1])]
    return finding(
        "piers-no-common-top",
        "stop",
        "piers",
        top,
        variant="near" if near else "never",
        top=show.elevation(top),
        tops=" and ".join(near),
    )


def _least_growth(widened: Callable[[float], TopProblem]) -> float | None:
    """Give the least widening [m] that makes a common top possible, or None up to a metre."""

    def fits(steps: int) -> bool:
        return best_top(widened(steps * _STEP), "fewest units") is not None

    low, high = 0, _MOST_STEPS
    if not fits(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high * _STEP


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
    in_full: bool = True,
) -> Piers:
    """Plan the piers of a building on the ground: the best top for the goal, proved best.

    ``in_full`` also works out what the other goals would give, the next best stacks, and what would help
    where no top suits all; without it ``choices`` holds the one.
    Raises ``InputError`` where holes leave the survey or overlap, ``CheckError`` when a pier does not add up.
    """
    if spec.positions:
        places = lay_out_given(building, spec.positions, show, spec.layout.along)
    else:
        places = lay_out_rows(building, spec.layout, show)
    frame = building_frame(building, spec.layout.along)
    under = clip(surface, building)
    goals = GOALS if in_full else (spec.goal,)
    tables = _tables(spec, goals)
    sizes = [spec.hole_of(table.plan) for table in tables[spec.goal]]
    kinds = hole_kinds(surface, places, frame, sizes)
    ground = [next((g for g in every if g), None) for every in zip(*(k.ground for k in kinds), strict=True)]
    if not all(ground):
        refuse_holes(surface, places, frame, spec, show)
    problems = {goal: _problem(kinds, tables[goal], under, spec, prices) for goal in goals}
    found = {goal: best_top(problem, goal) for goal, problem in problems.items()}
    plan = Piers(spec, prices, tuple(g for g in ground if g), under, spec.goal, None, (), (), ())
    chosen = found[spec.goal]
    if chosen is None:
        return replace(plan, findings=(why_no_top(problems[spec.goal], spec, show, in_full=in_full),))
    _check_apart(frame.to_local(np.array([(p.x, p.y) for p in places])), places, kinds, chosen)
    built = {
        goal: (choice, _build(kinds, problems[goal], choice, spec, prices))
        for goal, choice in found.items()
        if choice is not None
    }
    piers = built[spec.goal][1]
    if in_full:
        piers = tuple(
            replace(pier, alternatives=_alternatives(problems[spec.goal], chosen, i, pier, kinds, show))
            for i, pier in enumerate(piers)
        )
    plan = replace(
        plan,
        ground=tuple(_own(kinds, chosen, i) for i in range(len(piers))),
        top=chosen.top / NANOMETRES,
        piers=piers,
        choices=tuple(_summary(choice, every) for choice, every in built.values()),
    )
    return replace(plan, findings=pier_findings(plan, building, show))


def _tables(spec: PierSpec, goals: Sequence[Goal]) -> dict[Goal, tuple[StackTable, ...]]:
    """Give for each goal the stacks for each plan of a hole: the cheapest, or those of fewest units."""
    made: dict[str, tuple[StackTable, ...]] = {}
    for goal in goals:
        first: Literal["money", "units"] = "money" if goal == "least money" else "units"
        if first not in made:
            made[first] = stack_tables(spec.units, tallest=spec.stack_limit, across=spec.across, first=first)
    return {goal: made["money" if goal == "least money" else "units"] for goal in goals}


def _problem(
    kinds: Sequence[HoleKind],
    tables: Sequence[StackTable],
    under: Pieces,
    spec: PierSpec,
    prices: PierPrices,
) -> TopProblem:
    depth = spec.hole_depth
    return TopProblem(
        holes=tuple(
            Hole(table, kind.bottoms(depth), kind.dug(depth), kind.area)
            for table, kind in zip(tables, kinds, strict=True)
        ),
        bed_least=spec.bed_least,
        bed_most=spec.bed_most,
        deeper=spec.deeper,
        gravel=prices.gravel,
        digging=prices.digging,
        lowest_top=under.highest + spec.clearance if spec.top is None else spec.top,
        highest_top=spec.top,
    )


def _own(kinds: Sequence[HoleKind], choice: TopChoice, index: int) -> PierGround:
    ground = kinds[int(choice.kinds[index])].ground[index]
    if ground is None:
        raise CheckError("a pier has a hole that cannot be dug")
    return ground


def _check_apart(
    local: NDArray[np.float64], places: Sequence[Place], kinds: Sequence[HoleKind], choice: TopChoice
) -> None:
    """Refuse holes that overlap although each keeps apart from its like: one is wider, the other longer."""
    faults = Faults()
    for first, second in overlapping(local, [kinds[int(kind)].size for kind in choice.kinds]):
        faults.note(
            "piers-overlap", variant="unlike", one=repr(places[first].name), other=repr(places[second].name)
        )
    faults.raise_if_any()


def _build(
    kinds: Sequence[HoleKind], problem: TopProblem, choice: TopChoice, spec: PierSpec, prices: PierPrices
) -> tuple[Pier, ...]:
    return tuple(
        _pier(
            _own(kinds, choice, index),
            kinds[int(choice.kinds[index])].size,
            problem,
            choice,
            index,
            spec,
            prices,
        )
        for index in range(len(choice.rows))
    )


def _pier(
    ground: PierGround,
    size: tuple[float, float],
    problem: TopProblem,
    choice: TopChoice,
    index: int,
    spec: PierSpec,
    prices: PierPrices,
) -> Pier:
    hole = problem.holes[int(choice.kinds[index])]
    table = hole.table
    row = int(choice.rows[index])
    courses = table.courses[row].tolist()
    bottom, bed = int(choice.bottoms[index]) / NANOMETRES, int(choice.beds[index]) / NANOMETRES
    dig, bed_volume = ground.dig_to(bottom), bed * hole.area
    stack = tuple(_part(table, kind, count) for kind, count in enumerate(courses) if count)
    height = sum(part.unit.thickness * part.count for part in stack)
    if abs(bottom + bed + height - choice.top / NANOMETRES) > SAME_LEVEL:
        raise CheckError(f"pier {ground.place.name}: bottom, bed and stack do not add up to the top")
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
        size,
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
        cost=int(table.price[row]) / MONEY_STEPS + prices.gravel * bed_volume + prices.digging * dig,
        alternatives=(),
    )


def _part(table: StackTable, kind: int, count: int) -> StackPart:
    unit = table.units[kind]
    return StackPart(unit, count, count * pieces_in_course(unit, table.across))


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
    problem: TopProblem,
    choice: TopChoice,
    index: int,
    pier: Pier,
    kinds: Sequence[HoleKind],
    show: Display,
) -> tuple[Alternative, ...]:
    """Give the next best stacks of one pier under the same top, cheapest first, each in its own hole."""
    fitting = stacks_that_fit(problem, choice.top, index)
    holes = [problem.holes[int(kind)] for kind in fitting.kinds]
    rows = fitting.rows.tolist()
    own = (fitting.kinds == choice.kinds[index]) & (fitting.rows == choice.rows[index])
    here = int(np.flatnonzero(own)[0])
    laid = holes[here].table.courses[rows[here]].tolist()
    order = [int(k) for k in np.lexsort((fitting.pieces, fitting.money)) if k != here][:MOST_ALTERNATIVES]
    found = []
    for k in order:
        bed = float(fitting.beds[k] - fitting.beds[here]) / NANOMETRES
        deeper = float(fitting.bottoms[here] - fitting.bottoms[k]) / NANOMETRES
        courses = holes[k].table.courses[rows[k]].tolist()
        other = None if holes[k] is holes[here] else kinds[int(fitting.kinds[k])].size
        words = difference_in_words(holes[k].table.units, laid, courses, bed, deeper, show, other)
        more = int(fitting.pieces[k]) - pier.pieces
        found.append(
            Alternative(
                words, tuple(courses), bed, deeper, more, float(fitting.money[k] - fitting.money[here])
            )
        )
    return tuple(found)
