"""What stands near is on the plan and on the sheet for setting out, each thing with its name."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.nearby import widened
from gradework.drawings.plan.sheet import plan_and_findings
from gradework.drawings.setout import setout_and_findings
from gradework.earthwork.nearby import Nearby, Neighbour
from gradework.earthwork.outline import Outline
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan

DATA = Path(__file__).parents[2] / "data" / "tight-yard"


@lru_cache
def tight() -> Plan:
    return plan(read_job((DATA / "job.toml").read_bytes()), (DATA / "yard.csv").read_bytes())


def near_lines(figure: Any) -> list[Line]:
    letters = (artist for artist in figure.axes[0].get_children() if isinstance(artist, Letters))
    return [line for one in letters for line in one.lines if line.role == "near"]


def names() -> list[str]:
    return sorted(one.name for one in tight().nearby.neighbours)


def test_every_name_is_on_the_plan_and_none_on_another() -> None:
    figure, told = plan_and_findings(tight())
    written = near_lines(figure)
    assert sorted(line.text for line in written) == names()
    assert [finding.code for finding in told if finding.code == "names-left-out"] == []
    assert not any(overlap(one.box, other.box) for one, other in combinations(written, 2))


def test_every_name_is_on_the_sheet_for_setting_out() -> None:
    pages, _ = setout_and_findings(set_out_plan(tight(), Wanted()))
    assert sorted(line.text for page in pages for line in near_lines(page)) == names()


def test_the_map_takes_in_what_is_near_and_not_what_is_far() -> None:
    hut = Outline.rectangle((0.0, 0.0), (4.0, 3.0))
    things = [("close", (2.0, 12.0)), ("far", (2.0, 90.0))]
    nearby = Nearby(hut, tuple(Neighbour(name, "tree", np.array([at]), False) for name, at in things))
    low, high = widened(np.array([0.0, 0.0]), np.array([8.0, 8.0]), nearby, 5.0)
    assert (low.tolist(), high.tolist()) == ([0.0, 0.0], [8.0, 12.0])
