"""Options of the commands that take notes: units, what was read and what is known, how places were found.

Each is written once here, with one name and one meaning wherever it is offered; ``survey_given`` reads them.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from gradework.command.paths import InputName

Function = TypeVar("Function", bound=Callable[..., Any])
Option = Callable[[Any], Any]

_METHODS = ["level", "laser", "water-level", "string", "steps"]
_KINDS = [
    "yard",
    "construction",
    "third order",
    "second order II",
    "second order I",
    "first order II",
    "first order I",
]
_TOOLS = [
    "automatic level",
    "builder's level",
    "rotating laser",
    "hand level",
    "water level",
    "line level",
    "straightedge",
]

units_option: Option = click.option(
    "--units", type=click.Choice(["ft", "in", "m", "ftUS"]), help="Unit of every bare number."
)
grid_option: Option = click.option(
    "--grid", metavar="SPACING[,SPACING]", help="Spacing of stations named A1, A2 ... B1 ..."
)
decimal_option: Option = click.option(
    "--decimal", type=click.Choice([".", ","]), help="The decimal mark in the notes."
)

_READINGS: dict[str, Option] = {
    "heights": click.option(
        "--heights",
        type=click.Choice(_METHODS),
        help="How heights were found [default: told by the columns].",
    ),
    "known": click.option(
        "--known", multiple=True, metavar="MARK=ELEVATION", help="A given elevation; may be repeated."
    ),
    "benchmark": click.option(
        "--benchmark", metavar="MARK", help="The mark that a water level or steps start on."
    ),
    "hi": click.option("--hi", metavar="ELEVATION", help="The elevation of a laser's plane."),
    "strings": click.option(
        "--string",
        "strings",
        multiple=True,
        metavar="[NAME=]FIRST,SECOND[,SPAN[,SAG]]",
        help="A string: its ends, span and sag; may be repeated by name.",
    ),
    "instrument": click.option(
        "--instrument",
        type=click.Choice(_TOOLS),
        metavar="NAME",
        help=f"What was read, for the standard errors: {', '.join(_TOOLS)}.",
    ),
    "work": click.option(
        "--work",
        type=click.Choice(_KINDS),
        metavar="KIND",
        help=f"The kind of work that says how far levels may miss: {', '.join(_KINDS)} [default: yard].",
    ),
    "share": click.option(
        "--share",
        type=click.Choice(["setups", "distance"]),
        help="How an allowed miss is shared out [default: setups].",
    ),
    "pegs": click.option(
        "--two-peg",
        "pegs",
        metavar="A,B,TO_A,TO_B,A,B,TO_A,TO_B",
        help="A two-peg test: readings on both pegs and how far they are, midway and close to one.",
    ),
}
_PLACES: dict[str, Option] = {
    "places": click.option(
        "--places",
        type=InputName(),
        metavar="FILE",
        help="A table of places: ties, offsets, angles, x and y, or coordinates.",
    ),
    "placing": click.option(
        "--placing",
        type=click.Choice(["ties", "offsets", "rays", "xy", "crs"]),
        help="Which of them it holds [default: told by its columns].",
    ),
    "marks": click.option(
        "--mark", "marks", multiple=True, metavar="NAME=X,Y", help="A known place; may be repeated."
    ),
    "side": click.option(
        "--side", type=click.Choice(["left", "right"]), help="The hand of mark 1 to 2 on which ties lie."
    ),
    "baseline": click.option(
        "--baseline", metavar="X,Y,X,Y", help="The line that offsets are measured from."
    ),
    "grid_corner": click.option(
        "--grid-corner", metavar="X,Y[,DEGREES]", help="Where A1 of --grid stands, and the grid's turn."
    ),
    "seat": click.option("--seat", metavar="X,Y", help="Where the circle stood that angles were read from."),
    "zero": click.option(
        "--zero", metavar="DEGREES", help="Where the circle reads 0, anticlockwise from +x."
    ),
    "circle": click.option(
        "--circle",
        type=click.Choice(["clockwise", "anticlockwise"]),
        help="Which way its angles count [default: clockwise].",
    ),
    "crs": click.option("--crs", metavar="EPSG:CODE", help="The reference system of the places."),
    "origin": click.option(
        "--origin",
        metavar="STATION",
        help="The station of --crs where x and y are zero [default: the middle of the survey, or a round "
        "coordinate].",
    ),
    "receiver": click.option(
        "--receiver",
        type=click.Choice(["phone", "hand-held", "survey-grade"]),
        help="What satellite heights were read with; only the last will do.",
    ),
    "height_sd": click.option(
        "--height-sd", metavar="LENGTH", help="The standard error its heights are said to have."
    ),
}


def survey_options(function: Function) -> Function:
    """Add what tells of readings, known marks and places."""
    return _with(function, {**_READINGS, **_PLACES})


def reading_options(*names: str) -> Callable[[Function], Function]:
    """Add some of the options that tell of readings, by the names under which a command receives them."""
    return lambda function: _with(function, {name: _READINGS[name] for name in names})


def asks_of_survey(given: dict[str, Any]) -> bool:
    """Tell whether any of these options was used; without one, plain spots need no form of a survey."""
    return any(given[name] not in (None, ()) for name in (*_READINGS, *_PLACES))


def _with(function: Function, options: dict[str, Option]) -> Function:
    decorated: Any = function
    for option in reversed(options.values()):
        decorated = option(decorated)
    return decorated  # type: ignore[no-any-return]
