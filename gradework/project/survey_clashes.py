"""Keys of ``[survey]`` that contradict or miss each other: told before the notes are read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Literal, NamedTuple

_BY_METHOD: Mapping[str, Sequence[str]] = {
    "hi": ("laser",),
    "string": ("string",),
    "strings": ("string",),
    "two_peg": ("level", "laser"),
    "work": ("level", "laser"),
    "share": ("level", "laser"),
    "benchmark": ("water-level", "steps"),
}
"""Keys that only some ways of finding heights use."""

_BY_PLACING: Mapping[str, Sequence[str]] = {
    "baseline": ("offsets",),
    "seat": ("rays",),
    "zero": ("rays",),
    "circle": ("rays",),
    "side": ("ties",),
    "crs": ("crs",),
    "origin": ("crs",),
    "grid": ("grid",),
}
"""Keys that only some ways of finding places use."""

_NEEDS: Mapping[str, Sequence[str]] = {
    "height_sd": ("receiver",),
    "origin": ("crs",),
    "zero": ("seat",),
    "circle": ("seat",),
    "baseline": ("places",),
    "seat": ("places",),
}
"""Keys that say nothing without another."""

_APART = (("hi", "string"), ("hi", "strings"), ("hi", "two_peg"), ("grid", "crs"), ("baseline", "seat"))
"""Keys that belong to different ways of measuring, whatever the columns of the notes tell."""

_EXAMPLES: Mapping[str, str] = {
    "receiver": 'receiver = "survey-grade"',
    "crs": 'crs = "EPSG:4326"',
    "seat": "seat = [0, 0]",
    "places": 'places = "ties.csv"',
}


class SurveyClash(NamedTuple):
    """A key of ``[survey]`` that does not go with another, or not without it.

    ``other`` is the key it clashes with: the one it needs ("missing"), the one it excludes ("apart"), or the
    one whose value is not among the ``ways`` that use it ("way").
    """

    key: str
    other: str
    kind: Literal["way", "missing", "apart"]
    ways: tuple[str, ...] = ()


def find_clashes(survey: Mapping[str, Any]) -> Iterator[SurveyClash]:
    """Run through the keys that do not go together, whatever they are called where they were written."""
    for chooser, table in (("method", _BY_METHOD), ("placing", _BY_PLACING)):
        way = survey.get(chooser)
        for key, ways in table.items():
            if key in survey and isinstance(way, str) and way not in ways:
                yield SurveyClash(key, chooser, "way", tuple(ways))
    if "receiver" in survey and survey.get("method") not in (None, "spots") and "crs" not in survey:
        yield SurveyClash("receiver", "crs", "missing")
    for key, needed in _NEEDS.items():
        for other in needed:
            if key in survey and other not in survey:
                yield SurveyClash(key, other, "missing")
    if survey.get("placing") in ("ties", "offsets", "rays") and "places" not in survey:
        yield SurveyClash("placing", "places", "missing")
    for first, second in _APART:
        if first in survey and second in survey:
            yield SurveyClash(second, first, "apart")


def survey_clashes(survey: Mapping[str, Any]) -> Iterator[tuple[str, str, str, str]]:
    """Key, what was found, what was expected and the mend, for each pair that does not go together."""
    for key, other, kind, ways in find_clashes(survey):
        if kind == "way":
            listed = " or ".join(f'"{one}"' for one in ways)
            yield (
                key,
                f'{key} beside {other} = "{survey[other]}"',
                f"{key} only with {other} = {listed}",
                f"take out {key}, or mend {other}",
            )
        elif kind == "missing":
            mend = f"add the line {_EXAMPLES[other]}, or take out {key}"
            yield key, f"{key} without {other}", f"{other} beside {key}", mend
        else:
            yield (
                key,
                f"{key} beside {other}",
                f"{other} or {key}",
                "take out the one that was not used to measure",
            )
