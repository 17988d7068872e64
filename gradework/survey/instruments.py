"""What one reading with each common way of levelling is worth, and how far each way reaches."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Instrument:
    """``reading_sd``: standard error of one reading [m]; ``reach``: the longest sight or span it is good for
    [m].

    Where a source gives plus or minus, that is taken as two standard errors.
    """

    name: str
    reading_sd: float
    reach: float
    source: str


INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType(
    {
        i.name: i
        for i in (
            Instrument("automatic level", 0.0016, 60.0, "±1/8 in or better at 100 ft; memory"),
            Instrument("builder's level", 0.0030, 30.0, "±1/4 in at 75-100 ft; memory"),
            Instrument("rotating laser", 0.0016, 60.0, "±1/16 to 1/8 in at 100 ft; memory"),
            Instrument(
                "hand level",
                0.0150,
                12.0,
                "FAO R7021E ch. 6: fails past 10-15 m; error from practice, no source",
            ),
            Instrument(
                "water level", 0.0050, 15.0, "FAO series: about 1 cm over hops of 10-15 m; table not reached"
            ),
            Instrument(
                "line level",
                0.0050,
                8.0,
                "FAO U3160E app. A.1: string of 8 m exactly, the level at mid-length; error 6-13 mm per 8-9 "
                "m, memory",
            ),
            Instrument(
                "straightedge", 0.0015, 3.0, "1/16 in over a straightedge; common practice, no source"
            ),
        )
    }
)
"""Ways of levelling by name."""
