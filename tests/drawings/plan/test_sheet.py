"""The plan as a builder meets it: both demo jobs, odd yards, words that bite; nothing overlaps."""

from __future__ import annotations

import hashlib
import re
import subprocess
import sys
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from gradework.drawings.curve import draw_curve
from gradework.drawings.frame import source_words
from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.plan.sheet import draw_plan
from gradework.drawings.save import Kind, figure_bytes
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan

DATA = Path(__file__).parents[3] / "data"
DEMOS = (("orchard-studio", "pad"), ("orchard-studio", ""), ("spring-pump-house", ""))
KINDS: tuple[Kind, ...] = ("png", "svg", "pdf")
POINTS_PER_MM = 72 / 25.4


def demo(name: str, build: str = "") -> Plan:
    """A demo with this foundation, "" for the one that the gate chooses: piers in the orchard."""
    folder = DATA / name
    text = (folder / "job.toml").read_bytes()
    job = read_job(f'build = "{build}"\n'.encode() * bool(build) + text, "job.toml")
    return plan(job, (folder / job.survey.notes).read_bytes())


@pytest.fixture(scope="module", params=DEMOS)
def done(request: pytest.FixtureRequest) -> Plan:
    return demo(*request.param)


def made(job: str, notes: str) -> Plan:
    return plan(read_job(job.encode(), "job.toml"), notes.encode())


def yard(
    *, unit: str = "m", size: float = 12.0, step: float = 2.0, rise: str = "0.05 * x", origin: float = 0.0,
    name: str = "Test yard", stations: tuple[str, ...] = (), **tables: str,
) -> Plan:  # fmt: skip
    """A plan of a square yard of ``size``, its building in the middle; ``rise`` is a formula of x and y."""
    rows, k = ["station,x,y,elevation"], 0
    for y in np.arange(0.0, size + step / 2, step):
        for x in np.arange(0.0, size + step / 2, step):
            z = 50.0 + float(eval(rise, {"np": np}, {"x": x, "y": y}))
            station = stations[k] if k < len(stations) else f"T{k}"
            rows.append(f'"{station}",{x + origin:.3f},{y + origin:.3f},{z:.3f}')
            k += 1
    corner = size * 0.4 + origin
    job = f'name = {_toml(name)}\nunits = "{unit}"\n{tables.pop("top", "")}\n[survey]\nnotes = "yard.csv"\n'
    job += tables.pop(
        "building", f"[building]\nsize = [{size * 0.2}, {size * 0.15}]\ncorner = [{corner}, {corner}]\n"
    )
    job += "".join(f"[{table}]\n{text}\n" for table, text in tables.items())
    return made(job, "\n".join(rows) + "\n")


def _toml(text: str) -> str:
    return '"' + "".join(c if c.isalnum() or c in " -$" else f"\\u{ord(c):04x}" for c in text) + '"'


def lines_of(figure, role: str = "") -> list[Line]:  # type: ignore[no-untyped-def]
    letters = (artist for artist in figure.axes[0].get_children() if isinstance(artist, Letters))
    return [line for one in letters for line in one.lines if line.role.startswith(role)]


def page_mm(figure) -> tuple[float, float]:  # type: ignore[no-untyped-def]
    wide, high = figure.get_size_inches() * 25.4
    return float(wide), float(high)


def assert_tidy(figure) -> None:  # type: ignore[no-untyped-def]
    """Every line of text on the page, and none over another."""
    wide, high = page_mm(figure)
    lines = lines_of(figure)
    assert len(lines) > 20
    for line in lines:
        left, bottom, right, top = line.box
        assert left >= -0.01, line
        assert bottom >= -0.01, line
        assert right <= wide + 0.01, line
        assert top <= high + 0.01, line
    marks = [
        (mark.get_gid(), *np.ravel(mark.get_data()))
        for mark in figure.axes[0].lines
        if mark.get_gid() in ("Highest shot", "Lowest shot")
    ]
    for words, x, y in marks:
        for line in lines:
            assert not overlap(line.box, (x - 1.0, y - 1.0, x + 1.0, y + 1.0)), (words, line.text)
    for one, other in combinations(lines, 2):
        if one.degrees in (0.0, 90.0) and other.degrees in (0.0, 90.0):
            assert not overlap(one.box, other.box), (one.text, other.text)


def test_a_long_table_takes_its_room_from_the_map() -> None:
    """An edge of one and two boards: its rows end above the footer, and the benchmark has a line."""
    figure = draw_plan(yard(rise="0.045 * x"))
    assert_tidy(figure)
    lines = {line.text: line.box for line in lines_of(figure)}
    (caution,) = (box for text, box in lines.items() if text.startswith("A plan for a small, light"))
    for words in ("Stakes, 1", "Stakes, 2", "Benchmark (where"):
        (box,) = (box for text, box in lines.items() if text.startswith(words))
        assert box[1] > caution[3] + 1.5, words


def test_the_demo_plan_says_what_the_builder_asks(done: Plan) -> None:
    figure, show = draw_plan(done), done.job.show
    texts = [line.text for line in lines_of(figure)]
    piers, chosen = done.foundations.piers, done.pad.chosen
    level = show.elevation(chosen.level)
    beside = sum(one.dug.cut for one in done.measures if one.dug is not None)
    beside += done.foundations.soils["pad"].soil.deeper  # room for the topsoil that goes back on it
    of_pad = (
        level,
        chosen.rule,
        show.volume(chosen.dug + beside),
        show.volume(chosen.gravel),
        show.mass(done.gravel.dry_kg),
        "Edge of the gravel pad",
    )
    of_piers: tuple[str, ...] = ()
    if piers is not None and piers.top is not None:
        of_piers = (show.elevation(piers.top), *(pier.name for pier in piers.piers))
    on_pad = done.foundations.chosen == "pad"
    assert on_pad or of_piers
    for wanted in (
        *(of_pad if on_pad else of_piers),
        done.job.name,
        done.stations.ground.elevation(done.footprint.fall),
        "Print at 100 % (actual size)",
        "Building",
        "Benchmark: BM 103.46 ft (given); where:" if done.benchmarks else "Benchmark (where, elevation):",
        "Date surveyed:",
    ):
        assert wanted in texts, wanted
    assert any(text.startswith("Scale 1") for text in texts)
    assert any(text.startswith("Contours every") for text in texts)
    assert any(text.startswith(f"Highest shot: {done.shape.high.station}") for text in texts)
    assert "buried services" in " ".join(texts)
    if on_pad:
        assert f"Finished level {level}" in texts or {"Finished level", level} <= set(texts)
    else:
        assert "Edge of the gravel pad" not in texts


def test_the_demo_sheets_are_tidy(done: Plan) -> None:
    assert_tidy(draw_plan(done))
    assert_tidy(draw_curve(done))


def test_no_label_of_the_map_leaves_its_border(done: Plan) -> None:
    figure = draw_plan(done)
    border = next(patch for patch in figure.axes[0].patches if patch.get_gid() == "border")
    box = border.get_bbox()
    for role in ("spot", "station", "slope", "contour", "difference", "level", "side"):
        for line in lines_of(figure, role):
            left, bottom, right, top = line.box
            assert box.x0 <= left, line
            assert right <= box.x1, line
            assert box.y0 <= bottom, line
            assert top <= box.y1, line
    title = lines_of(figure, "title")[0].box
    assert not any(overlap(title, line.box) for line in lines_of(figure) if line.role != "title")


def test_the_check_bars_measure_what_they_say(done: Plan) -> None:
    bars = {
        c.get_gid(): np.ptp(np.concatenate(c.get_segments())[:, 0])
        for c in draw_plan(done).axes[0].collections
        if str(c.get_gid()).startswith("check bar")
    }
    assert bars == {"check bar 50 mm": pytest.approx(50.0), "check bar 2 in": pytest.approx(50.8)}
    pdf = figure_bytes(draw_plan(done), "pdf")
    (media,) = re.findall(rb"/MediaBox \[ 0 0 ([0-9.]+) ([0-9.]+) \]", pdf)
    assert [float(side) for side in media] == pytest.approx(
        [190 * POINTS_PER_MM, 259 * POINTS_PER_MM], abs=0.1
    )


def test_the_building_is_drawn_to_the_written_scale() -> None:
    done = demo("orchard-studio")
    figure = draw_plan(done)
    assert lines_of(figure, "scale")[0].text == "Scale 1 in = 8 ft (1/8 in = 1 ft)"
    outline = next(a for a in figure.axes[0].get_children() if a.get_gid() == "Building")
    corners = outline.get_path().vertices
    wide, high = np.ptp(corners, axis=0)
    assert (wide / 25.4 * 8, high / 25.4 * 8) == pytest.approx((16.0, 12.0))


def test_a_battered_pad_shows_where_its_slopes_end() -> None:
    done = demo("spring-pump-house")
    figure = draw_plan(done)
    assert any(line.text == "Daylight line, slopes 2:1" for line in lines_of(figure))
    strokes = next(c for c in figure.axes[0].collections if c.get_gid() == "slope strokes")
    assert len(strokes.get_segments()) > 20
    boxed = draw_plan(demo("orchard-studio", "pad"))
    assert not any("Daylight" in line.text for line in lines_of(boxed))


def test_a_swale_is_drawn_where_it_is_dug() -> None:
    done = demo("spring-pump-house")
    figure = draw_plan(done)
    assert any(line.text.startswith("Swale to dig, falls this way") for line in lines_of(figure))
    line = next(c for c in figure.axes[0].collections if c.get_gid() == "swale")
    (drawn,) = line.get_segments()
    assert done.measures[0].made is not None
    bends = done.measures[0].made.bends[0][:, :2]
    steps, drawn_steps = (np.hypot(*np.diff(places, axis=0).T) for places in (bends, drawn))
    assert drawn_steps == pytest.approx(steps * 10.0)  # 1:100, in mm


def test_the_level_makes_room_for_the_lowest_shot_in_the_middle_of_the_pad() -> None:
    assert_tidy(draw_plan(yard(rise="0.02 * np.hypot(x - 6.0, y - 6.0)", size=12.0)))


def test_the_legend_holds_only_what_is_drawn() -> None:
    texts = {line.text for line in lines_of(draw_plan(demo("spring-pump-house")))}
    assert "Fill: below finished level" in texts
    assert "Cut: above finished level" not in texts  # the least-fill level stands above all ground here
    assert not any(text.startswith(("Steep", "Flat", "Hollow")) for text in texts)
    both = {line.text for line in lines_of(draw_plan(demo("orchard-studio", "pad")))}
    assert {
        "Fill: below finished level",
        "Cut: above finished level",
        "Ground at finished level",
    } <= both


ODD = {
    "flat": {"rise": "0.0"},
    "inches": {"unit": "ft", "size": 60.0, "step": 10.0, "rise": "0.02 * x"},
    "steep": {"rise": "0.4 * x + 0.05 * y"},
    "far away": {"origin": 500_000.0, "rise": "0.05 * x + 0.3 * np.sin(y)"},
    "US survey feet": {"unit": "ftUS", "size": 80.0, "step": 10.0},
    "hollow": {"rise": "0.02 * x - 0.8 * np.exp(-((x - 3) ** 2 + (y - 3) ** 2) / 4)"},
    "north": {"site": "north = 80"},
    "crowded": {"size": 12.0, "step": 0.4},
    "L with a courtyard": {
        "building": "[building]\noutline = [[3, 3], [9, 3], [9, 6], [6, 6], [6, 9], [3, 9]]\n"
        "holes = [[[4, 4], [5, 4], [5, 5], [4, 5]]]\n"
    },
    "lost in the yard": {
        "size": 400.0,
        "step": 20.0,
        "building": "[building]\nsize = [3, 2]\ncorner = [190, 205]\n",
    },
}


@pytest.mark.parametrize("case", ODD)
def test_odd_yards_are_drawn_tidily(case: str) -> None:
    done = yard(**ODD[case])  # type: ignore[arg-type]
    figure = draw_plan(done)
    assert_tidy(figure)
    assert_tidy(draw_curve(done))
    texts = [line.text for line in lines_of(figure)]
    if case == "flat":
        assert "The ground is flat: no contours." in texts
        assert not lines_of(figure, "contour")
    if case == "lost in the yard":
        assert "Only the ground near the building." in texts
    if case == "north":
        assert "N" in texts
    if case == "hollow":
        assert "Hollow: ticks point down into it" in texts
    assert len(figure_bytes(figure, "png")) > 10_000


def test_words_that_bite_are_drawn_as_they_are() -> None:
    names = ("first", r"$\frac$", "$$", "${{{{", "B\x07ell", "<b>&", r"\alpha", "家", "x" * 60)
    done = yard(name=r"Bob's $\frac{1}{2}$ acre & 家 \x1b" + "y" * 80, stations=names)
    figure = draw_plan(done)
    assert_tidy(figure)
    texts = [line.text for line in lines_of(figure)]
    assert r"$\frac$" in texts
    assert "Empty box: a letter not drawn here." in texts
    assert not any(c < " " for text in texts for c in text)
    title = lines_of(figure, "title")[0].text
    assert title.startswith(r"Bob's $\frac{1}{2}$")
    assert title.endswith("...")
    for kind in KINDS:
        assert len(figure_bytes(figure, kind)) > 10_000


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_job_gives_the_same_bytes(kind: Kind) -> None:
    sums = {
        hashlib.sha256(figure_bytes(draw(demo("spring-pump-house")), kind)).hexdigest()
        for draw in (draw_plan, draw_plan)
    }
    assert len(sums) == 1


def test_the_survey_mark_changes_with_any_shot() -> None:
    xyz = np.arange(12.0).reshape(4, 3)
    other = xyz.copy()
    other[2, 2] += 0.001
    first, second = source_words("some/folder/yard.csv", xyz), source_words("some/folder/yard.csv", other)
    assert first != second
    assert first.startswith("yard.csv: 4 shots, survey mark ")
    assert source_words("some/folder/yard.csv", xyz.copy()) == first


def test_pyplot_is_never_loaded() -> None:
    script = (
        "import sys; from gradework.drawings import curve, save; from gradework.drawings.plan import sheet; "
        "sys.exit('matplotlib.pyplot' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False).returncode == 0
