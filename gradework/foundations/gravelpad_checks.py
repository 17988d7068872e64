"""What a pad's specification must be before anything is computed; all faults at once."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.earthwork.batter import refuse_hollow
from gradework.earthwork.far_level import refuse_far_level
from gradework.errors import Faults

if TYPE_CHECKING:
    from gradework.earthwork.clip import Pieces
    from gradework.earthwork.outline import Outline
    from gradework.foundations.gravelpad_spec import PadPrices, PadSpec
    from gradework.units import Display

_MAY_BE_ZERO = ("margin", "strip", "freeboard")
_ABOVE_ZERO = ("gravel", "batter", "max_cut", "max_height", "most_gravel", "most_native", "board", "lift")


def check_spec(spec: PadSpec, prices: PadPrices, building: Outline, show: Display) -> None:
    """Raise InputError where the specification cannot be built or the rule lacks what it needs."""
    faults = Faults()
    for name in (*_MAY_BE_ZERO, *_ABOVE_ZERO):
        value = getattr(spec, name)
        least = "zero or more" if name in _MAY_BE_ZERO else "above zero"
        if not math.isfinite(value) or value < 0.0 or (value == 0.0 and name in _ABOVE_ZERO):
            shown = show.length(value) if math.isfinite(value) and name != "batter" else f"{value}"
            faults.add(
                "pad-size",
                f"the pad's {name.replace('_', ' ')} is {shown}",
                least,
                f"give a {name.replace('_', ' ')} {least}",
            )
    if spec.rule == "given" and spec.level is None:
        faults.add(
            "pad-level-missing",
            'the rule is "given", but no level is given',
            "an elevation",
            'write the elevation itself as the level, or a rule such as "least fill"',
        )
    if spec.level is not None and not math.isfinite(spec.level):
        faults.add(
            "pad-level-missing", f"the level is {spec.level}", "an elevation", "write it as a plain number"
        )
    missing = prices.missing(spec.edge)
    if spec.rule == "least cost" and missing:
        faults.add(
            "pad-prices-missing",
            f"no price for {', '.join(missing)}",
            "a price for each part of the cost (0 for what costs you nothing)",
            'add the missing prices, or choose the rule "least fill"',
        )
    faults.raise_if_any()
    if spec.edge == "battered":
        refuse_hollow(building)


def check_level(spec: PadSpec, pieces: Pieces, show: Display) -> None:
    """Raise InputError ``level-far-from-ground`` for a given level that cannot belong to this ground."""
    if spec.level is not None:
        refuse_far_level(pieces, spec.level, show)
