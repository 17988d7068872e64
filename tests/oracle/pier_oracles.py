"""Two independent ways to plan piers: every combination in exact fractions, and a mixed-integer program.

Both work out for themselves which stacks may be built, what each may carry, and which hole it asks for.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from gradework.foundations.piers.top_problem import Goal
from gradework.foundations.piers.units import BlockUnit

NM = 10**9
INCH = 25_400_000
G = 9.80665e-3
LB = 4.4482216152605e-3  # kN
PSI = LB / 0.0254**2

# 24 CFR 3285.312: 8 000 and 16 000 lb; its table bends a 20 in pad, 4 in thick, at 2 000 psf to 113 psi.
MOST_LOAD = {1: 8000 * LB, 2: 16000 * LB}
PAD_BENDING = 113 * PSI


class Plan(NamedTuple):
    along: int
    across: int


class Ground(NamedTuple):
    """Highest bottoms [m] and digging [m³] at each pier for holes of one plan, and their area [m²]."""

    bottoms: np.ndarray
    dug: np.ndarray
    area: float


class Case(NamedTuple):
    """Everything about the piers but the rules of beds and prices, which stand in ``rules``."""

    units: tuple[BlockUnit, ...]
    tallest: Mapping[int, float]
    loads: Sequence[float]
    corners: Sequence[bool]
    bearing: float
    ground: Mapping[Plan, Ground]
    rules: Mapping[str, float | None]


def exact(metres: float) -> Fraction:
    return Fraction(round(metres * NM), NM)


def course(unit: BlockUnit, across: int) -> Plan:
    """Give the plan of a course in nanometres: two side by side in a double pier, but one wide slab."""
    short, long = sorted((unit.length, unit.width))
    return Plan(round((short if short >= 14.9 * 0.0254 else short * across) * NM), round(long * NM))


class Form(NamedTuple):
    """What the limits of a stack hang on: widest and narrowest course, density of the heaviest unit, base."""

    across: int
    wide: Plan
    narrow: Plan
    dense: float
    base: BlockUnit | None

    @property
    def plan(self) -> Plan:
        own = self.wide if self.base is None else course(self.base, self.across)
        return Plan(max(self.wide.along, own.along), max(self.wide.across, own.across))


def form_of(laid: Sequence[BlockUnit], across: int) -> Form:
    bases = [u for u in laid if u.only_base]
    plans = [course(u, across) for u in laid if not u.only_base]
    dense = max((u.mass / (u.thickness * u.length * u.width) for u in laid if not u.only_base), default=0.0)
    wide, narrow = (Plan(pick(p.along for p in plans), pick(p.across for p in plans)) if plans else Plan(0, 0)
                    for pick in (max, min))  # fmt: skip
    return Form(across, wide, narrow, dense, bases[0] if bases else None)


def every_form(units: Sequence[BlockUnit], across: int) -> list[Form]:
    """Give every form that some of the units make, by trying all sets of them."""
    blocks, bases = [u for u in units if not u.only_base], [u for u in units if u.only_base]
    sets = [s for n in range(len(blocks) + 1) for s in itertools.combinations(blocks, n)]
    on = [(), *((base,) for base in bases)]
    return sorted({form_of((*s, *b), across) for s in sets for b in on if s or b}, key=repr)


def stands_on_base(form: Form) -> bool:
    if form.base is None or form.wide == (0, 0):
        return True
    own = course(form.base, form.across)
    return form.wide.along <= own.along and form.wide.across <= own.across


def tallest_body(form: Form, load: float, corner: bool, bearing: float) -> float:
    """Give how tall the blocks on the base may be [m] for what a pier carries; below 0: not on this base."""
    base, foot = form.base, form.narrow
    area, thick, weight = foot.along * foot.across / NM**2, 0.0, 0.0
    pressure = bearing
    if base is not None:
        own = course(base, form.across)
        foot = foot if foot != (0, 0) else own
        pieces = 1 if min(base.length, base.width) >= 14.9 * 0.0254 else form.across
        area, thick, weight = own.along * own.across / NM**2, base.thickness, pieces * base.mass * G
        beyond = max(own.along - foot.along, own.across - foot.across) / 2 / NM
        if beyond > 1e-6:
            pressure = min(bearing, PAD_BENDING * thick**2 / 3 / beyond**2)
    room = area * pressure - load - weight
    if load > MOST_LOAD[form.across] or room < 0:
        return -1.0
    metre = form.dense * G * form.wide.along * form.wide.across / NM**2
    most = room / metre if metre > 0 else 1e3
    return min(most, 26.5 * 0.0254 + 1e-9) if corner and form.across == 1 else most


class Stack(NamedTuple):
    height: Fraction
    price: Fraction
    pieces: int
    form: Form


def every_stack(units: Sequence[BlockUnit], tallest: float, across: int = 1) -> Iterator[Stack]:
    """Give every stack that may be built, by trying all counts."""
    counts = [
        range(min(int(exact(tallest) / exact(u.thickness)), u.most_in_stack or 10**6) + 1) for u in units
    ]
    for laid in itertools.product(*counts):
        height = sum((n * exact(u.thickness) for n, u in zip(laid, units, strict=True)), Fraction(0))
        if not any(laid) or height > exact(tallest):
            continue
        each = [u for n, u in zip(laid, units, strict=True) for _ in range(n)]
        form = form_of(each, across)
        if not is_stack(each, form):
            continue
        pieces = [1 if min(u.length, u.width) >= 14.9 * 0.0254 else across for u in each]
        price = sum((n * Fraction(round(u.price * 10**6), 10**6) for n, u in zip(pieces, each, strict=True)),
                    Fraction(0))  # fmt: skip
        yield Stack(height, price, sum(pieces), form)


def is_stack(laid: Sequence[BlockUnit], form: Form) -> bool:
    """Say whether the units may be piled up at all, whatever they carry."""
    return _sound(laid) and stands_on_base(form) and not _slender(laid, form)


def _is_solid(unit: BlockUnit) -> bool:
    return not unit.hollow and unit.may_carry and not unit.only_base and unit.thickness > 3.5 * 0.0254 - 1e-9


def _sound(laid: Sequence[BlockUnit]) -> bool:
    """Open cells end in a cap and stand on a pad or on another, solid unit."""
    if sum(u.only_base for u in laid) > 1 or sum(not u.may_carry for u in laid) > 1:
        return False
    if not any(u.hollow for u in laid):
        return True
    caps = [k for k, u in enumerate(laid) if u.may_cap and not u.only_base]
    below = [k for k, u in enumerate(laid) if u.only_base or _is_solid(u)]
    return any(cap != base for cap in caps for base in below)


def _slender(laid: Sequence[BlockUnit], form: Form) -> bool:
    if form.wide == (0, 0):
        return False
    body = sum(round(u.thickness * NM) for u in laid if not u.only_base)
    return body > (4 if any(u.hollow for u in laid) else 10) * min(form.narrow) + 1


def best_by_trying(case: Case, goal: Goal) -> tuple[Fraction, ...] | None:
    """Give the best plan as a tuple that compares in the order of the goal; None when there is none.

    For every choice of stacks the common top is tried at each place where a bed meets a limit at some depth
    of its hole, and every depth of each hole under that top.
    """
    every = [s for across, most in case.tallest.items() for s in every_stack(case.units, most, across)]
    best: tuple[Fraction, ...] | None = None
    for chosen in itertools.product(*(own_stacks(case, every, pier) for pier in range(len(case.loads)))):
        found = _best_of(case, goal, chosen)
        if found is not None:
            best = found if best is None else min(best, found)
    return best


def own_stacks(case: Case, every: Sequence[Stack], pier: int) -> list[Stack]:
    """Give the stacks that one pier may have, by its load and its place and by the ground."""
    own = []
    for stack in every:
        body = stack.height - exact(stack.form.base.thickness if stack.form.base else 0.0)
        most = tallest_body(stack.form, case.loads[pier], case.corners[pier], case.bearing)
        if body <= most and np.isfinite(case.ground[stack.form.plan].bottoms[pier]):
            own.append(stack)
    return own


def _best_of(case: Case, goal: Goal, chosen: Sequence[Stack]) -> tuple[Fraction, ...] | None:
    rules = case.rules
    least, most, deeper, step = (
        exact(rules[key] or 0.0) for key in ("bed_least", "bed_most", "deeper", "step")
    )
    low, high = (None if rules.get(key) is None else exact(rules[key] or 0.0)
                 for key in ("lowest_top", "highest_top"))  # fmt: skip
    gravel, digging = Fraction(rules["gravel"] or 0.0), Fraction(rules["digging"] or 0.0)
    grounds = [case.ground[stack.form.plan] for stack in chosen]
    feet = [Fraction(int(np.floor(g.bottoms[pier] * NM + 0.01)), NM) + s.height
            for pier, (g, s) in enumerate(zip(grounds, chosen, strict=True))]  # fmt: skip
    areas = [Fraction(g.area) for g in grounds]
    depths = [step * k for k in range(deeper // step + 1)]
    tops = {f + v - d for f in feet for v in (least, most) for d in depths}
    tops |= {t for t in (low, high) if t is not None}
    best: tuple[Fraction, ...] | None = None
    for top in tops:
        gaps = [top - f for f in feet]
        fitting = [[d for d in depths if least <= g + d <= most] for g in gaps]
        if not all(fitting):
            continue
        if (low is not None and top < low) or (high is not None and top > high):
            continue
        # more digging is more gravel, too: of the depths that fit the least one is best, whatever is asked
        dug = [min(own) for own in fitting]
        extra = sum((a * d for a, d in zip(areas, dug, strict=True)), Fraction(0))
        extra += sum((Fraction(float(g.dug[pier])) for pier, g in enumerate(grounds)), Fraction(0))
        beds = sum((a * (g + d) for a, g, d in zip(areas, gaps, dug, strict=True)), Fraction(0))
        money = sum((s.price for s in chosen), Fraction(0)) + gravel * beds + digging * extra
        pieces = Fraction(sum(s.pieces for s in chosen))
        plan = {
            "least money": (money, pieces, top),
            "fewest units": (pieces, top, money),
            "least digging": (extra, pieces, top, money),
            "lowest floor": (top, pieces, money),
        }[goal]
        best = plan if best is None else min(best, plan)
    return best


def best_by_program(case: Case, goal: Goal, *, seconds: float = 60.0) -> tuple[str, float]:
    """Solve the choice as a mixed-integer linear program; give ("optimal" or what else) and the least value.

    For each pier and each form of stack: whether it is taken, the courses of each unit, whether some have
    open cells, its bed and in how many steps it is dug deeper, all nothing where it is not taken; one top
    for all.
    """
    forms = [f for across in case.tallest for f in every_form(case.units, across) if stands_on_base(f)]
    every = np.concatenate([case.ground[form.plan].bottoms for form in forms])
    base = float(np.nanmin(every))  # measured from the lowest bottom, so that numbers stay near 1
    size = len(case.units) + 4
    program = _Program(len(case.loads) * len(forms) * size + 1)
    for pier in range(len(case.loads)):
        taken, heights = {}, {len(program.cost) - 1: -1.0}
        for number, form in enumerate(forms):
            at = (pier * len(forms) + number) * size
            taken[at] = 1.0
            heights |= _add_form(program, case, goal, form, pier, at, base)
        program.rule(taken, 1.0, 1.0)
        program.rule(heights, 0.0, 0.0)
    low, high = case.rules.get("lowest_top"), case.rules.get("highest_top")
    program.lower[-1] = -10.0 if low is None else low - base
    program.upper[-1] = 50.0 if high is None else high - base
    if goal == "lowest floor":
        program.cost[-1] = 1.0
    status, least = program.solve(seconds)
    return status, least + (base if goal == "lowest floor" else 0.0)


class _Program:
    """A program as it is written down: costs, bounds, which are whole, and rules row by row."""

    def __init__(self, size: int) -> None:
        self.cost, self.upper, self.lower, self.whole = (np.zeros(size) for _ in range(4))
        self.rows: list[dict[int, float]] = []
        self.ends: list[tuple[float, float]] = []

    def rule(self, values: Mapping[int, float], least: float, most: float) -> None:
        self.rows.append(dict(values))
        self.ends.append((least, most))

    def solve(self, seconds: float) -> tuple[str, float]:
        rows = np.zeros((len(self.rows), len(self.cost)))
        for number, values in enumerate(self.rows):
            for place, value in values.items():
                rows[number, place] += value
        found = milp(
            self.cost,
            integrality=self.whole,
            bounds=Bounds(self.lower, self.upper),
            constraints=LinearConstraint(rows, *np.array(self.ends).T),
            options={"time_limit": seconds, "mip_rel_gap": 1e-9},
        )
        if found.status == 0:
            return "optimal", float(found.fun)
        return {1: "out of time", 2: "no plan"}.get(found.status, found.message), float("nan")


def _add_form(
    program: _Program, case: Case, goal: Goal, form: Form, pier: int, at: int, base: float
) -> dict[int, float]:
    """Add one form of stack at one pier; give what it adds to the sum of levels that is the top."""
    ground, rules, units = case.ground[form.plan], case.rules, case.units
    body = tallest_body(form, case.loads[pier], case.corners[pier], case.bearing)
    able = bool(np.isfinite(ground.bottoms[pier])) and body >= 0.0
    cells, bed, extra = at + 1 + len(units), at + 2 + len(units), at + 3 + len(units)
    program.upper[at] = program.upper[cells] = able
    program.whole[at] = program.whole[cells] = 1
    least, most, deeper, step = (
        float(rules[key] or 0.0) for key in ("bed_least", "bed_most", "deeper", "step")
    )
    steps = round(deeper * NM) // round(step * NM)
    program.upper[bed], program.upper[extra], program.whole[extra] = able * most, able * steps, 1
    program.rule({bed: 1.0, at: -most}, -np.inf, 0.0)
    program.rule({bed: 1.0, at: -least}, 0.0, np.inf)
    program.rule({extra: 1.0, at: -float(steps)}, -np.inf, 0.0)
    dug, bottom = (float(ground.dug[pier]), float(ground.bottoms[pier]) - base) if able else (0.0, 0.0)
    thick, price, pieces = 0.0, 0.0, 0
    if form.base is not None:
        pieces = 1 if min(form.base.length, form.base.width) >= 14.9 * 0.0254 else form.across
        thick, price = form.base.thickness, pieces * form.base.price
    if goal == "least money":
        depth = float(rules["digging"] or 0.0)
        program.cost[at] = price + depth * dug
        program.cost[bed], program.cost[extra] = (
            float(rules["gravel"] or 0.0) * ground.area,
            depth * ground.area * step,
        )
    elif goal == "fewest units":
        program.cost[at] = pieces
    elif goal == "least digging":
        program.cost[at], program.cost[extra] = dug, ground.area * step
    own = _add_courses(program, case, goal, form, at, body if able else 0.0)
    heights = {at + 1 + k: units[k].thickness for k in own}
    return heights | {at: bottom + thick, bed: 1.0, extra: -step}


def _add_courses(program: _Program, case: Case, goal: Goal, form: Form, at: int, body: float) -> list[int]:
    """Courses of the units that a form allows: some as wide, as long, as narrow, as short, as dense as it."""
    units, across, cells = case.units, form.across, at + 1 + len(case.units)
    plans = {k: course(u, across) for k, u in enumerate(units) if not u.only_base}
    dense = {k: units[k].mass / (units[k].thickness * units[k].length * units[k].width) for k in plans}
    own = [
        k for k, plan in plans.items()
        if form.narrow.along <= plan.along <= form.wide.along
        and form.narrow.across <= plan.across <= form.wide.across and dense[k] <= form.dense
    ]  # fmt: skip
    tallest = case.tallest[across]
    for k in own:
        unit = units[k]
        count = min(unit.most_in_stack or 10**6, int(tallest / unit.thickness + 1e-9))
        program.upper[at + 1 + k], program.whole[at + 1 + k] = count, 1
        program.rule({at + 1 + k: 1.0, at: -float(count)}, -np.inf, 0.0)
        pieces = 1 if min(unit.length, unit.width) >= 14.9 * 0.0254 else across
        program.cost[at + 1 + k] = {"least money": pieces * unit.price, "fewest units": pieces}.get(goal, 0.0)
    for extreme in (
        [k for k in own if plans[k].along == form.wide.along],
        [k for k in own if plans[k].across == form.wide.across],
        [k for k in own if plans[k].along == form.narrow.along],
        [k for k in own if plans[k].across == form.narrow.across],
        [k for k in own if dense[k] == form.dense],
    ):
        if form.wide != (0, 0):
            program.rule({at + 1 + k: 1.0 for k in extreme} | {at: -1.0}, 0.0, np.inf)
    thickness = {at + 1 + k: units[k].thickness for k in own}
    thick = 0.0 if form.base is None else form.base.thickness
    program.rule(thickness | {at: thick - tallest - 1e-9}, -np.inf, 0.0)
    program.rule(thickness | {at: -body - 1e-9}, -np.inf, 0.0)
    side = min(form.narrow) / NM
    program.rule(thickness | {at: -10 * side - 1e-9, cells: 6 * side}, -np.inf, 0.0)
    program.rule({cells: 1.0, at: -1.0}, -np.inf, 0.0)
    _add_soundness(program, units, own, form, at, cells)
    return own


def _add_soundness(
    program: _Program, units: Sequence[BlockUnit], own: Sequence[int], form: Form, at: int, cells: int
) -> None:
    """Where some have open cells: a cap, and without a base pad a solid unit that is not that cap."""
    hollow, caps, solid = (
        [k for k in own if units[k].hollow],
        [k for k in own if units[k].may_cap],
        [k for k in own if _is_solid(units[k])],
    )
    program.rule({at + 1 + k: 1.0 for k in hollow} | {cells: -1e3}, -np.inf, 0.0)
    program.rule({at + 1 + k: 1.0 for k in caps} | {cells: -1.0}, 0.0, np.inf)
    if form.base is None:
        program.rule({at + 1 + k: 1.0 for k in solid} | {cells: -1.0}, 0.0, np.inf)
        program.rule({at + 1 + k: 1.0 for k in {*caps, *solid}} | {cells: -2.0}, 0.0, np.inf)
    program.rule({at + 1 + k: 1.0 for k in own if not units[k].may_carry}, 0.0, 1.0)
