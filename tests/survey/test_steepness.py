"""Ground steeper than yards are is refused with the unit that explains it; a single steep pair is named."""

from __future__ import annotations

import numpy as np
import pytest

from gradework.errors import InputError
from gradework.fieldnotes.heights import Step
from gradework.survey.stations import Stations
from gradework.survey.steepness import STEEP_GROUND, neighbours, plane_slope, steep_findings, steep_steps


def yard(z, unit="ft", step=3.0) -> Stations:
    """A grid of shots ``step`` [m] apart with heights ``z`` (rows, columns) [m]."""
    z = np.asarray(z, dtype=float)
    y, x = (step * k for k in np.indices(z.shape))
    xyz = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    names = tuple(f"P{i + 1}" for i in range(z.size))
    return Stations(names, xyz, np.full(z.size, np.nan), np.arange(2, z.size + 2), "n.csv", unit)


def garden(fall: float) -> np.ndarray:
    """Five rows of four shots that fall evenly by ``fall`` [m] from the first row to the last."""
    return np.repeat(np.linspace(fall, 0, 5)[:, None], 4, axis=1)


def test_the_neighbours_of_a_grid_are_those_beside_and_none_across() -> None:
    places = [(x, y) for y in range(3) for x in range(4)]
    pairs = neighbours(np.array(places, dtype=float))
    apart = {frozenset((places[a], places[b])) for a, b in pairs.tolist()}
    sides = {frozenset(((x, y), (x + 1, y))) for x in range(3) for y in range(3)}
    sides |= {frozenset(((x, y), (x, y + 1))) for x in range(4) for y in range(2)}
    assert apart >= sides
    # the two diagonals of a square have the other corners just on the circle between them
    assert all(max(abs(a - b) for a, b in zip(*pair, strict=True)) == 1 for pair in apart)


def test_a_garden_that_falls_sixteen_metres_is_refused_with_the_unit_that_fits() -> None:
    with pytest.raises(InputError) as caught:
        steep_findings(yard(garden(16.0), "m"), column="drop")
    (fault,) = caught.value.faults
    assert fault.code == "ground-too-steep"
    assert "heights in cm read as m" in fault.found
    assert fault.fix.startswith("write drop (cm) in the header")
    with pytest.raises(InputError, match="heights in in read as ft"):
        steep_findings(yard(garden(12.0), "ft"), column="drop")
    assert steep_findings(yard(garden(16.0), "m"), column="drop", steep=True) == ()


@pytest.mark.parametrize("share", [0.2, 0.6, 0.98])
def test_ground_up_to_one_in_two_is_believed(share: float) -> None:
    fall = share * STEEP_GROUND * 12.0  # over four steps of 3 m
    assert plane_slope(yard(garden(fall)).xyz) == pytest.approx(share * STEEP_GROUND)
    assert steep_findings(yard(garden(fall)), column="elevation") == ()


def test_a_single_steep_pair_is_a_warning_that_names_both_lines() -> None:
    z = garden(1.0)
    z[2, 1] += 4.0
    (told,) = steep_findings(yard(z), column="elevation")
    assert (told.code, told.severity) == ("steep-pair", "warning")
    assert "P10, line 11" in told.advice
    assert told.advice.count(", line ") == 2
    assert told.value == pytest.approx(4.25 / 3.0)
    assert steep_findings(yard(z), column="elevation", steep=True) == ()


def test_ups_and_downs_that_no_plane_shows_are_refused_too() -> None:
    """Every other shot is 10 m higher: the plane is flat, the ground is not."""
    z = 10.0 * (np.indices((6, 6)).sum(axis=0) % 2)
    assert plane_slope(yard(z).xyz) < 0.1
    with pytest.raises(InputError, match="ground-too-steep"):
        steep_findings(yard(z), column="elevation")


def test_small_steps_between_close_shots_are_not_steep() -> None:
    """A kerb of 4 cm beside its foot, 2 cm away."""
    z = garden(0.5)
    stations = yard(z)
    xyz = np.vstack([stations.xyz, stations.xyz[5] + [0.02, 0.0, 0.04]])
    near = Stations((*stations.names, "Q"), xyz, np.full(21, np.nan), np.arange(21), "n.csv", "m")
    assert steep_findings(near, column="elevation") == ()


def test_steps_that_rise_more_than_they_run_are_refused_or_named() -> None:
    falls = [Step(str(i), 0.6, -z, i + 2) for i, z in enumerate((0.9, 1.2, 0.7, 0.3))]
    with pytest.raises(InputError) as caught:
        steep_steps(falls, file="n.csv", unit="ft")
    (fault,) = caught.value.faults
    assert (
        fault.found
        == "3 of 4 steps that rise or fall more than they run, which would fit rises in in read as ft"
    )
    assert fault.fix.startswith("write rise (in) in the header")
    assert steep_steps(falls, file="n.csv", unit="ft", steep=True) == ()
    (told,) = steep_steps([falls[0], *(Step(n, 1.0, -0.1, 9) for n in "abc")], file="n.csv", unit="m")
    assert (told.code, told.where) == ("steep-pair", "0, line 2")
    assert steep_steps([Step(n, 1.0, -0.1, 9) for n in "abc"], file="n.csv", unit="m") == ()
