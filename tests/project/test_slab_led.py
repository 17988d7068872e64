"""A slab on a slope: what leads water past it is designed, judged, ordered, staked, recorded and told."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from gradework.exchange.record import record
from gradework.foundations.checks.limits import SIDING
from gradework.foundations.checks.wall_falls import wall_falls
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.report.plan import summary

JOB = b"""\
name = "Workshop"
units = "m"
build = "slab"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [8, 8]
[slab]
[soil]
ground = "firm"
"""


@lru_cache
def led() -> Plan:
    """An invented yard that falls 1 in 25 along x, in metres."""
    rows = [f"S{i}{j},{2 * i},{2 * j},{20 - 0.08 * i:.3f}" for i in range(11) for j in range(11)]
    return plan(read_job(JOB), "\n".join(["station,x,y,elevation", *rows, ""]).encode())


def test_the_slab_gets_a_swale_and_can_be_built() -> None:
    done = led()
    (measure,) = done.measures
    assert measure.dug is not None
    assert "wall (corners 4-1)" in measure.cured  # the uphill wall
    assert done.judged is not None
    assert done.judged.buildable, done.judged.failing
    assert any(one.kind == measure.kind for one in done.judged.measures)


def test_its_edge_stays_free_and_the_finished_ground_falls_away() -> None:
    done = led()
    slab, (measure,) = done.foundations.slab, done.measures
    assert slab is not None
    assert measure.dug is not None
    assert measure.dug.start <= slab.level - SIDING + 1e-9
    checks = {check.check: check for check in done.judged.checks} if done.judged else {}
    assert checks["siding"].value == pytest.approx(slab.level - measure.dug.start, abs=0.05)
    assert checks["slab edge"].holds
    falls = wall_falls(
        done.finished, done.building, done.drainage.rule, pad=measure.run.pad, inverts=measure.dug.catches
    )
    assert {fall.verdict for fall in falls} == {"away"}


def test_what_is_dug_is_ordered_paid_and_staked() -> None:
    done = led()
    slab, (measure,) = done.foundations.slab, done.measures
    assert slab is not None
    assert measure.dug is not None
    option = done.foundations.options["slab"]
    assert done.soil is not None
    strip = 0.0 if done.foundations.roof is None else done.foundations.roof.cut
    assert option.digging == pytest.approx(slab.dig + measure.dug.cut + strip + done.soil.deeper)
    assert "grass seed" in {line.item for line in done.order.lines}
    spoil = done.order.spoil
    assert spoil is not None
    # what is heaped is not hauled
    assert slab.hauled < spoil.bank.m3 <= slab.hauled + measure.dug.cut + strip + 1e-9
    stakes = [
        point.stake for point in set_out_plan(done, Wanted()).sheet.points if point.stake.kind == "swale"
    ]
    assert len(stakes) > 3
    bottoms = {round(z, 6) for z in np.concatenate(measure.dug.bends)[:, 2].tolist()}
    assert bottoms <= {round(stake.levels[0][1], 6) for stake in stakes}


def test_it_stands_in_the_record_and_the_words() -> None:
    done = led()
    (told,) = record(done)["slab"]["measures"]
    assert told["daylights"]
    assert told["cut_m3"] == pytest.approx(sum(one.dug.cut for one in done.measures if one.dug))
    text = " ".join(summary(done).split())
    assert "out from the edge of the slab" in text
    assert "the slab a strip" in text
