"""The sheet of four drops: every pier and everything to buy on some page, words apart and on the page."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from typing import Any

import pytest

from gradework.drawings.corners import corners_pages
from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.project.corners import Measured, plan_corners
from gradework.report.corners import sheet_rows

FT, IN = 0.3048, 0.0254


@lru_cache
def pages_of(unit: str, along: float, across: float, step: float) -> tuple[Any, list[Any], list[list[str]]]:
    """The plan, its pages and the order as handed to them; the drops fall by ``step`` [m] from corner 1."""
    drops = (0.0, step, 2.0 * step, 1.5 * step)
    measured = Measured(unit, (along, across), drops)  # type: ignore[arg-type]
    plan = plan_corners(measured)
    piers = plan.foundations.piers
    assert piers is not None
    order = [[str(line.quantity), line.item] for line in plan.order.lines]
    show = plan.job.show
    pages = corners_pages(
        ("Block piers", "said back", ""), (along, across), [show.depth(drop) for drop in drops], piers.piers,
        sheet_rows(plan, measured), order, ["Not known: where water runs.", "Taken: straight ground."],
    )  # fmt: skip
    return plan, pages, order


def lines(figure: Any) -> list[Line]:
    return [one for part in figure.axes[0].get_children() if isinstance(part, Letters) for one in part.lines]


CASES = [
    ("ft", 12 * FT, 8 * FT, 4.5 * IN, 1),
    ("ft", 16 * FT, 12 * FT, 6.5 * IN, 1),
    ("ft", 24 * FT, 16 * FT, 14.0 * IN, 2),
    ("ft", 40 * FT, 10 * FT, 3.0 * IN, 1),
    ("m", 3.6, 2.4, 0.12, 1),
    ("m", 9.0, 6.0, 0.15, 2),
]


@pytest.mark.parametrize(("unit", "along", "across", "step", "least"), CASES)
def test_words_stand_apart_and_on_the_page(
    unit: str, along: float, across: float, step: float, least: int
) -> None:
    pages = pages_of(unit, along, across, step)[1]
    assert len(pages) >= least
    for number, figure in enumerate(pages, start=1):
        wide, high = figure.get_size_inches() * 25.4
        boxes = [(line.text, line.box) for line in lines(figure)]
        assert any(line.role == "cell" for line in lines(figure))  # no page of remarks alone
        assert f"Page {number} of {len(pages)}" in [text for text, _ in boxes]
        for text, (left, bottom, right, top) in boxes:
            assert min(left, bottom) >= 0.0, text
            assert right <= wide, text
            assert top <= high, text
        for (one, a), (two, b) in combinations(boxes, 2):
            assert not overlap(a, b), (one, two)


@pytest.mark.parametrize(("unit", "along", "across", "step", "least"), CASES)
def test_every_pier_and_everything_to_buy_has_its_row(
    unit: str, along: float, across: float, step: float, least: int
) -> None:
    plan, pages, order = pages_of(unit, along, across, step)
    told = [line for figure in pages for line in lines(figure)]
    cells = [line.text for line in told if line.role == "cell"]
    for pier in plan.foundations.piers.piers:
        assert cells.count(pier.name) == 1
    for _, item in order:
        assert item in cells
    assert {"Piers, heights from the level line", "To buy"} <= {line.text for line in told}
    # a table that goes on has its header again
    goes_on = [line.text for line in told if line.text.endswith(", continued")]
    heads = [line.text for line in told if line.role == "head"]
    assert heads.count("pier") + heads.count("quantity") == 2 + len(goes_on)


def test_the_ends_of_a_row_are_named_in_the_sketch_however_many_stand_between() -> None:
    plan, pages, _ = pages_of("ft", 40 * FT, 10 * FT, 3.0 * IN)
    named = {line.text for line in lines(pages[0]) if line.role == "pier"}
    rows: dict[str, list[str]] = {}
    for pier in plan.foundations.piers.piers:
        rows.setdefault(pier.name.partition("-")[0], []).append(pier.name)
    assert max(map(len, rows.values())) > 10
    assert {row[-1] for row in rows.values()} <= named
    assert {row[0] for row in rows.values()} <= named
