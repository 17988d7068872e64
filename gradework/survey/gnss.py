"""Heights from satellites: what may be used for grading, and why a phone's may not."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from gradework.errors import Fault, Finding, InputError, visible
from gradework.units import Display

if TYPE_CHECKING:
    from gradework.units import Unit

RECEIVERS = ("phone", "hand-held", "survey-grade")
"""Kinds of receiver, from worst to best."""

PLAN_COARSE = frozenset({"phone", "hand-held"})
"""Kinds whose places are too coarse to build from, and whose heights do not serve at all."""

HORIZONTAL_PHONE = 4.9
"""A phone under open sky is good to about so much in plan [m] (gps.gov). Heights: within 13 m for 95 % of the
time on average over the earth (GPS SPS performance standard, 5th ed. 2020, from memory)."""

COARSEST_SD = 0.05
"""Coarser heights do not say how a yard slopes [m]: 2 in, a judgement."""


def gnss_height_sd(receiver: str, stated_sd: float | None, *, unit: Unit = "m", file: str = "") -> float:
    """Standard error [m] of heights by a receiver, as stated by it; refuses what cannot serve for grading.

    Raises InputError for a phone or hand-held receiver (reason and figures), for a survey-grade one that
    states no error or one coarser than ``COARSEST_SD``, and for an unknown kind.

    >>> gnss_height_sd("survey-grade", 0.02)
    0.02
    """
    show = Display(unit)
    if receiver in PLAN_COARSE:
        _refuse(
            f"heights from a {receiver} receiver",
            f"heights good to about {show.length(0.006)}",
            "such heights are out by metres (within 13 m or 43 ft for 95 % of the time; plan about 5 m or 16 "
            "ft), while a yard falls by a metre or less: use a level, a laser, a water level or a string for "
            "heights",
            file,
        )
    if receiver != "survey-grade":
        _refuse(
            f"the receiver {visible(receiver)!r}",
            "one of " + ", ".join(RECEIVERS),
            "name the kind of receiver",
            file,
        )
    if stated_sd is None or not math.isfinite(stated_sd) or not 0 < stated_sd <= COARSEST_SD:
        stated = "no stated error" if stated_sd is None else f"a stated error of {stated_sd:g} m"
        _refuse(
            f"survey-grade heights with {stated}",
            f"the vertical error its report states, at most {show.length(COARSEST_SD)}",
            "give it as the standard error of the heights; use a fixed solution, and check one shot against "
            "a level",
            file,
        )
    assert stated_sd is not None
    return stated_sd


def plan_only(receiver: str) -> Finding:
    """What is said where satellite places are used without their heights."""
    return Finding(
        "gnss-plan-coarse",
        "warning",
        f"{receiver} receiver",
        HORIZONTAL_PHONE,
        None,
        f"Places from a {receiver} receiver are good to about 5 m or 16 ft, more than "
        "most buildings can be off. Tape the stations from two known corners instead.",
    )


def _refuse(found: str, expected: str, mend: str, file: str) -> None:
    raise InputError([Fault("gnss-height-too-coarse", found, expected, mend, file)])
