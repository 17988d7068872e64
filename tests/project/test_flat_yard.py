"""A flat lawn, invented, that rises toward one side of a pad by an inch and a half in 10 ft: no swale comes
out there.

The pad is raised and soil is shaped away from it; all of it is told, ordered, staked and drawn.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

import gradework
from gradework.drawings.section.led import profiles
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.report.plan import summary
from gradework.report.yard import setout_text

FT = 0.3048

JOB = """
name = "Flat lawn"
units = "ft"

[survey]
notes = "notes.csv"

[building]
size = [12, 8]
corner = [24, 24]

[soil]
ground = "firm"

[pad]
"""


def notes(up: float = 0.0125) -> bytes:
    """Shots every 6 ft, level but for the side toward +y, where it rises past the edge of the pad."""
    rows = [
        f"{k},{x},{y},{100.0 + up * max(y - 33.0, 0.0):.4f}"
        for k, (x, y) in enumerate(((x, y) for y in range(0, 61, 3) for x in range(0, 61, 6)), 1)
    ]
    return "\n".join(["station,x,y,elevation", *rows, ""]).encode()


@cache
def flat() -> Plan:
    return plan(read_job(JOB.encode()), notes())


def test_the_pad_is_raised_as_far_as_the_soil_needs() -> None:
    """By hand: 9 ft from the edge of the pad the ground has risen 1.35 in; the soil begins 6 in above that,
    the gravel an inch above the soil, found to 1/8 in."""
    found = flat()
    assert found.judged is not None
    assert found.judged.buildable is not False
    (made,) = found.measures
    assert made.dug is not None
    assert (made.kind, made.walls, made.cured) == ("plain_apron", ("wall (corners 3-4)",), made.walls)
    start = (100.0 + 0.0125 * 9.0 + 0.5) * FT
    assert made.dug.start == pytest.approx(start, abs=1e-6)
    assert 0.0254 <= found.pad.chosen.level - start <= 0.0254 + 0.0032
    water = [check for check in found.judged.checks if check.check == "water"]
    assert len(water) == 4
    assert all(check.holds for check in water)
    assert not [check for check in found.judged.checks if check.check == "water carried"]


def test_level_ground_needs_none() -> None:
    """There what shows of the edge counts as fall."""
    found = plan(read_job(JOB.encode()), notes(0.0))
    assert found.judged is not None
    assert found.judged.buildable is not False
    assert found.measures == ()


def test_its_soil_is_taken_from_the_dig_and_the_rest_is_bought() -> None:
    found = flat()
    (made,) = found.measures
    assert made.dug is not None
    soil = found.foundations.soils["pad"].soil
    wanted = made.dug.fill / found.pad.spec.compaction
    (earth,) = [line for line in found.order.lines if line.item.startswith("earth fill")]
    assert soil.sum_of("heaped") + earth.quantity * 0.9144**3 / soil.soil.swell.value >= wanted - 1e-6
    assert soil.sum_of("heaped") == pytest.approx(found.pad.chosen.hauled)
    assert found.judged is not None
    (told,) = [one for one in found.judged.measures if one.kind == "plain_apron"]
    assert (told.cut, told.fill) == (0.0, made.dug.fill)
    assert told.cost == pytest.approx(made.money)


def test_it_is_told_with_its_levels() -> None:
    text = " ".join(summary(flat()).split())
    assert "Plain apron too flat for a swale past the wall (corners 3-4): heap soil against the pad" in text
    assert "falling 5.6 % away from it over 9.0 ft, then 3:1 down to the ground" in text
    assert "the ground falls away from these walls as the rule asks" in text
    assert "No swale" not in text
    assert profiles(flat()) == []  # there is no bottom to draw


def test_its_foot_is_staked_where_the_ground_is() -> None:
    found = flat()
    made = set_out_plan(found, Wanted())
    stakes = [point for point in made.sheet.points if point.stake.kind == "apron"]
    assert len(stakes) >= 2
    for point in stakes:
        assert point.stake.aside is None
        assert point.mark is not None
        assert point.mark.kind == "GRADE"
        ground = found.surface.elevation(np.array([(point.stake.x, point.stake.y)]))[0]
        assert point.stake.levels == (("foot of the apron", pytest.approx(ground)),)
        assert point.stake.y >= 42.0 * FT - 1e-6
    text = " ".join(setout_text(made).split())
    assert "it falls away to the stakes at its foot." in text
    assert "The stakes of the apron stand at its foot" in text
    assert "Dig the swale" not in text


def test_the_record_and_the_map_have_its_foot() -> None:
    """With the elevation of the ground at each place."""
    done = gradework.plan(gradework.read_job(JOB.encode()), notes())
    (led,) = done.record()["pad"]["measures"]
    assert led["kind"] == "plain_apron"
    assert led["flow_m3_per_s"] is None
    assert led["heaped_to_m"] == pytest.approx(100.6125 * FT)
    x, y, z = np.array(led["line_m"]).T
    assert np.allclose(z, (100.0 + 0.0125 * (y / FT - 33.0)) * FT, atol=1e-6)
    assert x.max() - x.min() == pytest.approx(14.0 * FT)


def test_on_a_slab_soil_stays_below_the_siding() -> None:
    job = JOB.replace("[pad]", '[slab]\nedge_depth = "24 in"')
    found = plan(read_job(job.encode()), notes())
    assert found.foundations.slab is not None
    led = [one.dug for one in found.measures if one.dug is not None]
    assert [one.kind for one in led] == ["plain_apron"]
    assert found.foundations.slab.level - led[0].start >= 0.1524 - 1e-9
    assert found.judged is not None
    assert found.judged.buildable is not False
