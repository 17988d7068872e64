"""Options of the commands that take notes: units, what was read and what is known, how places were found.

Each is written once here, with one name and one meaning wherever it is offered; ``survey_form`` reads them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

import click

from gradework.command.options import (
    InputName,
    angle,
    grid_of,
    in_group,
    length,
    lengths,
    named_value,
    read_input,
)
from gradework.project.stations.forms import PlacesForm, ReadingsForm, SurveyForm, find_clashes
from gradework.survey.levelling.given import PegSetup, String
from gradework.survey.levelling.tolerances import INSTRUMENTS, KINDS_OF_WORK
from gradework.survey.levelling.ways import UNHEADED, WAYS
from gradework.units.lengths import Unit

# What the options of notes say, read: how heights and places were found, and what does not go together.

_KEYS = {"heights": "method", "strings": "string", "pegs": "two_peg"}
_OPTIONS = {
    "method": "--heights",
    "two_peg": "--two-peg",
    "height_sd": "--height-sd",
    "places_sheet": "--places-sheet",
}
"""Where an option is received under another name than the key of the job, or has another name than that."""


def survey_form(given: dict[str, Any]) -> SurveyForm:
    """Turn the options into how the notes are to be read; what a command does not have is left out."""
    _refuse_clashes(given)
    unit = given["units"]
    known = {}
    for text in given["known"]:
        name, level = named_value(text, "--known")
        known[name] = lengths(level, "--known", unit, (1,))[0]
    strings = _strings(given["strings"], unit)
    readings = ReadingsForm.asked(
        given.get("heights"),
        steep=bool(given.get("steep")),
        known=known,
        benchmark=given.get("benchmark"),
        hi=length(given.get("hi"), "--hi", unit),
        string=strings.pop("", None),
        strings=strings,
        instrument=given.get("instrument"),
        work=given.get("work") or "yard",
        share=given.get("share") or "setups",
        pegs=_pegs(given.get("pegs"), unit),
    )
    height_sd = length(given["height_sd"], "--height-sd", unit)
    return SurveyForm(readings, _places(given), given["receiver"], height_sd)


def _refuse_clashes(given: Mapping[str, Any]) -> None:
    """A usage error for the first pair of options that a job could not have as keys either."""
    said = {_KEYS.get(name, name): value for name, value in given.items() if value not in (None, ())}
    clash = next(find_clashes(said), None)
    if clash is None:
        return
    one, other = (_OPTIONS.get(key, f"--{key}") for key in (clash.key, clash.other))
    if clash.kind == "missing":
        raise click.UsageError(f"Give {other} with {one}, or leave {one} out.")
    if clash.kind == "apart":
        raise click.UsageError(f"Give {other} or {one}, not both: the one you measured with.")
    ways = " or ".join(clash.ways)
    raise click.UsageError(f"Give {one} only with {other} {ways}, not with {said[clash.other]}.")


def _pegs(text: str | None, unit: Unit | None) -> tuple[PegSetup, PegSetup] | None:
    if text is None:
        return None
    values = lengths(text, "--two-peg", unit, (8,))
    return PegSetup(*values[:4]), PegSetup(*values[4:])


def _strings(texts: Sequence[str], unit: Unit | None) -> dict[str, String]:
    """The strings by name, "" for one that was given none."""
    found = {}
    for text in texts:
        name, value = named_value(text, "--string") if "=" in text else ("", text)
        if name in found:
            again = f"a second string {name}".rstrip()
            raise click.BadParameter(f"{again}: each needs a name of its own", param_hint="--string")
        found[name] = String(*lengths(value, "--string", unit, (2, 3, 4)))
    return found


def _places(given: dict[str, Any]) -> PlacesForm:
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
    data, file = None, ""
    if given["places"] is not None:
        data, file = read_input(given["places"], given["places_sheet"], "places_sheet")
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


Function = TypeVar("Function", bound=Callable[..., Any])
Option = Callable[[Any], Any]

UNIT_WORDS = ["ft", "in", "m", "cm", "mm", "ftUS"]
"""The units of bare numbers; written out, since the room that knows them is loaded when a command runs."""

units_option: Option = click.option(
    "--units",
    type=click.Choice(UNIT_WORDS),
    help="Unit of every number without one; ftUS is the US survey foot.",
)
grid_option: Option = click.option(
    "--grid",
    metavar="SPACING[,SPACING]",
    help="A taped grid: spacing of stations A1, A2 ... along x and of rows A, B ... along y.",
)
corner_option: Option = click.option(
    "--corner", metavar="X,Y", help="First corner of a rectangle, such as 9,8."
)
size_option: Option = click.option(
    "--size", metavar="ALONG,ACROSS", help="Its sides, such as 16,12 or 16x12."
)
turn_option: Option = click.option(
    "--turn", metavar="DEGREES", help="Its turn, anticlockwise from the x axis."
)
columns_option: Option = click.option(
    "--columns",
    metavar="ORDER",
    help="Columns of notes without a header, such as PNEZD: point, north, east, elevation, remark.",
)
sheet_option: Option = click.option(
    "--sheet", metavar="NAME", help="The sheet of a workbook [default: the one that looks like notes]."
)
decimal_option: Option = click.option(
    "--decimal", type=click.Choice([".", ","]), help="The decimal mark [default: read from the notes]."
)

_READINGS: dict[str, Option] = {
    "heights": click.option(
        "--heights",
        type=click.Choice([*(way for way in WAYS if way != "spots"), *UNHEADED]),
        help="How heights were measured [default: read from the columns]; elevations or readings says what "
        "figures without a header are.",
    ),
    "known": click.option(
        "--known",
        multiple=True,
        metavar="MARK=ELEVATION",
        help="A mark of known elevation, such as BM=101.3; may be repeated.",
    ),
    "benchmark": click.option(
        "--benchmark", metavar="MARK", help="The mark that a water level or steps of a straightedge start on."
    ),
    "hi": click.option(
        "--hi", metavar="ELEVATION", help="Height of instrument: the elevation of a laser's plane."
    ),
    "strings": click.option(
        "--string",
        "strings",
        multiple=True,
        metavar="[NAME=]FIRST,SECOND[,SPAN[,SAG]]",
        help="A string: the elevations of its ends, its span, its sag; may be repeated, with names.",
    ),
    "instrument": click.option(
        "--instrument",
        type=click.Choice(list(INSTRUMENTS)),
        metavar="NAME",
        help=f"The instrument, for its standard error: {', '.join(INSTRUMENTS)}.",
    ),
    "work": click.option(
        "--work",
        type=click.Choice(list(KINDS_OF_WORK)),
        metavar="KIND",
        help=f"Allowed misclosure, by the kind of work: {', '.join(KINDS_OF_WORK)} [default: yard].",
    ),
    "share": click.option(
        "--share",
        type=click.Choice(["setups", "distance"]),
        help="Share out an allowed misclosure evenly over the set-ups, or by distance [default: setups].",
    ),
    "pegs": click.option(
        "--two-peg",
        "pegs",
        metavar="A,B,TO_A,TO_B,A,B,TO_A,TO_B",
        help="A two-peg test: the readings on pegs A and B and the distances to them, from midway and from "
        "close to one.",
    ),
}
_PLACES: dict[str, Option] = {
    "places": click.option(
        "--places",
        type=InputName(),
        metavar="FILE",
        help="A table of places: ties, offsets, angles, x and y, or coordinates.",
    ),
    "places_sheet": click.option(
        "--places-sheet", metavar="NAME", help="The sheet of --places, where that is a workbook."
    ),
    "placing": click.option(
        "--placing",
        type=click.Choice(["ties", "offsets", "rays", "xy", "crs"]),
        help="What --places holds [default: read from its columns].",
    ),
    "marks": click.option(
        "--mark",
        "marks",
        multiple=True,
        metavar="NAME=X,Y",
        help="A mark of known position, such as A=0,0; may be repeated.",
    ),
    "side": click.option(
        "--side",
        type=click.Choice(["left", "right"]),
        help="The side the tied stations are on, looking from the first mark to the second.",
    ),
    "baseline": click.option(
        "--baseline", metavar="X,Y,X,Y", help="The two ends of the line that offsets are measured from."
    ),
    "grid_corner": click.option(
        "--grid-corner",
        metavar="X,Y[,DEGREES]",
        help="Where A1 of --grid stands, and how far the grid is turned anticlockwise [default: 0,0].",
    ),
    "seat": click.option("--seat", metavar="X,Y", help="Instrument station: where angles were read from."),
    "zero": click.option(
        "--zero",
        metavar="DEGREES",
        help="The direction of angle 0, in degrees anticlockwise from +x [default: 0].",
    ),
    "circle": click.option(
        "--circle",
        type=click.Choice(["clockwise", "anticlockwise"]),
        help="Which way the angles count [default: clockwise].",
    ),
    "crs": click.option(
        "--crs", metavar="EPSG:CODE", help="The system of the coordinates, such as EPSG:26915."
    ),
    "origin": click.option(
        "--origin",
        metavar="STATION",
        help="The station of --crs where x and y are zero [default: the middle of the survey, or a round "
        "coordinate].",
    ),
    "receiver": click.option(
        "--receiver",
        type=click.Choice(["phone", "hand-held", "survey-grade"]),
        help="The kind of satellite receiver; only survey-grade heights are good enough to plan on.",
    ),
    "height_sd": click.option(
        "--height-sd",
        metavar="LENGTH",
        help="Standard error of the heights, as stated in the report of --receiver, such as 2cm.",
    ),
    "steep": click.option(
        "--steep",
        is_flag=True,
        default=None,
        help="The ground really is steeper than 1 in 2, or has walls: do not doubt it.",
    ),
}


def survey_options(function: Function) -> Function:
    """Add what tells of readings, known marks and places."""
    return _with(_with(function, _PLACES, "Places"), _READINGS, "Readings")


def reading_options(*names: str) -> Callable[[Function], Function]:
    """Add some of the options that tell of readings, by the names under which a command receives them."""
    return lambda function: _with(function, {name: _READINGS[name] for name in names}, "Readings")


def asks_of_survey(given: dict[str, Any]) -> bool:
    """Tell whether any of these options was used; without one, plain spots need no form of a survey."""
    return any(given[name] not in (None, ()) for name in (*_READINGS, *_PLACES))


def _with(function: Function, options: dict[str, Option], group: str) -> Function:
    decorated: Any = function
    for option in reversed(options.values()):
        decorated = in_group(group, option(decorated))
    return decorated  # type: ignore[no-any-return]
