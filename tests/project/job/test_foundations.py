"""The tables of piers, slab and setting out: given values arrive, absent ones keep the rooms' defaults."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gradework.errors import Fault, InputError
from gradework.foundations.piers.spec import PierSpec
from gradework.foundations.piers.units import BASE_PADS, UNITS_ON_HAND
from gradework.foundations.slab.spec import SlabSpec
from gradework.project import specs
from gradework.project.job.foundations import METRIC_LAYOUT, PIERS_METRIC_DEFAULTS
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.sitework.asbuilt import LEVEL_TOLERANCE
from gradework.sitework.setout import BATTER_BOARD_OFFSET
from gradework.units.lengths import parse_length

INCH = 0.0254
PSF = 0.04788025898
HEAD = 'name = "x"\nunits = "ft"\n'
BODY = '[survey]\nnotes = "n.csv"\n[building]\nsize = [16, 12]\ncorner = [0, 0]\n'


def job(tables: str = "", top: str = "") -> Job:
    return read_job((HEAD + top + BODY + tables).encode(), "job.toml")


def faults(tables: str, top: str = "") -> list[Fault]:
    with pytest.raises(InputError) as told:
        job(tables, top)
    return list(told.value.faults)


def pier_spec(tables: str) -> PierSpec:
    table = job(tables).piers
    assert table is not None
    return table.spec(us=True)


def slab_spec(tables: str) -> SlabSpec:
    table = job(tables).slab
    assert table is not None
    return table.spec(us=True)


def test_absent_tables_are_absent_and_the_pad_is_what_is_asked_for() -> None:
    plain = job()
    assert (plain.piers, plain.slab, plain.asked, plain.chosen) == (None, None, ("pad",), "pad")


def test_empty_tables_ask_for_the_defaults() -> None:
    both = job("[piers]\n[slab]\n")
    assert both.asked == ("piers", "slab")
    assert both.chosen == "piers"
    assert pier_spec("[piers]\n") == PierSpec()
    assert slab_spec("[slab]\n") == SlabSpec()


def test_build_names_what_is_ordered_and_must_have_its_table() -> None:
    assert job("[pad]\n[piers]\n", 'build = "piers"\n').chosen == "piers"
    (fault,) = faults("[pad]\n", 'build = "slab"\n')
    assert (fault.code, fault.line) == ("job-clash", 3)
    (fault,) = faults("[pad]\n", 'build = "peirs"\n')
    assert (fault.code, fault.fix) == ("job-value", 'did you mean "piers"?')


PIERS = """
[piers]
goal = "fewest units"
rows = 3
spacing = "5 ft"
end_inset = "6 in"
side_inset = "9 in"
along = "first side"
double = true
margin = "3 in"
least_dig = "8 in"
deeper = "2 in"
bed_least = "5 in"
bed_most = "7 in"
tallest = "40 in"
clearance = "-2 in"
top = 103.5
frost = "30 in"
dig_to_frost = true
eave = "9 ft"
floor = { beam = "5.5 in", treated = false }
loads = { floor = "60 psf", snow = "45 psf", bearing = "100 kPa" }
[[piers.units]]
name = "thick"
thickness = "8 in"
length = "16 in"
width = "8 in"
weight = "35 lb"
price = 2.5
hollow = true
[[piers.units]]
name = "thin"
thickness = "1.5 in"
length = "16 in"
width = "8 in"
weight = "17 lb"
price = 1
carries = false
"""


def test_every_value_of_the_piers_arrives() -> None:
    spec = pier_spec(PIERS)
    assert (spec.goal, spec.across, spec.layout.rows) == ("fewest units", 2, 3)
    assert spec.layout.along == "first side"
    lengths = (spec.layout.spacing, spec.layout.end_inset, spec.layout.side_inset, spec.margin)
    assert lengths == pytest.approx([i * INCH for i in (60, 6, 9, 3)])
    depths = (spec.least_dig, spec.deeper, spec.bed_least, spec.bed_most, spec.tallest, spec.clearance)
    assert depths == pytest.approx([i * INCH for i in (8, 2, 5, 7, 40, -2)])
    assert (spec.top, spec.frost.depth, spec.frost.eave) == pytest.approx((103.5 * 0.3048, 30 * INCH, 2.7432))
    assert (spec.floor.beam, spec.floor.joists) == pytest.approx((5.5 * INCH, 5.5 * INCH))
    assert not spec.floor.treated
    assert (spec.loads.floor, spec.loads.bearing) == pytest.approx((60 * PSF, 100.0))
    assert spec.frost.dig
    assert spec.loads.snow == pytest.approx(45 * PSF)
    assert spec.loads.dead == PierSpec().loads.dead
    thick, thin = spec.units
    assert (thick.name, thick.hollow, thick.may_cap, thick.price) == ("thick", True, False, 2.5)
    assert thick.mass == pytest.approx(35 * 0.45359237)
    assert (thin.may_carry, thin.may_cap, thin.most_in_stack) == (False, True, 1)


def test_wood_is_told_by_size_or_by_depth() -> None:
    sized = pier_spec(
        '[piers.floor]\nskid = "4x6"\njoist = "2-2x8"\njoist_spacing = "12 in"\nspecies = "southern pine"\n'
    ).floor
    assert (sized.skid.name, sized.joist.name, sized.joist.plies) == ("4x6", "2-2x8", 2)
    assert (sized.beam, sized.joists) == pytest.approx((5.5 * INCH, 7.25 * INCH))
    assert (sized.joist_spacing, sized.wood.species) == (pytest.approx(12 * INCH), "southern pine")
    deep = pier_spec('[piers]\nfloor = { beam = "7.25 in", joists = "140 mm" }\n').floor
    assert (deep.skid.name, deep.joist.name) == ("4x8", "38x140")
    assert deep.joist.counted_as.name == "2x6"
    own = pier_spec(
        '[piers]\n[piers.floor]\nskid = "70x70"\n'
        'strengths = { bending = "7.5 MPa", shear = "0.8 MPa", bearing = "2 MPa", stiffness = "9 GPa" }\n'
    ).floor
    assert own.wood.own == (7500.0, 800.0, 2000.0, 9e6)
    assert own.wood.sized(own.skid)[0] is own.skid


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ('skid = "5x5"', "job-value"),
        ('skid = "70x70"', "job-value"),
        ("skid = 4", "job-value"),
        ('beam = "2 in"', "job-value"),
        ('species = "oak"', "job-value"),
        ('skid = "4x6"\nbeam = "5.5 in"', "job-clash"),
        ('strengths = { bending = "7.5 MPa" }', "job-missing-key"),
    ],
)
def test_wood_of_unknown_strength_is_refused(line: str, code: str) -> None:
    with pytest.raises(InputError) as told:
        pier_spec(f"[piers]\n[piers.floor]\n{line}\n")
    assert {fault.code for fault in told.value.faults} == {code}
    assert all(fault.line for fault in told.value.faults)


def test_walls_and_roof_stand_in_the_building() -> None:
    lines = 'wall_height = "7 ft"\noverhang = "0 in"\nroof = "ridge beam"\nridge = "second side"\n[piers]\n'
    whole = job(lines)
    assert whole.piers is not None
    spec = specs.pier_spec(whole, whole.piers)
    assert spec.shell[:3] == pytest.approx((7 * 0.3048, 0.0, "ridge beam"))
    assert spec.ridge == "second side"
    plain = job("[piers]\n")
    assert plain.piers is not None
    assert specs.pier_spec(plain, plain.piers).shell == PierSpec().shell


def test_pads_may_be_left_out() -> None:
    assert pier_spec("[piers]\n").pads == BASE_PADS["US"]
    assert pier_spec("[piers]\nbase_pads = false\n").pads == ()


def test_positions_by_name_keep_their_order_and_unit() -> None:
    spec = pier_spec('[piers.positions]\nNW = [1, 11]\nSE = ["180 in", 1]\n')
    assert [name for name, _, _ in spec.positions] == ["NW", "SE"]
    assert spec.positions[1][1:] == pytest.approx((15 * 0.3048, 0.3048))


def test_an_empty_list_of_positions_is_no_way_to_ask_for_rows() -> None:
    with pytest.raises(InputError) as told:
        job("[piers]\npositions = {}\n")
    (fault,) = told.value.faults
    assert (fault.code, fault.found) == ("job-value", "positions: no piers")
    assert "leave positions out" in fault.fix


def test_default_blocks_follow_the_country() -> None:
    assert pier_spec('[piers]\nblock_sizes = "au"\n').units == UNITS_ON_HAND["AU"]
    table = job("[piers]\n").piers
    assert table is not None
    assert table.spec(us=False).units == UNITS_ON_HAND["UK"]


def test_metric_piers_are_planned_in_round_metric_sizes() -> None:
    table = job("[piers]\n").piers
    assert table is not None
    spec, us = table.spec(us=False), PierSpec()
    page = PAGE.partition("## `[slab]`")[0]
    shown = dict(re.findall(r"^\| `(\w+)` \|.*in metres `\"([^`\"]+)\"` \|$", page, re.M))
    beds = re.search(r'`bed_most` \|.*in metres `"(.+?)"`, `"(.+?)"` \|', PAGE)
    assert beds is not None
    shown |= dict(zip(("bed_least", "bed_most"), beds.groups(), strict=True))
    assert set(shown) == {*PIERS_METRIC_DEFAULTS, *METRIC_LAYOUT, "eave"}
    joists = re.search(r'^\| `floor` \|.*joists in metres `"(.+?)"` apart \|$', page, re.M)
    assert joists is not None
    walls = (Path(__file__).parents[3] / "docs" / "job-file.md").read_text("utf-8")
    shown |= {"joist_spacing": joists[1]}
    shown |= dict(re.findall(r'^\| `(wall_height|overhang)` \|.*in metres `"(.+?)"` \|$', walls, re.M))
    assert {"wall_height", "overhang"} <= set(shown)
    for name, value in shown.items():
        mine, other = (
            next(p for p in (s, s.layout, s.floor, s.shell, s.frost) if hasattr(p, name)) for s in (spec, us)
        )
        assert getattr(mine, name) == pytest.approx(parse_length(value, None)), name
        assert getattr(other, name) * 0.98 <= getattr(mine, name) + 1e-9 <= getattr(other, name), name
    given = job('[piers]\nspacing = "4 ft"\nbed_least = "200 mm"\n').piers
    assert given is not None
    own = given.spec(us=False)
    assert own.layout.spacing == pytest.approx(4 * 0.3048)
    assert (own.layout.row_spacing, own.bed_least, own.bed_most) == (None, 0.2, 0.2)


def test_a_thick_least_bed_lifts_the_most() -> None:
    spec = pier_spec('[piers]\nbed_least = "8 in"\n')
    assert spec.bed_most == spec.bed_least


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("rows = 0", "job-out-of-range"),
        ("rows = 2.5", "job-value"),
        ("rows = true", "job-value"),
        ('spacing = "0 ft"', "job-value"),
        ("spacing = 6", "job-length"),
        ("clearance = 2", "job-length"),
        ('goal = "cheap"', "job-value"),
        ('block_sizes = "FR"', "job-value"),
        ("loads = { floor = 40 }", "job-value"),
        ('loads = { floor = "40 lb" }', "job-value"),
        ('loads = { flor = "40 psf" }', "job-unknown-key"),
        ('loads = { bearing = "0 psf" }', "job-value"),
        ('spaceing = "6 ft"', "job-unknown-key"),
        ("positions = [[1, 2]]", "job-value"),
        ('units = [{ name = "a" }]', "job-missing-key"),
        ("positions = { A = [1] }", "job-value"),
    ],
)
def test_what_does_not_fit_is_told_with_its_line(line: str, code: str) -> None:
    found = faults(f"[piers]\n{line}\n")
    assert {f.code for f in found} == {code}
    assert {f.line for f in found} == {9}


def test_a_wrong_key_of_a_block_is_answered_with_the_keys_of_blocks() -> None:
    (fault,) = faults(PIERS.replace("carries =", "carrys ="))
    assert (fault.code, fault.fix) == ("job-unknown-key", "did you mean carries?")


def test_an_impossible_block_is_refused_by_name() -> None:
    with pytest.raises(InputError) as told:
        pier_spec(PIERS.replace("carries = false", "carries = false\ncaps = false"))
    assert [f.code for f in told.value.faults] == ["block-unit-impossible"]


def test_an_empty_list_of_blocks_is_refused() -> None:
    with pytest.raises(InputError) as told:
        pier_spec("[piers]\nunits = []\n")
    assert [f.code for f in told.value.faults] == ["block-units-missing"]


SLAB = """
[slab]
level = 101.5
freeboard = "5 in"
margin = "0 in"
thickness = "5 in"
edge_depth = "16 in"
edge_width = "10 in"
strip = "6 in"
base = "5 in"
fill = "earth"
waste = "8 %"
mesh = false
film_roll = { name = "thick film", width = "12 ft", length = "50 ft", lap = "12 in" }
heated = true
"""


def test_every_value_of_the_slab_arrives() -> None:
    spec = slab_spec(SLAB)
    given = (
        spec.freeboard,
        spec.margin,
        spec.thickness,
        spec.edge_depth,
        spec.edge_width,
        spec.strip,
        spec.base,
    )
    assert given == pytest.approx([i * INCH for i in (5, 0, 5, 16, 10, 6, 5)])
    assert (spec.level, spec.fill, spec.waste, spec.heated) == (
        pytest.approx(101.5 * 0.3048),
        "earth",
        pytest.approx(0.08),
        True,
    )
    assert spec.mesh is None
    assert spec.film is not None
    assert (spec.film.name, spec.film.lap) == ("thick film", pytest.approx(0.3048))


def test_a_metric_slab_is_planned_in_round_metric_sizes() -> None:
    table = job("[slab]\n").slab
    assert table is not None
    spec, us = table.spec(us=False), SlabSpec()
    page = PAGE.partition("## `[slab]`")[2]
    shown = dict(re.findall(r"^\| `(\w+)` \|.*in metres `\"([^`\"]+)\"` \|$", page, re.M))
    assert len(shown) == 6
    for name, value in shown.items():
        assert getattr(spec, name) == pytest.approx(parse_length(value, None)), name
        assert getattr(spec, name) == pytest.approx(getattr(us, name), rel=0.06), name
    assert spec.freeboard > us.freeboard  # less would break the rule of 6 in of fall on level ground
    assert all(height * 1000 % 5 == pytest.approx(0.0) for height in spec.form_heights)
    thick = job('[slab]\nthickness = "350 mm"\n').slab
    assert thick is not None
    assert thick.spec(us=False).edge_depth == 0.35


def test_a_slab_thicker_than_its_edge_has_no_edge() -> None:
    spec = slab_spec('[slab]\nthickness = "14 in"\n')
    assert spec.edge_depth == spec.thickness


@pytest.mark.parametrize(("key", "lap"), [("film_roll", "0.6 m"), ("mesh_sheet", "1.2 m")])
def test_a_lap_wider_than_half_a_sheet_is_refused(key: str, lap: str) -> None:
    (fault,) = faults(f'[slab]\n{key} = {{ name = "s", width = "1 m", length = "9 m", lap = "{lap}" }}\n')
    assert (fault.code, fault.found) == ("job-value", f"{key}: a lap of more than half the sheet")
    assert "smaller lap" in fault.fix


def test_metric_sheets_for_a_metric_job() -> None:
    table = job("[slab]\n").slab
    assert table is not None
    film = table.spec(us=False).film
    assert film is not None
    assert (film.width, film.length) == (4.0, 25.0)


def test_marks_and_benchmarks() -> None:
    table = job(
        '[setout]\noffset = "3 ft"\nbenchmarks = { BM = 100 }\n'
        'marks = { gate = [0, 0], "oak tree" = [30, 2] }\n'
    ).setout
    assert table.marks == {"gate": (0.0, 0.0), "oak tree": pytest.approx((9.144, 0.6096))}
    assert table.benchmarks == {"BM": pytest.approx(30.48)}
    assert table.offset == pytest.approx(0.9144)


ROWS = re.compile(r"^\| `(\w+)` \|.*\| `\"([^`\"]+)\"`[^|]*\|$", re.MULTILINE)
PAGE = (Path(__file__).parents[3] / "docs" / "job-foundations.md").read_text("utf-8")


@pytest.mark.parametrize("block", re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL))
def test_every_example_of_the_page_reads(block: str) -> None:
    assert job(block).name == "x"


def test_the_defaults_of_the_page_are_those_of_the_rooms() -> None:
    shown = dict(
        re.findall(r"^\| `(\w+)` \|.*\| `\"([^`\"]+)\"`[^|]*\|$", PAGE.partition("## `[slab]`")[0], re.M)
    )
    piers = PierSpec()
    for name in ("margin", "least_dig", "deeper", "clearance"):
        assert getattr(piers, name) == pytest.approx(parse_length(shown[name], None)), name
    for name in ("end_inset", "side_inset"):
        assert getattr(piers.layout, name) == pytest.approx(parse_length(shown[name], None)), name
    assert (piers.goal, piers.layout.along) == (shown["goal"], shown["along"])
    assert parse_length(shown["eave"], None) == pytest.approx(piers.frost.eave)
    beds = re.search(r'`bed_most` \|.*\| `"(.+?)"`, `"(.+?)"`; in metres', PAGE)
    assert beds is not None
    assert [parse_length(text, None) for text in beds.groups()] == pytest.approx(
        [piers.bed_least, piers.bed_most]
    )
    example = re.search(r"\| `loads` \| `(.+?)`", PAGE)
    floor = re.search(r"\| `floor` \|.*: `(.+?)`", PAGE)
    assert example is not None
    assert floor is not None
    spec = pier_spec(f"[piers]\nloads = {example[1]}\nfloor = {floor[1]}\n")
    for name in ("floor", "roof", "snow", "dead", "roof_dead", "walls", "bearing"):
        assert getattr(spec.loads, name) == pytest.approx(getattr(piers.loads, name)), name
    assert (spec.floor.skid, spec.floor.joist, spec.floor.wood) == (
        piers.floor.skid, piers.floor.joist, piers.floor.wood,
    )  # fmt: skip
    lengths = (spec.floor.joist_spacing, spec.floor.boards)
    assert lengths == pytest.approx((piers.floor.joist_spacing, piers.floor.boards))
    slab, table = SlabSpec(), PAGE.partition("## `[slab]`")[2]
    shown = dict(ROWS.findall(table))
    for name in ("freeboard", "margin", "thickness", "edge_depth", "edge_width", "strip", "base"):
        assert getattr(slab, name) == pytest.approx(parse_length(shown[name], None)), name
    assert (slab.fill, shown["fill"]) == ("gravel", "gravel")
    assert shown["waste"] == f"{slab.waste * 100:.0f} %"
    offset, tolerance = (parse_length(shown[name], None) for name in ("offset", "tolerance"))
    assert (offset, tolerance) == pytest.approx((BATTER_BOARD_OFFSET, LEVEL_TOLERANCE))
