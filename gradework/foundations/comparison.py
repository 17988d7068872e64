"""Pad, piers and slab as options of a comparison, and the same ground made steeper."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gradework.earthwork.clip import Pieces
from gradework.earthwork.footprint import sides
from gradework.earthwork.outline import Outline
from gradework.errors import Dialect, Finding
from gradework.errors import words as trade_words
from gradework.foundations.buying.money import EARTHWORK, OWN_WORK, PAID_FOR, Amount
from gradework.foundations.buying.pad_prices import PadPrices
from gradework.foundations.buying.rates import DUG, Conditions, Range, labour
from gradework.foundations.pad.edge import EdgeParts
from gradework.foundations.pad.quantities import PIPE, BoxedEdge
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.foundations.slab.design import Slab
from gradework.ground.surface import Tilt

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad
    from gradework.units.display import Display


# Pad, piers and slab side by side: what each takes, what blocks it, and what would change the winner.

USUAL: Mapping[str, Range] = labour(Conditions())
"""Hours for one of each thing in firm soil, wheeled as far as usual."""

MOST_FACTOR = 10.0
"""A price that must rise (or fall) more than this many times to change the winner is not told as a number."""


@dataclass(frozen=True, slots=True)
class FloorHeight:
    """How high the floor stands above the ground along one side of the building, least and most [m]."""

    side: str
    least: float
    most: float


@dataclass(frozen=True)
class Option:
    """One foundation as planned. ``level`` is its top, ``floor`` the finished floor [m]; None without a plan.

    ``takes`` holds net amounts by the names of ``rates``, for the hours; ``least`` is money that it costs on
    any ground. What is bought comes from its order: ``paid`` by the keys of ``PriceList``, with digging and
    hauling; ``buy`` in words; ``mass`` [kg] to be carried. ``beside`` is the part of the digging [m³] for
    what is dug beside it, as a swale. ``failing`` names the checks by which it cannot be built.
    """

    name: str
    level: float | None
    floor: float | None
    takes: Mapping[str, float]
    floor_heights: tuple[FloorHeight, ...]
    findings: tuple[Finding, ...]
    least: float = 0.0
    paid: Mapping[str, Amount] = field(default_factory=dict)
    buy: tuple[str, ...] = ()
    mass: float = 0.0
    beside: float = 0.0
    failing: tuple[str, ...] = ()
    rates: Mapping[str, Range] = field(default_factory=lambda: USUAL)

    @property
    def planned(self) -> bool:
        """True when there is a plan; without one there are no figures."""
        return self.level is not None

    @property
    def money(self) -> float:
        """Give the money for everything bought, dug and hauled."""
        return math.fsum(amount.money for amount in self.paid.values())

    @property
    def at_yard(self) -> float:
        """Give the money for what is bought."""
        return math.fsum(
            amount.money for key, amount in self.paid.items() if key not in (*EARTHWORK, OWN_WORK)
        )

    @property
    def earthwork(self) -> float:
        """Give the money for digging and hauling."""
        return math.fsum(self.paid[key].money for key in EARTHWORK if key in self.paid)

    def with_beside(
        self,
        dug: float,
        *,
        stone: float = 0.0,
        pipe: float = 0.0,
        fill: float = 0.0,
        gutter: float = 0.0,
        more: Mapping[str, float] | None = None,
    ) -> Option:
        """Give the option with what is built beside it: what is ``dug`` [m³ in place], clean ``stone`` [m³],
        ``pipe`` and ``gutter`` [m], soil heaped as ``fill`` [m³]; ``more`` by the names of ``rates``."""
        beside = {"digging": dug, "earth fill": fill, "drain stone": stone, "drain pipe": pipe / PIPE}
        beside |= {"gutter": gutter / PIPE, **(more or {})}
        takes = {name: self.takes.get(name, 0.0) + amount for name, amount in beside.items() if amount}
        return replace(self, takes={**self.takes, **takes}, beside=dug)

    @property
    def digging(self) -> float:
        """Give the digging in place [m³], by hand and by machine."""
        return math.fsum(self.takes.get(name, 0.0) for names in DUG.items() for name in names)

    @property
    def hours(self) -> tuple[float, float]:
        """Give the least and most hours of work for one person."""
        pairs = [(self.rates[name], amount) for name, amount in self.takes.items()]
        return math.fsum(r[0] * a for r, a in pairs), math.fsum(r[1] * a for r, a in pairs)

    @property
    def blockers(self) -> tuple[Finding, ...]:
        """Give the findings that stop this option."""
        return tuple(f for f in self.findings if f.severity == "stop")

    @property
    def able(self) -> bool:
        """Say whether it can be built as drawn."""
        return self.planned and not (self.failing or self.blockers)


@dataclass(frozen=True, slots=True)
class Switch:
    """One change that makes another option the cheapest: what changes, by how much, to which winner."""

    what: str
    factor: float | None
    winner: str
    words: str


class Way(NamedTuple):
    """How to ``plan`` an option on other ground, None where it cannot be planned there; ``least``: money that
    it costs there at any level, which is quicker to tell."""

    plan: Callable[[], Option | None]
    least: Callable[[], float]


Ways = Mapping[str, Way]
Steeper = Callable[[float], Ways]
"""For a further fall of the ground [m] under the building: how to plan each option there, by its name."""


@dataclass(frozen=True)
class Comparison:
    """Options cheapest first, then those that cannot be built as drawn, then those without a plan.

    ``winner`` is None when none is left. What would change the winner is worked out when it is asked for:
    ``steeper`` plans options anew on steeper ground.
    """

    options: tuple[Option, ...]
    winner: Option | None
    show: Display = field(repr=False)
    steeper: Steeper | None = field(default=None, repr=False, compare=False)

    @cached_property
    def switches(self) -> tuple[Switch, ...]:
        """Each change that makes another option win; prices first, then the fall of the ground."""
        if self.winner is None:
            return ()
        rivals = [one for one in self.options if one is not self.winner and one.able]
        switches = price_switches(self.winner, rivals, self.show.dialect)
        found = None if self.steeper is None else steeper_switch(self.options, self.steeper, self.show)
        return (*switches, found) if found else switches


def compare(options: Sequence[Option], show: Display, steeper: Steeper | None = None) -> Comparison:
    """Rank the options by money; the result says what would change the winner.

    Without ``steeper`` only prices are tried; plans stay as they are meanwhile. One option has no switch.
    """
    ranked = tuple(sorted(options, key=lambda o: (not o.able, not o.planned, o.money, o.name)))
    winner = ranked[0] if ranked and ranked[0].able else None
    return Comparison(ranked, winner, show, steeper)


def price_switches(winner: Option, rivals: Sequence[Option], dialect: Dialect = "us") -> tuple[Switch, ...]:
    """Give, for each thing bought, the smallest change of its price that lets a rival win.

    With the price of one thing multiplied by r, each option costs fixed + r x part; the first crossing above
    or below r = 1 counts. Things no price of which changes the winner share one sentence.
    """
    names = dict.fromkeys(name for option in (winner, *rivals) for name in option.paid)
    said = {name: _in_dialect(PAID_FOR[name], dialect) for name in names}
    found = {name: _price_switch(name, said[name], winner, rivals) for name in names if rivals}
    idle = _or([said[name] for name, switch in found.items() if switch is None])
    switches = [switch for switch in found.values() if switch is not None]
    if idle:
        switches.append(Switch(idle, None, winner.name, f"No likely price of {idle} changes the winner."))
    return tuple(switches)


def _in_dialect(name: str, dialect: Dialect) -> str:
    """Say a thing that is paid in the words of a metric job where those differ."""
    return dict(zip(trade_words("us").values(), trade_words(dialect).values(), strict=True)).get(name, name)


def _or(names: Sequence[str]) -> str:
    """Join names with commas and "or".

    >>> _or(["a", "b", "c"]), _or(["a"])
    ('a, b or c', 'a')
    """
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _price_switch(name: str, said: str, winner: Option, rivals: Sequence[Option]) -> Switch | None:
    crossings = []
    for rival in rivals:
        own, other = _part(winner, name), _part(rival, name)
        if own == other:
            continue
        factor = 1.0 + (rival.money - winner.money) / (own - other)
        if 0.0 <= factor <= MOST_FACTOR:
            crossings.append((abs(math.log(max(factor, 1e-9))), factor, rival.name))
    if not crossings:
        return None
    _, factor, rival_name = min(crossings)
    return Switch(name, factor, rival_name, f"The {rival_name} would win if {said} cost {_times(factor)}.")


def _part(option: Option, name: str) -> float:
    found = option.paid.get(name)
    return found.money if found else 0.0


def _times(factor: float) -> str:
    """Say a price change in words.

    >>> _times(2.5), _times(1.3), _times(0.6), _times(0.0)
    ('2.5 times as much', '30 % more', '40 % less', 'nothing')
    """
    if factor >= 2.0:
        return f"{factor:.1f} times as much"
    if factor >= 1.0:
        return f"{100.0 * (factor - 1.0):.0f} % more"
    return f"{100.0 * (1.0 - factor):.0f} % less" if factor > 0.005 else "nothing"


STEEPER_STEP = 0.0254
STEEPER_MOST = 24
"""Ground up to 24 steps of an inch steeper is tried."""


def steeper_switch(options: Sequence[Option], steeper: Steeper, show: Display) -> Switch | None:
    """Find the least further fall of the ground [m], to an inch, with another winner than ``options[0]``, or
    none.

    Each fall means planning anew, so steps double until the winner changes, and the last of them is halved;
    one that changes and changes back between two steps is not seen. A rival is planned only where the best
    so far costs more than the rival does on any ground.
    """
    winner = options[0].name

    @cache
    def ways_at(step: int) -> Ways:
        ways = steeper(step * STEEPER_STEP)
        return {name: Way(cache(way.plan), cache(way.least)) for name, way in ways.items()}

    def changed(step: int) -> bool:
        own = ways_at(step)[winner].plan()
        return own is None or not own.able or _cheapest(ways_at(step), winner) is not own

    low, step = 0, 1
    while not changed(step):
        if step == STEEPER_MOST:
            return None
        low, step = step, min(2 * step, STEEPER_MOST)
    while step - low > 1:
        middle = (low + step) // 2
        low, step = (low, middle) if changed(middle) else (middle, step)
    return _fall_switch(step * STEEPER_STEP, _cheapest(ways_at(step), winner), show)


def _cheapest(ways: Ways, first: str) -> Option | None:
    """The winner among ``ways``, planned from ``first`` and the cheapest at the least: the others only where
    they may still win."""
    best: Option | None = None
    for name in sorted(ways, key=lambda name: (name != first, 0.0 if name == first else ways[name].least())):
        option = ways[name].plan() if best is None or ways[name].least() <= best.money else None
        if option is not None and option.able:
            best = option if best is None else min(best, option, key=lambda o: (o.money, o.name))
    return best


def _fall_switch(more: float, winner: Option | None, show: Display) -> Switch:
    name = "none" if winner is None else winner.name
    then = "none would be allowed" if winner is None else f"the {name} would win"
    now = ", with water led past as it is now"
    words = f"If the ground fell {show.depth(more)} more under the building{now}, {then}."
    return Switch("fall of the ground", more, name, words)


def floor_heights(building: Outline | None, under: Pieces, floor: float) -> tuple[FloorHeight, ...]:
    """Give how high a floor [m] stands above the ground along each side of the building; none without it."""
    if building is None:
        return ()
    return tuple(
        FloorHeight(f"{s.start} to {s.end}", floor - float(s.ground.max()), floor - float(s.ground.min()))
        for s in sides(building, under)
    )


def option_of_piers(piers: Piers, building: Outline | None) -> Option:
    """Give the piers as an option; without a common top it holds only the finding that says why."""
    if piers.top is None or piers.floor_level is None:
        return Option("block piers", None, None, {}, (), piers.findings)
    strip = 0.0 if piers.cover is None else piers.cover.strip
    holes = sum(math.prod(pier.hole_size) for pier in piers.piers)
    takes = {
        "layout": 1.0,
        "trimming": holes,
        "holes": piers.dug - strip,
        "digging": strip,
        "gravel": sum(pier.bed_volume for pier in piers.piers),
        "piers": float(len(piers.piers)),
        "earth fill": piers.back,  # tamped in beside the blocks
    }
    takes = {name: amount for name, amount in takes.items() if amount > 0.0}
    if piers.cover is not None:
        takes["ground cover"] = piers.cover.outline.area
    if piers.anchors is not None:
        takes["ground anchors"] = float(piers.anchors.count)
    heights = floor_heights(building, piers.building, piers.floor_level)
    least = len(piers.piers) * min(unit.price for unit in piers.spec.units)
    return Option("block piers", piers.top, piers.floor_level, takes, heights, piers.findings, least)


def option_of_pad(
    pad: Pad, prices: PadPrices, building: Outline | None, under: Pieces, floor: FloorBuildUp | None = None
) -> Option:
    """Give the pad as an option; the building stands on it with the floor build-up ``floor``, if any.

    ``under`` is the ground of the building; a price not known counts as nothing in the least it costs.
    """
    chosen, spec, edge = pad.chosen, pad.spec, pad.edge
    parts = edge.built.parts if isinstance(edge, BoxedEdge) else EdgeParts()
    outlet = None if pad.basin is None else pad.basin.outlet
    takes = {
        "layout": 1.0,
        "trimming": pad.pieces.area,
        "fabric": pad.pieces.area,
        "digging": chosen.dug,
        "gravel": chosen.gravel + parts.brought,
        "earth fill": chosen.refilled * spec.compaction,  # tamped in beside the pad, by hand
        "timber frame": parts.boards,
        "edge stakes": float(parts.stakes),
        "edge timbers": parts.timbers,
        "drain pipe": 0.0 if outlet is None else outlet.length / PIPE,
    }
    level = chosen.level + (floor.thickness if floor else 0.0)
    return Option(
        f"{edge.kind} gravel pad",
        chosen.level,
        level,
        {name: amount for name, amount in takes.items() if amount > 0.0},
        floor_heights(building, under, level),
        pad.findings,
        least=spec.gravel * pad.pieces.area * (prices.gravel or 0.0) * spec.density,
    )


def option_of_slab(slab: Slab, building: Outline | None, under: Pieces) -> Option:
    """Give the slab as an option, concrete bought the cheaper way; ``under``: the ground of the building."""
    concrete = slab.concrete
    bags = concrete.cheaper == "bags"
    takes = {
        "layout": 1.0,
        "trimming": slab.area,
        "digging": slab.dig,
        "gravel": slab.gravel,
        "earth fill": slab.earth,
        "concrete from bags" if bags else "concrete from a truck": concrete.needed if bags else concrete.mix,
        "vapor barrier": slab.film.area if slab.film else 0.0,
        "welded wire mesh": slab.mesh.area if slab.mesh else 0.0,
        "form boards": sum(form.height * form.length for form in slab.forms),
    }
    return Option(
        "slab",
        slab.level,
        slab.level,
        {name: amount for name, amount in takes.items() if amount > 0.0},
        floor_heights(building, under, slab.level),
        slab.findings,
        least=slab.least_cost,
    )


def steeper_tilt(under: Pieces, building: Outline, more: float) -> Tilt:
    """How to tilt the ground about the middle of the building so that it falls ``more`` [m] over the
    building's depth.

    It tilts the way it falls already; level ground tilts toward +x.
    """
    points = under.corners.reshape(-1, 3)
    weight = np.repeat(under.areas / 3.0, 3)
    middle = (weight @ points) / weight.sum()
    spread = points - middle
    normal = (spread[:, :2] * weight[:, None]).T @ spread[:, :2]
    rise = np.linalg.solve(normal, (spread[:, :2] * weight[:, None]).T @ spread[:, 2])
    steep = float(np.hypot(*rise))
    up = rise / steep if steep > 1e-9 else np.array([-1.0, 0.0])
    depth = float(np.ptp(building.rings[0] @ up))
    return Tilt(up * (more / depth), middle[:2] + under.origin)
