"""The spread of a pad: without doubt it is the pad itself; each doubt widens what it should."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from gradework.earthwork.likely import Likely, mesh_of
from gradework.earthwork.outline import Outline
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.likely import pad_spread
from gradework.foundations.pad.spec import PadSpec
from gradework.foundations.unsure import Unsure
from gradework.ground.surface import Surface

SURE = Unsure(topsoil=0.0, compaction=0.0)
BUILDING = Outline.rectangle((6.0, 6.0), (5.0, 4.0), 10.0)


def pad_on_slope(ground: Callable[..., Surface], **given: Any) -> tuple[Pad, Likely]:
    """A pad on a plane of 8 %, and the one ground that is sure."""
    surface = ground([(0, 0, 10.0), (20, 0, 11.6), (20, 20, 12.2), (0, 20, 10.6)])
    pad = design_pad(surface, BUILDING, replace(PadSpec(), **given))
    mesh = mesh_of(pad.outline)
    return pad, Likely(mesh, np.tile(surface.elevation(mesh.points), (4, 1)))


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"rule": "balanced", "drain": True},
        {"rule": "balanced", "drain": True, "native_fill": True, "most_native": 2.0},
        {"edge": "battered"},
        {"edge": "battered", "rule": "balanced", "drain": True, "native_fill": True},
    ],
)
def test_sure_ground_gives_the_pad_itself(ground: Callable[..., Surface], given: dict[str, Any]) -> None:
    pad, likely = pad_on_slope(ground, **given)
    found, chosen = pad_spread(pad, likely, SURE), pad.chosen
    wanted = {
        "cut": chosen.cut, "fill": chosen.fill, "net": chosen.cut - chosen.fill,
        "excavation": chosen.excavation, "gravel": chosen.gravel, "gravel_mass": chosen.gravel_mass,
        "boards": getattr(pad.edge, "face", 0.0),
    }  # fmt: skip
    for name, value in wanted.items():
        band = getattr(found, name)
        assert band.p10 == pytest.approx(value, rel=1e-5, abs=1e-6), name
        assert band.p90 == pytest.approx(value, rel=1e-5, abs=1e-6), name
    assert found.wanted == pytest.approx(chosen.gravel, rel=1e-5)


def test_lower_ground_takes_more_gravel_and_less_digging(ground: Callable[..., Surface]) -> None:
    """Ground that is known within a common 2 cm up or down: the edge of a battered pad follows."""
    for edge in ("boxed", "battered"):
        pad, likely = pad_on_slope(ground, edge=edge)
        shifts = np.array([[-0.02], [0.02]])
        found = pad_spread(pad, likely._replace(grounds=likely.grounds[:2] + shifts), SURE)
        lower = pad.ground.at(np.array([pad.chosen.level + 0.02, pad.chosen.level - 0.02]))
        middle = 0.9 * lower.gravel[0] + 0.1 * lower.gravel[1]  # the 90 % figure of two values
        assert found.gravel.p90 == pytest.approx(middle, rel=2e-3)
        low, high = sorted(lower.excavation.tolist())
        assert found.excavation.p90 == pytest.approx(0.9 * high + 0.1 * low, rel=2e-3)


def test_topsoil_and_stone_widen_what_they_should(ground: Callable[..., Surface]) -> None:
    pad, likely = pad_on_slope(ground)
    many = likely._replace(grounds=np.tile(likely.grounds[:1], (4000, 1)))
    soil = pad_spread(pad, many, replace(SURE, topsoil=0.01))
    # 1.2816 standard errors to the 90 % figure; all of this pad stands over its ground: it fills what it digs
    more = 1.2816 * 0.01 * pad.pieces.area
    assert soil.excavation.p90 - soil.excavation.p50 == pytest.approx(more, rel=0.06)
    assert soil.gravel.p90 - soil.gravel.p50 == pytest.approx(more, rel=0.06)
    assert soil.cut.p90 == soil.cut.p10
    stone = pad_spread(pad, many, replace(SURE, compaction=0.02, sure=0.8))
    assert stone.gravel.p90 == pytest.approx(stone.gravel.p10)
    assert stone.gravel_mass.p90 / stone.gravel_mass.p50 == pytest.approx(1.0 + 1.2816 * 0.02, rel=2e-3)
    assert stone.wanted / pad.chosen.gravel == pytest.approx(1.0 + 0.8416 * 0.02, rel=2e-3)


def test_soil_that_goes_back_counts_in_what_the_ground_leaves_open(ground: Callable[..., Surface]) -> None:
    found = {}
    for native in (False, True):
        given = {"drain": True, "native_fill": native, "most_native": 2.0}
        pad, likely = pad_on_slope(ground, rule="balanced", **given)
        waves = 0.05 * np.sin(likely.mesh.points @ (1.3, 0.4))
        grounds = likely.grounds[0] + np.linspace(-1.0, 1.0, 200)[:, None] * waves
        found[native] = pad_spread(pad, likely._replace(grounds=grounds), SURE)
        own = found[native].gravel.p90 - found[native].gravel.p50  # nothing but the ground is unsure
        assert found[native].open == pytest.approx(own / pad.chosen.gravel, abs=1e-9)
    assert found[True].gravel.p50 < 0.9 * found[False].gravel.p50


def test_slopes_lie_on_the_ground_that_is_drawn(ground: Callable[..., Surface]) -> None:
    """Every likely ground lies 5 cm lower than the shots tell: so does the foot of the slopes."""
    pad, likely = pad_on_slope(ground, edge="battered")
    lower = pad_spread(pad, likely._replace(grounds=likely.grounds - 0.05), SURE)
    higher = pad.ground.at(np.array([pad.chosen.level + 0.05]))
    assert lower.gravel.p50 == pytest.approx(float(higher.gravel[0]), rel=1e-5)
    assert lower.excavation.p50 == pytest.approx(float(higher.excavation[0]), rel=1e-5)
