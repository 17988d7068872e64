"""Block piers on gravel beds, planned as a whole: one top, and for each pier its hole, bed and stack."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.earthwork.clip import clip
from gradework.errors import CheckError, Faults
from gradework.foundations.piers.anchors import anchors_of
from gradework.foundations.piers.best_top import (
    Taken,
    best_top,
    choices_at,
    stacks_that_fit,
    taken_by_top,
)
from gradework.foundations.piers.carrying import Carried, place_piers, span_checks
from gradework.foundations.piers.cover import cover_under
from gradework.foundations.piers.fixes import check_findings
from gradework.foundations.piers.holes import PierGround, refuse_holes, refuse_overlaps
from gradework.foundations.piers.limits import pier_findings, standing_checks, worst_first
from gradework.foundations.piers.neighbours import overlapping
from gradework.foundations.piers.no_top import why_no_top
from gradework.foundations.piers.plan import (
    Alternative,
    OneSize,
    Pier,
    PierChoice,
    Piers,
    difference_in_words,
    stack_of,
)
from gradework.foundations.piers.posing import (
    Posed,
    Yard,
    bearing_short,
    ground_of,
    pose,
    sizes_of,
    smallest_holes,
    yard_of,
)
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.stacks import MONEY_STEPS, NANOMETRES, laid_order
from gradework.foundations.piers.top_problem import GOALS, Goal, TopChoice, TopProblem

if TYPE_CHECKING:
    from gradework.earthwork.outline import Outline
    from gradework.ground.surface import Surface
    from gradework.units.display import Display


MOST_ALTERNATIVES = 3

SAME_LEVEL = 1e-5
"""Bottom, bed and stack must add up to the top within 0.01 mm [m]."""

_NO_MONEY = 1e-9  # less than this is nothing, whatever is made least


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

    ``in_full`` also works out what the other goals would give, the next best stacks, what one size for all
    holes takes, and what would help where no top suits all; without it ``choices`` holds the one.
    Raises ``InputError`` where holes leave the survey or overlap, ``CheckError`` when a pier does not add up.
    """
    under = clip(surface, building)
    carried = place_piers(building, spec, show)
    yard = yard_of(surface, under, carried)
    checks = span_checks(carried, building, spec, us=show.us)
    goals = GOALS if in_full else (spec.goal,)
    posed = {goal: pose(yard, spec, prices, goal) for goal in goals}
    plan = Piers(spec, prices, carried, (), under, spec.goal, None, (), (), checks, ())
    short = bearing_short(yard, spec, us=show.us)
    if short is not None:
        refuse_overlaps(carried.places, carried.frame, [spec.hole_size] * len(carried.places), spec, show)
        plan = replace(plan, checks=(*checks, short))
        return replace(plan, findings=worst_first(check_findings(plan, building, show)))
    plan = replace(plan, ground=_ground(yard, posed[spec.goal], spec, show))
    found = {goal: _best(each.problem, goal, spec) for goal, each in posed.items()}
    chosen = found[spec.goal]
    if chosen is None:
        why = why_no_top(yard, spec, prices, show, in_full=in_full)
        return replace(plan, findings=worst_first((why, *check_findings(plan, building, show))))
    built = {
        goal: _Best(posed[goal], choice, _build(posed[goal], choice, yard, spec, prices))
        for goal, choice in found.items()
        if choice is not None
    }
    one_size = None
    for goal in built if spec.one_size else (spec.goal,) * in_full:
        built[goal], even = _in_one_size(yard, spec, prices, built[goal])
        one_size = even if goal == spec.goal else one_size
    best, chosen, piers = built[spec.goal]
    _check_apart(carried, sizes_of(best, chosen.kinds.tolist()))
    if in_full:
        piers = tuple(
            replace(pier, alternatives=_alternatives(best, chosen, i, pier, show))
            for i, pier in enumerate(piers)
        )
    plan = replace(
        plan,
        ground=tuple(best.own(int(kind), i) for i, kind in enumerate(chosen.kinds)),
        top=chosen.top / NANOMETRES,
        piers=piers,
        cover=cover_under(under, building, chosen.top / NANOMETRES, spec.clearance, us=show.us)
        if spec.cover
        else None,
        choices=tuple(each.summary for each in built.values()),
        one_size=one_size,
    )
    anchors = anchors_of(spec, carried, building, plan.top or 0.0, under.lowest, plan.widest)
    held = (*standing_checks(plan, us=show.us), *anchors.checks(us=show.us))
    plan = replace(plan, anchors=anchors, checks=(*checks, *held))
    told = (*check_findings(plan, building, show), *pier_findings(plan, building, show))
    return replace(plan, findings=worst_first(told))


def _best(problem: TopProblem, goal: Goal, spec: PierSpec) -> TopChoice | None:
    """Give the best top for a goal; that of the goal asked for is the one at which least is bought, once it
    is known and can be had."""
    best = best_top(problem, goal)
    if best is None or spec.cheapest is None or goal != spec.goal:
        return best
    (there,) = choices_at(problem, goal, [round(spec.cheapest * NANOMETRES)])
    return best if there is None else replace(there, tops_compared=best.tops_compared)


def piers_at(
    surface: Surface, building: Outline, plan: Piers, tops: Sequence[float], show: Display
) -> list[tuple[Pier, ...] | None]:
    """Give the piers of a ``plan`` under other common tops [m], each the best for its goal, its holes of one
    size where the plan has them so; None for a top that some pier cannot have. The other checks are not
    asked."""
    yard, posed = _posed_as(surface, building, plan, show)
    found = choices_at(posed.problem, plan.goal, [round(top * NANOMETRES) for top in tops])
    return [None if one is None else _build(posed, one, yard, plan.spec, plan.prices) for one in found]


def taken_by_tops(surface: Surface, building: Outline, plan: Piers, show: Display) -> Taken:
    """Say what a ``plan`` would take under every top at which its goal can be least."""
    return taken_by_top(_posed_as(surface, building, plan, show)[1].problem, plan.goal)


def _posed_as(surface: Surface, building: Outline, plan: Piers, show: Display) -> tuple[Yard, Posed]:
    """The search of a plan for its goal once more, its holes of one size where the plan has them so."""
    spec = plan.spec
    yard = yard_of(surface, clip(surface, building), place_piers(building, spec, show))
    size = plan.one_size.size if plan.one_size is not None and plan.one_size.taken else None
    return yard, pose(yard, replace(spec, top=None), plan.prices, plan.goal, size)


class _Best(NamedTuple):
    """The best plan for a goal: the problem, its answer, and the piers that follow from it."""

    posed: Posed
    choice: TopChoice
    piers: tuple[Pier, ...]

    @property
    def summary(self) -> PierChoice:
        """Give what it comes to."""
        choice, piers = self.choice, self.piers
        return PierChoice(
            choice.goal,
            choice.top / NANOMETRES,
            sum(pier.pieces for pier in piers),
            float(sum(pier.cost for pier in piers)),
            float(sum(pier.dig for pier in piers)),
            float(sum(pier.bed_volume for pier in piers)),
            choice.tops_compared,
        )

    @property
    def worth(self) -> tuple[float, float]:
        """Give what its goal makes least, and the money."""
        own = self.summary
        least = {"fewest units": own.units, "least digging": own.dig, "lowest floor": own.top}
        return least.get(own.goal, own.cost), own.cost


def _in_one_size(yard: Yard, spec: PierSpec, prices: PierPrices, own: _Best) -> tuple[_Best, OneSize | None]:
    """Give the plan with holes of one size where that is asked for or costs nothing, else the ``own`` one.

    Each size that some stack asks for is tried for all piers.
    """
    sizes = sizes_of(own.posed, range(len(own.posed.kinds)))
    if len({sizes[kind] for kind in own.choice.kinds.tolist()}) == 1:
        return own, None
    found = []
    for size in dict.fromkeys(sizes):
        posed = pose(yard, spec, prices, own.choice.goal, size)
        choice = _best(posed.problem, own.choice.goal, spec)
        if choice is not None:
            found.append((_Best(posed, choice, _build(posed, choice, yard, spec, prices)), size))
    if not found:
        return own, OneSize(None, 0.0, taken=False)
    one, size = min(found, key=lambda pair: pair[0].worth)
    free = all(a <= b + _NO_MONEY for a, b in zip(one.worth, own.worth, strict=True))
    told = OneSize(size, one.worth[1] - own.worth[1], spec.one_size or free)
    return one if told.taken else own, told


def _ground(yard: Yard, posed: Posed, spec: PierSpec, show: Display) -> tuple[PierGround, ...]:
    """Give the ground under each pier; refuse holes that leave the survey or overlap."""
    ground = [found for found in ground_of(yard, posed) if found is not None]
    if len(ground) < len(yard.carried.places):
        sizes = [size or spec.hole_size for size in smallest_holes(yard, spec)]
        refuse_holes(yard.surface, yard.carried.places, yard.carried.frame, sizes, spec, show)
    return tuple(ground)


def _check_apart(carried: Carried, sizes: Sequence[tuple[float, float]]) -> None:
    """Refuse holes that overlap although each keeps apart from its like: one is wider, the other longer."""
    faults = Faults()
    for first, second in overlapping(carried.local, sizes):
        one, other = carried.places[first].name, carried.places[second].name
        faults.note("piers-overlap", variant="unlike", one=repr(one), other=repr(other))
    faults.raise_if_any()


def _build(
    posed: Posed, choice: TopChoice, yard: Yard, spec: PierSpec, prices: PierPrices
) -> tuple[Pier, ...]:
    return tuple(_pier(posed, choice, index, yard, spec, prices) for index in range(len(choice.rows)))


def _pier(
    posed: Posed, choice: TopChoice, index: int, yard: Yard, spec: PierSpec, prices: PierPrices
) -> Pier:
    kind = int(choice.kinds[index])
    ground, size = posed.own(kind, index), posed.kinds[kind].size
    hole = posed.problem.holes[kind]
    table = hole.table
    row = int(choice.rows[index])
    courses = table.courses[row].tolist()
    bottom, bed = int(choice.bottoms[index]) / NANOMETRES, int(choice.beds[index]) / NANOMETRES
    dig, bed_volume = ground.dig_to(bottom), bed * hole.area
    stack = stack_of(table.units, courses, table.across)
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
        load=float(yard.demand.load[index]),
        corner=bool(yard.demand.corner[index]),
        across=table.across,
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


def _alternatives(
    posed: Posed,
    choice: TopChoice,
    index: int,
    pier: Pier,
    show: Display,
) -> tuple[Alternative, ...]:
    """Give the next best stacks of one pier under the same top, cheapest first, each in its own hole."""
    fitting = stacks_that_fit(posed.problem, choice.top, index)
    holes = [posed.problem.holes[int(kind)] for kind in fitting.kinds]
    rows = fitting.rows.tolist()
    own = (fitting.kinds == choice.kinds[index]) & (fitting.rows == choice.rows[index])
    here = int(np.flatnonzero(own)[0])
    laid = holes[here].table.courses[rows[here]].tolist()
    cheapest = np.lexsort((fitting.pieces, fitting.money)).tolist()
    order = [k for k in cheapest if k != here and holes[k].table.across == pier.across][:MOST_ALTERNATIVES]
    found = []
    for k in order:
        bed = float(fitting.beds[k] - fitting.beds[here]) / NANOMETRES
        deeper = float(fitting.bottoms[here] - fitting.bottoms[k]) / NANOMETRES
        courses = holes[k].table.courses[rows[k]].tolist()
        size = posed.kinds[int(fitting.kinds[k])].size
        other = None if size == pier.hole_size else size
        words = difference_in_words(holes[k].table.units, laid, courses, bed, deeper, show, other)
        more = int(fitting.pieces[k]) - pier.pieces
        found.append(
            Alternative(
                words, tuple(courses), bed, deeper, more, float(fitting.money[k] - fitting.money[here])
            )
        )
    return tuple(found)
