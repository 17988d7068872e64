"""The cautions that go with every plan, in plain words, and those that this plan calls for."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "This plan is for small, light, detached buildings. It is arithmetic on your survey, not engineering.",
    "Before you dig, have buried services (pipes, cables) located; the call is free in many places. Find "
    "private lines yourself, and dig by hand near a mark.",
    "Local code, permit, setback and frost rules come first. Where they or the ground raise a doubt, a "
    "licensed engineer or surveyor decides. Figures from codes name clause and edition: check what is in "
    "force.",
    "Retaining edges, steep or filled ground, clay that swells, springs, and digging deeper than your "
    "knee need care or a professional. Keep dug soil at least 2 ft (0.6 m) back from the edge of the dig.",
    "Lift with care: one person should not lift over 51 lb (23 kg) alone. Cut stone and concrete wet, and "
    "wear a dust mask.",
)
"""Shown with each plan. Spoil: 29 CFR 1926.651(j)(2), quoted. Lifting: NIOSH lifting equation, seen."""

KNEE_DEEP = 0.5
"""A dig deeper than this is deeper than a person's knee [m]. Judgement."""


def cautions(*, deepest_dig: float = 0.0, retained: float = 0.0, clay: bool = False) -> tuple[str, ...]:
    """Give the cautions for a plan: those of every plan, then those its figures call for.

    ``deepest_dig`` [m] is the deepest cut, ``retained`` [m] the most that an edge holds back.

    >>> len(cautions()) == len(CAUTIONS)
    True
    """
    own = []
    if deepest_dig > KNEE_DEEP:
        own.append("This dig is deeper than your knee: slope its sides, and never work alone below them.")
    if retained > 0.6096:
        own.append(
            "An edge here holds back more than 2 ft (0.6 m) under a building: have an engineer look at it; "
            "permit rules for walls often begin there."
        )
    if clay:
        own.append(
            "Clay swells and shrinks with water: keep roof water away and do not build on it while it is wet."
        )
    return (*CAUTIONS, *own)
