"""Keys of the job that are each in order but contradict or miss each other, found in the raw document."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gradework.project.job.bounds import MOST_CORNERS
from gradework.project.job.foundations import frost_clashes
from gradework.project.job.survey import tie_clashes
from gradework.project.job.toml_text import Path
from gradework.project.stations.forms import survey_clashes


@dataclass(frozen=True, slots=True)
class Clash:
    """Keys that are each in order but do not go together."""

    path: Path
    code: str
    found: str
    expected: str
    fix: str


def clashes(document: Mapping[str, Any]) -> list[Clash]:
    """Find keys that contradict or miss each other in the raw ``document``."""
    found = []
    build = document.get("build")
    if build in ("piers", "slab") and build not in document:
        found.append(
            Clash(
                ("build",),
                "job-clash",
                f'build = "{build}" without a table [{build}]',
                f"the table [{build}]",
                f"add the line [{build}], which may stand empty",
            )
        )
    survey = document.get("survey")
    if isinstance(survey, Mapping):
        found += [
            Clash(("survey", key), "job-clash", told, expected, fix)
            for key, told, expected, fix in survey_clashes(survey)
        ]
    found += [
        Clash(path, "job-clash", told, expected, fix) for path, told, expected, fix in frost_clashes(document)
    ]
    building = document.get("building")
    if isinstance(building, Mapping):
        found += [*_building_clashes(building), *_too_many_corners(building)]
    pad = document.get("pad")
    if isinstance(pad, Mapping):
        edge = pad.get("edge", "boxed")
        if "batter" in pad and edge == "boxed":
            found.append(
                Clash(
                    ("pad", "batter"),
                    "job-clash",
                    "batter with a boxed edge",
                    'batter only with edge = "battered"',
                    'write edge = "battered", or take batter out',
                )
            )
    return found


def _too_many_corners(building: Mapping[str, Any]) -> list[Clash]:
    outline, holes = building.get("outline"), building.get("holes")
    rings = [outline, *(holes if isinstance(holes, list) else [])]
    corners = sum(len(ring) for ring in rings if isinstance(ring, list))
    if corners <= MOST_CORNERS:
        return []
    told = f"outline: {corners} corners" + (" with those of the holes" if len(rings) > 1 else "")
    fix = "give a corner only where the wall turns; a round wall needs 24"
    return [Clash(("building", "outline"), "job-out-of-range", told, f"at most {MOST_CORNERS}", fix)]


def _building_clashes(building: Mapping[str, Any]) -> list[Clash]:
    either = "size and corner, or outline"
    tied = [
        Clash(("building", key), "job-clash", found, expected, fix)
        for key, found, expected, fix in tie_clashes(building)
    ]
    if tied:
        return tied
    if "outline" in building:
        return [
            Clash(
                ("building", key), "job-clash", f"{key} beside outline", either, f"take out {key} or outline"
            )
            for key in ("size", "corner", "turn")
            if key in building
        ]
    found = []
    for key, example in (("size", "[16, 12]"), ("corner", "[0, 0]")):
        if key not in building and not (key == "corner" and "ties" in building):
            found.append(
                Clash(
                    ("building",),
                    "job-missing-key",
                    f"no {key} in [building]",
                    either,
                    f"add the line {key} = {example}",
                )
            )
    if "holes" in building:
        found.append(
            Clash(
                ("building", "holes"),
                "job-clash",
                "holes without outline",
                "holes only beside outline",
                "give an outline",
            )
        )
    return found
