"""Pad, piers and slab as options of a comparison, and the same ground made steeper."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from typing import TYPE_CHECKING

import numpy as np

from gradework.earthwork.clip import Pieces
from gradework.earthwork.conditions import CompactedVolume
from gradework.earthwork.footprint import sides
from gradework.earthwork.materials import COVER_STONE, DEFAULT_GRAVEL, Gravel
from gradework.earthwork.outline import Outline
from gradework.errors import Dialect, Finding
from gradework.errors import words as trade_words
from gradework.foundations.pad.quantities import PIPE, BoxedEdge, edge_money
from gradework.foundations.pad.spec import PadPrices
from gradework.foundations.piers.plan import Piers, count_of
from gradework.foundations.piers.spec import FloorBuildUp
from gradework.foundations.prices import LABOUR, Amount
from gradework.foundations.slab.design import Slab
from gradework.ground.surface import Tilt
from gradework.units.display import counted

if TYPE_CHECKING:
    from gradework.foundations.pad.design import Pad
    from gradework.units.display import Display


CONCRETE_DENSITY = 2400.0
"""Wet ready-mix concrete [kg/m³] (common practice, no source)."""

_BY_GROUND = ("digging", "gravel", "earth fill")
"""What flatter ground can leave out of a slab; concrete and sheets are the same on any."""

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

    ``takes`` holds amounts by the names of ``LABOUR``; ``buy`` says in words what to order; ``mass`` [kg] is
    what has to be carried; ``least`` is money that it costs on any ground, ``beside`` the part of the digging
    [m³] for what is dug beside it, as a swale. ``failing`` names the checks by which it cannot be built.
    """

    name: str
    level: float | None
    floor: float | None
    takes: Mapping[str, Amount]
    buy: tuple[str, ...]
    mass: float
    floor_heights: tuple[FloorHeight, ...]
    findings: tuple[Finding, ...]
    least: float = 0.0
    beside: float = 0.0
    failing: tuple[str, ...] = ()

    @property
    def planned(self) -> bool:
        """True when there is a plan; without one there are no figures."""
        return self.level is not None

    @property
    def money(self) -> float:
        """Give the money for everything bought and dug."""
        return math.fsum(amount.money for amount in self.takes.values())

    def with_beside(
        self, dug: float, cost: float, *, stone: float = 0.0, pipe: float = 0.0, fill: float = 0.0
    ) -> Option:
        """Give the option with what is built beside it: what is ``dug`` [m³ in place], clean ``stone`` [kg],
        ``pipe`` [m], soil heaped as ``fill`` [m³], at a ``cost`` of their own."""
        own, takes, nothing = self.takes["digging"], {**self.takes}, Amount(0.0, 0.0)
        takes["digging"] = Amount(own.amount + dug, own.price, own.extra + cost - dug * own.price)
        takes |= {"earth fill": takes.get("earth fill", nothing).more(fill)} if fill else {}
        if stone or pipe:
            takes["drain stone"] = Amount(stone / COVER_STONE.compacted.value, 0.0)
            takes["drain pipe"] = takes.get("drain pipe", nothing).more(pipe / PIPE)
        return replace(self, takes=takes, beside=dug, mass=self.mass + stone)

    @property
    def digging(self) -> float:
        """Give the digging in place [m³]."""
        return self.takes["digging"].amount if "digging" in self.takes else 0.0

    @property
    def hours(self) -> tuple[float, float]:
        """Give the least and most hours of work for one person."""
        pairs = [(LABOUR[name], amount.amount) for name, amount in self.takes.items() if name in LABOUR]
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


Ways = Mapping[str, Callable[[], Option | None]]
Steeper = Callable[[float], Ways]
"""For a further fall of the ground [m] under the building: how to plan each option there, by its name; None
where it cannot be planned."""


@dataclass(frozen=True)
class Comparison:
    """Options cheapest first, then those that cannot be built as drawn, then those without a plan.

    ``winner`` is None when none is left. What would change the winner is worked out when it is asked for:
    ``steeper`` plans options anew on steeper ground, which takes as long as everything else.
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
    names = dict.fromkeys(name for option in (winner, *rivals) for name in option.takes)
    said = {name: _in_dialect(name, dialect) for name in names}
    found = {name: _price_switch(name, said[name], winner, rivals) for name in names if rivals}
    idle = _or([said[name] for name, switch in found.items() if switch is None])
    switches = [switch for switch in found.values() if switch is not None]
    if idle:
        switches.append(Switch(idle, None, winner.name, f"No likely price of {idle} changes the winner."))
    return tuple(switches)


def _in_dialect(name: str, dialect: Dialect) -> str:
    """Say a thing of ``LABOUR`` in the words of a metric job where those differ."""
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
    found = option.takes.get(name)
    return found.amount * found.price if found else 0.0


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
    winner, least = options[0].name, {option.name: option.least for option in options}

    @cache
    def ways_at(step: int) -> Ways:
        return {name: cache(way) for name, way in steeper(step * STEEPER_STEP).items()}

    def changed(step: int) -> bool:
        own = ways_at(step)[winner]()
        return own is None or not own.able or _cheapest(ways_at(step), least, winner) is not own

    low, step = 0, 1
    while not changed(step):
        if step == STEEPER_MOST:
            return None
        low, step = step, min(2 * step, STEEPER_MOST)
    while step - low > 1:
        middle = (low + step) // 2
        low, step = (low, middle) if changed(middle) else (middle, step)
    return _fall_switch(step * STEEPER_STEP, _cheapest(ways_at(step), least, winner), show)


def _cheapest(ways: Ways, least: Mapping[str, float], first: str) -> Option | None:
    """The winner among ``ways``, planned from ``first`` and the cheapest at the least: the others only where
    they may still win."""
    best: Option | None = None
    for name in sorted(ways, key=lambda name: (name != first, least[name])):
        option = ways[name]() if best is None or least[name] <= best.money else None
        if option is not None and option.able:
            best = option if best is None else min(best, option, key=lambda o: (o.money, o.name))
    return best


def _fall_switch(more: float, winner: Option | None, show: Display) -> Switch:
    name = "none" if winner is None else winner.name
    then = "none would be allowed" if winner is None else f"the {name} would win"
    words = f"If the ground fell {show.depth(more)} more under the building, {then}."
    return Switch("fall of the ground", more, name, words)


def floor_heights(building: Outline | None, under: Pieces, floor: float) -> tuple[FloorHeight, ...]:
    """Give how high a floor [m] stands above the ground along each side of the building; none without it."""
    if building is None:
        return ()
    return tuple(
        FloorHeight(f"{s.start} to {s.end}", floor - float(s.ground.max()), floor - float(s.ground.min()))
        for s in sides(building, under)
    )


def option_of_piers(
    piers: Piers, building: Outline | None, show: Display, gravel: Gravel = DEFAULT_GRAVEL
) -> Option:
    """Give the piers as an option; without a common top it holds only the finding that says why."""
    if piers.top is None or piers.floor_level is None:
        return Option("block piers", None, None, {}, (), 0.0, (), piers.findings)
    prices = piers.prices
    bed = sum(pier.bed_volume for pier in piers.piers)
    kinds = {unit.name: unit for unit in piers.spec.on_hand}
    counts = piers.units_by_kind()
    units_money = sum(kinds[name].price * count for name, count in counts.items())
    bed_mass = bed * gravel.compacted.value
    cover = piers.cover
    takes = {
        "digging": Amount(piers.dug, prices.digging),
        "gravel": Amount(bed, prices.gravel),
        "blocks": Amount(piers.units_total, units_money / max(1, piers.units_total)),
        "earth fill": Amount(piers.back, 0.0),  # tamped in beside the blocks
    }
    units = (count_of(count, name) for name, count in counts.items())
    buy = (*units, f"{show.mass(bed_mass)} of {gravel.name}")
    mass = sum(pier.mass for pier in piers.piers) + bed_mass
    if cover is not None:
        area, stone = cover.outline.area, cover.stone * COVER_STONE.compacted.value
        laid = prices.stone * cover.stone + prices.fabric * area
        takes["ground cover"] = Amount(area, laid / area)
        buy += (f"{show.mass(stone)} of {COVER_STONE.name} and {show.area(area)} of fabric under the floor",)
        mass += stone
    if piers.anchors is not None:
        takes["ground anchors"] = Amount(piers.anchors.count, prices.anchor)
        buy += (counted(piers.anchors.count, "ground anchors"),)
    return Option(
        "block piers",
        piers.top,
        piers.floor_level,
        takes,
        buy,
        mass,
        floor_heights(building, piers.building, piers.floor_level),
        piers.findings,
        least=len(piers.piers) * min(unit.price for unit in piers.spec.units),
    )


def option_of_pad(
    pad: Pad,
    prices: PadPrices,
    building: Outline | None,
    under: Pieces,
    show: Display,
    floor: FloorBuildUp | None = None,
) -> Option:
    """Give the pad as an option; the building stands on it with the floor build-up ``floor``, if any.

    A price not known counts as nothing. ``under`` is the ground of the building.
    """
    chosen, spec, edge = pad.chosen, pad.spec, pad.edge
    haul = (prices.haul or 0.0) * spec.swell * chosen.hauled
    stone = chosen.gravel + (edge.built.parts.brought if isinstance(edge, BoxedEdge) else 0.0)
    takes = {
        "digging": Amount(chosen.dug, prices.dig or 0.0, haul),
        "gravel": Amount(stone, (prices.gravel or 0.0) * spec.density),
    }
    if chosen.refilled > 0.0:  # tamped in beside the pad, by hand
        takes["earth fill"] = Amount(chosen.refilled * spec.compaction, 0.0)
    buy = [f"{show.mass(stone * spec.density)} of {spec.material.name}"]
    if isinstance(edge, BoxedEdge):
        for name, (amount, money) in edge_money(edge.built.parts, prices).items():
            if amount > 0.0:
                takes[name] = Amount(amount, money / amount)
        faces = ("timber frame", "edge timbers")
        buy += [f"{show.area(takes[name].amount)} of {name}" for name in faces if name in takes]
        buy += [counted(row.count, f"stakes of {show.length(row.length)}") for row in edge.built.stakes]
    if (basin := pad.basin) is not None and basin.outlet is not None:
        takes["drain pipe"] = Amount(basin.outlet.length / PIPE, prices.edge.pipe)
        buy.append(f"{show.distance(basin.outlet.length)} of drain pipe")
    level = chosen.level + (floor.thickness if floor else 0.0)
    return Option(
        f"{edge.kind} gravel pad",
        chosen.level,
        level,
        takes,
        tuple(buy),
        stone * spec.density,
        floor_heights(building, under, level),
        pad.findings,
        least=spec.gravel * pad.pieces.area * takes["gravel"].price,
    )


def option_of_slab(
    slab: Slab, building: Outline | None, under: Pieces, show: Display, gravel: Gravel = DEFAULT_GRAVEL
) -> Option:
    """Give the slab as an option, concrete bought the cheaper way; ``under``: the ground of the building."""
    prices, concrete = slab.prices, slab.concrete
    gravel_mass = slab.gravel * gravel.compacted.value
    soil = slab.spec.soil
    earth_mass = soil.bank.mass(soil.to_bank(CompactedVolume(slab.earth_brought)))
    saved = -slab.reused * prices.hauling  # what goes back as earth fill is not hauled away
    takes = {
        "digging": Amount(slab.dig, prices.digging, saved),
        "gravel": Amount(slab.gravel, prices.gravel),
    }
    if slab.earth > 0.0:
        takes["earth fill"] = Amount(slab.earth, slab.earth_loose * prices.earth / slab.earth)
    if concrete.cheaper == "bags":
        takes["concrete from bags"] = Amount(concrete.needed, concrete.bags_cost / concrete.needed)
        buy = [f"{concrete.bags} bags of concrete mix, {show.mass(prices.concrete.bag)} each"]
        mass = concrete.bags_mass
    else:
        charge = prices.concrete.short_charge if concrete.short else 0.0
        takes["concrete from a truck"] = Amount(concrete.mix, prices.concrete.mix_price, charge)
        buy = [f"{show.volume(concrete.mix)} of ready-mix concrete"]
        mass = concrete.mix * CONCRETE_DENSITY
    if slab.film is not None:
        takes["vapor barrier"] = Amount(slab.film.area, prices.film)
        barrier = trade_words(show.dialect)["vapor_barrier"]
        buy.append(f"{counted(slab.film.pieces, 'rolls')} of {barrier}, {slab.film.kind.name}")
    if slab.mesh is not None:
        takes["welded wire mesh"] = Amount(slab.mesh.area, prices.mesh)
        buy.append(f"{counted(slab.mesh.pieces, 'sheets')} of {slab.mesh.kind.name}")
    least = math.fsum(amount.money for name, amount in takes.items() if name not in _BY_GROUND)
    face = sum(form.height * form.length for form in slab.forms)
    takes["form boards"] = Amount(face, prices.forms)
    if slab.earth_brought > 0.0:
        buy.append(f"{show.volume(slab.earth_loose)} of earth, loose")
    buy += [f"{show.mass(gravel_mass)} of {gravel.name}", f"{show.area(face)} of form boards"]
    return Option(
        "slab",
        slab.level,
        slab.level,
        takes,
        tuple(buy),
        mass + gravel_mass + earth_mass,
        floor_heights(building, under, slab.level),
        slab.findings,
        least=least,
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
