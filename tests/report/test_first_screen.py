"""What a plan says first: one screen, in the order of reading, every stop, a line for each wall."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from gradework.errors import Finding
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.report.answer import MOST
from gradework.report.first_screen import answer, order_parts, verdict_and_stops
from gradework.report.plan import finding_lines
from gradework.report.text import as_wide_as
from gradework.sitework.drainage import WALL_CODES
from gradework.sitework.order import Order, OrderLine

DATA = Path(__file__).parents[2] / "data"


def plan_of(site: str, old: str = "", new: str = "", *, build: str = "", anyway: bool = False) -> Plan:
    text = f'build = "{build}"\n' * bool(build) + (DATA / site / "job.toml").read_text()
    assert old in text
    job = read_job(text.replace(old, new).encode())
    places = job.survey.places
    return plan(
        job,
        (DATA / site / job.survey.notes).read_bytes(),
        None if places is None else (DATA / site / places).read_bytes(),
        anyway=anyway,
    )


@pytest.fixture(scope="module")
def orchard() -> Plan:
    """The pad of the demo, which the gate refuses: water runs to three of its walls."""
    return built("pad")


def built(kind: str) -> Plan:
    """Plan the demo with this foundation, whatever the gate would choose."""
    return plan_of("orchard-studio", 'level    = "least fill"', "level = 100.29", build=kind)


def thing(number: int) -> OrderLine:
    return OrderLine(f"thing {number}, blue", 2.0, "pieces", 2.0, 2.0, 1.0, "none", "", 10.0 * number)


def test_twelve_stops_twenty_things_and_eight_walls(orchard: Plan) -> None:
    stops = tuple(
        Finding(
            f"stop-{n}", "stop", f"place {n}", 1.0, 0.5, f"Thing {n} is wrong by far. Mend thing {n} at once."
        )
        for n in range(12)
    )
    (ray,) = [ray for ray in orchard.drainage.after if ray.verdict == "toward"][:1]
    rays = tuple(replace(ray, wall=f"wall (corners {n}-{n + 1})") for n in range(1, 9))
    order = Order(tuple(thing(n) for n in range(20)))
    walls = [replace(f, severity="warning") for f in orchard.findings if f.code in WALL_CODES]
    crowded = replace(
        orchard,
        findings=(*stops, *walls),
        foundations=replace(orchard.foundations, judged=()),
        orders={"pad": order},
        drainage=replace(orchard.drainage, after=rays),
    )
    lines = answer(crowded, files="results").splitlines()
    assert len(lines) == MOST
    assert max(map(len, lines)) <= 80
    assert lines[0] == "Orchard studio: not buildable as drawn, 12 things stop it:"
    assert [line for line in lines if line.startswith("stop: ")] == lines[1:13]
    assert all(f"[stop-{n}]" in lines[n + 1] for n in range(12))
    assert all(any(f"corners {n}-{n + 1}: " in line for line in lines) for n in range(1, 9))
    assert any(line.startswith("Gravel pad, level 100.29 ft") for line in lines)
    assert any(line.startswith("Dig") for line in lines)
    assert lines[-1].strip() == "20 more lines in order.csv"
    told = verdict_and_stops(crowded).splitlines()
    assert "12 things stop it" in told[0]
    assert [line for line in told if line.startswith("stop: ")] == [
        line for line in told[1:] if line[:2] != "  "
    ]


def test_lumber_for_two_places_is_counted_once_by_length(orchard: Plan) -> None:
    """Steps and floor both buy 2x6: a clerk is asked for nine of one length, not for three and six."""

    def wood(count: float, length: str) -> OrderLine:
        return OrderLine(f"2x6 treated lumber, {length}", count, "pieces", count, count, 1.0, "", "", 9.0)

    def told(*lines: OrderLine) -> list[str]:
        free = replace(orchard.foundations, judged=())
        return [
            part.text
            for part in order_parts(replace(orchard, foundations=free, orders={"pad": Order(lines)}))
        ]

    three, six, nine = wood(3.0, "16' 0\""), wood(6.0, "16' 0\""), wood(9.0, "12' 0\"")
    assert told(three, six, nine) == ["18 pieces  2x6 treated lumber: 9 of 16' 0\", 9 of 12' 0\""]
    assert told(three, six) == ["9 pieces  2x6 treated lumber, 16' 0\""]


def test_each_wall_is_told_with_its_own_need_and_by_its_own_name(orchard: Plan) -> None:
    """A wall that faces another one near by has a shorter reach; one at the survey's edge is not known."""
    (ray,) = [ray for ray in orchard.drainage.after if ray.verdict == "toward"][:1]
    near = replace(
        ray, wall="wall (corners 5-6)", verdict="too little", length=1.2192, fall=0.02, needed=0.06096
    )
    short = replace(
        ray, wall="wall (corners 7-8)", verdict="survey too short", known=1.5, missing=(((0.0, 0.0),),)
    )
    asked = replace(orchard, drainage=replace(orchard.drainage, after=(short, near, ray)))
    flat = " ".join(answer(asked).split())
    assert "5-6: falls 3/4 in, needs 2 3/8 in" in flat
    assert "needed: 6 in over 10.0 ft, from the edge of the pad (IRC 2015 R401.3" in flat
    stops = tuple(Finding(f"s-{n}", "stop", "here", 1.0, 2.0, "Bad thing. Mend it.") for n in range(18))
    tight = answer(replace(asked, findings=(*stops, *orchard.findings)))
    for code in ("drainage-toward-building", "drainage-falls-too-little", "drainage-survey-too-short"):
        assert tight.count(code) == 1
    many = replace(orchard.drainage, after=tuple(replace(ray, wall=f"wall (corners {n})") for n in range(9)))
    told = " ".join(answer(replace(orchard, drainage=many)).split())
    assert "Water 9 walls, worst at corners 0: " in told


def test_warnings_that_stand_beside_the_plan_are_counted(orchard: Plan) -> None:
    beside = Finding("odd-thing", "warning", "here", 1.0, 2.0, "Odd here. Do it.")
    pump = plan_of("spring-pump-house")
    assert "read the 2 warnings" in " ".join(answer(pump).split())
    assert "read the 3 warnings" in " ".join(answer(pump, told=(beside,)).split())
    assert "[odd-thing]" in answer(orchard, told=(beside,))


def test_what_comes_next_is_told_only_where_it_is_known(orchard: Plan) -> None:
    assert "Next" not in answer(orchard, files="results: plan.pdf")
    *_, last, left = answer(built("piers"), then="gradework setout job.toml").splitlines()
    assert last == "Next     gradework setout job.toml"
    assert left.endswith("more lines in order.csv")
    stop = Finding("odd-thing", "stop", "here", 1.0, 2.0, "Odd here. Do it.")
    stopped = answer(replace(orchard, findings=(stop,)), then="gradework setout job.toml")
    assert stopped.endswith("Next     gradework explain odd-thing")


def test_what_else_could_be_said_takes_a_line_that_is_left(orchard: Plan) -> None:
    short = replace(orchard, findings=(), orders={"pad": Order(())})
    told = answer(short, notes=True).splitlines()
    # pad, piers and slab are all asked for
    assert told[-1] == "Also     [[site.near]] in job.toml for what is near"
    assert not any(line.startswith("Also") for line in [*told[:-1], *answer(short).splitlines()])
    full = replace(short, orders={"pad": Order(tuple(thing(n) for n in range(20)))})
    lines = answer(full, notes=True).splitlines()
    assert len(lines) == MOST
    assert not lines[-1].startswith("Also")


def test_the_order_of_the_answer(orchard: Plan) -> None:
    lines = answer(orchard, files="results: plan.pdf", then="gradework setout job").splitlines()
    assert len(lines) <= MOST
    labels = [line.split()[0] for line in lines if line[:1] not in (" ", "")]
    told = [
        "Water",
        "Higher",
        "Instead",
        "Gravel",
        "Dig",
        "Soil",
        "Order",
        "Cost",
        "Survey",
        "Care",
        "Files",
        "Next",
    ]
    assert labels == ["Orchard", "stop:", *told]
    flat = " ".join(" ".join(lines).split())
    assert flat.startswith("Orchard studio: gravel pad not buildable as drawn: water runs to 3 walls, siding")
    # the bolt in the gate post stands at 103.46 ft, the pad at 100.29 ft
    assert "3' 2\" below the top of BM, 13 in below ground at the uphill corner (corner 4)" in flat
    nearest = orchard.foundations.nearest
    assert nearest is not None
    assert nearest.cost is not None
    assert nearest.cost > 1127  # the swale is dug, seeded and staked; the pad alone is cheaper
    assert "Higher write level = 100.52 under [pad]: it can be built there." in flat  # the screen is full
    assert 'Instead block piers, floor at 102.81 ft: write build = "piers" in the job.' in flat
    assert "Order Nothing, since it cannot be built as drawn. Cost" in flat
    assert flat.count("IRC 2015 R401.3") == 1
    for corners in ("1-2", "3-4", "4-1"):
        assert flat.count(f"corners {corners}: ") == 1


@pytest.mark.parametrize("build", ["pad", "piers", "slab"])
@pytest.mark.parametrize("width", [60, 80, 100])
def test_each_foundation_fits_every_terminal(build: str, width: int) -> None:
    done = built(build)
    with as_wide_as(width):
        lines = answer(done, files="results: plan.pdf").splitlines()
    assert len(lines) <= MOST
    assert max(map(len, lines)) <= width
    assert {"pad": "Gravel pad", "piers": "8 block piers", "slab": "Slab 4 in"}[build] in " ".join(lines)
    assert not any(line != line.rstrip() for line in lines)


def test_metric_and_rods(orchard: Plan) -> None:
    pump = answer(plan_of("spring-pump-house"))
    assert "level 49.199 m" in pump
    assert "92 mm above ground at the uphill" in " ".join(pump.split())
    barn = answer(plan_of("barn-yard", anyway=True))
    assert "10 timbers  6 x 6 treated timber" in barn  # the edge stands 14 in above the ground
    assert "Survey   poor" in barn
    assert "Cost" not in barn  # no prices, nothing to compare


def test_warnings_of_one_kind_are_one_line(orchard: Plan) -> None:
    same = tuple(
        Finding("odd-thing", "warning", f"at {n}", 1.0, 2.0, f"Odd at {n}. Do it.") for n in range(5)
    )
    text = " ".join(answer(replace(orchard, findings=same)).split())
    assert text.count("[odd-thing]") == 1
    assert "(and 4 more places) [odd-thing]" in text
    assert "Water" not in text  # only what is warned of


def test_in_full_a_clause_is_cited_once(orchard: Plan) -> None:
    text = " ".join(" ".join(finding_lines(orchard.findings)).split())
    assert text.count("(IRC 2015 R401.3; local code decides)") == 1
    assert text.count("Set the floor higher, grade the ground down away from the wall") == 1
    assert text.count("[drainage-toward-building]") == 3


def test_what_is_dug_is_told_whole() -> None:
    """The pad's own digging, that of its swale and the topsoil that goes back on it are all there is."""
    plan = plan_of("spring-pump-house")
    option = plan.foundations.options["pad"]
    own = plan.pad.chosen.dug
    swale = sum(one.dug.cut for one in plan.measures if one.dug)
    topsoil = plan.foundations.soils["pad"].soil.deeper
    assert topsoil > 1.0
    assert option.digging == pytest.approx(own + swale + topsoil)
    show = plan.job.show
    beside = f"and {show.volume(swale + topsoil)} for the swale with its topsoil"
    assert f"Dig {show.volume(own)} in place, 100 mm at the deepest, {beside}" in " ".join(
        answer(plan).split()
    )
