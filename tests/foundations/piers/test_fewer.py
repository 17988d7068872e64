"""Where deeper skids take far fewer piers that is told, with what both come to; else nothing is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.outline import Outline
from gradework.foundations.checks.check import COMMON, Check
from gradework.foundations.piers import fewer
from gradework.foundations.piers.design import design_piers
from gradework.foundations.piers.fewer import FEWER, MANY, deeper_skids, fewer_told
from gradework.foundations.piers.layout import RowLayout
from gradework.foundations.piers.plan import Piers
from gradework.foundations.piers.spec import PierPrices, PierSpec
from gradework.foundations.timber.wood import section_of
from gradework.ground.surface import Surface
from gradework.units.display import FEET

Ground = Callable[..., Surface]
HALL = Outline.rectangle((1.0, 1.0), (8.0, 3.6))
XYZ = np.array([(x, y, 10.0 + 0.03 * x) for x in (0.0, 10.0) for y in (0.0, 6.0)])


@pytest.fixture(scope="module")
def yard(ground: Ground) -> Surface:
    return ground(XYZ)


def planned(yard: Surface, spec: PierSpec) -> Piers:
    return design_piers(yard, HALL, spec, PierPrices(), FEET, in_full=False)


def test_the_first_deeper_skid_that_takes_far_fewer_is_named(yard: Surface) -> None:
    own = planned(yard, PierSpec(layout=RowLayout(draw_in=True)))
    assert len(own.piers) > MANY
    first, *_ = deeper_skids(HALL, own, FEET)
    assert first.floor.skid.name == "4x6"
    other = planned(yard, first)
    assert len(other.piers) <= FEWER * len(own.piers)
    told = fewer_told(own, other, FEET)
    assert told is not None
    assert (told.code, told.severity) == ("pier-skid-deeper", "note")
    assert (told.value, told.limit) == (len(own.piers), len(other.piers))
    assert 'skid = "4x6" under [piers.floor]' in told.advice
    for piers in (own, other):
        assert f"{sum(pier.cost for pier in piers.piers):.0f}" in told.advice
    failing = Check("skid span", 2.0, 1.0, "m", COMMON)
    assert fewer_told(own, replace(other, checks=(*other.checks, failing)), FEET) is None


def test_a_size_that_takes_hardly_fewer_is_passed_over(
    yard: Surface, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = planned(yard, PierSpec(layout=RowLayout(draw_in=True)))
    monkeypatch.setattr(fewer, "FEWER", 0.01)
    assert list(deeper_skids(HALL, own, FEET)) == []


@pytest.mark.parametrize(
    "spec",
    [
        PierSpec(layout=RowLayout(draw_in=True, spacing=0.9)),  # the builder said how far apart
        PierSpec(floor=replace(PierSpec().floor, skid=section_of("4x8"))),  # nothing deeper is sold
    ],
)
def test_nothing_is_told_where_it_would_not_help(yard: Surface, spec: PierSpec) -> None:
    assert list(deeper_skids(HALL, planned(yard, spec), FEET)) == []


def test_nothing_is_told_of_a_few_piers(ground: Ground) -> None:
    hut = Outline.rectangle((1.0, 1.0), (2.4, 1.8))
    own = design_piers(ground(XYZ), hut, PierSpec(), PierPrices(), FEET, in_full=False)
    assert len(own.piers) <= MANY
    assert list(deeper_skids(hut, own, FEET)) == []
