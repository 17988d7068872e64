"""The plan sheet with piers or a slab in the place of the pad."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gradework.drawings.labels import overlap
from gradework.drawings.lettering import Letters, Line
from gradework.drawings.piers.details import pier_figures
from gradework.drawings.plan.sheet import draw_plan, plan_and_findings
from gradework.drawings.shopping import draw_shopping
from gradework.drawings.work_days import draw_days
from gradework.library.figures import draw_all, drawing_files
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, drawn_with, plan

DATA = Path(__file__).parents[3] / "data" / "orchard-studio"


@lru_cache
def studio() -> Plan:
    return plan(read_job((DATA / "job.toml").read_bytes()), (DATA / "yard.csv").read_bytes())


def lines(figure: Any) -> list[Line]:
    letters = (artist for artist in figure.axes[0].get_children() if isinstance(artist, Letters))
    return [line for one in letters for line in one.lines]


def test_piers_stand_where_they_are_planned_with_their_names() -> None:
    done = drawn_with(studio(), "piers")
    piers = done.foundations.piers
    assert piers is not None
    figure = draw_plan(done)
    names = {line.text: line for line in lines(figure) if line.role == "pier"}
    assert set(names) == {pier.name for pier in piers.piers}
    holes = {str(p.get_gid()): p for p in figure.axes[0].patches if str(p.get_gid()).startswith("pier ")}
    assert set(holes) == {f"pier {pier.name}" for pier in piers.piers}
    for pier in piers.piers:
        hole = holes[f"pier {pier.name}"]
        on_paper = np.array(pier.hole_size) * 1000 / 96  # [mm] at 1 in = 8 ft
        assert hole.get_path().get_extents().size == pytest.approx(on_paper, abs=1e-6)
    texts = {line.text for line in lines(figure)}
    assert piers.top is not None
    assert f"Top of piers {done.job.show.elevation(piers.top)}" in texts
    assert "Contour plan with the block piers" in texts
    assert not any("gravel pad" in text or text.startswith("Cut") for text in texts)


def crowded(piers: str, building: str = "size = [16, 12]\ncorner = [15, 15]") -> Plan:
    rows = [f"{x},{y},{100 - 0.05 * x - 0.01 * y}" for x in range(0, 50, 5) for y in range(0, 50, 5)]
    head = 'name = "Yard"\nunits = "ft"\n[survey]\nnotes = "yard.csv"\n'
    text = f"{head}[building]\n{building}\n[piers]\n{piers}\n"
    return plan(read_job(text.encode()), "\n".join(["x,y,elevation", *rows]).encode())


ELL = "outline = [[12,12],[30,12],[30,20],[22,20],[22,28],[12,28]]"
SMALL = "size = [12, 12]\ncorner = [15, 15]"


@pytest.mark.parametrize(
    ("piers", "building"),
    [
        ("rows = 2\nspacing = '12 ft'", SMALL),
        ("rows = 2\nspacing = '6 ft'", SMALL),
        ("rows = 3", ELL),
        ("rows = 5\nspacing = '3 ft'\nrow_spacing = '3 ft'", "size = [16, 12]\ncorner = [15, 15]"),
    ],
)
def test_every_pier_has_its_name_and_no_label_covers_a_hole(piers: str, building: str) -> None:
    done = crowded(piers, building)
    figure, told = plan_and_findings(done)
    assert done.foundations.piers is not None
    shown = lines(figure)
    names = [line for line in shown if line.role == "pier"]
    assert sorted(line.text for line in names) == sorted(p.name for p in done.foundations.piers.piers)
    assert told == ()
    assert all(line.height >= 0.73 * 6.0 * 25.4 / 72 for line in names)
    assert not any(overlap(a.box, b.box) for a, b in combinations(names, 2))
    holes = [
        p.get_path().get_extents().extents
        for p in figure.axes[0].patches
        if str(p.get_gid()).startswith("pier ")
    ]
    others = [line for line in shown if line.role in ("level", "side")]
    assert {line.role for line in others} == {"level", "side"}
    assert not any(overlap(line.box, tuple(hole)) for line in others for hole in holes)


def test_a_name_without_room_is_told_in_the_legend_and_as_a_finding() -> None:
    long = "the middle of the long house"
    places = ", ".join(
        f'"{long} {i}{j}" = [{16 + 2.0 * i}, {16 + 2.2 * j}]' for i in range(9) for j in range(5)
    )
    done = crowded(f"positions = {{ {places} }}", "size = [20, 12]\ncorner = [15, 15]")
    figure, told = plan_and_findings(done)
    names = [line for line in lines(figure) if line.role == "pier"]
    (finding,) = told
    assert finding.code == "names-left-out"
    assert finding.value == 45 - len(names) > 0
    legend = " ".join(line.text for line in lines(figure))
    assert f"no room for {45 - len(names)} of 45 names" in legend


def test_the_slab_has_its_level_and_its_figures() -> None:
    done = drawn_with(studio(), "slab")
    slab = done.foundations.slab
    assert slab is not None
    texts = {line.text for line in lines(draw_plan(done))}
    show = done.job.show
    assert f"Top of slab {show.elevation(slab.level)}" in texts
    assert {show.volume(slab.concrete.volume), "The slab"} <= texts


def test_pages_of_piers_come_as_one_pdf_and_as_pictures() -> None:
    files = drawing_files(draw_all(studio()), pictures=True)
    assert {name for name in files if name.startswith("pier")} == {
        f"pier-{what}-{page}.{kind}"
        for what in ("rows", "details")
        for page in (1, 2)
        for kind in ("png", "svg")
    }
    assert files["sheets.pdf"].startswith(b"%PDF")
    assert files == drawing_files(draw_all(studio()), pictures=True)


def test_the_shopping_list_holds_every_line_of_the_order_by_supplier() -> None:
    done = drawn_with(studio(), "piers")
    pages = [lines(page) for page in draw_shopping(done)]
    written = [line for page in pages for line in page]
    shops = [line.text for line in written if line.role == "shop"]
    assert shops == [
        "Quarry", "Masonry yard", "Timber yard", "Garden store", "Rental yard", "Not in this order",
    ]  # fmt: skip
    missing = " ".join(line.text for line in pages[-1] if line.role == "loads")
    assert "; ".join(done.not_ordered("piers")) in missing
    items = {line.text.removesuffix(" (beds)") for line in written if line.role == "item"}
    assert {line.item for line in done.order.lines} <= items
    assert {one.item for one in done.hired("piers")} <= items
    assert any("spare" in line.text for line in written if line.role == "why")
    boxes = [line.box for line in written]
    assert min(box[1] for box in boxes) > 3.0
    for page in pages:
        assert not [1 for one, other in combinations(page, 2) if overlap(one.box, other.box)]


def test_a_long_shopping_list_goes_on_over_the_page() -> None:
    done = drawn_with(studio(), "piers")
    order = replace(done.order, lines=done.order.lines * 4)
    pages = draw_shopping(replace(done, orders={**done.orders, "piers": order}))
    assert len(pages) > 2
    listed = sum(line.role == "item" for page in pages for line in lines(page))
    assert listed == len(order.lines) + len(done.hired("piers"))
    lowest = [min(lines(page), key=lambda line: line.box[1]) for page in pages]
    # the name of a supplier stands with its first line; the list ends with what is not in the order
    assert [line.role == "loads" for line in lowest] == [False] * (len(pages) - 1) + [True]


def test_the_days_hold_every_task_in_its_order_with_what_is_checked_next() -> None:
    done = studio()
    assert done.days is not None
    (page,) = draw_days(done)
    written = lines(page)
    assert [line.text for line in written if line.role == "item"] == [task.name for task in done.days.tasks]
    small = " ".join(line.text for line in written if line.role == "why")
    assert all(task.hold in small for task in done.days.tasks)
    assert [line.text for line in written if line.role == "shop"] == ["Before you dig", "The work"]
    assert not [1 for one, other in combinations(written, 2) if overlap(one.box, other.box)]


def test_where_nothing_is_ordered_there_is_no_list() -> None:
    slab = drawn_with(studio(), "slab")
    assert (draw_shopping(slab), draw_days(slab)) == ([], [])


def test_a_job_without_piers_has_no_such_pages() -> None:
    text = (DATA / "job.toml").read_text("utf-8").partition("\n[piers]")[0]
    done = plan(read_job(text.encode()), (DATA / "yard.csv").read_bytes())
    assert pier_figures(done) == {}
