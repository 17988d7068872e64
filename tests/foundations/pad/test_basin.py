"""Stone in clay below the ground all round: how much water it holds, and how it is led out."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from gradework.earthwork.clip import clip
from gradework.earthwork.materials import GRAVELS, find_soil
from gradework.earthwork.outline import Outline
from gradework.foundations.buying.pad_prices import PadPrices
from gradework.foundations.comparison import option_of_pad
from gradework.foundations.pad.basin import water_held
from gradework.foundations.pad.design import Pad, design_pad
from gradework.foundations.pad.spec import PadSpec
from gradework.ground.surface import Surface
from gradework.units.display import FEET

Ground = Callable[..., Surface]
IN, FT = 0.0254, 0.3048
PAD = Outline.rectangle((20 * FT, 20 * FT), (18 * FT, 14 * FT))
CLAY = PadSpec(soil=find_soil("clay"), margin=0.0, material=GRAVELS["clean"])
PRICES = PadPrices(dig=40.0, haul=15.0, gravel=0.04, boards=30.0)


def yard(ground: Ground, fall: float, reach: float = 60.0) -> Surface:
    marks = np.linspace(0.0, reach * FT, 7).tolist()
    return ground([(x, y, 10.0 - fall * x) for x in marks for y in marks])


def designed(surface: Surface, **spec: object) -> Pad:
    return design_pad(surface, PAD, replace(CLAY, **spec), PRICES, FEET)  # type: ignore[arg-type]


@pytest.mark.parametrize("level", [9.7, 9.9, 10.2])
def test_water_on_a_slope_by_cells(ground: Ground, level: float) -> None:
    surface = yard(ground, 0.04)
    pieces, low = clip(surface, PAD), 10.0 - 0.04 * 38 * FT
    x = 20 * FT + (np.arange(4000) + 0.5) / 4000 * 18 * FT
    bottom = np.minimum(10.0 - 0.04 * x - CLAY.strip, level - CLAY.gravel)
    wanted = 0.4 * float(np.maximum(min(low, level) - bottom, 0.0).mean()) * PAD.area
    assert water_held(pieces, low, CLAY, level) == pytest.approx(wanted, rel=1e-4)


def test_a_pipe_leads_it_out_downhill(ground: Ground) -> None:
    """Ground that falls 5 % and a pipe that falls 1 %: 4 in of strip come out 4 in / 4 % = 8 1/3 ft away."""
    pad = designed(yard(ground, 0.05))
    assert pad.basin is not None
    outlet = pad.basin.outlet
    assert outlet is not None
    assert outlet.length == pytest.approx(4 * IN / 0.04, abs=0.1)
    assert outlet.end[0] - outlet.start[0] == pytest.approx(outlet.length)
    assert outlet.cut == pytest.approx(0.5 * 4 * IN * outlet.length * FT, rel=0.06)
    assert pad.basin.check.holds
    [finding] = [one for one in pad.findings if one.code == "pad-basin"]
    assert finding.severity == "note"
    option = option_of_pad(pad, PRICES, None, pad.pieces)
    assert option.takes["drain pipe"] == pytest.approx(outlet.length / 3.048)


def test_level_clay_is_stopped_and_ground_that_ends_is_asked_for(ground: Ground) -> None:
    shut = designed(yard(ground, 0.0))
    assert shut.basin is not None
    assert shut.basin.check.holds is False
    assert {f.severity for f in shut.findings if f.code == "pad-basin"} == {"stop"}
    ends = designed(yard(ground, 0.02, reach=40.0))
    assert ends.basin is not None
    assert ends.basin.check.holds is None
    assert {f.severity for f in ends.findings if f.code == "pad-basin"} == {"warning"}
    built_up = designed(yard(ground, 0.0), strip=0.0)
    assert built_up.basin is not None
    assert built_up.basin.check.holds
    assert "pad-basin" not in {f.code for f in built_up.findings}


def test_soil_that_drains_is_no_tub(ground: Ground) -> None:
    pad = designed(yard(ground, 0.0), soil=find_soil("sand"))
    assert pad.basin is None
    assert "stone drained" not in {check.check for check in pad.checks}


def test_the_shortest_way_out_of_a_turned_pad(ground: Ground) -> None:
    """On a plane that falls across the corner the pipe runs down it, to ten degrees."""
    marks = np.linspace(0.0, 18.0, 7).tolist()
    surface = ground([(x, y, 10.0 - 0.03 * x - 0.04 * y) for x in marks for y in marks])
    pad = designed(surface)
    assert pad.basin is not None
    assert pad.basin.outlet is not None
    start, end = np.array(pad.basin.outlet.start), np.array(pad.basin.outlet.end)
    way = math.degrees(math.atan2(*(end - start)[::-1].tolist()))
    assert way == pytest.approx(math.degrees(math.atan2(0.04, 0.03)), abs=10.0)
