"""The section through a building: its line, the ground on it, what stands there, against figures by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import gradework as gw
from gradework.errors import CheckError
from gradework.project import section as sections
from gradework.project.section import section_of

SLOPE = 0.08

JOB: dict[str, Any] = {
    "name": "Plane yard",
    "units": "m",
    "survey": {"notes": "yard.csv"},
    "building": {"size": [4.0, 3.0], "corner": [8.0, 8.0]},
    "soil": {"ground": "firm"},
}


def yard(along: float = SLOPE, across: float = 0.0) -> bytes:
    """A plane that falls toward greater x, and across it."""
    rows = [
        f"{x},{y},{50.0 - along * x - across * y:.6f}"
        for x in np.linspace(0.0, 20.0, 6)
        for y in np.linspace(0.0, 20.0, 6)
    ]
    return "\n".join(["x,y,z", *rows]).encode()


@pytest.fixture(scope="module")
def planned() -> Callable[..., Any]:
    def plan(kind: str, notes: bytes = yard(), **table: Any) -> Any:
        return gw.plan({**JOB, kind: table}, notes)

    return plan


def test_the_ground_is_that_of_the_plane(planned: Callable[..., Any]) -> None:
    """The line runs downhill through the middle of the building; the ground on it by hand."""
    found = section_of(planned("pad"))
    assert found is not None
    assert found.along == pytest.approx((1.0, 0.0))
    assert found.walls == (pytest.approx((0.0, 4.0)),)
    x = 8.0 + found.ground[:, 0]
    assert found.ground[:, 1] == pytest.approx(50.0 - SLOPE * x, abs=1e-6)
    assert (np.diff(found.ground[:, 0]) > 0.0).all()


def test_it_runs_the_way_that_falls_most(planned: Callable[..., Any]) -> None:
    found = section_of(planned("pad", yard(0.01, 0.06)))
    assert found is not None
    assert found.along == pytest.approx((0.0, 1.0))
    assert found.walls == (pytest.approx((0.0, 3.0)),)


def test_gravel_lies_between_its_level_and_the_stripped_ground(planned: Callable[..., Any]) -> None:
    plan = planned("pad", margin="300 mm", strip="75 mm", gravel="100 mm")
    found, level = section_of(plan), plan.pad.chosen.level
    assert found is not None
    (gravel,) = (part for part in found.parts if part.stuff == "gravel")
    assert gravel.corners[:, 0].min() == pytest.approx(-0.3)
    assert gravel.corners[:, 0].max() == pytest.approx(4.3)
    assert gravel.corners[:, 1].max() == pytest.approx(level)
    low = gravel.corners[1:-1]
    wanted = np.minimum(50.0 - SLOPE * (8.0 + low[:, 0]) - 0.075, level - 0.1)
    assert low[:, 1] == pytest.approx(wanted, abs=1e-6)


def test_at_the_edge_of_a_pad_the_ground_steps(planned: Callable[..., Any]) -> None:
    """Level to its boards, then down upright to the ground outside: never a slope into the pad."""
    plan = planned("pad", edge="boxed", margin="300 mm")
    found, level = section_of(plan), plan.pad.chosen.level
    assert found is not None
    inside = (found.finished[:, 0] > -0.3 + 1e-5) & (found.finished[:, 0] < 4.3 - 1e-5)
    assert found.finished[inside, 1] == pytest.approx(level)
    before = found.finished[found.finished[:, 0] < 4.3 + 1e-5][-2:]
    assert before[0, 1] == pytest.approx(level)
    assert np.interp(4.31, *found.finished.T) == pytest.approx(np.interp(4.31, *found.ground.T), abs=0.2)


def test_piers_stand_as_they_are_built(planned: Callable[..., Any]) -> None:
    """Every pier of the row: its bed from its bottom, its blocks up to the common top, skids to the floor."""
    plan = planned("piers")
    found, piers = section_of(plan), plan.foundations.piers
    assert found is not None
    rows = {round(pier.y, 3) for pier in piers.piers}
    row = [pier for pier in piers.piers if abs(pier.y - found.start[1] - plan.surface.origin[1]) < 0.05]
    assert len(rows) > 1
    assert len(row) >= 2
    beds = [part.corners for part in found.parts if part.stuff == "bed"]
    assert sorted(bed[0, 1] for bed in beds) == pytest.approx(sorted(pier.bottom for pier in row))
    blocks = [part.corners for part in found.parts if part.stuff == "block"]
    assert len(blocks) == sum(len(pier.laid) for pier in row)
    assert max(block[2, 1] for block in blocks) == pytest.approx(piers.top)
    (wood,) = (part.corners for part in found.parts if part.stuff == "wood")
    assert wood[2, 1] == pytest.approx(found.floor)


def test_a_slab_has_its_thickened_edge(planned: Callable[..., Any]) -> None:
    plan = planned("slab")
    found, slab = section_of(plan), plan.foundations.slab
    assert found is not None
    (concrete,) = (part.corners for part in found.parts if part.stuff == "concrete")
    assert concrete[:, 1].max() == pytest.approx(slab.level)
    assert concrete[:, 1].min() == pytest.approx(slab.level - slab.spec.edge_depth)


def test_gravel_that_hangs_in_the_air_is_refused(
    planned: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = planned("pad")
    filled = sections._filled
    monkeypatch.setattr(sections, "_filled", lambda *args: np.add(filled(*args), (0.0, 0.9)))
    with pytest.raises(CheckError, match="hangs above"):
        section_of(plan)


def test_piers_in_the_line_of_a_wall_are_cut_just_inside_it(planned: Callable[..., Any]) -> None:
    found = section_of(planned("piers", rows=2, side_inset="0 mm"))
    assert found is not None
    assert any(part.stuff == "block" for part in found.parts)
