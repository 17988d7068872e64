"""Options of the commands that take notes of readings: what is known, and how places were found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from gradework.command.notes_file import read_input
from gradework.command.values import angle, grid_of, lengths, named_value

if TYPE_CHECKING:
    from gradework.project.joined import SurveyForm
    from gradework.project.placing import PlacesForm
    from gradework.survey.below_string import String
    from gradework.survey.two_peg import PegSetup
    from gradework.units import Unit

Function = TypeVar("Function", bound=Callable[..., Any])

_NAMES = (
    "known", "strings", "places", "marks", "side", "baseline", "seat", "zero", "circle", "crs", "receiver",
    "height_sd", "grid_corner",
)  # fmt: skip


def survey_options(function: Function) -> Function:
    """Add what tells of known marks, strings and places."""
    decorated: Any = function
    for option in (
        click.option(
            "--height-sd", metavar="LENGTH", help="The standard error its heights are said to have."
        ),
        click.option(
            "--receiver",
            type=click.Choice(["phone", "hand-held", "survey-grade"]),
            help="What satellite heights were read with; only the last will do.",
        ),
        click.option("--crs", metavar="EPSG:CODE", help="The reference system of the places."),
        click.option(
            "--circle",
            type=click.Choice(["clockwise", "anticlockwise"]),
            help="Which way its angles count [default: clockwise].",
        ),
        click.option("--zero", metavar="DEGREES", help="Where the circle reads 0, anticlockwise from +x."),
        click.option("--seat", metavar="X,Y", help="Where the circle stood that angles were read from."),
        click.option(
            "--grid-corner",
            "grid_corner",
            metavar="X,Y[,DEGREES]",
            help="Where A1 of --grid stands, and the grid's turn.",
        ),
        click.option("--baseline", metavar="X,Y,X,Y", help="The line that offsets are measured from."),
        click.option(
            "--side", type=click.Choice(["left", "right"]), help="The hand of mark 1 to 2 on which ties lie."
        ),
        click.option(
            "--mark", "marks", multiple=True, metavar="NAME=X,Y", help="A known place; may be repeated."
        ),
        click.option(
            "--places", metavar="FILE", help="A table of places: ties, offsets, angles, or x and y."
        ),
        click.option(
            "--string",
            "strings",
            multiple=True,
            metavar="[NAME=]FIRST,SECOND[,SPAN[,SAG]]",
            help="A string: its ends, span and sag; may be repeated by name.",
        ),
        click.option(
            "--known", multiple=True, metavar="MARK=ELEVATION", help="A given elevation; may be repeated."
        ),
    ):
        decorated = option(decorated)
    return decorated  # type: ignore[no-any-return]


def asks_of_survey(given: dict[str, Any]) -> bool:
    """Tell whether any of these options was used; without one, plain spots need no form of a survey."""
    return any(given[name] not in (None, ()) for name in _NAMES)


def survey_form(given: dict[str, Any]) -> SurveyForm:
    """Turn the options into how the notes are to be read; what a command does not have is left out."""
    from gradework.project.joined import SurveyForm
    from gradework.project.readings import ReadingsForm

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
        work=given.get("work", "yard"),
        share=given.get("share", "setups"),
        pegs=_pegs(given.get("pegs"), unit),
    )
    said = given["height_sd"]
    if said is not None and given["receiver"] is None:
        raise click.UsageError("Give --receiver, the one its heights come from, with --height-sd.")
    height_sd = None if said is None else lengths(said, "--height-sd", unit, (1,))[0]
    return SurveyForm(readings, _places(given), given["receiver"], height_sd)


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
    elif given["zero"] is not None or given["circle"] is not None:
        raise click.UsageError("Give --seat, the place of the circle, with --zero or --circle.")
    data, file = (None, "") if given["places"] is None else read_input(given["places"])
    return PlacesForm(
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
    )
