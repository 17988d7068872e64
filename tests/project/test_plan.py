"""The whole order of work: figures that a person can work out, faults that point into the job."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gradework.earthwork.materials import COVER_STONE
from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.project import specs
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.setout import Wanted, set_out_plan
from gradework.report.plan import summary
from gradework.sitework.order import SEED
from gradework.sitework.order_foundations import pad_quantities
from gradework.sitework.past_walls import led

DATA = Path(__file__).parents[2] / "data"


def test_a_pad_on_a_plane(plane_job: bytes, plane_notes: bytes) -> None:
    found = plan(read_job(plane_job), plane_notes)
    # the pad runs from x = 3.5 to 8.5 and y = 3.5 to 7.5; the ground is 20 - x / 10
    assert found.pad.outline.area == pytest.approx(20)
    assert found.footprint.high == pytest.approx(19.6)
    assert found.footprint.fall == pytest.approx(0.4)
    assert found.footprint.slope == pytest.approx(0.1)
    assert found.footprint.downhill_degrees == pytest.approx(0)
    assert found.shape.relief == pytest.approx(1.4)
    # common practice, no source: the least-fill level follows the high side of the outline
    level = found.pad.chosen.level
    assert level == pytest.approx(19.65, abs=1e-4)
    # strip and gravel are equally thick: what lies between ground and level is filled, the strip is dug
    assert found.pad.chosen.excavation == pytest.approx(0.1 * 20, rel=1e-3)
    assert found.pad.chosen.gravel == pytest.approx(0.1 * 20 + 0.5 * 0.5 * 20, rel=1e-3)


def test_the_given_level_is_taken(plane_job: bytes, plane_notes: bytes) -> None:
    job = read_job(plane_job.replace(b'"least fill"', b"19.4"))
    found = plan(job, plane_notes)
    assert (found.pad.chosen.rule, found.pad.chosen.level) == ("given", 19.4)
    # ground from 19.65 to 19.15, level in the middle: two wedges of 0.25 m over half of 20 m² each
    assert found.pad.chosen.cut == pytest.approx(0.5 * 0.25 * 10)
    assert found.pad.chosen.fill == pytest.approx(0.5 * 0.25 * 10)


def test_the_units_do_not_change_the_yard(plane_job: bytes, plane_notes: bytes) -> None:
    metres = plan(read_job(plane_job), plane_notes)
    rows = plane_notes.decode().splitlines()
    in_feet = [rows[0]]
    for row in rows[1:]:
        station, *values = row.split(",")
        in_feet.append(",".join([station, *(repr(float(v) / 0.3048) for v in values)]))
    text = (
        plane_job.decode()
        .replace('"m"', '"ft"')
        .replace("[4, 3]", '["4 m", "3 m"]')
        .replace("[4, 4]", '["4 m", "4 m"]')
    )
    feet = plan(read_job(text.encode()), "\n".join(in_feet).encode())
    assert feet.pad.chosen.level == pytest.approx(metres.pad.chosen.level, abs=1e-6)
    assert feet.pad.chosen.gravel == pytest.approx(metres.pad.chosen.gravel, rel=1e-6)
    assert feet.job.show.us


def _left_over(found: Plan) -> float:
    """The soil of the pad that is spread, hauled or heaped, as if no topsoil went back [m³]."""
    laid, order = found.foundations.soils["pad"].soil, found.foundations.orders["pad"]
    assert order.spoil is not None
    assert order.spoil.bank.m3 == pytest.approx(laid.hauled)
    left = laid.sum_of("spread") + laid.hauled + laid.sum_of("heap")
    return left - laid.deeper + laid.sum_of("relaid")


def test_the_order_gets_every_board_and_all_soil_that_leaves(plane_job: bytes, plane_notes: bytes) -> None:
    found = plan(read_job(plane_job), plane_notes)
    handed = pad_quantities(found.pad)
    assert handed.edge is found.pad.edge.built  # type: ignore[union-attr]
    assert handed.edge is not None
    shown = sum(found.pad.edge.courses)  # type: ignore[union-attr]
    assert sum(handed.edge.runs) == pytest.approx(shown + handed.edge.buried)
    assert handed.reused.m3 == pytest.approx(found.pad.chosen.refilled)
    assert found.order.spoil is not None
    # what is filled is tamped, so it takes more soil than it has room
    fills = sum(max(one.fill, 0.0) for one in led(found.measures)) / found.pad.spec.compaction
    beside = sum(one.cut for one in led(found.measures)) - fills
    assert _left_over(found) == pytest.approx(found.pad.chosen.hauled + beside)
    assert {line.unit for line in found.order.lines} >= {"tonnes", "rolls", "timbers"}


def test_a_swale_that_comes_out_is_dug_ordered_and_paid_for() -> None:
    """Its soil leaves with that of the pad, less what it fills; what it lays bare is seeded."""
    folder = DATA / "spring-pump-house"
    text = (folder / "job.toml").read_text()
    notes = (folder / "shots.csv").read_bytes()
    found = plan(read_job(text.encode()), notes)
    (swale,) = led(found.measures)
    spoil = found.orders["pad"].spoil
    assert spoil is not None
    assert _left_over(found) == pytest.approx(found.pad.chosen.hauled + swale.cut - swale.fill / 0.9)
    seed = next(line for line in found.orders["pad"].lines if line.item == "grass seed")
    laid = found.foundations.soils["pad"].soil
    covered = sum(one.area for one in laid.patches)
    assert seed.computed == pytest.approx((swale.bare + covered) * SEED)
    shaped = swale.ground.cut_area + swale.ground.fill_area
    assert 0.0 < swale.bare < shaped  # the slopes of the pad are no part of it
    priced = text + '[slab]\n[prices]\ndig = "40 per m3"\nhaul = "12 per m3"\n'
    both = plan(read_job(priced.encode()), notes)
    assert both.foundations.comparison is not None
    option = next(one for one in both.foundations.comparison.options if one.name.endswith("gravel pad"))
    assert option.beside == pytest.approx(swale.cut + laid.deeper)
    assert option.digging == pytest.approx(both.pad.chosen.dug + swale.cut + laid.deeper)
    hauled = both.orders["pad"].spoil
    assert hauled is not None
    paid = 40.0 * option.digging + 12.0 * hauled.loose.m3  # what the swale fills is dug, and not hauled
    assert option.money - option.at_yard == pytest.approx(paid)
    bought = next(line for line in both.orders["pad"].lines if line.item == "grass seed")
    assert option.paid["seed"].amount == pytest.approx(bought.mass_kg)
    (judged,) = (one for one in both.foundations.judged if one.foundation == "pad")
    assert judged.cost == pytest.approx(option.money)


FENCE = """
[[site.near]]
name = "fence"
kind = "fence"
line = [[-6.02, 6.47], [13.30, 11.64]]
"""
"""2.2 m beyond the uphill edge of the pump house's pad: too near for the bank of a swale."""


def test_a_pipe_drain_is_laid_ordered_staked_and_paid_for() -> None:
    """Its stone, fabric and pipes in the order, its digging in the loads, all of it in the cost."""
    folder = DATA / "spring-pump-house"
    text = (folder / "job.toml").read_text() + FENCE
    priced = text + '[slab]\n[prices]\ndig = "40 per m3"\nhaul = "12 per m3"\npipe = 20\n'
    found = plan(read_job(priced.encode()), (folder / "shots.csv").read_bytes())
    (drain,) = led(found.measures)
    assert drain.kind == "drain"
    (judged,) = (one for one in found.foundations.judged if one.foundation == "pad")
    assert [check.holds for check in judged.checks if check.check == "water"] == [True] * 4
    (measure,) = (one for one in judged.measures if one.kind == "drain")
    assert measure.line == pytest.approx(drain.line)
    assert (measure.cut, measure.pipe) == pytest.approx((drain.cut, drain.pipe + drain.solid))
    assert measure.stone == pytest.approx(drain.stone * COVER_STONE.compacted.value)
    prices = found.foundations.prices
    hauled = drain.cut - drain.fill / 0.9  # tamped
    paid = 40.0 * drain.cut + 12.0 * specs.soil(found.job).swell.value * hauled
    stone = prices.gravel * (1.0 + COVER_STONE.moisture.value)  # the scale weighs its water, too
    paid += measure.stone * stone + measure.pipe * 20.0 / 3.048 + drain.fabric * prices.fabric
    assert measure.cost == pytest.approx(paid)
    assert found.foundations.comparison is not None
    option = next(one for one in found.foundations.comparison.options if one.name.endswith("gravel pad"))
    assert judged.cost == pytest.approx(option.money)
    assert option.takes["drain stone"] == pytest.approx(drain.stone)
    lines = {line.item.split(",")[0]: line for line in found.orders["pad"].lines}
    bought = lines["clean crushed stone for the drain"]
    assert bought.computed == pytest.approx(measure.stone / 1000.0)
    assert lines["110 mm perforated drain pipe"].computed == pytest.approx(drain.pipe / 3.0)
    assert lines["110 mm solid drain pipe"].computed == pytest.approx(drain.solid / 3.0)
    assert "nonwoven geotextile fabric" in lines
    spoil = found.orders["pad"].spoil
    assert spoil is not None
    assert _left_over(found) == pytest.approx(found.pad.chosen.hauled + hauled)
    sheet = set_out_plan(found, Wanted(kind="pad")).sheet
    staked = [point for point in sheet.points if point.stake.kind == "drain"]
    assert [point.stake.grade for point in staked] == pytest.approx(drain.line[:, 2].tolist(), abs=0.02)
    assert any(step.startswith("Dig the drain first") for step in sheet.steps)
    made = record(found)["pad"]["measures"]
    assert [(one["kind"], one["cures"]) for one in made] == [("drain", list(found.measures[0].walls))]
    told = summary(found)
    assert "no swale fits there" in " ".join(told.split())


def test_a_swale_whose_end_is_not_known_is_not_ordered() -> None:
    folder = DATA / "orchard-studio"
    text = (folder / "job.toml").read_bytes().replace(b'"least fill"', b"100.29")
    found = plan(read_job(text), (folder / "yard.csv").read_bytes())
    measures = found.foundations.measures_of("pad")
    assert [one.made is not None and one.dug is None for one in measures] == [True]
    spoil = found.orders["pad"].spoil
    assert spoil is not None
    assert _left_over(found) == pytest.approx(found.pad.chosen.hauled)
    assert not any(line.item == "grass seed" for line in found.orders["pad"].lines)


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("corner = [4, 4]", "corner = [4, 10.8]", "outline-outside-survey", 8),  # only the margin reaches out
        ("corner = [4, 4]", "corner = [12, 4]", "outline-outside-survey", 5),
        ("corner = [4, 4]", "corner = [400, 4]", "outline-far-from-survey", 5),
        ('level = "least fill"', "level = 2", "level-far-from-ground", 9),
        ('level = "least fill"', 'level = "least cost"', "pad-prices-missing", 9),
    ],
)
def test_faults_of_the_plan_point_into_the_job(
    plane_job: bytes, plane_notes: bytes, old: str, new: str, code: str, line: int
) -> None:
    job = read_job(plane_job.replace(old.encode(), new.encode()), "job.toml")
    with pytest.raises(InputError) as told:
        plan(job, plane_notes)
    fault = told.value.faults[0]
    assert (fault.code, fault.file, fault.line) == (code, "job.toml", line)


@pytest.mark.parametrize(
    ("notes", "code"),
    [
        (b"", "notes-no-shots"),
        (b"station,x,y,elevation\r\n", "notes-no-shots"),
        (b"station,x,y,elevation\nA,0,0,1\nB,9,0,1\n", "too-few-shots"),
        (b"station,x,y,elevation\nA,0,0,1\nB,9,0,nan\nC,9,9,1\n", "notes-cell"),
    ],
)
def test_faults_of_the_notes_name_the_notes(plane_job: bytes, notes: bytes, code: str) -> None:
    with pytest.raises(InputError) as told:
        plan(read_job(plane_job), notes)
    assert {f.file for f in told.value.faults} == {"yard.csv"}
    assert told.value.faults[0].code == code


@pytest.mark.parametrize(
    ("site", "build", "chosen", "stops"),
    [
        ("orchard-studio", b"", "piers", set()),
        ("orchard-studio", b'build = "pad"\n', "pad", set()),
        ("spring-pump-house", b"", "pad", set()),
    ],
)
def test_the_demo_sites(site: str, build: bytes, chosen: str, stops: set[str]) -> None:
    job = read_job(build + (DATA / site / "job.toml").read_bytes())
    found = plan(job, (DATA / site / job.survey.notes).read_bytes())
    assert found.pad.chosen.gravel > 0
    assert found.foundations.chosen == chosen
    assert {f.code for f in found.findings if f.severity == "stop"} == stops
    assert len(found.cautions) >= 5


@pytest.mark.parametrize(
    ("tables", "word"),
    [
        ("", "pad"),
        ('build = "pad"\n[piers]\n', "pad"),
        ('build = "piers"\n[piers]\n', "building"),
        ("[slab]\n", "slab"),
    ],
)
def test_missing_shots_are_asked_for_by_what_is_built(plane_job: bytes, tables: str, word: str) -> None:
    text = plane_job.decode()
    if "slab" in word:
        text = text.partition("[pad]")[0]
    head, _, rest = tables.partition("[")
    notes = "station,x,y,elevation\n" + "".join(
        f"S{k},{x},{y},{20 - x / 10}\n"
        for k, (x, y) in enumerate([(1, 1), (12, 1), (12, 11), (1, 11), (6, 6)])
    )
    done = plan(read_job((head + text + ("[" + rest if rest else "")).encode()), notes.encode())
    (finding,) = [f for f in done.findings if f.code == "shots-missing"]
    assert done.foundations.chosen == {"building": "piers"}.get(word, word)
    assert set(re.findall(r"(?:nder|phill of|round) the (\w+)", finding.advice)) == {word}


def test_each_finding_stands_once(plane_job: bytes, plane_notes: bytes) -> None:
    found = plan(read_job(plane_job), plane_notes)
    assert len(set(found.findings)) == len(found.findings)


def edited(job: bytes, *changes: tuple[str, str]) -> bytes:
    text = job.decode()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text.encode()


def test_fabric_lines_the_ground_under_filled_slopes_too(plane_job: bytes, plane_notes: bytes) -> None:
    text = edited(plane_job, ('gravel = "100 mm"', 'gravel = "100 mm"\nedge = "battered"'))
    found = plan(read_job(text), plane_notes)
    (fabric,) = (line for line in found.order.lines if "fabric" in line.item)
    assert found.pad.edge.kind == "battered"
    covered = found.pad.edge.area
    assert covered > found.pad.outline.area + 3
    roll = 2.0 * 25.0
    lined = fabric.computed * roll
    # the high side meets the ground at the pad's edge, where 150 mm are turned up along 3 m and a little more
    assert covered < lined < covered + 4 * 0.15 + 0.2


@pytest.mark.parametrize(
    ("soil", "layers"),
    [
        # the soil makes all fill: 100 mm of stone lie on it everywhere
        ("native_fill = true\ndrain = true", "compact in 1 layer of 100 mm"),
        # no soil goes back: stone all the way down, 100 mm and the 350 mm from 19.15 to the level of 19.5
        ("native_fill = false", "compact in 5 layers of 90 mm"),
    ],
)
def test_the_layers_on_the_stone_line_are_those_of_the_stone(
    plane_job: bytes, plane_notes: bytes, soil: str, layers: str
) -> None:
    level = '"balanced"' if "true" in soil else "19.5"
    text = edited(plane_job, ('"least fill"', level), ('gravel = "100 mm"', f'gravel = "100 mm"\n{soil}'))
    found = plan(read_job(text), plane_notes, anyway=True)
    assert layers in found.order.lines[0].note
    assert "soil" not in found.order.lines[0].note


def test_layers_of_soil_that_runs_short_are_told_with_the_stone(plane_job: bytes, plane_notes: bytes) -> None:
    text = edited(
        plane_job, ('"least fill"', "19.5"), ('gravel = "100 mm"', 'gravel = "100 mm"\nnative_fill = true')
    )
    found = plan(read_job(text), plane_notes, anyway=True)
    assert 0.0 < found.pad.chosen.native < found.pad.chosen.gravel
    note = found.order.lines[0].note
    assert "compact in 5 layers of 90 mm" in note
    assert "soil" in note
    assert "each spread" not in note


def test_the_setting_out_of_an_apron_says_how_high_soil_is_heaped() -> None:
    folder, other = DATA / "evening", DATA / "spring-pump-house"
    found = plan(read_job((folder / "job.toml").read_bytes()), (folder / "yard.xlsx").read_bytes())
    (apron,) = led(found.measures)
    assert apron.heaped_to is not None
    steps = set_out_plan(found, Wanted(kind="pad")).sheet.steps
    (told,) = [step for step in steps if step.startswith("Heap soil")]
    assert f"up to {found.job.show.elevation(apron.heaped_to)} " in told
    swale = plan(read_job((other / "job.toml").read_bytes()), (other / "shots.csv").read_bytes())
    assert not any(step.startswith("Heap") for step in set_out_plan(swale, Wanted(kind="pad")).sheet.steps)
