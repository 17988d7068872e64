"""What is said of a survey but of no use to its notes: told once these have said how they were levelled."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from gradework.errors import Faults
from gradework.project.readings_form import way_of
from gradework.project.survey_clashes import find_clashes

if TYPE_CHECKING:
    from gradework.project.levelling_way import Method
    from gradework.project.readings_form import ReadingsForm

_NOTES: Mapping[str, str] = {
    "level": "rod and level",
    "laser": "a rod below a laser",
    "water-level": "a water level",
    "string": "drops below a string",
    "steps": "straightedge steps",
    "spots": "elevations",
}


def refuse_unused(readings: ReadingsForm, method: Method, file: str) -> None:
    """Refuse what belongs to another way of levelling than the one the columns of the notes tell.

    A value that was left out and one that is the usual one cannot be told apart here, and pass.
    """
    if readings.hi is not None:
        method = way_of(readings, method)
    said: dict[str, Any] = {
        "hi": readings.hi,
        "string": readings.string,
        "strings": readings.strings or None,
        "two_peg": readings.pegs,
        "work": None if readings.work == "yard" else readings.work,
        "share": None if readings.share == "setups" else readings.share,
        "benchmark": readings.benchmark,
    }
    used = {key: value for key, value in said.items() if value is not None}
    faults = Faults(file)
    for clash in find_clashes({**used, "method": method}):
        if clash.kind != "way":
            continue
        ways = " or ".join(_NOTES[way] for way in clash.ways)
        option = clash.key.replace("_", "-").replace("strings", "string")
        faults.add(
            "survey-key-unused",
            f"{clash.key} (--{option}) with notes of {_NOTES[method]}",
            f"{clash.key} only with notes of {ways}",
            f"take {clash.key} out, or mend the columns of the notes",
        )
    faults.raise_if_any()
