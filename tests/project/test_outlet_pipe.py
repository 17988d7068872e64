"""The pipe out of the stone of a pad in clay: staked, in the record and on the sheets, by hand on a plane."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from gradework.drawings.section.led import profiles
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan

JOB = """\
name = "Clay"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [8, 8]
[pad]
margin = "300 mm"
strip = "100 mm"
gravel = "100 mm"
[soil]
kind = "clay"
ground = "firm"
"""


@cache
def clay() -> Plan:
    """A plane that falls 1 in 20 along x: a pad on it holds water below its lowest side."""
    rows = [f"S{i}-{j},{2 * i},{2 * j},{20 - 0.1 * i:.3f}" for i in range(12) for j in range(12)]
    return plan(read_job(JOB.encode()), "\n".join(["station,x,y,elevation", *rows, ""]).encode())


def test_it_is_staked_every_five_feet_from_the_low_corner_to_where_it_comes_out() -> None:
    done = clay()
    basin = done.pad.basin
    assert basin is not None
    (pipe,), outlet = basin.pipes, basin.outlet
    assert outlet is not None
    # from the low side, x = 12.3, its bottom 100 mm below the ground there; 1 in 20 down against 1 in 100
    assert outlet.start[0] == pytest.approx(12.3)
    assert outlet.bottom == pytest.approx(20.0 - 0.05 * 12.3 - 0.1)
    assert outlet.length == pytest.approx(0.1 / (0.05 - 0.01), abs=0.1)
    stakes = [
        one.stake for one in set_out_plan(done, Wanted()).sheet.points if one.stake.kind == "outlet pipe"
    ]
    assert [one.name for one in stakes] == [f"outlet pipe {k}" for k in range(1, len(stakes) + 1)]
    for stake in stakes:
        assert stake.aside is not None
        away = np.hypot(stake.aside.x - outlet.start[0], stake.aside.y - outlet.start[1])
        assert stake.grade == pytest.approx(outlet.bottom - 0.01 * away, abs=1e-9)
        assert stake.levels == (("pipe bottom", stake.grade),)
    ends = [
        np.hypot(one.aside.x - outlet.start[0], one.aside.y - outlet.start[1]) for one in stakes if one.aside
    ]
    assert ends[0] == pytest.approx(0.0)
    assert ends[-1] == pytest.approx(outlet.length)
    assert max(np.diff(ends)) <= 1.5 * 1.2 + 1e-9
    assert pipe.line[-1, 2] == pytest.approx(outlet.bottom - 0.01 * outlet.length)


def test_it_has_a_profile_and_stands_in_the_measures() -> None:
    done = clay()
    basin = done.pad.basin
    assert basin is not None
    found = {one.kind: one for one in profiles(done)}
    assert "outlet" in found
    assert found["outlet"].bottom[:, 1].tolist() == pytest.approx(basin.pipes[0].bends[0][:, 2].tolist())
    assert len(found["outlet"].posts) >= 2
    judged = done.foundations.judged_of("pad")
    assert judged is not None
    drains = [one.line for one in judged.measures if one.kind == "drain" and one.counted]
    assert [line.tolist() for line in drains] == [basin.pipes[0].line.tolist()]
    assert [line.item for line in done.order.lines if "drain pipe" in line.item]


def test_nothing_of_it_where_the_soil_drains() -> None:
    rows = [f"S{i}-{j},{2 * i},{2 * j},{20 - 0.1 * i:.3f}" for i in range(12) for j in range(12)]
    notes = "\n".join(["station,x,y,elevation", *rows, ""]).encode()
    done = plan(read_job(JOB.replace('"clay"', '"sand and gravel"').encode()), notes)
    assert not [one for one in set_out_plan(done, Wanted()).sheet.points if one.stake.kind == "outlet pipe"]
