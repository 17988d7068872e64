"""The rules for falls and slopes: value, clause, edition, and how well each was checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from gradework.earthwork.conditions import STATUS_MEANS, Status


@dataclass(frozen=True, slots=True)
class DrainageRule:
    """Ground must fall at least ``fall`` [-] over the first ``reach`` [m] from each wall.

    Walls are looked at every ``spacing`` [m] or closer.
    """

    clause: str
    status: Status
    reach: float
    fall: float
    spacing: float = 1.2192

    @property
    def least_fall(self) -> float:
        """The fall over the whole reach [m]."""
        return self.fall * self.reach

    @property
    def source(self) -> str:
        """Clause and edition; where the clause itself was not read, how well it was checked."""
        return self.clause if self.status == "seen" else f"{self.clause}; {STATUS_MEANS[self.status]}"

    def changed(self, *, reach: float | None = None, fall: float | None = None) -> DrainageRule:
        """Give the rule with the user's own reach [m] or least slope [-]; unchanged when both are None."""
        if reach is None and fall is None:
            return self
        return replace(
            self,
            clause=f"own figures in place of {self.clause}",
            status="judgement",
            reach=self.reach if reach is None else reach,
            fall=self.fall if fall is None else fall,
        )


IRC_2015 = DrainageRule("IRC 2015 R401.3", "seen", 3.048, 0.05)
"""6 in within the first 10 ft."""

IBC_2012 = DrainageRule("IBC 1804.4 (2012 to 2021)", "memory", 3.048, 0.05)
"""One vertical in twenty horizontal for at least 10 ft."""

NCC_2019 = DrainageRule("NCC 2019 Volume Two 3.1.3.3", "seen", 1.0, 0.05)
"""Australia, soil or gravel beside the building: 50 mm over the first metre."""

RULES: Mapping[str, DrainageRule] = {"irc 2015": IRC_2015, "ibc": IBC_2012, "ncc 2019": NCC_2019}


@dataclass(frozen=True, slots=True)
class SlopeLimits:
    """Slopes [-] below which turf holds water, and above which it is steep, or too steep to stand.

    Flat and 3:1 are those of GSA P100 (2003) 2.5; 2:1 those of IBC Appendix J J106.1 and J107.6.
    """

    flat: float = 0.01
    steep: float = 1.0 / 3.0
    very_steep: float = 0.5


FLAT_SOURCE = "GSA P100 (2003) 2.5 Grading, turf at least 1 %; read in the document"
STEEP_SOURCE = "GSA P100 (2003) 2.5 Grading, turf no steeper than 3:1; read in the document"
VERY_STEEP_SOURCE = (
    "IBC Appendix J, J106.1 (cuts) and J107.6 (fills); quoted by others, in force only where adopted"
)
