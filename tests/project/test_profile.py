"""A profile along a line: planes exactly, the finished ground with its step, ends by name or place."""

from __future__ import annotations

import re

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.ground.surface import Surface, build_surface
from gradework.project.job.read import read_job
from gradework.project.plan import Plan, plan
from gradework.project.profile import End, Profile, profile_on, read_end
from gradework.survey.stations import Stations
from gradework.units.display import FEET, METRIC


@pytest.fixture(scope="module")
def yard() -> Plan:
    """A boxed pad of 5 x 4 m on a plane that falls 1 in 10 along x; its level stands over all of its edge."""
    rows = [f"S{i}{j},{2 * i},{2 * j},{20 - 0.2 * i:.3f}" for i in range(8) for j in range(8)]
    job = """\
name = "Tool store"
units = "m"
[survey]
notes = "yard.csv"
[building]
size = [4, 3]
corner = [4, 4]
[pad]
level = 19.7
margin = "500 mm"
strip = "100 mm"
gravel = "100 mm"
freeboard = "0 mm"
[soil]
spread = false
"""
    return plan(read_job(job.encode()), "\n".join(["station,x,y,elevation", *rows, ""]).encode())


def across(yard: Plan) -> Profile:
    return profile_on(yard.surface, End("", 1.0, 5.5), End("", 13.0, 5.5), METRIC, plan=yard)


def test_a_plane_is_straight_and_the_pad_level_between_its_edges(yard: Plan) -> None:
    found = across(yard)
    at = np.array([0.0, 1.0, 4.0, 6.0, 11.5])
    rows = found.rows(at)
    assert [(row.at, row.x, row.y) for row in rows] == [(u, 1.0 + u, 5.5) for u in at.tolist()]
    assert [row.ground for row in rows] == pytest.approx([19.9 - 0.1 * u for u in at], abs=1e-9)
    assert [row.finished for row in rows[2:4]] == pytest.approx([19.7, 19.7], abs=1e-9)
    assert found.walls == pytest.approx(np.array([(3.0, 7.0)]))


def test_the_edge_of_a_pad_is_a_step_of_two_rows(yard: Plan) -> None:
    """At its low side, 8.5 m out, the pad stands 0.55 m over the ground."""
    found = across(yard)
    [low] = [u for u in found.bends().tolist() if abs(u - 7.5) < 1e-5]
    before, after = found.rows(np.array([low]))
    assert before.finished == pytest.approx(19.7, abs=1e-6)
    assert after.finished == pytest.approx(19.15, abs=1e-4)
    assert before.ground == after.ground == pytest.approx(19.15, abs=1e-4)


def test_between_rows_both_grounds_are_straight(yard: Plan) -> None:
    """At 200 places the surfaces themselves have what the rows tell."""
    found = profile_on(yard.surface, End("", 0.3, 1.0), End("", 13.1, 11.7), METRIC, plan=yard)
    rows = found.rows(found.bends())
    at = np.linspace(0.013, found.length - 0.013, 200)
    start, end = np.array(found.first[1:]), np.array(found.last[1:])
    places = start + at[:, None] / found.length * (end - start)
    for surface, key in ((yard.surface, "ground"), (yard.finished, "finished")):
        told = np.interp(at, [row.at for row in rows], [getattr(row, key) for row in rows])
        np.testing.assert_allclose(told, surface.elevation(places), atol=1e-5)


def test_stations_on_the_line_are_named_in_their_order(yard: Plan) -> None:
    found = profile_on(yard.surface, End("S72", 14.0, 4.0), End("S02", 0.0, 4.0), METRIC)
    assert [one.name for one in found.stations] == [f"S{i}2" for i in (7, 6, 5, 4, 3, 2, 1, 0)]
    assert [one.at for one in found.stations] == pytest.approx([0.0, 2, 4, 6, 8, 10, 12, 14])
    assert found.stations[0].elevation == 18.6
    assert (found.finished, found.foundation, found.walls) == (None, None, ())
    assert not profile_on(yard.surface, End("", 0.0, 4.01), End("", 14.0, 4.01), METRIC).stations


def test_what_lies_beyond_the_shots_is_not_made_up(yard: Plan) -> None:
    found = profile_on(yard.surface, End("", -3.0, 4.0), End("", 16.0, 4.0), METRIC)
    first, *_, last = found.rows(found.bends())
    assert (first.ground, last.ground) == (None, None)
    [told] = found.findings
    assert (told.code, told.value) == ("section-part-unknown", pytest.approx(5.0))
    assert "from 3.000 m to 17.000 m" in told.advice


def faults_of(call, *given) -> list[str]:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError) as problem:
        call(*given)
    return [fault.code for fault in problem.value.faults]


def test_a_line_needs_a_length_and_ground(yard: Plan) -> None:
    here, far = End("", 3.0, 3.0), End("", 30.0, 3.0)
    assert faults_of(profile_on, yard.surface, here, here, METRIC) == ["section-no-length"]
    assert faults_of(profile_on, yard.surface, far, End("", 40.0, 3.0), METRIC) == ["section-off-survey"]


def test_an_end_is_a_station_or_a_place_in_the_unit_of_the_job() -> None:
    surface: Surface = build_surface(_named())
    stations = surface.stations
    assert read_end(" gate POST ", stations, "ft", FEET, "--from") == End("Gate post", 0.0, 0.0)
    assert read_end("10,2 m", stations, "ft", FEET, "--from") == End("", 3.048, 2.0)
    assert read_end("2,1", stations, "m", METRIC, "--from") == End("2,1", 8.0, 6.0)  # a name first
    for text in ("nowhere", "1,2,3", "1,x", "", "nan,1", "inf,2"):
        with pytest.raises(InputError) as problem:
            read_end(text, stations, "ft", FEET, "--to")
        [fault] = problem.value.faults
        assert (fault.code, fault.file) == ("section-end-unknown", "--to")
        assert "Gate post" in fault.expected
        # what it gives as an example is taken
        example = re.findall(r"\S+,\S+", fault.expected)[-1].rstrip(".")
        assert read_end(example, stations, "ft", FEET, "--to") == End("", 0.0, 0.0)


def _named() -> Stations:
    xyz = np.array([(0, 0, 10.0), (8, 0, 10.4), (8, 6, 11.0), (0, 6, 10.6)])
    return Stations(
        ["Gate post", "B", "2,1", "D"], xyz, np.full(4, np.nan), np.arange(4) + 2, "yard.csv", "m"
    )
