"""What the options of notes say, read: how heights and places were found, and what does not go together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from gradework.command.notes_file import read_input
from gradework.command.values import angle, grid_of, lengths, named_value

if TYPE_CHECKING:
    from gradework.project.joined import SurveyForm
    from gradework.project.placing import PlacesForm
    from gradework.survey.below_string import String
    from gradework.survey.two_peg import PegSetup
    from gradework.units import Unit

_KEYS = {"heights": "method", "strings": "string", "pegs": "two_peg"}
_OPTIONS = {"method": "--heights", "two_peg": "--two-peg", "height_sd": "--height-sd"}
"""Where an option is received under another name than the key of the job, or has another name than that."""


def survey_form(given: dict[str, Any]) -> SurveyForm:
    """Turn the options into how the notes are to be read; what a command does not have is left out."""
    from gradework.project.joined import SurveyForm
    from gradework.project.readings import ReadingsForm

    _refuse_clashes(given)
    unit = given["units"]
    known = {}
    for text in given["known"]:
        name, level = named_value(text, "--known")
        known[name] = lengths(level, "--known", unit, (1,))[0]
    hi = given.get("hi")
    strings = _strings(given["strings"], unit)
    readings = ReadingsForm(
        method=given.get("heights"),
        known=known,
        benchmark=given.get("benchmark"),
        hi=None if hi is None else lengths(hi, "--hi", unit, (1,))[0],
        string=strings.pop("", None),
        strings=strings,
        instrument=given.get("instrument"),
        work=given.get("work") or "yard",
        share=given.get("share") or "setups",
        pegs=_pegs(given.get("pegs"), unit),
    )
    said = given["height_sd"]
    height_sd = None if said is None else lengths(said, "--height-sd", unit, (1,))[0]
    return SurveyForm(readings, _places(given), given["receiver"], height_sd)


def _refuse_clashes(given: Mapping[str, Any]) -> None:
    """A usage error for the first pair of options that a job could not have as keys either."""
    from gradework.project.survey_clashes import find_clashes  # the one place that knows them

    said = {_KEYS.get(name, name): value for name, value in given.items() if value not in (None, ())}
    clash = next(find_clashes(said), None)
    if clash is None:
        return
    one, other = (_OPTIONS.get(key, f"--{key}") for key in (clash.key, clash.other))
    if clash.kind == "missing":
        raise click.UsageError(f"Give {other} with {one}, or leave {one} out.")
    if clash.kind == "apart":
        raise click.UsageError(f"Give {other} or {one}, not both: the one that was used to measure.")
    ways = " or ".join(clash.ways)
    raise click.UsageError(f"Give {one} only with {other} {ways}, not with {said[clash.other]}.")


def _pegs(text: str | None, unit: Unit | None) -> tuple[PegSetup, PegSetup] | None:
    from gradework.survey.two_peg import PegSetup

    if text is None:
        return None
    values = lengths(text, "--two-peg", unit, (8,))
    return PegSetup(*values[:4]), PegSetup(*values[4:])


def _strings(texts: Sequence[str], unit: Unit | None) -> dict[str, String]:
    """The strings by name, "" for one that was given none."""
    from gradework.survey.below_string import String

    found = {}
    for text in texts:
        name, value = named_value(text, "--string") if "=" in text else ("", text)
        if name in found:
            again = f"a second string {name}".rstrip()
            raise click.BadParameter(f"{again}: each needs a name of its own", param_hint="--string")
        found[name] = String(*lengths(value, "--string", unit, (2, 3, 4)))
    return found


def _places(given: dict[str, Any]) -> PlacesForm:
    from gradework.project.placing import PlacesForm

    unit = given["units"]
    marks = {}
    for text in given["marks"]:
        name, place = named_value(text, "--mark")
        x, y = lengths(place, "--mark", unit, (2,))
        marks[name] = (x, y)
    line = None
    if given["baseline"] is not None:
        x, y, further, up = lengths(given["baseline"], "--baseline", unit, (4,))
        line = ((x, y), (further, up))
    seat = None
    if given["seat"] is not None:
        x, y = lengths(given["seat"], "--seat", unit, (2,))
        seat = (x, y)
    data, file = (None, "") if given["places"] is None else read_input(given["places"])
    return PlacesForm(
        method=given["placing"],
        grid=grid_of(given["grid"], unit, given["grid_corner"]),
        data=data,
        file=file,
        marks=marks,
        baseline=line,
        seat=seat,
        zero=0.0 if given["zero"] is None else angle(given["zero"], "--zero"),
        clockwise=given["circle"] != "anticlockwise",
        side=given["side"],
        crs=given["crs"],
        origin=given["origin"],
    )
