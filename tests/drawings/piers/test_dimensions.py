"""Dimensions of a stack: the links join without gaps and stay in their panel, however thin the units are."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise

import numpy as np
import pytest

from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters
from gradework.drawings.piers.details import chain_of, draw_pier_details
from gradework.drawings.piers.elevation import PierSheet
from gradework.earthwork.outline import Outline
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.piers.units import BlockUnit
from gradework.ground.surface import Surface
from gradework.units.display import FEET

SHED = Outline.rectangle((3.0, 2.0), (4.8, 3.6), 20.0)
THIN = BlockUnit("1 in paver", 0.0254, 0.4, 0.2, 4.0, 0.2)
THICK = BlockUnit("2 in paver", 0.0508, 0.4, 0.2, 8.0, 5.0)


def sheet_of(ground: Callable[..., Surface], *units: BlockUnit) -> PierSheet:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0.0, 11.0), np.arange(0.0, 10.0)))
    surface = ground(np.column_stack([x, y, 30.0 - 0.12 * x]))
    plan = design_piers(surface, SHED, PierSpec(units=units), PierPrices(), FEET)
    assert plan.top is not None
    return PierSheet("Shed", "yard.csv", FEET, surface, SHED, plan)


def test_thin_equal_courses_make_one_link(ground: Callable[..., Surface]) -> None:
    pier = max(sheet_of(ground, THIN).piers.piers, key=lambda pier: len(pier.laid))
    bed, stack = chain_of(pier, FEET, thin=0.05, most=9)
    assert bed.words == FEET.depth(pier.bed)
    assert stack.words == f"{len(pier.laid)} x 1 in"
    assert len(pier.laid) > 6


def test_links_join_from_the_bottom_to_the_top(ground: Callable[..., Surface]) -> None:
    for pier in sheet_of(ground, THIN, THICK).piers.piers:
        for thin, most in ((0.0, 99), (0.03, 99), (0.06, 99), (0.06, 2)):
            chain = chain_of(pier, FEET, thin=thin, most=most)
            assert chain[0].low == pier.bottom
            assert all(one.high == two.low for one, two in pairwise(chain))
            assert chain[-1].high == pytest.approx(pier.top, abs=1e-9)
        assert len(chain_of(pier, FEET, thin=0.0, most=99)) == 1 + len(pier.laid)
        if len(pier.laid) > 1:
            whole = chain_of(pier, FEET, thin=0.0, most=2)[-1]
            assert whole.words == f"all {FEET.depth(pier.height)}"


@pytest.mark.parametrize("units", [(THIN,), (THIN, THICK)])
def test_no_dimension_leaves_its_panel_or_covers_words(
    ground: Callable[..., Surface], units: tuple[BlockUnit, ...]
) -> None:
    for figure in draw_pier_details(sheet_of(ground, *units)):
        shown = [a for a in figure.axes[0].get_children() if isinstance(a, Letters)]
        words = [line for letters in shown for line in letters.lines]
        assert not any(overlap(a.box, b.box) for a, b in combinations(words, 2))
        panels = [p.get_bbox() for p in figure.axes[0].patches if str(p.get_gid()).startswith("panel")]
        dimensions = [line.box for line in words if line.role == "dimension"]
        assert len(dimensions) >= 2 * len(panels)
        for left, bottom, right, top in dimensions:
            assert any(p.x0 < left and right < p.x1 and p.y0 < bottom and top < p.y1 for p in panels)
