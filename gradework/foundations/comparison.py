"""Pad, piers and slab side by side: what each takes, what blocks it, and what would change the winner."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.errors import Finding

if TYPE_CHECKING:
    from gradework.units import Display

CONCRETE_DENSITY = 2400.0
"""Wet ready-mix concrete [kg/m³] (common practice, no source)."""

LABOUR: Mapping[str, tuple[float, float]] = {
    "digging": (1.5, 3.0),
    "gravel": (1.0, 2.0),
    "earth fill": (1.0, 2.0),
    "units": (0.06, 0.15),
    "concrete from bags": (4.0, 7.0),
    "concrete from a truck": (1.5, 3.0),
    "form boards": (1.0, 2.0),
    "edge boards": (1.0, 2.0),
    "film": (0.02, 0.05),
    "mesh": (0.03, 0.08),
}
"""Hours of one person by hand, least and most: per m³ of digging in place, of gravel or earth compacted
and of concrete, per unit laid, per m² of board face, film and mesh. Common practice, no source; the range is
the honest part."""

MOST_FACTOR = 10.0
"""A price that must rise (or fall) more than this many times to change the winner is not told as a number."""


@dataclass(frozen=True, slots=True)
class Amount:
    """What an option takes of one thing: ``amount`` in m³, m² or pieces, ``price`` each, ``extra`` money."""

    amount: float
    price: float
    extra: float = 0.0

    @property
    def money(self) -> float:
        """Give the money for it."""
        return self.amount * self.price + self.extra


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
    what has to be carried.
    """

    name: str
    level: float | None
    floor: float | None
    takes: Mapping[str, Amount]
    buy: tuple[str, ...]
    mass: float
    floor_heights: tuple[FloorHeight, ...]
    findings: tuple[Finding, ...]

    @property
    def planned(self) -> bool:
        """True when there is a plan; without one there are no figures, only the finding that says why."""
        return self.level is not None

    @property
    def money(self) -> float:
        """Give the money for everything bought and dug."""
        return math.fsum(amount.money for amount in self.takes.values())

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
        return tuple(finding for finding in self.findings if finding.severity == "stop")


@dataclass(frozen=True, slots=True)
class Switch:
    """One change that makes another option the cheapest: what changes, by how much, to which winner."""

    what: str
    factor: float | None
    winner: str
    words: str


@dataclass(frozen=True)
class Comparison:
    """Options cheapest first, then those that are blocked, then those without a plan.

    ``winner`` is None when none is left."""

    options: tuple[Option, ...]
    winner: Option | None
    switches: tuple[Switch, ...]


def compare(
    options: Sequence[Option],
    show: Display,
    steeper: Callable[[float], Sequence[Option]] | None = None,
) -> Comparison:
    """Rank the options by money and say what would change the winner.

    ``steeper`` plans all options anew on ground that falls so much more [m] under the building; without it
    only prices are tried. The plans stay as they are while prices change. One option, or none, has no switch.
    """
    ranked = tuple(sorted(options, key=lambda o: (bool(o.blockers), not o.planned, o.money, o.name)))
    winner = ranked[0] if ranked and not ranked[0].blockers else None
    if winner is None:
        return Comparison(ranked, None, ())
    rivals = [option for option in ranked if option is not winner and not option.blockers]
    switches = list(price_switches(winner, rivals))
    if steeper is not None:
        found = steeper_switch(winner, steeper, show)
        switches += [found] if found else []
    return Comparison(ranked, winner, tuple(switches))


def price_switches(winner: Option, rivals: Sequence[Option]) -> tuple[Switch, ...]:
    """Give, for each thing bought, the smallest change of its price that lets a rival win.

    With the price of one thing multiplied by r, each option costs fixed + r x part; the first crossing above
    or below r = 1 counts. Things no price of which changes the winner share one sentence.
    """
    names = dict.fromkeys(name for option in (winner, *rivals) for name in option.takes)
    found = {name: _price_switch(name, winner, rivals) for name in names if rivals}
    idle = [name for name, switch in found.items() if switch is None]
    switches = [switch for switch in found.values() if switch is not None]
    if idle:
        words = f"No likely price of {_or(idle)} changes the winner."
        switches.append(Switch(_or(idle), None, winner.name, words))
    return tuple(switches)


def _or(names: Sequence[str]) -> str:
    """Join names with commas and "or".

    >>> _or(["a", "b", "c"]), _or(["a"])
    ('a, b or c', 'a')
    """
    return " or ".join([*([", ".join(names[:-1])] if len(names) > 1 else []), names[-1]])


def _price_switch(name: str, winner: Option, rivals: Sequence[Option]) -> Switch | None:
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
    return Switch(name, factor, rival_name, f"The {rival_name} would win if {name} cost {_times(factor)}.")


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


def steeper_switch(
    winner: Option, steeper: Callable[[float], Sequence[Option]], show: Display
) -> Switch | None:
    """Find the least further fall of the ground [m], to an inch, with another winner or none.

    Each fall means planning everything anew, so the steps double until the winner changes, and the last of
    them is halved; a winner that changes and changes back between two steps looked at is not seen.
    """

    def changed(step: int) -> Comparison | None:
        ranked = compare(steeper(step * STEEPER_STEP), show)
        same = ranked.winner is not None and ranked.winner.name == winner.name
        return None if same else ranked

    low, step = 0, 1
    found = changed(step)
    while found is None and step < STEEPER_MOST:
        low, step = step, min(2 * step, STEEPER_MOST)
        found = changed(step)
    if found is None:
        return None
    while step - low > 1:
        middle = (low + step) // 2
        nearer = changed(middle)
        low, step, found = (middle, step, found) if nearer is None else (low, middle, nearer)
    return _fall_switch(step * STEEPER_STEP, found.winner, show)


def _fall_switch(more: float, winner: Option | None, show: Display) -> Switch:
    fall = f"if the ground fell {show.depth(more)} more under the building"
    if winner is None:
        words = f"I{fall[1:]}, none would be allowed."
        return Switch("fall of the ground", more, "none", words)
    return Switch("fall of the ground", more, winner.name, f"The {winner.name} would win {fall}.")
