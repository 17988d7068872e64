"""The rules for the fall of the ground away from a wall: value, reach, clause, edition, how well checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from gradework.earthwork.conditions import STATUS_MEANS, Status


@dataclass(frozen=True, slots=True)
class DrainageRule:
    """Ground must fall at least ``fall`` [-] over the first ``reach`` [m] from each wall."""

    clause: str
    status: Status
    reach: float
    fall: float

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

RULES: Mapping[str, DrainageRule] = {
    "irc 2015": IRC_2015,
    "ibc": DrainageRule("IBC 1804.4 (2012 to 2021)", "memory", 3.048, 0.05),  # 1 in 20 for at least 10 ft
    # Australia, soil or gravel beside the building: 50 mm over the first metre
    "ncc 2019": DrainageRule("NCC 2019 Volume Two 3.1.3.3", "seen", 1.0, 0.05),
}
