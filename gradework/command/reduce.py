"""``gradework reduce NOTES``: readings to elevations, with every check the notes allow."""

from __future__ import annotations

from typing import Any

import click

from gradework.command.group import LeafCommand
from gradework.command.notes_file import read_input
from gradework.command.options import common_options
from gradework.command.screen import Screen
from gradework.command.survey_options import survey_form, survey_options

_EXAMPLES = """
gradework reduce book.csv --units ft
gradework reduce book.csv --units ft --known BM=101.3 --work construction
gradework reduce b.csv --units m --places ties.csv --mark A=0,0 --mark B=9,0
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
@click.option(
    "--two-peg",
    "pegs",
    metavar="A,B,TO_A,TO_B,A,B,TO_A,TO_B",
    help="A two-peg test: readings on both pegs and how far they are, midway and close to one.",
)
@click.option("--hi", metavar="ELEVATION", help="The elevation of a laser's plane.")
@click.option("--grid", metavar="SPACING[,SPACING]", help="Spacing of stations named A1, A2 ... B1 ...")
@survey_options
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

    data, name = read_input(notes)
    yard = read_yard(data, name, survey_form(given), unit=given["units"], decimal=given["decimal"])
    if screen.as_json:
        screen.document(field_book_record(yard))
    else:
        screen.answer(yard_text(yard))
        screen.findings(yard.findings)
    if any(finding.severity == "stop" for finding in yard.findings):
        click.get_current_context().exit(1)
