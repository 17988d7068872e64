"""Where the soil comes from that is heaped beside a pad, and what all that leads water past it costs.

What is filled takes more soil than it has room, since that is tamped: first what is dug for it, then what is
dug for the pad and would be hauled away, and what still lacks is bought.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from gradework.earthwork.materials import COVER_STONE

if TYPE_CHECKING:
    from gradework.earthwork.grading.led import Led


class Heaped(NamedTuple):
    """Soil that is heaped beside a pad [m³ in place]: of what is dug for it, of the pad's own dig, bought."""

    own: float = 0.0
    pad: float = 0.0
    bought: float = 0.0


class LedPrices(NamedTuple):
    """Money: per m³ in place for ``dig``, to ``haul`` it away and for ``earth`` brought; ``stone`` per kg,
    ``pipe`` per m, ``fabric`` per m²; ``compaction``: compacted over in place [-]; ``spare``: soil of the
    pad's or slab's own dig that is left over [m³ in place]."""

    dig: float
    haul: float
    earth: float
    stone: float
    pipe: float
    fabric: float
    compaction: float = 1.0
    spare: float = 0.0


def heaped(measures: Sequence[Led], compaction: float, spare: float) -> Heaped:
    """The soil that is heaped for all of these, ``spare`` [m³ in place] of the pad's own dig at hand: what is
    dug for one of them and not heaped there goes to another first.

    >>> from types import SimpleNamespace
    >>> heaped([SimpleNamespace(cut=1.0, fill=3.6)], 0.9, 2.0)
    Heaped(own=1.0, pad=2.0, bought=1.0)
    >>> heaped([SimpleNamespace(cut=5.0, fill=0.0), SimpleNamespace(cut=0.0, fill=2.7)], 0.9, 0.0)
    Heaped(own=3.0, pad=0.0, bought=0.0)
    """
    wanted = sum(max(one.fill, 0.0) for one in measures) / compaction
    own = min(wanted, sum(one.cut for one in measures))
    pad = min(wanted - own, spare)
    return Heaped(own, pad, wanted - own - pad)


def spare_after(measures: Sequence[Led], prices: LedPrices) -> float:
    """Soil left over for one more [m³ in place], of the pad's own dig and of what is dug for these."""
    used = heaped(measures, prices.compaction, prices.spare)
    return prices.spare - used.pad + sum(one.cut for one in measures) - used.own


def money_for(made: Led, prices: LedPrices) -> float:
    """What it costs to build: soil of the pad's dig that is heaped need not be hauled."""
    soil = heaped([made], prices.compaction, prices.spare)
    hauled = made.cut - soil.own - soil.pad
    earth = made.cut * prices.dig + hauled * prices.haul + soil.bought * prices.earth
    stone = made.stone * COVER_STONE.compacted.value * prices.stone
    return earth + stone + (made.pipe + made.solid) * prices.pipe + made.fabric * prices.fabric
