"""Reduced notes as a JSON document, always SI."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gradework.exchange.findings import finding_records, known
from gradework.survey.mark_checks import worst
from gradework.survey.names import name_key

if TYPE_CHECKING:
    from gradework.project.joined import YardNotes


def field_book_record(yard: YardNotes) -> dict[str, Any]:
    """Write the stations and the checks of reduced notes.

    ``misclosure_m`` is computed minus known, of the check that misses most for its ``allowable_m``; both are
    null where no known mark was met, ``setups`` and the sums for notes that are no level book, x and y for a
    station whose place is not known. ``ties``: those of stations with more than two; ``residual_m`` is taped
    minus computed, ``distance_m`` made level.
    """
    heights, book = yard.reduced.heights, yard.reduced.book
    closing = worst(heights.checks) if book is None else book.worst
    at: dict[str, tuple[float, float]] = {}
    if yard.places is not None:
        at = {
            name_key(n): (x, y) for n, (x, y) in zip(yard.places.names, yard.places.xy.tolist(), strict=True)
        }
    nowhere: tuple[None, None] = (None, None)
    return {
        "stations": [
            {
                "station": name,
                "x_m": known(at.get(name_key(name), nowhere)[0]),
                "y_m": known(at.get(name_key(name), nowhere)[1]),
                "elevation_m": known(level),
                "raw_elevation_m": known(raw),
                "sd_m": known(sd),
            }
            for name, level, raw, sd in zip(
                heights.names,
                heights.elevation.tolist(),
                heights.raw.tolist(),
                heights.sd.tolist(),
                strict=True,
            )
        ],
        "misclosure_m": None if closing is None else known(closing.misclosure),
        "allowable_m": None if closing is None else known(closing.allowable),
        "setups": None if book is None else book.setups,
        "sum_bs_m": None if book is None else known(book.sum_backsights),
        "sum_fs_m": None if book is None else known(book.sum_foresights),
        "findings": finding_records(yard.findings),
        "ties": [
            {
                "station": tie.station,
                "mark": tie.mark,
                "distance_m": known(tie.length),
                "residual_m": known(tie.residual),
                "line": tie.line,
            }
            for tie in (() if yard.places is None else yard.places.ties)
        ],
    }
