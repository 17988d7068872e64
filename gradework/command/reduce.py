"""``gradework reduce NOTES``: readings to elevations, with every check the notes allow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from gradework.command.group import LeafCommand
from gradework.command.options import common_options
from gradework.command.screen import Screen

if TYPE_CHECKING:
    from gradework.project.joined import SurveyForm
    from gradework.project.placing import PlacesForm
    from gradework.project.readings import ReadingsForm
    from gradework.survey.below_string import String
    from gradework.units import Unit

_EXAMPLES = """
gradework reduce book.csv --units ft
gradework reduce book.csv --units ft --known BM=101.32 --work construction --json
gradework reduce book.csv --units ft --places ties.csv --mark A=0,0 --mark B=32,0
gradework reduce drops.csv --units m --string 30.52,30.52,8
"""
_METHODS = ["level", "laser", "water-level", "string", "steps"]
_KINDS = ["yard", "construction", "third order", "second order II", "second order I"]
_TOOLS = [
    "automatic level",
    "builder's level",
    "rotating laser",
    "hand level",
    "water level",
    "line level",
    "straightedge",
]


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("notes")
@click.option("--units", type=click.Choice(["ft", "in", "m", "ftUS"]), help="Unit of every bare number.")
@click.option("--known", multiple=True, metavar="MARK=ELEVATION", help="A given elevation; may be repeated.")
@click.option("--benchmark", metavar="MARK", help="The mark that a water level or steps start on.")
@click.option(
    "--heights", type=click.Choice(_METHODS), help="How heights were found [default: told by the columns]."
)
@click.option(
    "--instrument",
    type=click.Choice(_TOOLS),
    metavar="NAME",
    help=f"What was read, for the standard errors: {', '.join(_TOOLS)}.",
)
@click.option(
    "--work",
    type=click.Choice(_KINDS),
    default="yard",
    show_default=True,
    help="The kind of work that says how far levels may miss.",
)
@click.option(
    "--share",
    type=click.Choice(["setups", "distance"]),
    default="setups",
    show_default=True,
    help="How an allowed miss is shared out.",
)
@click.option("--hi", metavar="ELEVATION", help="The elevation of a laser's plane.")
@click.option("--string", metavar="FIRST,SECOND[,SPAN[,SAG]]", help="The string: its ends, span and sag.")
@click.option("--grid", metavar="SPACING[,SPACING]", help="Spacing of stations named A1, A2 ... B1 ...")
@click.option("--places", metavar="FILE", help="A table of places: ties, offsets, angles, or x and y.")
@click.option("--mark", "marks", multiple=True, metavar="NAME=X,Y", help="A known place; may be repeated.")
@click.option(
    "--side", type=click.Choice(["left", "right"]), help="The hand of mark 1 to 2 on which ties lie."
)
@click.option("--baseline", metavar="X,Y,X,Y", help="The line that offsets are measured from.")
@click.option("--crs", metavar="EPSG:CODE", help="The reference system of the places.")
@click.option("--decimal", type=click.Choice([".", ","]), help="The decimal mark in the notes.")
@common_options
def reduce(*, screen: Screen, notes: str, **given: Any) -> None:
    """Reduce readings to elevations: the field book with its sums and checks, closure, standard errors.

    NOTES is a CSV file, or - for standard input: station with BS, IS and FS; or with one reading of a single
    set-up; drop below a string; higher by a water level; run and rise of a straightedge.
    """
    from gradework.exchange.field_book import field_book_record
    from gradework.project.joined import read_yard
    from gradework.report.field_book import yard_text

    data, name = _read(notes)
    yard = read_yard(data, name, _form(given), unit=given["units"], decimal=given["decimal"])
    if screen.as_json:
        screen.document(field_book_record(yard))
    else:
        screen.answer(yard_text(yard))
        screen.findings(yard.findings)
    if any(finding.severity == "stop" for finding in yard.findings):
        click.get_current_context().exit(1)


def _read(path: str) -> tuple[bytes, str]:
    from gradework.files import read_bytes, read_standard_input

    if path == "-":
        return read_standard_input(), "standard input"
    return read_bytes(path), path


def _form(given: dict[str, Any]) -> SurveyForm:
    from gradework.project.joined import SurveyForm

    return SurveyForm(readings=_readings(given), places=_places(given))


def _readings(given: dict[str, Any]) -> ReadingsForm:
    from gradework.project.readings import ReadingsForm

    unit = given["units"]
    known = {}
    for text in given["known"]:
        name, level = _named(text, "--known")
        known[name] = _lengths(level, "--known", unit, (1,))[0]
    hi = None if given["hi"] is None else _lengths(given["hi"], "--hi", unit, (1,))[0]
    return ReadingsForm(
        method=given["heights"],
        known=known,
        benchmark=given["benchmark"],
        hi=hi,
        string=_string(given["string"], unit),
        instrument=given["instrument"],
        work=given["work"],
        share=given["share"],
    )


def _string(text: str | None, unit: Unit | None) -> String | None:
    from gradework.survey.below_string import String

    return None if text is None else String(*_lengths(text, "--string", unit, (2, 3, 4)))


def _places(given: dict[str, Any]) -> PlacesForm:
    from gradework.fieldnotes import LetteredGrid
    from gradework.project.placing import PlacesForm

    unit = given["units"]
    marks = {}
    for text in given["marks"]:
        name, place = _named(text, "--mark")
        x, y = _lengths(place, "--mark", unit, (2,))
        marks[name] = (x, y)
    grid = None
    if given["grid"] is not None:
        spacing = _lengths(given["grid"], "--grid", unit, (1, 2))
        if min(spacing) <= 0:
            raise click.BadParameter("a spacing is a length above zero", param_hint="--grid")
        grid = LetteredGrid(spacing=(spacing[0], spacing[-1]))
    data, file = (None, "") if given["places"] is None else _read(given["places"])
    line = None
    if given["baseline"] is not None:
        x, y, further, up = _lengths(given["baseline"], "--baseline", unit, (4,))
        line = ((x, y), (further, up))
    return PlacesForm(
        grid=grid, data=data, file=file, marks=marks, baseline=line, side=given["side"], crs=given["crs"]
    )


def _named(text: str, option: str) -> tuple[str, str]:
    """Take NAME=VALUE apart at its last equals sign; the name may hold spaces."""
    name, equals, value = text.rpartition("=")
    if not equals or not name.strip():
        raise click.BadParameter(f"{text!r} has no name and value with = between them", param_hint=option)
    return name.strip(), value


def _lengths(text: str, option: str, unit: Unit | None, counts: Sequence[int]) -> list[float]:
    """Read lengths with commas between them: bare numbers in ``unit``, or each with its own."""
    from gradework.units import LengthError, parse_length

    parts = text.split(",")
    if len(parts) not in counts:
        wanted = " or ".join(str(count) for count in counts)
        raise click.BadParameter(
            f"{text!r} has {len(parts)} values where {wanted} should be", param_hint=option
        )
    try:
        return [parse_length(part, unit) for part in parts]
    except LengthError as problem:
        raise click.BadParameter(str(problem), param_hint=option) from None
