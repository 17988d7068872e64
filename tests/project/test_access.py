"""A door in a job: asked, worked out on the finished ground, ordered, paid, recorded, told."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.exchange.record import record
from gradework.project.access import access_findings, door_of
from gradework.project.job.model import Job
from gradework.project.job.read import read_job
from gradework.project.placed import placed_building
from gradework.project.plan import Plan, plan
from gradework.report.plan import summary
from gradework.sitework.access import BESIDE, Access, Door

PIERS = '[piers]\n[soil]\nground = "firm"\n'


def with_door(plane_job: bytes, door: str, rest: str = PIERS) -> bytes:
    head = plane_job.decode().partition("[pad]")[0]
    return head.replace("[building]", f"[building]\ndoor = {door}").encode() + rest.encode()


@cache
def planned(text: bytes, notes: bytes) -> Plan:
    return plan(read_job(text), notes)


@pytest.fixture
def downhill(plane_job: bytes, plane_notes: bytes) -> Plan:
    """The wall 2-3 of the building looks down the slope of 1 in 10."""
    return planned(with_door(plane_job, '{ side = "2-3", width = "0.9 m" }'), plane_notes)


def access_of(done: Plan) -> Access:
    assert done.foundations.access is not None
    return done.foundations.access


def test_the_rise_at_the_foot_is_on_the_plane_of_the_yard(downhill: Plan) -> None:
    found = access_of(downhill)
    assert found.rise is not None
    x = found.door.middle[0] + found.out * found.door.out[0]
    assert found.floor - found.rise == pytest.approx(20.0 - 0.1 * x)
    piers = downhill.foundations.piers
    assert piers is not None
    assert found.floor == piers.floor_level


def test_steps_are_in_the_order_the_cost_and_the_hours(
    downhill: Plan, plane_job: bytes, plane_notes: bytes
) -> None:
    without = planned(plane_job.partition(b"[pad]")[0] + PIERS.encode(), plane_notes)
    own, other = (done.foundations.options["piers"] for done in (downhill, without))
    made = [line for line in downhill.order.lines if line.place == "steps"]
    assert {line.paid[0].key for line in made} == {"lumber"}
    (stone,) = (line for line in downhill.order.lines if "steps" in [part.place for part in line.parts])
    (beds,) = (line for line in without.order.lines if line.place == "beds")
    assert [part.place for part in stone.parts] == ["beds", "steps"]
    prices = downhill.foundations.prices
    screws = own.paid["screws"].money - other.paid["screws"].money  # batter boards take the same
    bought = sum(prices.each(paid.key) * paid.amount for line in made for paid in line.paid) + screws
    bought += prices.each("gravel") * (stone.mass_kg - beds.mass_kg)  # rounded up once for both
    seed = [one.paid["seed"].money if "seed" in one.paid else 0.0 for one in (own, other)]
    # the soil of its bed is spread on the yard, which may take more seed
    assert own.at_yard - seed[0] - (other.at_yard - seed[1]) == pytest.approx(bought)
    assert own.hours[0] > other.hours[0]
    assert own.takes["steps"] == access_of(downhill).risers - 1
    assert own.digging > other.digging


def test_the_rise_of_a_slab_is_read_beside_it(plane_job: bytes, plane_notes: bytes) -> None:
    """Its floor lies level up to the wall: on its edge there would be nothing to step up."""
    door = '{ side = "2-3", width = "0.9 m" }'
    done = planned(with_door(plane_job, door, '[slab]\n[soil]\nground = "firm"\n'), plane_notes)
    found, built = access_of(done), done.foundations.slab
    assert found.rise is not None
    assert built is not None
    away = max(found.out, BESIDE)
    x = found.door.middle[0] + away * found.door.out[0]
    assert (found.floor, found.rise) == (built.level, pytest.approx(built.level - (20.0 - 0.1 * x)))
    assert found.over == pytest.approx(built.level - (20.0 - 0.1 * (found.door.middle[0] + BESIDE)))


def test_the_record_and_the_words_tell_it(downhill: Plan) -> None:
    found, told = access_of(downhill), record(downhill)["access"]
    assert (told["way"], told["risers"], told["wall"]) == ("steps", found.risers, "wall (corners 2-3)")
    assert told["riser_m"] * told["risers"] == pytest.approx(told["rise_m"])
    assert "At the door" in summary(downhill)
    assert f"{found.risers} steps of" in summary(downhill)


def test_a_swale_through_the_steps_is_told_and_one_beside_them_is_not(downhill: Plan) -> None:
    found, show = access_of(downhill), downhill.job.show
    foot = np.array(found.door.middle) + found.out * np.array(found.door.out)
    across = np.array(found.door.along)

    def crossing(away: float, kind: str) -> list[str]:
        middle = foot + away * np.array(found.door.out)
        line = np.array([[*(middle - 5.0 * across), 19.0], [*(middle + 5.0 * across), 18.9]])
        made = SimpleNamespace(kind=kind, line=line)
        return [one.code for one in access_findings(found, show, [made])]  # type: ignore[list-item]

    assert [crossing(away, "swale").count("door-swale") for away in (-0.1, 0.5, 1.5)] == [1, 1, 0]
    assert crossing(0.5, "apron").count("door-swale") == 1
    assert crossing(0.5, "drain").count("door-swale") == 0
    assert crossing(0.5, "plain_apron").count("door-swale") == 0  # nothing is dug: one walks over it


def test_a_job_without_a_door_says_nothing(plane_job: bytes, plane_notes: bytes) -> None:
    done = planned(plane_job.partition(b"[pad]")[0] + PIERS.encode(), plane_notes)
    assert record(done)["access"] == {}
    assert "At the door" not in summary(done)


def job_of(text: bytes) -> Job:
    return read_job(text)


@pytest.mark.parametrize(
    ("door", "found"),
    [
        ('{ side = "2-1" }', "the side '2-1'"),
        ('{ side = "2-3", at = 0.2 }', "a door from"),
        ('{ side = "2-3", width = "9 m" }', "a door from"),
    ],
)
def test_a_door_that_lies_in_no_wall_is_refused(plane_job: bytes, door: str, found: str) -> None:
    job = job_of(with_door(plane_job, door))
    with pytest.raises(InputError) as caught:
        door_of(job, placed_building(job)[0])
    (told,) = caught.value.faults
    assert found in told.found
    assert told.line > 0


@pytest.mark.parametrize("door", ['{ width = "0.9 m" }', '{ side = "1-2", ramp = "stairs" }', '"1-2"'])
def test_a_door_that_cannot_be_read_is_refused(plane_job: bytes, door: str) -> None:
    with pytest.raises(InputError):
        job_of(with_door(plane_job, door))


def test_rails_and_a_foot_that_is_not_known_are_told(downhill: Plan) -> None:
    door = Door("wall (corners 1-2)", 1.0, (0.0, 0.0), (1.0, 0.0), (0.0, -1.0), 0.9)
    show = downhill.job.show
    high = Access(door, 20.0, 0.7, 0.70, 4, 1.5, 0.9)
    told = [
        [(one.code, one.severity) for one in access_findings(access, show)]
        for access in (high, replace(high, rise=0.4, risers=3), replace(high, rise=None), None)
    ]
    assert told == [[("door-rail", "note")], [], [("door-no-foot", "warning")], []]
    (guarded,) = access_findings(replace(high, rise=1.0, risers=6), show)
    assert "guard on both sides" in guarded.advice
    for use, rise, codes in (
        ("hand", 0.4, ["ramp"]),
        ("mower", 0.15, ["low"]),
        ("wheelchair", 0.9, ["run", "guard"]),
    ):
        ramp = Access(door._replace(ramp=use), 20.0, rise, rise, 0, 5.0)  # type: ignore[arg-type]
        found = [one.advice for one in access_findings(ramp, show)]
        said = {
            "ramp": "at 1 in 8: put up a handrail",
            "low": "no handrail is ordered",
            "run": "a landing half way",
            "guard": "put up a guard",
        }
        assert len(found) == len(codes)
        assert all(said[code] in text for code, text in zip(codes, found, strict=True))
