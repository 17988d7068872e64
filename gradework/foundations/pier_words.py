"""What else a pier could consist of, said as a builder would say it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from gradework.foundations.units_on_hand import BlockUnit

if TYPE_CHECKING:
    from gradework.units import Display

_NUMBERS = (
    "no",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
THINGS = ("block", "brick", "pad", "paver", "slab", "unit", "stone")
"""What a unit can be at the end of its name; these words take an s."""
_SAME = 0.0016  # [m] less than a sixteenth of an inch is no difference in a bed or a hole


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another stack under the same top: ``words``, and how much more bed, depth [m], units and money."""

    words: str
    courses: tuple[int, ...]
    bed: float
    deeper: float
    pieces: int
    money: float


def count_of(number: int, name: str) -> str:
    """Say how many of a unit.

    >>> count_of(2, "2 in solid block"), count_of(1, "brick"), count_of(20, "tile cut to fit")
    ('two 2 in solid blocks', 'one brick', '20 of tile cut to fit')
    """
    word = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
    if number == 1:
        return f"{word} {name}"
    return f"{word} {name}s" if name.endswith(THINGS) else f"{word} of {name}"


def difference_in_words(
    units: Sequence[BlockUnit],
    laid: Sequence[int],
    other: Sequence[int],
    bed: float,
    deeper: float,
    show: Display,
    hole: tuple[float, float] | None = None,
) -> str:
    """Say what changes from ``laid`` courses to ``other``; ``bed``, ``deeper``: how much thicker, deeper [m].

    ``hole`` is the plan [m] of another hole, where one is needed.

    >>> from gradework.foundations.units_on_hand import UNITS_ON_HAND
    >>> from gradework.units import FEET
    >>> difference_in_words(UNITS_ON_HAND["US"], [1, 1, 2], [1, 2, 0], -0.009525, 0.0, FEET)
    'one 4 in solid block instead of two 2 in solid blocks: bed 3/8 in thinner'
    """
    changes = [b - a for a, b in zip(laid, other, strict=True)]
    more = [count_of(c, unit.name) for c, unit in zip(changes, units, strict=True) if c > 0]
    less = [count_of(-c, unit.name) for c, unit in zip(changes, units, strict=True) if c < 0]
    if more and less:
        swap = f"{' and '.join(more)} instead of {' and '.join(less)}"
    elif more:
        swap = f"{' and '.join(more)} more"
    else:
        swap = f"without {' and '.join(less)}"
    effects = []
    if abs(bed) > _SAME:
        effects.append(f"bed {show.depth(abs(bed))} {'thicker' if bed > 0 else 'thinner'}")
    if abs(deeper) > _SAME:
        effects.append(f"hole {show.depth(abs(deeper))} {'deeper' if deeper > 0 else 'less deep'}")
    if hole is not None:
        effects.append(f"hole {show.depth(hole[0])} by {show.depth(hole[1])}")
    return f"{swap}: {', '.join(effects) or 'nothing else changes'}"
