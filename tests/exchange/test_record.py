"""The result record keeps its schema, and its figures are those of the plan."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from gradework.errors import Finding
from gradework.exchange.record import finding_records, record
from gradework.exchange.written import known
from gradework.project.job.read import read_job
from gradework.project.plan import plan

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs" / "result.schema.json").read_text("utf-8"))
CHECK = jsonschema.Draft202012Validator(SCHEMA)


def of_site(site: str) -> dict[str, Any]:
    folder = ROOT / "data" / site
    job = read_job((folder / "job.toml").read_bytes())
    return record(plan(job, (folder / job.survey.notes).read_bytes()))


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("site", ["orchard-studio", "spring-pump-house"])
def test_real_output_keeps_the_schema(site: str) -> None:
    document = of_site(site)
    assert [e.message for e in CHECK.iter_errors(document)] == []
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def test_the_schema_can_fail() -> None:
    document = of_site("spring-pump-house")
    for path in (
        ("pad", "level_m"),
        ("survey", "high", "x_m"),
        ("footprint", "slope_percent"),
        ("findings",),
        ("record",),
    ):
        broken = copy.deepcopy(document)
        inner = broken
        for key in path[:-1]:
            inner = inner[key]
        del inner[path[-1]]
        assert not CHECK.is_valid(broken), path
    assert not CHECK.is_valid({**document, "extra": 1})
    assert not CHECK.is_valid({**document, "record": 2})


def test_figures_of_a_plane(plane_job: bytes, plane_notes: bytes) -> None:
    document = record(plan(read_job(plane_job.replace(b'"least fill"', b"19.4")), plane_notes))
    assert [e.message for e in CHECK.iter_errors(document)] == []
    assert document["job"] == {"name": "Tool store"}
    assert document["survey"]["stations"] == 64
    assert document["survey"]["high"] == {"station": "S00", "x_m": 0.0, "y_m": 0.0, "elevation_m": 20.0}
    assert document["footprint"]["slope_percent"] == pytest.approx(10)
    falls = [line["fall_m"] for line in document["footprint"]["sides"]]
    assert falls == pytest.approx([0.4, 0.0, -0.4, 0.0], abs=1e-12)
    across = {(d["from"], d["to"]): (d["length_m"], d["fall_m"]) for d in document["footprint"]["diagonals"]}
    assert across[("corner 1", "corner 3")] == pytest.approx((5.0, 0.4))
    assert across[("corner 2", "corner 4")] == pytest.approx((5.0, -0.4))
    pad = document["pad"]
    assert (pad["rule"], pad["level_m"], pad["area_m2"]) == ("given", 19.4, pytest.approx(20))
    assert pad["cut_m3"] == pytest.approx(1.25)
    # 0.1 m of strip everywhere, and the ground above the level; gravel likewise below it
    assert pad["excavation_m3"] == pytest.approx(2.0 + 1.25)
    assert pad["gravel_m3"] == pytest.approx(2.0 + 1.25)
    # WSDOT Design Manual Exhibit 620-1: crushed base, compacted, 3 700 lb/yd³ = 2 195 kg/m³
    assert pad["gravel_t"] == pytest.approx(3.25 * 2.195)
    rules = {choice["rule"]: choice for choice in pad["choices"]}
    assert list(rules) == ["least fill", "balanced", "given", "least cost"]
    lacking = rules["least cost"]
    assert lacking["because"] == "no price for dig, haul, gravel, boards"
    assert {lacking[key] for key in lacking if key not in ("rule", "because")} == {None}
    assert all(("because" in choice) == (choice["level_m"] is None) for choice in pad["choices"])


def ring_area(ring: list[list[float]]) -> float:
    ends = [*ring[1:], ring[0]]
    return 0.5 * sum(x * after_y - after_x * y for (x, y), (after_x, after_y) in zip(ring, ends, strict=True))


def test_the_daylight_line_of_a_battered_pad(plane_job: bytes, plane_notes: bytes) -> None:
    battered = plane_job + b'edge = "battered"\nbatter = 2\n'
    planned = plan(read_job(battered), plane_notes)
    document = record(planned)
    assert [e.message for e in CHECK.iter_errors(document)] == []
    edge = document["pad"]["edge"]
    assert (edge["kind"], edge["islands_m"]) == ("battered", [])
    # pad 3.5 to 8.5 by 3.5 to 7.5, level with its highest ground at x = 3.5; the ground falls 1 in 10, the
    # slope 1 in 2: at x = 8.5 the pad stands 0.5 m up, so the slope ends 0.5 / (1/2 - 1/10) = 1.25 m out
    xs = [x for x, _ in edge["daylight_m"]]
    assert (min(xs), max(xs)) == pytest.approx((3.5, 9.75), abs=1e-6)
    slopes = planned.pad.edge.slopes
    covered = planned.pad.outline.area + slopes.fill_area + slopes.cut_area
    assert ring_area(edge["daylight_m"]) == pytest.approx(covered, rel=1e-6)
    broken = copy.deepcopy(document)
    broken["pad"]["edge"]["daylight_m"][0] = [1.0]
    assert not CHECK.is_valid(broken)


def test_a_boxed_pad_has_no_daylight_line_but_what_holds_it(plane_job: bytes, plane_notes: bytes) -> None:
    """Pad 5 x 4 m on ground that falls 1 in 10 by x, level with its highest ground: timbers 0.5 m high."""
    planned = plan(read_job(plane_job), plane_notes)
    document = record(planned)
    assert [e.message for e in CHECK.iter_errors(document)] == []
    edge = document["pad"]["edge"]
    assert (edge["kind"], edge["held_by"], edge["courses"], edge["deadmen"]) == ("boxed", "timbers", 4, 0)
    assert edge["height_m"] == pytest.approx(0.5)
    assert edge["buried_m"] == pytest.approx(5 + 5 + 4)
    trench = 14 * 0.3048 * (0.15 + 0.1524)
    [judged] = document["options"]
    laid_back, held = (one for one in judged["measures"] if one["kind"] != "swale")
    assert (laid_back["kind"], held["kind"]) == ("layback", "edge")
    assert held["cut_m3"] == edge["trench_m3"] == pytest.approx(trench)
    # the uphill side is dug as deep as its gravel, 0.1 m, on real ground that falls 1 in 10
    assert 0.1 * 0.3 * 4.0 < laid_back["cut_m3"] < 0.1 * (0.3 + 0.1) * 7.0
    assert document["pad"]["beside_m3"] == pytest.approx(trench + laid_back["cut_m3"])
    assert [check["holds"] for check in judged["checks"] if check["check"] == "held edge"] == [True]
    boards = of_site("orchard-studio")["pad"]["edge"]
    assert [row["boards"] for row in boards["stakes"]] == [1, 2]
    assert not {"daylight_m", "islands_m"} & set(edge)


def test_the_swale_past_an_uphill_wall() -> None:
    """The pump house stands in a slope: its swale falls along its whole line and comes out on the survey."""
    (swale,) = of_site("spring-pump-house")["pad"]["measures"]
    assert (swale["kind"], swale["daylights"], swale["more_shots_m"]) == ("swale", True, [])
    assert swale["walls"] == swale["cures"] == ["wall (corners 3-4)", "wall (corners 4-1)"]
    bottom = [place[2] for place in swale["line_m"]]
    assert bottom == sorted(bottom, reverse=True)
    assert swale["outlets_m"] == swale["line_m"][-1:]
    assert 2.0 < swale["cut_m3"] < 5.0


def test_a_pad_that_water_runs_off_has_no_measures(plane_job: bytes) -> None:
    """A knoll under the pad: from its top at 6, 6 the ground falls 1 in 10 along x and along y."""
    knoll = "station,x,y,elevation\n" + "".join(
        f"S{i}{j},{2 * i},{2 * j},{20 - 0.2 * (abs(i - 3) + abs(j - 3)):.1f}\n"
        for i in range(7)
        for j in range(7)
    )
    document = record(plan(read_job(plane_job), knoll.encode()))
    assert document["pad"]["measures"] == []
    water = [check["holds"] for check in document["options"][0]["checks"] if check["check"] == "water"]
    assert water == [True] * 4


def test_a_pad_set_high_on_a_slope_has_an_apron_past_its_uphill_wall(
    plane_job: bytes, plane_notes: bytes
) -> None:
    """The ground still falls toward the foot of the pad there, however high its top stands above it."""
    high = plane_job.replace(b'"least fill"', b"20.5")
    (apron,) = record(plan(read_job(high), plane_notes))["pad"]["measures"]
    assert (apron["kind"], apron["walls"], apron["cures"]) == (
        "apron", ["wall (corners 4-1)"], ["wall (corners 4-1)"],
    )  # fmt: skip
    assert max(apron["line_m"], key=lambda place: place[2])[0] < 3.5  # begins uphill of the pad
    assert 19.65 < apron["heaped_to_m"] < 20.475  # from the ground at that edge to an inch below its top


def test_all_four_rules_are_there_with_prices_and_a_level(plane_job: bytes, plane_notes: bytes) -> None:
    prices = (
        b'[prices]\ngravel = "40 per tonne"\ndig = "50 per m3"\nhaul = "20 per m3"\nboards = "30 per m2"\n'
    )
    for level, without in ((b'"least fill"', "given"), (b"19.4", None)):
        document = record(plan(read_job(plane_job.replace(b'"least fill"', level) + prices), plane_notes))
        assert [e.message for e in CHECK.iter_errors(document)] == []
        choices = document["pad"]["choices"]
        assert {c["rule"] for c in choices} == {"least fill", "balanced", "least cost", "given"}
        assert [c["rule"] for c in choices if "because" in c] == ([without] if without else [])


def test_level_ground_has_no_downhill_direction(plane_job: bytes) -> None:
    flat = "station,x,y,elevation\n" + "".join(
        f"S{i}{j},{5 * i},{5 * j},20\n" for i in range(4) for j in range(4)
    )
    document = record(plan(read_job(plane_job), flat.encode()))
    assert [e.message for e in CHECK.iter_errors(document)] == []
    assert document["footprint"]["downhill_degrees"] is None
    assert "flat-site" in [f["code"] for f in document["findings"]]


def test_findings_are_plain_data() -> None:
    (told,) = finding_records([Finding("a-b", "note", "here", float("nan"), -0.0, "Look.")])
    assert told == {
        "code": "a-b",
        "severity": "note",
        "where": "here",
        "value": None,
        "limit": 0.0,
        "advice": "Look.",
    }
    assert str(known(-0.0)) == "0.0"
    assert known(float("inf")) is None
