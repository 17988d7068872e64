"""The level of a gravel pad: the limits on it, and what each rule makes of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.volumes import balance_level, cut_and_fill
from gradework.foundations.pad.edge import way_at

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.foundations.buying.pad_prices import PadPrices
    from gradework.foundations.pad.quantities import PadGround, Quantities
    from gradework.foundations.pad.spec import PadSpec, Rule

Floats = NDArray[np.float64]

CLOSE = 1e-4
"""[m] Levels are found to 0.1 mm or better; a limit this close to a level binds it."""

_FINE = 1e-7
"""[m] Brackets are narrowed to this, well inside ``CLOSE``."""

_LOOK = 257
"""So many levels are looked at before the best of them is narrowed down."""

_AT_ONCE = 33
"""In a bracket so many at once."""


@dataclass(frozen=True, slots=True)
class LevelLimit:
    """A level the pad must not go below (``least``) or above (not ``least``) [m], and for which reason."""

    name: Literal["height above grade", "cut depth", "what can be built", "edge height", "gravel depth"]
    least: bool
    level: float

    def state(self, level: float) -> Literal["kept", "binds", "broken"]:
        """How a pad level stands to this limit."""
        past = self.level - level if self.least else level - self.level
        if past > CLOSE:
            return "broken"
        return "binds" if past > -CLOSE else "kept"


@dataclass(frozen=True, slots=True)
class LimitMet:
    """A limit that a choice touches (``binds``) or breaks, with the level it asks for [m]."""

    name: str
    state: Literal["binds", "broken"]
    level: float


@dataclass(frozen=True, slots=True)
class PadChoice:
    """What one rule gives: its level [m], quantities [m³, kg], money and the limits it meets.

    excavation in place, gravel compacted (both with the edge), cut and fill against the plain level in the
    pad outline; native : dug ground put back as fill, compacted; spoil : to haul, in place;
    edge_excavation and edge_gravel : the part outside the outline; beside : dug beside a boxed pad (working
    room, laid-back face, trench of its edge), in place, not in excavation; refilled : the part of that soil
    that goes back beside the pad, in place; excavation_doubt, gravel_doubt : how far
    each may be off because the survey does not say how its squares fold; deepest_cut, deepest_gravel [m];
    cost None without prices; allowed : False for "balanced" where native fill is not allowed (all fill is
    then counted as gravel).
    """

    rule: Rule
    level: float
    excavation: float
    gravel: float
    cut: float
    fill: float
    cost: float | None
    native: float
    spoil: float
    gravel_mass: float
    edge_excavation: float
    edge_gravel: float
    beside: float
    refilled: float
    excavation_doubt: float
    gravel_doubt: float
    deepest_cut: float
    deepest_gravel: float
    limits: tuple[LimitMet, ...]
    allowed: bool

    @property
    def dug(self) -> float:
        """All digging in place [m³]: under the pad and beside it."""
        return self.excavation + self.beside

    @property
    def hauled(self) -> float:
        """Soil that is left over [m³ in place]: neither makes fill nor goes back beside the pad."""
        return self.spoil + self.beside - self.refilled


def level_limits(ground: PadGround) -> tuple[LevelLimit, ...]:
    """The limits on the level of this pad."""
    spec, pieces = ground.spec, ground.pieces
    limits = []
    if not spec.drain:
        limits.append(LevelLimit("height above grade", True, ground.edge_high + spec.freeboard))
    limits.append(LevelLimit("cut depth", True, pieces.highest + spec.gravel - spec.max_cut))
    if spec.lowest is not None:
        limits.append(LevelLimit("what can be built", True, spec.lowest))
    limits.append(LevelLimit("edge height", False, ground.edge_low + spec.max_height))
    limits.append(LevelLimit("gravel depth", False, pieces.lowest - spec.strip + spec.most_gravel))
    return tuple(limits)


def choose_levels(ground: PadGround, only: Rule | None = None) -> tuple[PadChoice, ...]:
    """What every rule gives: least fill, balanced, least cost (with prices), given (with a level).

    With ``only`` that rule alone is worked out.
    """
    limits = level_limits(ground)
    lowest, given = least_fill_level(ground, limits), ground.spec.level
    ways: dict[Rule, Callable[[], float]] = {
        "least fill": lambda: lowest,
        "balanced": lambda: balanced_level(ground),
    }
    if not ground.prices.missing(ground.spec.edge):
        ways["least cost"] = lambda: least_cost_level(ground, lowest)
    if given is not None:
        ways["given"] = lambda: given
    levels = [(rule, way()) for rule, way in ways.items() if only in (None, rule)]
    wanted = np.array([level for _, level in levels])
    found, (dig, gravel) = ground.at(wanted), ground.doubt(wanted)
    return tuple(
        _choice(ground, limits, rule, found, number, (float(dig[number]), float(gravel[number])))
        for number, (rule, _) in enumerate(levels)
    )


def least_fill_level(ground: PadGround, limits: tuple[LevelLimit, ...]) -> float:
    """The lowest level that every lower limit allows; never so low that only digging would grow."""
    no_fill = ground.pieces.lowest - ground.shift
    return max([limit.level for limit in limits if limit.least] + [no_fill])


def balanced_level(ground: PadGround) -> float:
    """The level at which what is dug below the strip, compacted, equals the fill it would replace."""
    plain = balance_level(ground.pieces, ground.spec.compaction) - ground.shift
    if ground.batter is None:
        return plain
    low, high = ground.pieces.lowest - ground.shift, ground.pieces.highest - ground.shift

    def too_low(level: float) -> bool:
        return float(ground.at(np.array([level])).surplus[0]) > 0.0

    return _bisect(too_low, low, high)


def least_cost_level(ground: PadGround, lowest: float) -> float:
    """The cheapest level at or above ``lowest``.

    Above the level where all digging ends every cost rises, so the search ends there. Another kind of edge,
    native fill and side slopes make the cost no single valley: this is the best of all levels looked at,
    those on both sides of each change of the edge among them, narrowed to the least cost beside it.
    """
    if ground.spec.cheapest is not None:
        return ground.spec.cheapest
    top = max(ground.pieces.highest - ground.shift, ground.edge_high, lowest) + CLOSE
    looked = np.linspace(lowest, top, _LOOK)
    levels = np.union1d(looked, _changes(ground, looked))
    best = int(np.argmin(ground.at(levels).cost))
    low, high = float(levels[max(best - 1, 0)]), float(levels[min(best + 1, len(levels) - 1)])

    def cost(asked: Floats) -> Floats:
        return ground.at(asked).cost

    ends = np.array([levels[best], _narrowed(cost, low, high)])
    return float(ends[int(np.argmin(cost(ends)))])


def least_money(spec: PadSpec, prices: PadPrices, fabric: float, under: Pieces) -> float:
    """What a pad costs at the least at any level, on the ground ``under`` it: digging, stone and ``fabric``
    (money per m²) in its outline alone, without hauling, edge or anything beside it.

    Looked at even levels; between two of them it is less by no more than the dearer of both over the step.
    """
    area = under.area
    dig, stone = prices.dig or 0.0, (prices.gravel or 0.0) * spec.density
    levels = np.linspace(under.lowest, under.highest, _LOOK)
    plain = cut_and_fill(under, levels)
    cut, fill = np.array([one.cut for one in plain]), np.array([one.fill for one in plain])
    filled = 0.0 if spec.native_fill else fill
    money = fabric * area + dig * (spec.strip * area + cut) + stone * (spec.gravel * area + filled)
    step = float(levels[1] - levels[0])
    return float(money.min()) - step * area * max(dig, stone)


def levels_to_ask(ground: PadGround, lowest: float, step: float) -> Floats:
    """Levels [m] from ``lowest`` to where the first upper limit binds: even steps, and both sides of each
    change of the edge. Above the level where all digging ends the pad itself costs more, but what leads
    water past it may come out only there."""
    top = max(min(limit.level for limit in level_limits(ground) if not limit.least), lowest) + CLOSE
    levels = np.append(np.arange(lowest, top, step), top)
    asked: Floats = np.union1d(levels, _changes(ground, levels))
    return asked


def _changes(ground: PadGround, levels: Floats) -> list[float]:
    """The levels on both sides of each change of the edge among ``levels`` [m]: there the cost jumps."""
    if ground.batter is not None:
        return []

    def way(level: float) -> object:
        return way_at(level - ground.edge_low, ground.spec)

    found = []
    ways = [way(level) for level in levels.tolist()]
    for number in (n for n in range(len(ways) - 1) if ways[n] != ways[n + 1]):
        low, high = levels[number : number + 2].tolist()
        while high - low > 1e-10:  # just below the jump is where the least cost may be
            middle = 0.5 * (low + high)
            low, high = (middle, high) if way(middle) == ways[number] else (low, middle)
        found += [low, high]
    return found


def _bisect(too_low: Callable[[float], bool], low: float, high: float) -> float:
    """The level from which on ``too_low`` no longer holds, within ``_FINE``; ``low`` where it never does."""
    if not too_low(low):
        return low
    while high - low > _FINE:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if too_low(middle) else (low, middle)
    return 0.5 * (low + high)


def _narrowed(cost: Callable[[Floats], Floats], low: float, high: float) -> float:
    """The level of least cost in a bracket with one valley: many levels are asked at once, since that takes
    no longer than to ask one, and the bracket closes to both sides of the best."""
    while True:
        levels = np.linspace(low, high, _AT_ONCE)
        best = int(np.argmin(cost(levels)))
        low, high = float(levels[max(best - 1, 0)]), float(levels[min(best + 1, _AT_ONCE - 1)])
        if high - low <= _FINE:
            return float(levels[best])


def _choice(
    ground: PadGround,
    limits: tuple[LevelLimit, ...],
    rule: Rule,
    found: Quantities,
    number: int,
    doubt: tuple[float, float],
) -> PadChoice:
    spec, pieces = ground.spec, ground.pieces
    level = float(found.levels[number])
    [plain] = cut_and_fill(pieces, level)
    cost = float(found.cost[number])
    met = []
    for limit in limits:
        state = limit.state(level)
        if state != "kept":
            met.append(LimitMet(limit.name, state, limit.level))
    return PadChoice(
        rule=rule,
        level=level,
        excavation=float(found.excavation[number]),
        gravel=float(found.gravel[number]),
        cut=plain.cut,
        fill=plain.fill,
        cost=None if np.isnan(cost) else cost,
        native=float(found.native[number]),
        spoil=float(found.spoil[number]),
        gravel_mass=float(found.gravel[number]) * spec.density,
        edge_excavation=float(found.edge_excavation[number]),
        edge_gravel=float(found.edge_gravel[number]),
        beside=float(found.beside[number]),
        refilled=float(found.refilled[number]),
        excavation_doubt=doubt[0],
        gravel_doubt=doubt[1],
        deepest_cut=max(spec.strip, pieces.highest - level + spec.gravel),
        deepest_gravel=max(spec.gravel, level - pieces.lowest + spec.strip),
        limits=tuple(met),
        allowed=rule != "balanced" or spec.native_fill,
    )
