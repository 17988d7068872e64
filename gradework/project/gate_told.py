"""What is said of checks that fail and of those that nobody could make: stops, and the ifs of the first line.

A check that a finding tells in its own words stops the plan through that finding; of others a stop is made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from gradework.errors import Finding, finding, sentence, visible
from gradework.foundations.checks.check import worst_of

if TYPE_CHECKING:
    from gradework.foundations.checks.check import Check
    from gradework.foundations.checks.gate import Judged
    from gradework.units.display import Display

_OWN_WORDS: Mapping[str, tuple[str, ...]] = {
    "water": ("drainage-toward-building", "drainage-falls-too-little"),
    "water carried": ("swale-overflows", "gutter-overflows"),
    "held edge": ("pad-edge-high",),
    "stone drained": ("pad-basin",),
    "gravel depth": ("pad-gravel-deep",),
    "earth fill": ("pad-native-deep",),
    "slab thickness": ("slab-thin",),
    "slab fill": ("slab-fill-deep",),
    "slab edge": ("slab-edge-bare",),
    "frost": ("pier-frost", "slab-frost"),
    "common top": ("piers-no-common-top", "piers-no-top"),
    "setback": ("near-setback",),
    "own side": ("near-over",),
    "room to walk": ("near-no-room",),
    "dug or staked near": ("near-pipe",),
    "outlet runs clear": ("near-outlet",),
    "water stays away": ("near-water",),
    "digging below 1:1": ("near-dig-below",),
}
"""The findings that tell of a check."""

_CASES = {
    "floor above ground": "floor",
    "siding": "siding",
    "joists": "framing",
    "skids": "framing",
    "ground": "ground",
    "basin under the floor": "basin",
    "dug face": "face",
    "frost": "frost",
    "gathered flow": "gathered",
    "door": "door",
}
"""The wording of ``check-fails`` for the others."""

_IFS = {
    "ground": "if-ground",
    "anchor soil": "if-ground",
    "joists": "if-treated",
    "skids": "if-treated",
    "water": "if-water",
    "water carried": "if-carried",
    "frost": "if-frost",
    "setback": "if-setback",
    "room to walk": "if-room",
    "dug or staked near": "if-pipe",
    "water stays away": "if-led",
    "stone drained": "if-drained",
    "edge designed": "if-designed",
    "gathered flow": "if-gathered",
    "drained to a wall": "if-gathered",
    "door": "if-door",
}


_SHORT = {
    "siding": "siding too low",
    "water carried": "more water comes than is carried off",
    "floor above ground": "floor below the ground beside it",
    "joists": "joists too near the ground",
    "skids": "skids too near the ground",
    "held edge": "edge too high",
    "gravel depth": "gravel too deep",
    "earth fill": "fill too deep",
    "slab fill": "fill too deep",
    "slab edge": "slab edge hangs above the ground",
    "slab thickness": "slab too thin",
    "dug face": "digging too deep",
    "stone drained": "stone holds water",
    "ground": "ground not firm",
    "sliding": "too few anchors against wind",
    "uplift": "too few anchors against wind",
    "frost": "too shallow for frost",
    "basin under the floor": "water stands under the floor",
    "gathered flow": "a stream runs under the floor",
    "common top": "no level suits all piers",
    "door": "floor below the ground at the door",
    "setback": "too near what stands beside it",
    "survey": "it leaves the survey",
    "holes apart": "holes of two piers meet",
    "own side": "it reaches over what stands beside it",
    "room to walk": "no room to walk beside it",
    "dug or staked near": "it lies over a pipe or cable",
    "digging below 1:1": "digging undermines a wall nearby",
    "water stays away": "the roof drips toward a wall nearby",
    "outlet runs clear": "an outlet runs toward a wall, well or septic field",
}
"""A check that fails in few words, for the first line; others go by their names."""


def with_stops(findings: Sequence[Finding], judged: Judged, show: Display) -> tuple[Finding, ...]:
    """Let a warning that tells of a check that fails stop the plan, and tell of the others that fail."""
    raised = tuple(
        replace(one, severity="stop") if one.severity == "warning" and _tells(one, judged) else one
        for one in findings
    )
    told = {one.code for one in raised if one.severity == "stop"}
    return (*raised, *_others(judged, told, show))


def _tells(one: Finding, judged: Judged) -> bool:
    """Say whether a finding tells of a check that fails, at its place where that has one."""
    own = [check for check in judged.false if one.code in _OWN_WORDS.get(check.check, ())]
    if one.code.startswith("near-"):
        return False  # told as bad as it is already; one name may be part of another: "cable", "cable 2"
    return any(not check.where or check.where in one.where for check in own)


def _others(judged: Judged, told: set[str], show: Display) -> Iterator[Finding]:
    """Tell of each check that fails and that no stop tells of; piers tell all of their own."""
    for check in judged.false:
        own = {check.check, *_OWN_WORDS.get(check.check, ())}
        always = check.check in _CASES and check.check not in _OWN_WORDS
        if always or (not told & own and not (told and judged.foundation == "piers")):
            yield finding(
                "check-fails",
                "stop",
                check.where or judged.foundation,
                check.value,
                check.limit,
                variant=_CASES.get(check.check, "least" if check.bound == "least" else ""),
                check=check.check,
                place=visible(check.where),
                found=_said(check.value, check, show),
                side="below" if (check.value or 0.0) < 0.0 else "above",
                asked=_said(check.limit, check, show),
                rule=check.source,
            )


def _said(value: float | None, check: Check, show: Display) -> str:
    if value is None:
        return "not known"
    return show.depth(abs(value)) if check.unit == "m" else f"{value:.3g}"


def condition(judged: Judged) -> str:
    """Say what could not be checked as one phrase, "" where nothing is left: "if the ground ..., and if ...".

    >>> from gradework.foundations.checks.check import COMMON, Check
    >>> from gradework.foundations.checks.gate import Judged
    >>> condition(Judged("slab", 0.0, 0.0, None, (Check("ground", None, 1.0, "-", COMMON, "least"),)))
    'if the ground is firm and was never filled'
    """
    cases = dict.fromkeys(_IFS.get(check.check, "if-other") for check in judged.open)
    told = []
    for case in cases:
        own = [check for check in judged.open if _IFS.get(check.check, "if-other") == case]
        walls = [check.where.removeprefix("wall (corners ").removesuffix(")") for check in own]
        names = ", ".join(dict.fromkeys(check.check for check in own))
        say = "if-anchored" if any(check.check == "anchor soil" for check in own) else case
        places = ", ".join(dict.fromkeys(visible(place) for place in walls if place))
        told.append(
            "if " + sentence("check-open", f"say-{say}", places=places, names=names).removesuffix(".")
        )
    return ", and ".join(told)


def reasons(judged: Judged) -> str:
    """Say in a few words which checks fail: "water runs to 3 walls, siding too low"."""
    walls = [check for check in judged.false if check.check == "water"]
    toward = sum((check.value or 0.0) < 0.0 for check in walls)
    told = []
    if toward:
        told.append(f"water runs to {_walls(toward)}")
    if len(walls) > toward:
        told.append(f"ground falls too little from {_walls(len(walls) - toward)}")
    names = (check.check for check in judged.false if check.check != "water")
    return ", ".join([*told, *dict.fromkeys(_SHORT.get(name, f"{name} fails") for name in names)])


def bound_by(judged: Iterable[Judged]) -> tuple[Judged, Check] | None:
    """Give the foundation that fails least, with the check that binds it. None where none is a matter of
    inches."""
    known = [one for one in judged if any(check.unit == "m" for check in one.false)]
    if not known:
        return None
    least = min(known, key=lambda one: (len(one.failing), max(check.strain for check in one.false)))
    return least, worst_of(check for check in least.false if check.unit == "m")


def binding(judged: Iterable[Judged], show: Display) -> tuple[Judged, str] | None:
    """Tell the same by how much: "gravel too deep: 26 in, at most 24 in, 2 in too much"."""
    worst = bound_by(judged)
    if worst is None:
        return None
    least, check = worst
    value, limit = check.value or 0.0, check.limit or 0.0  # one that fails has both
    name = _SHORT.get(check.check, f"{check.check} fails")
    if check.check == "water":
        name = "water runs to it" if value < 0.0 else "ground falls too little"
    told = f"{name}{f' at the {visible(check.where)}' if check.where else ''}"
    found, off = f"{'-' if value < 0.0 else ''}{show.depth(abs(value))}", show.depth(abs(value - limit))
    bound = f"at least {show.depth(limit)} needed, {off} off"
    bound = bound if check.bound == "least" else f"at most {show.depth(limit)}, {off} too much"
    return least, f"{told}: {found}, {bound}"


def stamp_of(judged: Judged | None) -> str:
    """Give what is stamped on each page of what cannot be built as drawn, with what fails; "" on others."""
    return "" if judged is None or judged.buildable else f"NOT BUILDABLE AS DRAWN: {reasons(judged)}"


def _walls(count: int) -> str:
    return "1 wall" if count == 1 else f"{count} walls"
