"""``gradework reduce NOTES``: readings to elevations, with every check the notes allow."""

from __future__ import annotations

from typing import Any

import click

from gradework.command.main import LeafCommand
from gradework.command.options import (
    InputName,
    common_options,
    end_with,
    pointing_at_options,
    read_input,
    show_option,
)
from gradework.command.screen import Screen
from gradework.command.survey_options import (
    decimal_option,
    grid_option,
    sheet_option,
    survey_form,
    survey_options,
    units_option,
)
from gradework.exchange.yard_records import field_book_record
from gradework.project.stations.join import read_yard
from gradework.report.survey import yard_text

_EXAMPLES = """
gradework reduce book.csv --units ft
gradework reduce book.csv --units ft --known BM=101.3 --work construction
gradework reduce b.csv --units m --places ties.csv --mark A=0,0 --mark B=9,0
gradework reduce drops.csv --units m --string 30.52,30.52,8
"""


@click.command(cls=LeafCommand, examples=_EXAMPLES)
@click.argument("notes", type=InputName())
@sheet_option
@units_option
@show_option
@grid_option
@decimal_option
@survey_options
@common_options
def reduce(*, screen: Screen, notes: str, **given: Any) -> None:
    """Reduce readings to elevations: the field book with its sums and checks, closure, standard errors.

    NOTES is a CSV file or a workbook (xlsx, ods, xls), or - for standard input: station with BS, IS and FS;
    or with one reading of a single set-up; drop below a string; higher by a water level; run and rise of a
    straightedge.
    """
    data, name = read_input(notes, given["sheet"])
    with pointing_at_options():
        yard = read_yard(
            data, name, survey_form(given), unit=given["units"], decimal=given["decimal"], show=given["show"]
        )
    if screen.as_json:
        screen.document(field_book_record(yard))
    else:
        screen.answer(yard_text(yard))
        screen.findings(yard.findings)
    end_with(yard.findings)
