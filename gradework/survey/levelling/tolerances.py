"""How good each way of levelling is, and how far a line of levels may miss its closing mark.

A miss (misclosure) is always computed minus known [m]. Nothing here decides whether it is shared out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping


class Instrument(NamedTuple):
    """``reading_sd``: standard error of one reading [m]; ``reach``: the longest sight or span it is good for
    [m]."""

    reading_sd: float
    reach: float


# Where a source gives plus or minus, that is taken as two standard errors.
INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType(
    {
        "automatic level": Instrument(0.0016, 60.0),  # ±1/8 in or better at 100 ft; memory
        "builder's level": Instrument(0.0030, 30.0),  # ±1/4 in at 75-100 ft; memory
        "rotating laser": Instrument(0.0016, 60.0),  # ±1/16 to 1/8 in at 100 ft; memory
        # FAO R7021E ch. 6: fails past 10-15 m; error from practice, no source
        "hand level": Instrument(0.0150, 12.0),
        # FAO series: about 1 cm over hops of 10-15 m; table not reached
        "water level": Instrument(0.0050, 15.0),
        # FAO U3160E app. A.1: string of 8 m exactly, the level at midspan; error 6-13 mm per 8-9 m, memory
        "line level": Instrument(0.0050, 8.0),
        "straightedge": Instrument(0.0015, 3.0),  # 1/16 in; common practice, no source
    }
)
"""What one reading with each common way of levelling is worth, and how far each way reaches, by name."""


@dataclass(frozen=True, slots=True)
class Allowance:
    """What one kind of work allows: [m] per root set-up and per root kilometre; None: no rule.

    ``per_root_km`` is for a section between two marks, ``loop_per_root_km`` for a loop back to the same mark
    where that has a rule of its own.
    """

    kind: str
    per_setup: float | None
    per_root_km: float | None
    loop_per_root_km: float | None = None

    def limit(self, *, setups: int, distance: float | None = None, loop: bool = False) -> float | None:
        """Greatest misclosure allowed [m]: by distance [m] where it is known and has a rule, else by set-ups.

        ``loop``: the line came back to the mark it began on. None when this kind of work has no rule for what
        is known. Mahun, Elevations ch. E: E·√n.

        >>> round(KINDS_OF_WORK["third order"].limit(setups=9, distance=4000.0), 6)
        0.024
        """
        by_length = self.loop_per_root_km if loop and self.loop_per_root_km is not None else self.per_root_km
        if distance is not None and distance > 0 and by_length is not None:
            return by_length * math.sqrt(distance / 1000)
        if self.per_setup is not None:
            return self.per_setup * math.sqrt(setups)
        return None


KINDS_OF_WORK: Mapping[str, Allowance] = MappingProxyType(
    {
        a.kind: a
        for a in (
            # close a yard to 0.02 ft a set-up; common practice, no source
            Allowance("yard", 0.02 * 0.3048, None),
            # 24 mm √km = 0.1 ft √mile, EM 1110-1-1005 style fourth order, memory; the same over a set-up of
            # 100 m is 0.025 ft
            Allowance("construction", 0.025 * 0.3048, 0.024),
            # FGCC 1984, Standards and Specifications for Geodetic Control Networks, sec. 3.5; memory
            Allowance("third order", None, 0.012),
            Allowance("second order II", None, 0.008),
            Allowance("second order I", None, 0.006),
            Allowance("first order II", None, 0.004, 0.005),
            Allowance("first order I", None, 0.003, 0.004),
        )
    }
)
"""Kinds of work by name; ``yard`` is the one used unless another is asked for."""


NO_MISS = 1e-9
"""A mark met within a nanometre and rounding was met exactly, and needs no allowance [m]."""


def is_within(misclosure: float, allowable: float | None) -> bool | None:
    """Whether a miss [m] is allowed (to a hundredth of a millimetre); None for a miss without a rule.

    >>> is_within(0.004, 0.006), is_within(-0.007, 0.006), is_within(0.004, None), is_within(0.0, None)
    (True, False, None, True)
    """
    if allowable is None:
        return True if abs(misclosure) <= NO_MISS else None
    return abs(misclosure) <= allowable + 1e-5
