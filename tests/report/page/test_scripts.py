"""The scripts of the page, run by an engine: the same sums and the same words as the program's own."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from py_mini_racer import MiniRacer

import gradework as gw
from gradework.earthwork.clip import clip
from gradework.earthwork.footprint import sides
from gradework.earthwork.outline import Outline
from gradework.earthwork.volumes import cut_and_fill
from gradework.ground.surface import Surface
from gradework.project.section import section_of
from gradework.report.page.data import page_data
from gradework.report.page.document import SCRIPTS
from gradework.sitework.asbuilt import best_common_level
from gradework.units.display import Display

ROOT = Path(__file__).parents[3]
PAGE = ROOT / "gradework" / "report" / "page"
Ground = Callable[..., Surface]

FORMS = [Display("ft"), Display("ft", "inches"), Display("m"), Display("m", "mm"), Display("ftUS")]


@pytest.fixture(scope="module")
def engine() -> MiniRacer:
    made = MiniRacer()
    made.eval("\n".join((PAGE / name).read_text("utf-8") for name in SCRIPTS))
    return made


def ask(engine: MiniRacer, call: str) -> Any:
    return json.loads(engine.eval(f"JSON.stringify({call})"))


def units(show: Display) -> str:
    foot = 1200 / 3937 if show.unit == "ftUS" else 0.3048
    return json.dumps({"form": show.form, "us": show.us, "metric": show.metric, "foot": foot})


def hills(ground: Ground, seed: int) -> Surface:
    random = np.random.default_rng(seed)
    shots = np.column_stack((random.uniform(0.0, 20.0, (40, 2)), random.uniform(9.0, 11.0, 40)))
    corners = [(0.0, 0.0, 10.0), (20.0, 0.0, 10.4), (0.0, 20.0, 9.5), (20.0, 20.0, 9.9)]
    return ground(np.vstack((shots, corners)))


def test_cut_and_fill_are_those_of_the_program(engine: MiniRacer, ground: Ground) -> None:
    """1,000 rectangles and L-shapes, turned anyhow, at as many levels, each to a billionth."""
    for seed in range(10):
        random = np.random.default_rng(seed)
        surface = hills(ground, seed)
        placed, own = [], []
        for number in range(100):
            size = random.uniform(1.0, 4.0, 2)
            ring = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * size
            if number % 2:
                ring = np.array([(0, 0), (1, 0), (1, 0.4), (0.5, 0.4), (0.5, 1), (0, 1)]) * size
            angle = random.uniform(0.0, math.tau)
            turn = np.array([(math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))])
            outline = Outline.polygon(ring @ turn + random.uniform(6.0, 14.0, 2))
            level = float(random.uniform(9.0, 11.0))
            [found] = cut_and_fill(clip(surface, outline), level)
            own.append((found.area, found.cut, found.fill))
            placed.append(([(r - surface.origin).tolist() for r in outline.rings], level))
        told = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
        engine.eval(f"var told = {json.dumps(told)}, placed = {json.dumps(placed)};")
        theirs = ask(engine, "placed.map(([rings, level]) => cutAndFill(told, rings, level))")
        both = [(one["area"], one["cut"], one["fill"]) for one in theirs]
        assert np.abs(np.array(both) - own).max() < 1e-9


def test_a_hole_counts_as_less(engine: MiniRacer, ground: Ground) -> None:
    surface = hills(ground, 3)
    outer = [(5.0, 5.0), (15.0, 5.0), (15.0, 15.0), (5.0, 15.0)]
    hole = [(8.0, 8.0), (12.0, 8.0), (12.0, 12.0), (8.0, 12.0)]
    outline = Outline.polygon([outer, hole])
    [found] = cut_and_fill(clip(surface, outline), 10.0)
    told = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
    rings = [(r - surface.origin).tolist() for r in outline.rings]
    theirs = ask(engine, f"cutAndFill({json.dumps(told)}, {json.dumps(rings)}, 10)")
    assert theirs == pytest.approx({"area": 84.0, "cut": found.cut, "fill": found.fill}, abs=1e-9)


@pytest.mark.parametrize("demo", ["spring-pump-house", "tight-yard"])
def test_the_pad_at_its_own_level_takes_what_the_plan_says(engine: MiniRacer, demo: str) -> None:
    """Under the pad alone; at other levels what the same rules give there."""
    plan = gw.plan(ROOT / "data" / demo / "job.toml")
    section = section_of(plan)
    data = page_data(plan, section, (0.0, 0.0, 1.0, 1.0))
    engine.eval(f"var page = {json.dumps(data)};")
    for more in (0.0, 0.05, -0.03, 0.2):
        level = plan.pad.chosen.level + more
        theirs = ask(engine, f"padSums(page.pad, page.ground, page.pad.rings, {level!r})")
        at = plan.pad.ground.at(np.array([level]))
        assert theirs["dig"] == pytest.approx(float(at.excavation[0] - at.edge_excavation[0]), abs=1e-9)
        assert theirs["gravel"] == pytest.approx(float(at.gravel[0] - at.edge_gravel[0]), abs=1e-9)
        assert theirs["edge"] == pytest.approx(max(level - plan.pad.ground.edge_low, 0.0))
        assert theirs["beyond"] == pytest.approx(0.0, abs=1e-9)


def test_gravel_in_the_section_moves_with_its_level(engine: MiniRacer) -> None:
    plan = gw.plan(ROOT / "data" / "spring-pump-house" / "job.toml")
    section = section_of(plan)
    data = page_data(plan, section, (0.0, 0.0, 1.0, 1.0))
    (gravel,) = (part.corners for part in section.parts if part.stuff == "gravel")
    engine.eval(f"var page = {json.dumps(data)};")
    level = plan.pad.chosen.level
    ends = np.array(section.start) + np.outer((-50.0, 50.0), section.along)
    (span,) = ask(engine, f"spansOf(page.pad.rings, ...{json.dumps(ends.tolist())})")
    assert np.array(span) - 50.0 == pytest.approx([gravel[0, 0], gravel[-1, 0]], abs=1e-9)
    span = json.dumps([one - 50.0 for one in span])
    theirs = np.array(ask(engine, f"gravelAt(page.pad, page.section.ground, {span}, {level!r})"))
    x = np.linspace(gravel[0, 0], gravel[-1, 0], 200)
    under = [np.interp(x, *ring[1:-1].T) for ring in (theirs, gravel)]
    assert under[0] == pytest.approx(under[1], abs=1e-9)


def test_a_pad_that_is_moved_takes_what_the_program_says_there(engine: MiniRacer, ground: Ground) -> None:
    """Turned about its middle, then moved: the rings, the sums, and the lowest ground along its sides."""
    surface = hills(ground, 5)
    told = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
    start = Outline.rectangle((8.0, 8.0), (4.0, 3.0), 20.0)
    rings = [(ring - surface.origin).tolist() for ring in start.rings]
    pad = {"strip": 0.075, "gravel": 0.1}
    engine.eval(f"var told = {json.dumps(told)}, rings = {json.dumps(rings)}, pad = {json.dumps(pad)};")
    for seed in range(20):
        random = np.random.default_rng(seed)
        (dx, dy), turn, level = (
            random.uniform(-3.0, 3.0, 2),
            random.uniform(-90.0, 90.0),
            random.uniform(9.5, 11.0),
        )
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        middle = start.rings[0].mean(axis=0)
        there = (start.rings[0] - middle) @ np.array([(c, s), (-s, c)]) + middle + (dx, dy)
        outline = Outline.polygon(there)
        [found] = cut_and_fill(clip(surface, outline), float(level) + 0.075 - 0.1)
        state = json.dumps({"dx": dx, "dy": dy, "turn": turn})
        engine.eval(f"var there = moved(rings, centreOf(rings[0]), {state});")
        theirs = ask(engine, f"padSums(pad, told, there, {float(level)!r})")
        assert theirs["dig"] == pytest.approx(0.075 * 12.0 + found.cut, abs=1e-9)
        assert theirs["gravel"] == pytest.approx(0.1 * 12.0 + found.fill, abs=1e-9)
        low = min(float(side.ground.min()) for side in sides(outline, clip(surface, outline)))
        assert theirs["edge"] == pytest.approx(max(level - low, 0.0), abs=1e-9)
        assert theirs["beyond"] == pytest.approx(0.0, abs=1e-9)


ELL = [(0.0, 0.0), (6.0, 0.0), (6.0, 2.0), (2.5, 2.0), (2.5, 5.0), (0.0, 5.0)]
YARD = [(1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (1.0, 2.0)]


@pytest.mark.parametrize("rings", [[ELL], [[(0.0, 0.0), (3.0, 0.4), (2.2, 2.9)]], [[*ELL[:3], (0.0, 2.0)]]])
def test_another_margin_moves_every_side_as_the_program_does(engine: MiniRacer, rings: list[Any]) -> None:
    outline = Outline.polygon(rings[0])
    own = json.dumps([ring.tolist() for ring in outline.rings])
    for margin in (0.05, 0.3048, 1.1):
        theirs = ask(engine, f"grown({own}, {margin!r})")
        for ring, wanted in zip(theirs, outline.grown(margin).rings, strict=True):
            assert np.abs(np.array(ring) - wanted).max() < 1e-9


def test_a_margin_that_closes_a_notch_or_a_hole_is_none(engine: MiniRacer) -> None:
    hall = [(0.0, 0.0), (8.0, 0.0), (8.0, 6.0), (5.0, 6.0), (5.0, 3.0), (4.0, 3.0), (4.0, 6.0), (0.0, 6.0)]
    assert ask(engine, f"grown({json.dumps([hall])}, 0.49)") is not None
    assert ask(engine, f"grown({json.dumps([hall])}, 0.51)") is None
    ring = Outline.polygon([[(0.0, 0.0), (6.0, 0.0), (6.0, 6.0), (0.0, 6.0)], YARD])
    own = json.dumps([one.tolist() for one in ring.rings])
    assert ask(engine, f"grown({own}, 0.4)") is not None
    assert ask(engine, f"grown({own}, 0.6)") is None


def test_where_a_line_runs_inside_an_outline(engine: MiniRacer) -> None:
    assert ask(engine, f"spansOf({json.dumps([ELL])}, [-1, 1], [9, 1])") == [[1.0, 7.0]]
    assert ask(engine, f"spansOf({json.dumps([ELL])}, [-1, 3], [9, 3])") == [[1.0, 3.5]]
    square = [[(0, 0), (6, 0), (6, 6), (0, 6)], YARD[::-1]]
    theirs = ask(engine, f"spansOf({json.dumps(square)}, [9, 1.5], [-5, 1.5])")
    assert theirs == [[3.0, 7.0], [8.0, 9.0]]


def test_money_for_the_pad_alone_is_that_of_its_digging_and_gravel(engine: MiniRacer) -> None:
    """Where the edge costs nothing, and no soil goes back: all of the cost that the rules go by."""
    plan = gw.plan(
        (ROOT / "data" / "orchard-studio" / "job.toml")
        .read_bytes()
        .replace(b"drain    = true", b"drain = false"),
        ROOT / "data" / "orchard-studio" / "yard.csv",
    )
    pad, prices = plan.pad, plan.foundations.prices
    data = page_data(plan, None, None)
    assert data["pad"] is None  # piers are chosen
    asked = {
        "strip": pad.spec.strip,
        "gravel": pad.spec.gravel,
        "density": pad.spec.density,
        "swell": pad.spec.swell,
    }
    own = pad.ground.prices
    asked["prices"] = {"dig": own.dig, "haul": own.haul, "gravel": own.gravel}
    sums = {"dig": 7.0, "gravel": 4.0}
    per_kg = 42.0 / 907.18474
    dig = (38.0 + 14.0 * pad.spec.swell) / 0.764554857984 * 7.0
    told = ask(engine, f"padMoney({json.dumps(asked)}, {json.dumps(sums)})")
    assert prices.dig == pytest.approx(38.0 / 0.764554857984)
    wet = 1.0 + plan.gravel.moisture
    assert told == pytest.approx(dig + 4.0 * pad.spec.density * per_kg * wet, rel=1e-9)


def test_the_best_common_level_is_that_of_the_as_built_check(engine: MiniRacer) -> None:
    for seed in range(200):
        random = np.random.default_rng(seed)
        tops = [float(x) for x in 30.0 + random.normal(0.0, 0.006, int(random.integers(2, 13)))]
        tolerance = float(random.choice([0.003175, 0.00635, 0.01]))
        [count, _, _, level] = ask(engine, f"bestLevel({json.dumps(tops)}, {tolerance!r}, 30.0)")
        wanted = best_common_level(tops, tolerance, 30.0)
        assert level == pytest.approx(wanted, abs=1e-9)
        assert count == sum(abs(top - wanted) > 0.5 * tolerance + 1e-9 for top in tops)


def test_a_pad_beyond_the_survey_says_how_much_of_it_is(engine: MiniRacer, ground: Ground) -> None:
    surface = ground([(0.0, 0.0, 1.0), (10.0, 0.0, 1.0), (0.0, 10.0, 1.0), (10.0, 10.0, 1.0)])
    told = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
    rings = np.array([[(8.0, 4.0), (12.0, 4.0), (12.0, 7.0), (8.0, 7.0)]]) - surface.origin
    pad = json.dumps({"strip": 0.0, "gravel": 0.1})
    theirs = ask(engine, f"padSums({pad}, {json.dumps(told)}, {json.dumps(rings.tolist())}, 1.2)")
    assert theirs["beyond"] == pytest.approx(6.0)


def test_the_ground_along_a_line_is_that_of_the_surface(engine: MiniRacer, ground: Ground) -> None:
    surface = hills(ground, 7)
    told = {"vertices": surface.vertices.tolist(), "triangles": surface.triangles.tolist()}
    ends = np.array([(3.3, 4.1), (16.2, 13.7)])
    local = (ends - surface.origin).tolist()
    theirs = np.array(
        ask(engine, f"profile({json.dumps(told)}, {json.dumps(local[0])}, {json.dumps(local[1])})")
    )
    assert theirs[0, 0] == pytest.approx(0.0)
    assert theirs[-1, 0] == pytest.approx(np.hypot(*(ends[1] - ends[0])))
    share = np.linspace(0.0, 1.0, 500)
    places = ends[0] + share[:, None] * (ends[1] - ends[0])
    heights = np.interp(share * theirs[-1, 0], *theirs.T)
    assert heights == pytest.approx(surface.elevation(places), abs=1e-9)


@pytest.mark.parametrize("show", FORMS, ids=lambda show: f"{show.unit} {show.form}")
def test_lengths_and_amounts_are_said_as_in_the_plan(engine: MiniRacer, show: Display) -> None:
    random = np.random.default_rng(1)
    lengths = [0.0, 0.3048, 0.9144, 0.0254, *random.uniform(-3.0, 40.0, 300), *random.uniform(0.0, 1.2, 200)]
    engine.eval(f"var u = {units(show)}, lengths = {json.dumps([float(one) for one in lengths])};")
    assert ask(engine, "lengths.map((one) => elevation(one, u))") == [show.elevation(one) for one in lengths]
    assert ask(engine, "lengths.map((one) => depth(one, u))") == [show.depth(one) for one in lengths]
    assert ask(engine, "lengths.map((one) => rod(one, u))") == [show.rod(one) for one in lengths]
    volumes = [float(one) for one in random.uniform(0.0, 30.0, 300)]
    masses = [float(one) for one in random.uniform(260.0, 30000.0, 300)]
    engine.eval(f"var volumes = {json.dumps(volumes)}, masses = {json.dumps(masses)};")
    assert ask(engine, "volumes.map((one) => volume(one, u))") == [show.volume(one) for one in volumes]
    assert ask(engine, "masses.map((one) => mass(one, u))") == [show.mass(one) for one in masses]


@pytest.mark.parametrize(
    ("typed", "form", "metres"),
    [
        ("4' 6 7/8\"", "inches", 54.875 * 0.0254),
        ('4’ 6⅞"', "inches", None),
        ("4'", "inches", 48 * 0.0254),
        ("54 7/8 in", "inches", 54.875 * 0.0254),
        ("54 7/8", "inches", None),
        ("4.57", "tenths", 4.57 * 0.3048),
        ("4' 6 1/2\"", "tenths", 54.5 * 0.0254),
        ("1.393", "m", 1.393),
        ("1,393", "m", 1.393),
        ("139.3 cm", "m", 1.393),
        ("1393", "mm", 1.393),
        ("1.393 m", "mm", 1.393),
        ("", "m", None),
        ("about 1.4", "m", None),
        ("1.2.3", "m", None),
        ("-", "tenths", None),
    ],
)
def test_a_typed_backsight_is_read_or_refused(
    engine: MiniRacer, typed: str, form: str, metres: float | None
) -> None:
    show = Display("ft", form) if form in ("inches", "tenths") else Display("m", form)  # type: ignore[arg-type]
    got = ask(engine, f"reading({json.dumps(typed)}, {units(show)})")
    assert got == (None if metres is None else pytest.approx(metres))


def test_no_function_is_longer_than_one_screen() -> None:
    for name in SCRIPTS:
        length = 0
        for line in (PAGE / name).read_text("utf-8").splitlines():
            length = 0 if line.startswith(("function ", "/**")) else length + 1
            assert length <= 55, f"{name}: {line}"
