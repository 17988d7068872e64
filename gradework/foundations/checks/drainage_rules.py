"""The rules for the fall of the ground away from a wall: value, reach, clause, edition, how well checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from gradework.earthwork.conditions import STATUS_MEANS, Status
from gradework.foundations.checks.wall_strips import End

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class DrainageRule:
    """Ground must fall at least ``fall`` [-] over the first ``reach`` [m] from each wall.

    ``to_drain`` [-]: the fall to a swale or drain that takes the water off nearer by, with the clause that
    gives it where the rule's own has no figure; ``paved`` [-]: that of ground that sheds all its rain.
    ``taken``: why this one is in force, in words; ``us``: whether rules of the US bind where it is built.
    """

    clause: str
    status: Status
    reach: float
    fall: float
    to_drain: float = 0.05
    drain_clause: str = ""
    paved: float | None = None
    taken: str = ""
    us: bool = True

    @property
    def source(self) -> str:
        """Clause and edition; where the clause itself was not read, how well it was checked."""
        return self.clause if self.status == "seen" else f"{self.clause}; {STATUS_MEANS[self.status]}"

    def needed(self, end: End, far: Floats) -> Floats:
        """The least fall [m] over a strip that ends at ``far`` (n,) [m] from the wall, and why it ends.

        Before a wall, a fence or a lot line all of the fall is asked for on the way there: where it cannot be
        had the clause wants a swale or drain.
        """
        if end == "barrier":
            return np.full(len(far), self.fall * self.reach)
        return (self.to_drain if end in ("invert", "corner") else self.fall) * far

    def source_at(self, end: End) -> str:
        """The source of the least fall over a strip that ends so."""
        extra = f"; fall to a swale: {self.drain_clause}" if end == "invert" and self.drain_clause else ""
        return self.source + extra

    def changed(
        self, *, reach: float | None = None, fall: float | None = None, paved: bool = False
    ) -> DrainageRule:
        """Give the rule with the user's own reach [m] or least slope [-], or for paved ground; unchanged when
        nothing is given."""
        if paved and fall is None and self.paved is not None:
            slope, clause = self.paved, f"{self.clause}, paved ground"
            return replace(self, clause=clause, fall=slope, to_drain=slope).changed(reach=reach)
        if reach is None and fall is None:
            return self
        return replace(
            self,
            clause=f"own figures in place of {self.clause}",
            status="judgement",
            reach=self.reach if reach is None else reach,
            fall=self.fall if fall is None else fall,
            to_drain=self.to_drain if fall is None else fall,
            drain_clause=self.drain_clause if fall is None else "",
        )


TEN_FEET = 3.048
_IRC_2006 = "IRC 2006 R401.3"


def _ibc(clause: str, status: Status) -> DrainageRule:
    """1 in 20 for at least 10 ft, 5 % to a diversion where that is blocked, 2 % where paved."""
    return DrainageRule(clause, status, TEN_FEET, 0.05, paved=0.02)


IRC_2015 = DrainageRule("IRC 2015 R401.3", "seen", TEN_FEET, 0.05, drain_clause=_IRC_2006, paved=0.02)
"""6 in within the first 10 ft; its exception for lot lines, walls and slopes has no figure for the swale."""

RULES: Mapping[str, DrainageRule] = {
    "irc 2015": IRC_2015,
    "irc 2006": DrainageRule(_IRC_2006, "quoted", TEN_FEET, 0.05, paved=0.02),
    "ibc": _ibc("IBC 1804.4 (2015 to 2021)", "memory"),
    "ibc 2006": _ibc("IBC 2006 1803.3", "memory"),
    "ibc 2009": _ibc("IBC 2009 1804.3", "memory"),
    "ibc 2012": _ibc("IBC 2012 1804.3", "quoted"),
    "ibc 2015": _ibc("IBC 2015 1804.4", "memory"),
    "ibc 2018": _ibc("IBC 2018 1804.4", "quoted"),
    # manufactured homes: 1/2 in in each foot; its other way, "drains, swales or grading", has no figure
    "hud": DrainageRule("24 CFR 3285.203(c) (2015)", "seen", TEN_FEET, 0.5 / 12, 0.5 / 12, "", None),
    # Australia, soil or gravel beside the building: 50 mm over the first metre
    "ncc 2019": DrainageRule("NCC 2019 Volume Two 3.1.3.3", "seen", 1.0, 0.05),
}


COUNTRIES: Mapping[str, str] = {
    "US": "irc 2015",
    "Canada": "",
    "UK": "",
    "Ireland": "",
    "Australia": "ncc 2019",
    "New Zealand": "",
    "other": "",
}
"""The rule of each country; "" where none is known here that gives a figure (Canada: none, memory)."""


def rule_in_force(rule: str | None, country: str | None, *, feet: bool) -> DrainageRule:
    """Give the rule that is asked for by name, else that of the country, else the one usual for the units of
    the job: outside the US the figures of the IRC are taken as a figure to go by, and are said to be one.

    >>> rule_in_force(None, "Australia", feet=False).clause, rule_in_force(None, None, feet=True).taken
    ('NCC 2019 Volume Two 3.1.3.3', 'taken for a job in feet')
    """
    us = feet if country is None else country == "US"
    if rule is not None:
        return replace(RULES[rule], us=us, taken="your [drainage] rule")
    taken = (
        f"taken for a job in {'feet' if feet else 'metres'}" if country is None else f"country = {country}"
    )
    return replace(RULES[COUNTRIES.get(country or "") or "irc 2015"], us=us, taken=taken)
