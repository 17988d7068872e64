"""The yard at a slant: the ground that is there, nearer things over those behind them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import fromstring

import numpy as np
import pytest
import shapely

import gradework as gw
from gradework.report.page.oblique import View, oblique_picture, view_of
from gradework.report.page.pictures import WALL, yard_box

ROOT = Path(__file__).parents[3]
FLOOR = 31.0


@pytest.fixture(scope="module", params=["spring-pump-house", "orchard-studio"])
def plan(request: pytest.FixtureRequest) -> Any:
    return gw.plan(ROOT / "data" / request.param / "job.toml")


def shapes(plan: Any, floor: float | None = FLOOR) -> list[tuple[str, shapely.Polygon]]:
    """The pen and outline of each face, in the order of drawing."""
    found = []
    for path in fromstring(oblique_picture(plan, floor)).iterfind("{*}path"):
        corners = [tuple(map(float, pair)) for pair in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.attrib["d"])]
        found.append((path.attrib["class"], shapely.Polygon(corners)))
    return found


def test_all_ground_in_the_window_is_drawn(plan: Any) -> None:
    """Seen from straight above the pieces fill the window as far as there are shots; at a slant as much of it
    as the sine of 30 degrees, and what rises away from the eye shows more: by the shear of its slope."""
    left, low, right, high = yard_box(plan)
    window = shapely.box(left, low, right, high)
    hull = shapely.Polygon(plan.surface.vertices[plan.surface.hull, :2] + plan.surface.origin)
    area = window.intersection(hull).area
    view, rise = view_of(plan), 0.0
    ground = plan.finished
    corners = ground.vertices[ground.triangles] + np.append(ground.origin, 0.0)
    for triangle in corners:
        part = shapely.Polygon(triangle[:, :2]).intersection(window).area
        one, two = triangle[1] - triangle[0], triangle[2] - triangle[0]
        normal = np.cross(one, two)
        if normal[2] > 1e-9:
            rise += part * float(-normal[:2] @ view.away) / float(normal[2])
    scale = 1000.0 / _wide(plan, view)
    drawn = sum(shape.area for pen, shape in shapes(plan) if pen.startswith("lit-") or pen == "laid")
    wanted = area * np.sin(np.radians(30.0)) + rise * np.cos(np.radians(30.0))
    assert drawn / scale**2 == pytest.approx(wanted, rel=0.02)


def _wide(plan: Any, view: View) -> float:
    """How wide the picture is [m]: as its ground and building reach to the sides, and a little air."""
    left, low, right, high = yard_box(plan)
    hull = shapely.Polygon(plan.surface.vertices[plan.surface.hull, :2] + plan.surface.origin)
    seen = shapely.box(left, low, right, high).intersection(hull)
    every = [np.array(seen.exterior.coords), plan.building.rings[0]]
    across = np.concatenate([places @ view.right for places in every])
    return float(np.ptp(across)) + 0.2


def test_the_eye_looks_uphill(plan: Any) -> None:
    view, fall = view_of(plan), plan.footprint.mean
    assert float(view.away @ (fall.east, fall.north)) > 0.0
    assert float(view.away @ view.right) == pytest.approx(0.0)
    up, sideways = view.flat(np.array([(0.0, 0.0, 1.0), (*view.right, 0.0)]))
    assert up.tolist() == pytest.approx([0.0, np.cos(np.radians(30.0))])
    assert sideways.tolist() == pytest.approx([1.0, 0.0], abs=1e-12)


def test_walls_stand_over_the_ground_and_under_the_roof(plan: Any) -> None:
    pens = [pen for pen, _ in shapes(plan)]
    last_ground = max(k for k, pen in enumerate(pens) if pen.startswith("lit-") or pen in ("laid", "cut"))
    assert last_ground < min(k for k, pen in enumerate(pens) if pen == "seen")
    assert pens.count("seen") >= 3  # two walls and a gable
    assert 1 <= pens.count("roof") <= 2
    tall = [shape.bounds[3] - shape.bounds[1] for pen, shape in shapes(plan) if pen == "seen"]
    scale = 1000.0 / _wide(plan, view_of(plan))
    assert max(tall) >= WALL * np.cos(np.radians(30.0)) * scale - 1.0


def test_without_a_floor_the_ground_alone_is_drawn(plan: Any) -> None:
    pens = {pen for pen, _ in shapes(plan, None)}
    assert "cut" in pens
    assert not pens & {"seen", "roof", "pillar", "frame"}
